"""The book as a file that no program has open."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sheetplan.pages.values import ResultPage
from sheetplan.planning.progress import Progress, Report, quiet
from sheetplan.trade.units import Units
from sheetplan.workbook.opening import real_path
from sheetplan.workbook.outcomes import BookInUse, BookUnreadable
from sheetplan.workbook.package.guard import Fingerprint, fingerprint, judge, open_elsewhere
from sheetplan.workbook.tables import BookTables

if TYPE_CHECKING:
    from sheetplan.workbook.package.cells import BookEdit


class ClosedBook:
    """A host for a file; ``report`` is what the caller shows progress with."""

    def __init__(self, path: str | os.PathLike[str], report: Report = quiet) -> None:
        self._path = real_path(Path(path))
        self._report = report
        self._seen: Fingerprint | None = None
        self._written = False

    @property
    def path(self) -> Path:
        """The file."""
        return self._path

    def read(self) -> BookTables:
        """Read the tables, and remember the file as it is now."""
        from sheetplan.workbook.reading.book import read_tables

        busy = open_elsewhere(self._path)
        if busy is not None:
            raise BookInUse(busy)
        self._seen = fingerprint(self._path)
        fault = judge(self._path)
        if fault is not None:
            raise BookUnreadable(fault)
        return read_tables(self._path)

    def write(self, pages: Sequence[ResultPage], units: Units) -> Path:
        """Replace our pages in the file, or write them beside it, saying why, where that may not be."""
        from sheetplan.workbook.writing.closed import put_pages

        if self._seen is None:
            raise RuntimeError("the book is read before it is written")
        written = put_pages(self._path, pages, units, self._seen, backup=not self._written)
        if written.refused is not None:
            why = f"{written.refused.what} The results are in {written.book.name} beside it."
            self._report(Progress("", 1.0, why))
        return written.book

    def write_rows(
        self, change: Callable[[BookEdit], None], pages: Sequence[ResultPage], units: Units
    ) -> Path:
        """Write cells and rows of the planner's pages and replace our pages, all of it or nothing.

        The run may write again: the book is then compared with what was written here, and the backup stays
        the book as it was before the run.
        """
        from sheetplan.workbook.writing.closed import put_pages

        if self._seen is None:
            raise RuntimeError("the book is read before it is written")
        written = put_pages(self._path, pages, units, self._seen, change, backup=not self._written)
        self._seen, self._written = fingerprint(self._path), True
        return written.book

    def touched(self) -> bool | None:
        """A file says so only when it is written."""
        return None

    def progress(self, progress: Progress) -> None:
        """Hand the progress to the caller."""
        self._report(progress)

    def tell(self, sentence: str) -> None:
        """Print the sentence."""
        print(sentence)
