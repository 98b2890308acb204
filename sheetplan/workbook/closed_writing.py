"""Write result pages into a closed book so that nothing can be lost.

The book is replaced in one step by a file that was written beside it, forced to the disk and read
back. Whatever happens before that step leaves the old book; after it, the new one is there.
One backup, ``NAME.backup.xlsx``, holds the book as it was before the last write; a file of the planner's that
has that name stays (`outputs`).

Choices
-------
Reading and writing are apart. openpyxl reads; it never saves a planner's book, because a load and save loses
shapes, threaded comments, extension formats and cached values. Our pages are drawn by XlsxWriter into a
package of their own (`page_writer`), and its parts are spliced into the planner's package (`splice`), of
which every other part stays byte for byte.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.model.problem import Problem
from sheetplan.pages.values import ResultPage
from sheetplan.trade.units import Units
from sheetplan.workbook.errors import BookChanged, BookInUse, BookUnreadable, book_problem
from sheetplan.workbook.guard import Fingerprint, fingerprint_of, judge
from sheetplan.workbook.in_use import open_elsewhere
from sheetplan.workbook.ledger import ledger
from sheetplan.workbook.outputs import put_backup, results_place, stamped
from sheetplan.workbook.page_writer import draw_pages
from sheetplan.workbook.replacing import replace_file
from sheetplan.workbook.result_names import NAMED_COLUMNS
from sheetplan.workbook.splice import splice_pages
from sheetplan.workbook.splice_refusals import MayNotAlter
from sheetplan.workbook.written_book import judge_written


@dataclass(frozen=True, slots=True)
class Written:
    """Where the pages went. ``refused`` says why that is not the planner's own book, if it is not."""

    book: Path
    backup: Path | None
    refused: Problem | None = None


def put_pages(
    path: str | os.PathLike[str], pages: Sequence[ResultPage], units: Units, seen: Fingerprint
) -> Written:
    """Replace our pages in the book, or write them to a book beside it where it may not be altered.

    Parameters
    ----------
    path : path
        The planner's book.
    pages : sequence of ResultPage
        All pages to replace; other pages of ours stay as they are.
    units : Units
        What the book is written in.
    seen : Fingerprint
        The book as it was when it was read.

    Raises
    ------
    BookError
        One of BookUnreadable, BookInUse, BookChanged, NotWritten. Nothing was then written.
    """
    path = Path(os.path.realpath(path))
    data = _unchanged(path, seen)
    try:
        new = splice_pages(data, draw_pages(pages, units, names=NAMED_COLUMNS))
    except MayNotAlter as reason:
        refused = book_problem(path, reason.what, reason.remedy)
        return Written(_write_beside(path, pages, units, refused), None, refused)
    if new == data:
        return Written(path, None)
    backups = []

    def keep_backup() -> None:
        backups.append(put_backup(path, data))
        _unchanged(path, seen)

    replace_file(path, new, test=lambda written: judge_written(written, data, pages), before=keep_backup)
    return Written(path, backups[0])


def _unchanged(path: Path, seen: Fingerprint) -> bytes:
    """Return the book's bytes, making sure that nobody has it and that it is the one that was read."""
    busy = open_elsewhere(path)
    if busy is not None:
        raise BookInUse(busy)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise BookUnreadable(
            judge(path)
            or book_problem(
                path,
                f"The workbook could not be read again ({error.strerror or error}).",
                "Check that the drive is connected, then try again.",
            )
        ) from error
    if fingerprint_of(data) != seen:
        raise BookChanged(
            book_problem(
                path,
                "The workbook was saved by somebody else while the run was under way; nothing was written.",
                "Run it again so that the results fit what the workbook says now.",
            )
        )
    return data


def _write_beside(path: Path, pages: Sequence[ResultPage], units: Units, refused: Problem) -> Path:
    """Write the pages to a book of their own, whose first page says why; other pages there stay."""
    beside = results_place(path)
    busy = open_elsewhere(beside)
    if busy is not None:
        raise BookInUse(busy)
    why = f"These pages belong to {path.name}, which was left as it is. {refused.what} {refused.remedy}"
    told = [replace(page, lines=(why, *page.lines)) for page in pages[:1]] + list(pages[1:])
    drawn = draw_pages(told, units, names=NAMED_COLUMNS, home=path.name)
    new = splice_pages(beside.read_bytes(), drawn, all_ours=True) if beside.exists() else drawn.to_bytes()
    replace_file(
        beside, stamped(new), test=lambda written: judge_written(written, None, told),
        noted=ledger().files, like=path,
    )  # fmt: skip
    return beside
