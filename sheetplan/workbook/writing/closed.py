"""Write result pages into a closed book so that nothing can be lost; it is read back before it replaces
the old.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.model.problem import Problem
from sheetplan.pages.values import ResultPage
from sheetplan.trade.units import Units
from sheetplan.workbook.ledger import ledger
from sheetplan.workbook.opening import open_for_reading
from sheetplan.workbook.outcomes import BookChanged, BookInUse, BookUnreadable, NotWritten, book_problem
from sheetplan.workbook.package.cells import BookEdit
from sheetplan.workbook.package.guard import Fingerprint, fingerprint_of, judge, open_elsewhere
from sheetplan.workbook.package.parts import (
    OFFICE_RELATIONS,
    TYPES_PART,
    Package,
    main,
    parse,
    reachable,
    relations_of,
    relations_part,
)
from sheetplan.workbook.package.saving import put_backup, replace_file, results_place, stamped
from sheetplan.workbook.package.splice import MayNotAlter, splice_pages
from sheetplan.workbook.text import clean_text
from sheetplan.workbook.writing.grid import NAMED_COLUMNS
from sheetplan.workbook.writing.page_writer import draw_pages

# Read a freshly written book back from the disk and judge whether it may replace the old one.


def judge_written(
    path: Path, old: bytes | None, pages: Sequence[ResultPage], touched: Collection[str] = ()
) -> str | None:
    """Say what is wrong with the new book, or None where it is sound.

    Three tests: the package is whole, every part outside our pages has the bytes that it had in
    ``old``, those ``touched`` aside, and the reader that we trust with the planner's pages finds ours with
    their titles.
    """
    fault = judge(path)
    if fault is not None:
        return fault.what
    try:
        stray = set() if old is None else _stray_parts(old, path.read_bytes(), pages) - set(touched)
        if stray:
            return f"parts that are not ours were altered: {', '.join(sorted(stray))}."
        return _missing_page(path, pages)
    except Exception as error:  # whatever stumbles over the new book is a reason not to put it in place
        return f"it cannot be read back ({type(error).__name__})."


def _stray_parts(old: bytes, new: bytes, pages: Sequence[ResultPage]) -> set[str]:
    names = [page.name for page in pages]
    return changed_parts(old, new) - allowed_parts(old, names) - allowed_parts(new, names)


def changed_parts(old: bytes, new: bytes) -> set[str]:
    """Names of the parts whose bytes differ, came or went."""
    before, after = Package.of_bytes(old), Package.of_bytes(new)
    names = {*before.names, *after.names}
    return {n for n in names if n not in before or n not in after or before.read(n) != after.read(n)}


def allowed_parts(data: bytes, page_names: Sequence[str]) -> set[str]:
    """Names of the parts that a splice of these pages may change: the list that `splice` states."""
    package = Package.of_bytes(data)
    book = next(r.part for r in relations_of(package, "") if r.is_a("officeDocument"))
    relations = relations_of(package, book)
    wanted = {name.lower() for name in page_names}
    ids = {
        sheet.get(f"{{{OFFICE_RELATIONS}}}id")
        for sheet in parse(package.read(book)).iter(main("sheet"))
        if sheet.get("name", "").lower() in wanted
    }
    slots = {r.part for r in relations if r.id in ids}
    ours = slots | (reachable(package, slots) - reachable(package, ("",), without=slots))
    ours |= {relations_part(part) for part in ours}
    shared = {r.part for r in relations if r.is_a("styles") or r.is_a("calcChain")}
    return ours | shared | {book, relations_part(book), TYPES_PART}


def _missing_page(path: Path, pages: Sequence[ResultPage]) -> str | None:
    book = open_for_reading(path)
    try:
        for page in pages:
            if page.name not in book.sheetnames:
                return f"its page {page.name} is missing."
            title = book[page.name]["A1"].value
            if (title or "") != clean_text(page.title):
                return f"its page {page.name} does not show its title."
    finally:
        book.close()
    return None


# Write result pages into a closed book so that nothing can be lost.
#
# The book is replaced in one step by a file that was written beside it, forced to the disk and read back.
# Whatever happens before that step leaves the old book; after it, the new one is there. One backup,
# ``NAME.backup.xlsx``, holds the book as it was before the last write; a file of the planner's that has that
# name stays (`package.saving`).
#
# Choices: Reading and writing are apart. openpyxl reads; it never saves a planner's book, because a
# load and save loses shapes, threaded comments, extension formats and cached values. Our pages are drawn by
# XlsxWriter into a package of their own (`page_writer`), and its parts are spliced into the planner's
# package (`splice`), of which every other part stays byte for byte.


@dataclass(frozen=True, slots=True)
class Written:
    """Where the pages went. ``refused`` says why that is not the planner's own book, if it is not."""

    book: Path
    refused: Problem | None = None


def put_pages(
    path: str | os.PathLike[str], pages: Sequence[ResultPage], units: Units, seen: Fingerprint,
    change: Callable[[BookEdit], None] | None = None, *, backup: bool = True,
) -> Written:  # fmt: skip
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
    change : callable, optional
        Writes cells and rows of the planner's pages. A book that may not be altered is then refused, since
        nothing beside it can stand for them.
    backup : bool
        Whether the book as it is is kept beside it; a run that writes twice keeps what was before the first.

    Raises
    ------
    BookError
        One of BookUnreadable, BookInUse, BookChanged, NotWritten. Nothing was then written.
    """
    path = Path(os.path.realpath(path))
    edit = BookEdit(data := _unchanged(path, seen))
    try:
        if change is not None:
            change(edit)
        new = splice_pages(edit.done(), draw_pages(pages, units, names=NAMED_COLUMNS))
    except MayNotAlter as reason:
        refused = book_problem(path, reason.what, reason.remedy)
        if change is not None:
            raise NotWritten(refused) from reason
        return Written(_write_beside(path, pages, units, refused), refused)

    def keep_backup() -> None:
        if backup:
            put_backup(path, data)
        _unchanged(path, seen)

    def test(written: Path) -> str | None:
        return judge_written(written, data, pages, edit.touched)

    if new != data:
        replace_file(path, new, test=test, before=keep_backup)
    return Written(path)


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
