"""What `import` writes into a row's Description: what is to be confirmed, or why its drawing cannot be used.

Such a text is a note to the planner and no description of the part: it is not printed. A doubt is answered
once the cell that it asks for is filled.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

TO_CONFIRM = "to confirm"
"""How a Description begins that says what is doubtful about a row, until the planner takes it out."""

REFUSED = "cannot be used"
"""How one begins that says why the row's drawing could not be used when it was brought in."""

REFUSED_REMEDY = "Mend the drawing, or delete the part here and in Kits."
"""How that one ends."""

NO_METAL = "material not said"
TWO_METALS = "names say different metals"
NO_THICKNESS = "thickness not said"
UNCLEAR_THICKNESS = "thickness said twice"
TWO_THICKNESSES = "names say different thicknesses"
NO_UNIT = "the drawing states no unit"
QUESTIONS = "see the questions about the drawing"
MIRRORED = "drawn mirrored"

ANSWERED_BY = {
    NO_METAL: "Material",
    NO_THICKNESS: "Thickness",
    UNCLEAR_THICKNESS: "Thickness",
    NO_UNIT: "Drawn in",
}
"""Columns whose cell, once filled, answers a doubt."""

MOST_DOUBTS = 4
"""Doubts that a Description lists; more are counted."""

_OTHERS = {TWO_METALS, TWO_THICKNESSES, QUESTIONS}
_COUNTED = re.compile(rf"{MIRRORED}, \d+ of \d+|and \d+ more")


def to_confirm(doubts: Sequence[str]) -> str:
    """What is to be confirmed, as the row's Description says it; empty where nothing is."""
    more = f"; and {len(doubts) - MOST_DOUBTS} more" if len(doubts) > MOST_DOUBTS else ""
    return f"{TO_CONFIRM}: {'; '.join(doubts[:MOST_DOUBTS])}{more}" if doubts else ""


def cannot_be_used(why: str) -> str:
    """Why a drawing cannot be used, as the Description of its row says it.

    >>> cannot_be_used("nothing in it can be cut")
    'cannot be used: nothing in it can be cut. Mend the drawing, or delete the part here and in Kits.'
    """
    return f"{REFUSED}: {why}. {REFUSED_REMEDY}"


def asks_to_confirm(text: str) -> bool:
    """Whether a Description lists doubts."""
    return text.lower().startswith(TO_CONFIRM)


def says_refused(text: str) -> bool:
    """Whether a Description says why a drawing could not be used."""
    return text.lower().startswith(f"{REFUSED}:")


def description_of(text: str) -> str:
    """The part's description for people who handle it: none where the text is a note of `import`."""
    return "" if asks_to_confirm(text) or says_refused(text) else text


def doubts_of(text: str) -> tuple[str, ...]:
    """The doubts that a Description lists.

    >>> doubts_of("to confirm: material not said; drawn mirrored, 1 of 3")
    ('material not said', 'drawn mirrored, 1 of 3')
    """
    return tuple(text[len(TO_CONFIRM) :].lstrip(" :").split("; ")) if asks_to_confirm(text) else ()


def unanswered(doubts: Sequence[str], filled: Collection[str]) -> tuple[str, ...]:
    """The doubts that are left, where the cells under these headings are filled."""
    return tuple(doubt for doubt in doubts if ANSWERED_BY.get(doubt) not in filled)


def is_own(text: str) -> bool:
    """Whether `import` wrote all of a Description, so that it may write it anew.

    >>> is_own("to confirm: material not said"), is_own("to confirm: material not said, ask the office")
    (True, False)
    """
    if says_refused(text):
        return text.startswith(f"{REFUSED}: ") and text.endswith(REFUSED_REMEDY)
    own = {*ANSWERED_BY, *_OTHERS}
    doubts = doubts_of(text)
    return bool(doubts) and all(doubt in own or _COUNTED.fullmatch(doubt) for doubt in doubts)
