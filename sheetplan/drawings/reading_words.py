"""The words by which a planner names layers and says what becomes of doubtful lines."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from enum import StrEnum


class OpenLines(StrEnum):
    """What is done with open lines that lie inside a part."""

    REFUSE = "refuse"
    MARK = "mark"
    LEAVE_OUT = "leave out"


class LetteringUse(StrEnum):
    """What is done with outlines that look like lettering; without a word they are cut and asked about."""

    ASK = "ask"
    CUT = "cut"
    MARK = "mark"
    LEAVE_OUT = "leave out"


@dataclass(frozen=True, slots=True)
class DoubtfulLines:
    """What is done with lines that may not be meant to be cut."""

    open_lines: OpenLines = OpenLines.REFUSE
    lettering: LetteringUse = LetteringUse.ASK


CLAUSE = re.compile(r"(cut|mark|leave out)(?: (open lines|lettering))?")


def doubtful_lines(text: str) -> DoubtfulLines:
    """The planner's words: an action, and what it is for where it is not for all.

    >>> doubtful_lines("mark open lines, leave out lettering").lettering.value
    'leave out'

    Raises
    ------
    ValueError
        With a sentence, for words that are none of these.
    """
    chosen = DoubtfulLines()
    for clause in re.split(r"\s*[,;]\s*", " ".join(text.lower().split())):
        found = CLAUSE.fullmatch(clause)
        if found is None or (found[1] == "cut" and found[2] == "open lines"):
            raise ValueError(f"`{clause}` is not known")
        if found[2] != "lettering" and found[1] != "cut":
            chosen = replace(chosen, open_lines=OpenLines(found[1]))
        if found[2] != "open lines":
            chosen = replace(chosen, lettering=LetteringUse(found[1]))
    return chosen


def layer_names(text: str) -> tuple[str, ...]:
    """Layer names from a cell: separated by commas or semicolons.

    >>> layer_names("cut, holes ;VISIBLE*")
    ('cut', 'holes', 'VISIBLE*')
    """
    return tuple(name.strip() for name in re.split(r"[,;\n]", text) if name.strip())
