"""The book open in Excel, through the open-source part of xlwings.

Words used here:

prefix
    The apostrophe that Excel hides and that keeps what follows text, whatever it looks like.

Nothing here imports xlwings before a book is asked for: that takes about a second.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Iterator, Sequence, Set
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from sheetplan.pages.values import ResultPage
from sheetplan.planning.progress import Progress
from sheetplan.trade.units import Units
from sheetplan.workbook.barred import BookState
from sheetplan.workbook.columns import PLANNED_FROM
from sheetplan.workbook.errors import BookChanged, BookUnreadable, NotSaved, NotWritten, book_problem
from sheetplan.workbook.hosts.excel_drawing import (
    draw,
    planners_pages,
    refuse_planners_pages,
    say_on_problems,
    written,
)
from sheetplan.workbook.live_edit import Edits, LiveEdit
from sheetplan.workbook.page_grid import grid_of
from sheetplan.workbook.reading_book import read_view
from sheetplan.workbook.reading_grid import GridRow, normal
from sheetplan.workbook.reading_package import Box, SheetMarks, SheetPlace, TablePlace
from sheetplan.workbook.result_names import SAID
from sheetplan.workbook.tables import BookTables, CellValue, ErrorValue

_ERRORS = frozenset(
    ("#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#CALC!", "#GETTING_DATA")
)


def calling_book() -> Any:
    """Return the xlwings book whose button or add-in started this process.

    Raises
    ------
    BookUnreadable
        There is no Excel here that could have called.
    """
    try:
        import xlwings

        return xlwings.Book.caller()
    except Exception as error:  # xlwings raises anything from AttributeError to its own errors
        raise BookUnreadable(
            book_problem(
                Path("this workbook"),
                f"No Excel started this run ({type(error).__name__}).",
                "Start it from within Excel with the xlwings add-in, or run `sheetplan plan BOOK.xlsx`.",
            )
        ) from error


class ExcelBook:
    """A host for a book that is open in Excel; ``book`` is an `xlwings.Book`."""

    def __init__(self, book: Any) -> None:
        self._book = book
        self._seen: BookTables | None = None

    @property
    def path(self) -> Path:
        """Where the book's file lies."""
        return Path(self._book.fullname)

    def read(self) -> BookTables:
        """Read the tables from the open book, saved or not."""
        if not self.path.is_absolute():
            raise BookUnreadable(
                book_problem(
                    self.path,
                    "The workbook has never been saved, so there is no folder for its drawings.",
                    "Save it once, then run it again.",
                )
            )
        self._seen = read_view(_ExcelView(self._book))
        return self._seen

    def write(self, pages: Sequence[ResultPage], units: Units) -> Path:
        """Redraw our pages; the planner's page, selection and filters stay where they are."""
        self.change(Edits(), pages, units, save=False)
        return self.path

    def edit(self) -> LiveEdit:
        """Begin changes to cells."""
        return LiveEdit(_ExcelView(self._book))

    def change(self, edits: Edits, pages: Sequence[ResultPage], units: Units, *, save: bool) -> None:
        """Write cells and redraw pages, then have Excel save the book, if asked to."""
        if self._seen is None:
            raise RuntimeError("the book is read before it is written")
        if inputs_only(read_view(_ExcelView(self._book))) != inputs_only(self._seen):
            raise BookChanged(
                book_problem(
                    self.path,
                    "The input pages were changed while the run was under way; nothing was written.",
                    "Run it again so that the results fit what the workbook says now.",
                )
            )
        grids = [grid_of(page, units) for page in pages]
        refuse_planners_pages(self._book, grids)
        try:
            with self._undisturbed():
                write_cells(self._book, edits)
                draw(self._book, grids, units)
        except Exception as error:  # the program's own errors differ from system to system
            kind = NotSaved if save else NotWritten
            raise kind(
                book_problem(
                    self.path,
                    f"Excel would not take the cells and pages ({type(error).__name__}: {error}).",
                    "Take the protection off the pages, leave the cell that is edited, then run it again.",
                )
            ) from error
        if edits.cells:
            self._seen = read_view(_ExcelView(self._book))
        if save:
            self._save()

    def _save(self) -> None:
        try:
            self._book.save()
        except Exception as error:  # the program's own errors differ from system to system
            raise NotSaved(
                book_problem(
                    self.path,
                    f"Excel could not save the workbook ({type(error).__name__}: {error}).",
                    "Check that its drive is connected, has room and may be written, then run it again.",
                )
            ) from error

    def asked(self, name: str) -> str:
        """Text of a named cell."""
        cell = self._named(name)
        value = None if cell is None else cell.value
        if isinstance(value, datetime.datetime):
            return value.date().isoformat()
        return "" if value is None else str(value).strip()

    def state(self) -> BookState:
        """How Excel has the book open, as far as it says so."""
        locked = {sheet.name for sheet in self._book.sheets if self._says(sheet, "ProtectContents")}
        return BookState(
            self._says(self._book, "ReadOnly"), self._says(self._book, "ProtectStructure"),
            frozenset(sheet.name for sheet in self._book.sheets), frozenset(locked),
            frozenset(planners_pages(self._book)),
        )  # fmt: skip

    def _says(self, thing: Any, what: str) -> bool:
        """A property of the program's own object, whose names are spelled otherwise on macOS."""
        spelled = re.sub(r"(?<!^)(?=[A-Z])", "_", what).lower()
        for name in (what, spelled):
            try:
                value = getattr(thing.api, name)
                return bool(value.get() if hasattr(value, "get") else value)
            except Exception:  # the program's own errors differ; what it does not say is seen on writing
                continue
        return False

    def note(self, sentence: str) -> None:
        """Show the sentence on the page Start."""
        cell = self._named(SAID)
        if cell is not None:
            cell.value = written(sentence)

    def _named(self, name: str) -> Any:
        try:
            return self._book.names[name].refers_to_range if name in self._book.names else None
        except Exception:  # a name whose cell was deleted; the program's own errors differ
            return None

    def touched(self) -> bool | None:
        """Excel is asked only when the pages are written: reading all takes it long."""
        return None

    def progress(self, progress: Progress) -> None:
        """Show the progress in the status bar."""
        self._book.app.status_bar = f"sheetplan {progress.done:.0%}: {progress.sentence}"

    def tell(self, sentence: str) -> None:
        """Show the sentence in a box that waits for its button, and in the workbook in any case."""
        if self._named(SAID) is None:
            say_on_problems(self._book, sentence)
        self._book.app.alert(sentence, title="sheetplan")

    def end(self) -> None:
        """Give the status bar back."""
        self._book.app.status_bar = False

    @contextmanager
    def _undisturbed(self) -> Iterator[None]:
        """Draw without flicker, and leave the planner on the page where he was."""
        app, before = self._book.app, self._book.sheets.active.name
        showing = app.screen_updating
        app.screen_updating = False
        try:
            yield
        finally:
            if self._book.sheets.active.name != before:
                self._book.sheets[before].activate()
            app.screen_updating = showing


class _ExcelView:
    """The open book as a `live_edit.EditView`."""

    def __init__(self, book: Any) -> None:
        self._book = book
        self.places = tuple(
            SheetPlace(sheet.name, "", tuple(_table(table) for table in sheet.tables))
            for sheet in book.sheets
        )

    def rows(self, sheet: str, box: Box) -> Iterator[GridRow]:
        """Read a block in one call, as far as the sheet is used."""
        page = self._book.sheets[sheet]
        last = page.used_range.last_cell
        bottom, right = min(box.bottom, last.row), min(box.right, last.column)
        if bottom < box.top or right < box.left:
            return
        block = page.range((box.top, box.left), (bottom, right)).options(ndim=2, err_to_str=True).value
        missing: list[CellValue] = [None] * (box.right - right)
        for number, cells in enumerate(block, start=box.top):
            yield number, [_value(cell) for cell in cells] + missing

    def marks(self, sheet: SheetPlace, block: Box) -> SheetMarks:
        """Give the merged blocks and hidden rows within a block, as far as the sheet is used."""
        page = self._book.sheets[sheet.name]
        last = page.used_range.last_cell
        seen = Box(block.left, block.top, min(block.right, last.column), min(block.bottom, last.row))
        if seen.right < seen.left or seen.bottom < seen.top:
            return SheetMarks()
        return SheetMarks(merged_blocks(page, seen), hidden_rows(page, seen))

    def formulas(self, sheet: str, box: Box) -> Set[tuple[int, int]]:
        """Give the places of formulas in a block."""
        block = self._book.sheets[sheet].range((box.top, box.left), (box.bottom, box.right)).formula
        rows = [[block]] if isinstance(block, str) else block
        if rows and isinstance(rows[0], str):  # one row or one column comes flat
            rows = [rows] if box.top == box.bottom else [[one] for one in rows]
        return {
            (box.top + i, box.left + j)
            for i, row in enumerate(rows) for j, text in enumerate(row)
            if isinstance(text, str) and text.startswith("=")
        }  # fmt: skip


def _table(table: Any) -> TablePlace:
    whole = table.range
    box = Box(whole.column, whole.row, whole.column + whole.shape[1] - 1, whole.row + whole.shape[0] - 1)
    headings: list[Any] = [""] * whole.shape[1]
    if table.show_headers:
        headings = table.header_row_range.options(ndim=1).value
    names = tuple("" if name is None else str(name) for name in headings)
    return TablePlace(table.name, box, bool(table.show_headers), bool(table.show_totals), names)


def _value(value: Any) -> CellValue:
    """Turn Excel's value into a plain one: it knows no whole numbers, and errors come as text."""
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, float):
        return int(value) if value.is_integer() else value
    if isinstance(value, str):
        return ErrorValue(value) if value in _ERRORS else (value or None)
    if isinstance(value, int | datetime.datetime | datetime.date | datetime.time):
        return value
    return str(value)


MOST_QUESTIONS = 2_000
"""Questions asked about one block: a second or two. What is found only makes messages better."""


def hidden_rows(sheet: Any, block: Box) -> frozenset[int]:
    """Rows of a block that a filter or a person has hidden; their height is 0."""
    found: set[int] = set()

    def height(top: int, bottom: int) -> float | None:
        said = sheet.range((top, block.left), (bottom, block.left)).row_height
        return said if isinstance(said, int | float) else None

    def look(part: Box) -> bool:
        said = height(part.top, part.bottom)
        if said is None:
            return part.top < part.bottom
        if said < 1.0:
            found.update(range(part.top, part.bottom + 1))
        return False

    _halve(block, look)
    return frozenset(found)


def merged_blocks(sheet: Any, block: Box) -> tuple[Box, ...]:
    """Merged blocks of cells that begin in a block or reach into it."""
    found: dict[tuple[int, int], Box] = {}

    def look(part: Box) -> bool:
        cells = sheet.range((part.top, part.left), (part.bottom, part.right))
        if cells.merge_cells is False:
            return False
        if (part.left, part.top) != (part.right, part.bottom):
            return True
        whole = cells.merge_area
        rows, columns = whole.shape
        found[whole.row, whole.column] = Box(
            whole.column, whole.row, whole.column + columns - 1, whole.row + rows - 1
        )
        return False

    _halve(block, look)
    return tuple(found.values())


def _halve(block: Box, look: Callable[[Box], bool]) -> None:
    """Show ``look`` the block, then its halves for as long as it wants to see more."""
    waiting = [block]
    for _ in range(MOST_QUESTIONS):
        if not waiting:
            return
        part = waiting.pop()
        if not look(part):
            continue
        if part.bottom > part.top:
            middle = (part.top + part.bottom) // 2
            waiting += [replace(part, top=middle + 1), replace(part, bottom=middle)]
        elif part.right > part.left:
            middle = (part.left + part.right) // 2
            waiting += [replace(part, left=middle + 1), replace(part, right=middle)]


def write_cells(book: Any, edits: Edits) -> None:
    """Let tables grow, then write the cells."""
    for growth in edits.growths:
        sheet, box = book.sheets[growth.sheet], growth.box
        last = sheet.range((box.bottom, box.left), (box.bottom, box.right))
        last.copy(sheet.range((box.bottom + 1, box.left), (box.bottom + 1, box.right)))
        table = next(one for one in sheet.tables if one.name == growth.table)
        table.resize(sheet.range((box.top, box.left), (box.bottom + 1, box.right)))
    for cell in edits.cells:
        book.sheets[cell.sheet].range((cell.row, cell.column)).value = written(cell.value)


Inputs = dict[str, list[tuple[int, list[tuple[str, CellValue]]]]]
"""By page: for each row its number, and heading and value of each input cell."""


def inputs_only(tables: BookTables) -> Inputs:
    """Input cells of all tables; formulas beside them may change by themselves.

    Equal for two readings between which nobody has changed an input.
    """
    found: Inputs = {}
    for page in PLANNED_FROM:
        table = tables.tables.get(page.name)
        if table is None:
            continue
        wanted = {normal(column.heading) for column in page.columns}
        found[page.name] = [
            (
                row.number,
                [(heading, cell.value) for heading, cell in row.cells.items() if normal(heading) in wanted],
            )
            for row in table.rows
        ]
    return found
