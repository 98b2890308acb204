"""What a run asks of the place where the book lies.

A host reads tables and shows result pages; it knows no rule of planning. All hosts read by
`reading_book` and draw the same grids (`page_grid`), so the same tables give the same results in
every one of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Protocol

from sheetplan.pages.values import ResultPage
from sheetplan.planning.progress import Progress
from sheetplan.trade.units import Units
from sheetplan.workbook.barred import BookState
from sheetplan.workbook.live_edit import Edits, LiveEdit
from sheetplan.workbook.tables import BookTables


class Host(Protocol):
    """A book that a run works on."""

    @property
    def path(self) -> Path:
        """Where the book's file lies; drawings go beside it."""

    def read(self) -> BookTables:
        """Read all input tables; raises `errors.BookError` where that cannot be."""

    def write(self, pages: Sequence[ResultPage], units: Units) -> Path:
        """Replace our pages and return the book that now holds them.

        Raises `errors.BookError`, and then nothing was written; so also where the inputs are no
        longer those that `read` gave.
        """

    def touched(self) -> bool | None:
        """Whether somebody has worked in the book since it was last read; None where nobody can tell."""

    def progress(self, progress: Progress) -> None:
        """Show how far the run has come."""

    def tell(self, sentence: str) -> None:
        """Say something that the person must know; only what stops the run is said this way."""


class LiveHost(Host, Protocol):
    """A book that is open in a program, in which a person asked for the run."""

    def state(self) -> BookState:
        """How the program has the book open, as far as that decides what can be written."""

    def asked(self, name: str) -> str:
        """Text of the cell that bears a name of the book; empty where there is no such cell."""

    def note(self, sentence: str) -> None:
        """Show on the page Start how the run went."""

    def edit(self) -> LiveEdit:
        """Begin changes to cells, of the book as it was last read."""

    def change(self, edits: Edits, pages: Sequence[ResultPage], units: Units, *, save: bool) -> None:
        """Write cells and replace pages in one step, and have the program save the book.

        Raises `errors.BookError`, and then nothing was written; but `errors.NotSaved` where all was
        written in the open book and its file could not be.
        """
