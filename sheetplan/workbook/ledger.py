"""What a run has changed on the disk so far: from it come the sentence and the exit code of whatever ends it.

Every step that changes a file that a person may see notes it here, once it has happened. What is written
aside under hidden names, and gone again at the end, is no change.

Terms
outcome
    How far a run came: nothing, files beside the book, the book, or all of it but for what is named.
kept from
    What a file had and its successor could not be given, such as a second name of it elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path

from sheetplan.trade.sentences import named


class Reach(Enum):
    """How far a run came."""

    NOTHING = "nothing"
    FILES = "files beside the book"
    BOOK = "the book"


@dataclass(slots=True)
class Ledger:
    """Changes in the order in which they happened.

    ``books`` are workbooks that were replaced, ``files`` all else. ``done`` are sentences on what counts
    by now, ``unfinished`` on what of it is still to be done, ``lost`` on what could not be kept.
    """

    books: list[Path] = field(default_factory=list)
    files: list[Path] = field(default_factory=list)
    done: list[str] = field(default_factory=list)
    unfinished: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)

    @property
    def reach(self) -> Reach:
        """How far the run came."""
        if self.books:
            return Reach.BOOK
        return Reach.FILES if self.files else Reach.NOTHING

    @property
    def sentence(self) -> str:
        """What was changed, when the run has ended before its end."""
        more = f" Written or moved beside it: {_named(self.files)}." if self.files else ""
        if self.done:
            return f"{' '.join(self.done)}"
        if self.books:
            return f"Changed was: {_named(self.books)}.{more}"
        return f"The workbook was not changed.{more}" if more else "Nothing was changed."


MOST_NAMED = 4
"""Files that are named; the others are counted."""


def _named(paths: list[Path]) -> str:
    names = list(
        dict.fromkeys(f"{path.parent.name}/{path.name}" if path.parent.name else path.name for path in paths)
    )
    return named(names, MOST_NAMED)


_NOW: ContextVar[Ledger | None] = ContextVar("ledger", default=None)


@contextmanager
def keeping_ledger() -> Iterator[Ledger]:
    """Keep account of all that is changed within the block."""
    kept = Ledger()
    before = _NOW.set(kept)
    try:
        yield kept
    finally:
        _NOW.reset(before)


def ledger() -> Ledger:
    """The account of the run under way; where nobody keeps one, one that nobody reads."""
    return _NOW.get() or Ledger()
