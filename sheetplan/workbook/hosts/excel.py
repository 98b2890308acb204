"""The book open in Excel, read and drawn through the open-source part of xlwings."""

from __future__ import annotations

import datetime
import math
import re
import tempfile
from collections.abc import Callable, Iterator, Sequence, Set
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from sheetplan.pages.values import Picture, ResultPage
from sheetplan.planning.progress import Progress
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.columns import PLANNED_FROM
from sheetplan.workbook.outcomes import BookChanged, BookUnreadable, NotSaved, NotWritten, book_problem
from sheetplan.workbook.package.splice import OWN_PAGE, place_of
from sheetplan.workbook.port import BookState, Edits, LiveEdit, Put
from sheetplan.workbook.reading.book import read_view
from sheetplan.workbook.reading.grid import Box, GridRow, SheetMarks, SheetPlace, TablePlace, normal
from sheetplan.workbook.tables import BookTables, CellValue, ErrorValue
from sheetplan.workbook.text import quoted_page
from sheetplan.workbook.writing.charts import chart_picture
from sheetplan.workbook.writing.grid import (
    GENERAL,
    PICTURE_SPACE,
    SAID,
    GridCell,
    GridTable,
    Look,
    PageGrid,
    Role,
    grid_of,
    looks_of,
    named_places,
)

# Draw result pages into a book that is open in Excel.
#
# Only what xlwings offers on Windows and macOS alike is used, but for deleting a table, which it
# leaves to the program's own objects.

PICTURE_NAME = "sheetplan picture"

_HEIGHTS = {"top": "top", "centre": "center", "bottom": "bottom"}


def refuse_planners_pages(book: Any, grids: Sequence[PageGrid]) -> None:
    """Raise NotWritten where a page that bears one of our names is the planner's own."""
    for grid in grids:
        sheet = _sheet(book, grid.name)
        if sheet is not None and not _is_ours(sheet) and _holds_something(sheet):
            raise NotWritten(
                book_problem(
                    Path(book.fullname),
                    f"The page {sheet.name} is your own: it was not made here, so it is not replaced.",
                    "Give your page another name, then run it again.",
                )
            )


def planners_pages(book: Any) -> list[str]:
    """Names of pages that hold something and were not made here."""
    return [sheet.name for sheet in book.sheets if not _is_ours(sheet) and _holds_something(sheet)]


def draw(book: Any, grids: Sequence[PageGrid], units: Units) -> None:
    """Draw the pages, each in its place; a new one goes where it stands in a new book."""
    for grid in grids:
        sheet = _sheet(book, grid.name)
        if sheet is None:
            there = [one.name for one in book.sheets]
            place = place_of(grid.name, there)
            where = {"after": book.sheets[place - 1]} if place else {"before": book.sheets[0]}
            sheet = book.sheets.add(grid.name, **where)
        _clear(sheet)
        _write_values(sheet, grid)
        _write_looks(sheet, grid, units)
        for cell in grid.cells:
            if cell.link is not None and isinstance(cell.value, str):
                _link(sheet, cell, cell.value)
        for table in grid.tables:
            _add_table(sheet, table)
        _insert_pictures(sheet, grid, units)
        _define(sheet.names, OWN_PAGE, f"={quoted_page(sheet.name)}!$A$1")
    for name, (page, cells) in named_places(grids).items():
        _define(book.names, name, f"={quoted_page(page)}!{cells}")


def _sheet(book: Any, name: str) -> Any:
    """Find the sheet of this name, in capitals or not."""
    return next((sheet for sheet in book.sheets if sheet.name.lower() == name.lower()), None)


def say_on_problems(book: Any, sentence: str) -> None:
    """Put a sentence under the title of the page Problems, if that is ours."""
    sheet = _sheet(book, "Problems")
    if sheet is not None and _is_ours(sheet):
        sheet.range((2, 1)).value = written(sentence)


def _is_ours(sheet: Any) -> bool:
    return any(name.name.rpartition("!")[2].lower() == OWN_PAGE for name in sheet.names)


def _holds_something(sheet: Any) -> bool:
    block = sheet.used_range.options(ndim=2).value
    return any(value is not None for row in block for value in row)


def _clear(sheet: Any) -> None:
    """Take away what the last run drew."""
    for picture in list(sheet.pictures):
        picture.delete()
    for table in list(sheet.tables):
        delete = getattr(table.api, "Delete", None) or table.api.delete  # Windows, macOS
        delete()
    sheet.clear()


def _write_values(sheet: Any, grid: PageGrid) -> None:
    """Write all cells of the page in one call."""
    rows = 1 + max(cell.row for cell in grid.cells)
    block: list[list[Any]] = [[None] * len(grid.widths) for _ in range(rows)]
    for cell in grid.cells:
        block[cell.row][cell.column] = written(cell.value)
    sheet.range((1, 1), (rows, len(grid.widths))).value = block


def written(value: Put) -> Put:
    """Spell a value for Excel: text carries the prefix, or it would be read as a date or a formula.

    A day goes as a day with a time, which xlwings hands on as a date on every system.
    """
    if isinstance(value, datetime.date):
        return datetime.datetime.combine(value, datetime.time())
    if isinstance(value, str):
        return "'" + value if value else None
    if isinstance(value, float) and not math.isfinite(value):
        return "'#NUM!"
    return value


def _write_looks(sheet: Any, grid: PageGrid, units: Units) -> None:
    for j, width in enumerate(grid.widths, start=1):
        # A column of no width is a hidden one.
        sheet.range((1, j)).column_width = 0.0 if j - 1 in grid.hidden else width
    for look, top, bottom, column in _runs(grid, units):
        _apply(sheet.range((top + 1, column + 1), (bottom + 1, column + 1)), look)
    sheet.range((1, 1)).row_height = style.TITLE_SIZE * 1.5
    for row, points in grid.heights:
        sheet.range((row + 1, 1)).row_height = points
    for cell in grid.cells:
        if cell.span > 1:
            last = cell.column + cell.span
            sheet.range((cell.row + 1, cell.column + 1), (cell.row + 1, last)).merge()


def _runs(grid: PageGrid, units: Units) -> Iterator[tuple[Look, int, int, int]]:
    """Runs of cells with one look under one another: a call for each run instead of one for each cell."""
    looks = {
        (cell.column, cell.row): replace(look, marked_as_text=False)
        for cell, look in zip(grid.cells, looks_of(grid, units), strict=True)
    }
    places = sorted(looks)
    start = 0
    for i, (column, row) in enumerate(places):
        following = (column, row + 1)
        if i + 1 < len(places) and places[i + 1] == following and looks[following] == looks[column, row]:
            continue
        yield looks[column, row], places[start][1], row, column
        start = i + 1


def _apply(cells: Any, look: Look) -> None:
    cells.font.name = style.FONT
    cells.font.size = look.size
    cells.font.bold = look.bold
    cells.font.color = look.ink
    if look.fill:
        cells.color = look.fill
    if look.wrap:
        cells.wrap_text = True
    if look.side:
        cells.horizontal_alignment = look.side
    cells.vertical_alignment = _HEIGHTS[look.height]
    if look.line_below:
        cells.borders.set("edge_bottom", line_style="continuous", weight="thin", color=look.line_below)
        if cells.shape[0] > 1:
            cells.borders.set(
                "inside_horizontal", line_style="continuous", weight="thin", color=look.line_below
            )
    if look.line_above:
        cells.borders.set("edge_top", line_style="continuous", weight="thin", color=look.line_above)
    if look.number_format != GENERAL:
        cells.number_format = look.number_format


def _link(sheet: Any, cell: GridCell, text: str) -> None:
    """Make the cell a link; Excel reads the shown text anew, so it is written once more as text."""
    place = sheet.range((cell.row + 1, cell.column + 1))
    place.add_hyperlink(cell.link, text_to_display=text)
    place.value = "'" + text


def _add_table(sheet: Any, table: GridTable) -> None:
    cells = sheet.range((table.head_row + 1, 1), (table.last_row + 1, len(table.headings)))
    sheet.tables.add(source=cells, name=table.name, has_headers=True, table_style_name="")


def _insert_pictures(sheet: Any, grid: PageGrid, units: Units) -> None:
    """Place the pictures; Excel takes them from files, which may go as soon as they are in the book."""
    with tempfile.TemporaryDirectory(prefix="sheetplan-") as folder:
        for number, (row, column, picture) in enumerate(_pictures(grid, units)):
            file = Path(folder) / f"{number}.png"
            file.write_bytes(picture.png)
            place = sheet.range((row + 1, column + 1))
            sheet.pictures.add(
                str(file),
                name=f"{PICTURE_NAME} {number + 1}",
                left=place.left + PICTURE_SPACE,
                top=place.top + PICTURE_SPACE,
                width=picture.width,
                height=picture.height,
            )


def _pictures(grid: PageGrid, units: Units) -> Iterator[tuple[int, int, Picture]]:
    """Row, column and picture of all that is shown; charts are pictures too.

    What xlwings offers of charts alike on Windows and macOS names no axis and no title.
    """
    for cell in grid.cells:
        if cell.picture is not None and cell.role is Role.BODY:
            yield cell.row, cell.column, cell.picture
    for placed in grid.charts:
        yield placed.row, 0, chart_picture(grid, placed, units)


def _define(names: Any, name: str, refers_to: str) -> None:
    """Set a name of the book or of a page."""
    for there in names:
        if there.name.rpartition("!")[2].lower() == name.lower():
            there.refers_to = refers_to
            return
    names.add(name, refers_to)


# The book open in Excel, through the open-source part of xlwings.
#
# Words used here:
#
# prefix
#     The apostrophe that Excel hides and that keeps what follows text, whatever it looks like.
#
# Nothing here imports xlwings before a book is asked for: that takes about a second.

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
    """The open book as a `port.EditView`."""

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
