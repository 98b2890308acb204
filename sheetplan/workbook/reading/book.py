"""Find and read the input tables of any book, open in a program or closed, by the same rules."""

from __future__ import annotations

import datetime
import os
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol, TypeGuard

from openpyxl.cell.read_only import EMPTY_CELL
from openpyxl.utils.cell import get_column_letter

from sheetplan.model.problem import Problem, Weight
from sheetplan.pages.values import BookSeen
from sheetplan.rack.step import Seal, seal_among
from sheetplan.workbook.columns import ALL_PAGES, READ_BACK
from sheetplan.workbook.opening import open_for_reading
from sheetplan.workbook.outcomes import BookUnreadable, book_problem
from sheetplan.workbook.reading.grid import (
    Box,
    GridRow,
    SheetMarks,
    SheetPlace,
    TablePlace,
    find_heading_row,
    heading_score,
    input_places,
    is_blank,
    normal,
    raw_table,
    required_places,
    sheet_marks,
    sheet_places,
    until_gap,
)
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables, CellValue, ErrorValue, NotComputed, RawTable
from sheetplan.workbook.text import clean_text

# Findings about how a table lies on its page: merged cells, hidden rows, rows outside it.

MOST_MERGED_NOTES = 20
"""Merged blocks reported one by one; a page full of them gets one more line with the number."""


def too_many_rows(page: InputPage, sheet: str, rows: int | None) -> Problem:
    """A table longer than what is read."""
    size = f"covers {rows:,} rows" if rows else "goes on and on"
    return Problem(
        sheet,
        None,
        None,
        f"The table of {page.name} {size}; at most {MAX_ROWS:,} are read.",
        "Drag the lower right corner of the table up to your last row, and clear the cells below.",
    )


def merged_notes(page: InputPage, table: RawTable, merged: Sequence[Box]) -> list[Problem]:
    """One note for each merged block among the rows that were read."""
    notes = []
    for box in sorted(merged, key=lambda box: (box.top, box.left))[:MOST_MERGED_NOTES]:
        first = f"{get_column_letter(box.left)}{box.top}"
        last = f"{get_column_letter(box.right)}{box.bottom}"
        notes.append(
            Problem(
                table.page,
                box.top,
                first,
                f"The cells {first}:{last} are merged: {first} holds the value, the others read as empty.",
                "Unmerge them and fill every cell.",
                Weight.NOTE,
            )
        )
    if len(merged) > MOST_MERGED_NOTES:
        notes.append(
            Problem(
                table.page,
                None,
                None,
                f"{len(merged) - MOST_MERGED_NOTES:,} more blocks of cells are merged.",
                f"Unmerge all cells of the table {page.table} and fill every cell.",
                Weight.NOTE,
            )
        )
    return notes


def hidden_note(sheet: str, rows: Sequence[int]) -> Problem:
    """Rows that a filter or a person has hidden count all the same; say so."""
    return Problem(
        sheet,
        rows[0],
        None,
        f"{_said(rows)} hidden and read all the same.",
        "Show all rows to see what is planned; delete rows that should not count.",
        Weight.NOTE,
    )


def rows_below_note(
    sheet: str, table: str, below: Sequence[int], read: Sequence[int], *, directly: bool = True
) -> Problem:
    """Rows that stand under a table without belonging to it: right under it, or with blank rows between."""
    left_out = [row for row in below if row not in set(read)]
    where = "directly below" if directly else "some blank rows below"
    what = f"{_said(below)} {where} the table {table}, not in it."
    if read and left_out:
        what += f" Read: {_numbers(read)}. Not read, for want of needed cells: {_numbers(left_out)}."
    else:
        what += " Read all the same." if read else " Not read, for want of needed cells."
    return Problem(
        sheet,
        below[0],
        None,
        what,
        "Drag the table's lower right corner down over the rows that belong to it.",
        Weight.NOTE if read and not left_out else Weight.LEFT_OUT,
    )


MOST_LONE_CELLS = 6
"""Cells outside a table that are named; the others are counted."""

MOST_LETTERS = 24
"""Letters of such a cell that are told."""


def two_pages(page: str, sheet: str, table: str, other: str) -> Problem:
    """Two tables could be the one that is meant: to read either without a word would plan the wrong month."""
    return Problem(
        other, None, None,
        f"Two pages could be the page {page}: this one by its name, {sheet} by its table's name, {table}.",
        f"Delete the one that is not meant. Or, if {sheet} is kept for reference, give its table another "
        f"name (Table Design, Table Name) and name the table of this page {table}.",
        Weight.STOPS,
    )  # fmt: skip


def lone_cells_note(sheet: str, table: str, cells: Mapping[str, object]) -> Problem:
    """Cells beside or below a table, by address: remarks perhaps, or a row that was typed elsewhere."""
    named = [f"{at} ({str(value)[:MOST_LETTERS]})" for at, value in list(cells.items())[:MOST_LONE_CELLS]]
    more = f" and {len(cells) - MOST_LONE_CELLS:,} more" if len(cells) > MOST_LONE_CELLS else ""
    return Problem(
        sheet, None, next(iter(cells)),
        f"Outside the table {table}, and not read: {', '.join(named)}{more}.",
        "If they are meant for the table, move them into a row of it; remarks may stay.",
        Weight.NOTE,
    )  # fmt: skip


def _said(rows: Sequence[int]) -> str:
    return f"Row {rows[0]} is" if len(rows) == 1 else f"Rows {_numbers(rows)} are"


def _numbers(rows: Sequence[int], most: int = 6) -> str:
    """Row numbers as a person lists them: runs as ``7 to 9``, the rest cut short.

    >>> _numbers([3, 7, 8, 9])
    '3, 7 to 9'
    """
    runs: list[list[int]] = []
    for row in rows:
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    said = [f"{a}" if a == b else f"{a} to {b}" for a, b in runs[:most]]
    return ", ".join(said) + (" and more" if len(runs) > most else "")


# Find and read the input tables of any book, open in a program or closed, by the same rules.
#
# A host shows its book as a `BookView`; where tables stand, which rows count and what is odd about
# them is decided here, once.

MAX_ROWS = 20_000
"""Most rows read from one table: four times a large order book, a few seconds' work."""

MAX_COLUMNS = 256
"""Columns of a table that are looked at; what stands further to the right is the planner's own."""

SEARCHED_ROWS = 60
"""A heading row without a table is looked for this far down a page."""

SEARCHED_COLUMNS = 60
"""And this far to the right."""

GAP_ROWS = 200
"""Without a table, a page ends at this many blank rows."""

MAX_BELOW = 5_000
"""Rows below a table that are looked at in case the table was not stretched over them."""

MAX_BESIDE = 12
"""Columns beside a table that are looked at: more would be read for every row of every page."""

LEAST_FILLED = 2
"""Cells of input columns that make a row which stands apart a row of the table: one alone is a remark."""

PLAN_PAGE = "Plan"
PLAN_ROWS = 6
"""Rows of that page among which the plan's mark stands."""

PLAN_LINE = re.compile(r"Plan ([A-Z]{4}), ")


class BookView(Protocol):
    """A book as a host shows it."""

    @property
    def places(self) -> Sequence[SheetPlace]:
        """All worksheets in the book's order, with the tables on them."""

    def rows(self, sheet: str, box: Box) -> Iterator[GridRow]:
        """Rows of a block of a sheet; a host may end where its sheet ends."""

    def marks(self, sheet: SheetPlace, block: Box) -> SheetMarks:
        """Merged blocks and hidden rows of a sheet; a host may leave out those outside the block."""


def read_view(book: BookView) -> BookTables:
    """All input tables of the book. A page that is not there is left out of the result."""
    tables: dict[str, RawTable] = {}
    problems: list[Problem] = []
    for page in (*ALL_PAGES, *READ_BACK):
        place = _find_table(page, book.places)
        if place is not None:
            table, found = _read_table(page, book, *place)
            twin = _twin(page, book, place[0])
            found += [two_pages(page.name, place[0].name, place[1].name, twin)] if twin else []
        else:
            table, found = _read_loose(page, book)
        problems += found
        if table is not None:
            tables[page.name] = table
    return BookTables(tables, tuple(problems), _plan_mark(book), _seals(book))


def seen_in(tables: BookTables) -> BookSeen:
    """What the page Problems has to know of a book."""
    renamed = {name: table.page for name, table in tables.tables.items() if table.page != name}
    said: dict[tuple[str, str], tuple[int, str | float | None]] = {}
    for page in ALL_PAGES:
        table = tables.tables.get(page.name)
        places = {normal(column.heading): place for place, column in enumerate(page.columns, 1)}
        for row in table.rows if table else ():
            for heading, cell in row.cells.items():
                place = places.get(normal(heading))
                if table is not None and place is not None and _compares(cell.value):
                    said[table.page, cell.address] = (place, cell.value)
    return BookSeen(renamed, said)


LONGEST_COMPARED = 255
"""Characters of a text that formulas compare with another."""


def _compares(value: CellValue) -> TypeGuard[str | float | None]:
    """Whether a formula can tell that a cell says this and nothing else."""
    if isinstance(value, str):
        return len(value) <= LONGEST_COMPARED and clean_text(value) == value
    return value is None or (isinstance(value, int | float) and not isinstance(value, bool))


def _plan_mark(book: BookView) -> str:
    """The letters that the page Plan gives near its top."""
    for sheet in book.places:
        if normal(sheet.name) == normal(PLAN_PAGE):
            rows = book.rows(sheet.name, Box(1, 1, 1, PLAN_ROWS))
            return mark_among(cell for _, cells in rows for cell in cells)
    return ""


SEALED_PAGES = ("Cut log", "Stock log", PLAN_PAGE)
"""Pages that say whose steps a book lists."""

SEAL_ROWS = 1_000
"""Rows of such a page among which it says so: logs at their top, Plan under its tables."""


def _seals(book: BookView) -> dict[str, Seal]:
    """What the pages that bear one say."""
    found: dict[str, Seal] = {}
    for sheet in book.places:
        page = next((name for name in SEALED_PAGES if normal(sheet.name) == normal(name)), None)
        if page is not None:
            rows = book.rows(sheet.name, Box(1, 1, 1, SEAL_ROWS))
            seal = seal_among(cell for _, cells in rows for cell in cells)
            found |= {page: seal} if seal is not None else {}
    return found


def mark_among(values: Iterable[object]) -> str:
    """The mark of the plan that one of some texts states; empty where none does."""
    found = (PLAN_LINE.match(str(value or "")) for value in values)
    return next((match.group(1) for match in found if match), "")


def _find_table(page: InputPage, places: Sequence[SheetPlace]) -> tuple[SheetPlace, TablePlace] | None:
    """The page's table by its own name, else the best table on the sheet of the page's name."""
    for sheet in places:
        for table in sheet.tables:
            if normal(table.name) == normal(page.table):
                return sheet, table
    needed = sum(column.required for column in page.columns)
    for sheet in places:
        if normal(sheet.name) == normal(page.name):
            for table in sheet.tables:
                if heading_score(page, table.names) >= needed:
                    return sheet, table
    return None


def _twin(page: InputPage, book: BookView, sheet: SheetPlace) -> str:
    """The page of the right name, where the table of the right name stands on another one; else empty.

    So it is where a page was renamed and its copy took the name: programs give the copy's table another one.
    """
    if normal(sheet.name) == normal(page.name) or page in READ_BACK:
        return ""
    needed = sum(column.required for column in page.columns)
    for other in book.places:
        if normal(other.name) == normal(page.name):
            if any(heading_score(page, one.names) >= needed for one in other.tables):
                return other.name
            searched = Box(1, 1, SEARCHED_COLUMNS, SEARCHED_ROWS)
            return other.name if find_heading_row(page, book.rows(other.name, searched)) else ""
    return ""


def _read_table(
    page: InputPage, book: BookView, sheet: SheetPlace, table: TablePlace
) -> tuple[RawTable | None, list[Problem]]:
    box = table.box
    if box.bottom - box.top > MAX_ROWS:
        return None, [too_many_rows(page, sheet.name, box.bottom - box.top)]
    top = box.top + 1 if table.has_heading_row else box.top
    bottom = box.bottom - 1 if table.has_total_row else box.bottom
    end = bottom if table.has_total_row else _end_below(sheet, table)
    right = min(box.right, box.left + MAX_COLUMNS - 1)
    own, width = page in READ_BACK, right - box.left + 1
    wide = right if own else _beside(sheet, table, right)
    lines = book.rows(sheet.name, Box(box.left, box.top, wide, end))
    headings: Sequence[CellValue] = table.names
    outside = Outside(box.left)
    if table.has_heading_row:
        headings = next(lines, (0, table.names))[1]
        headings = outside.without_own_columns(headings, width)
    rows: list[GridRow] = []
    below: list[GridRow] = []
    apart: list[GridRow] = []
    at, gap = input_places(page, [str(h) for h in headings]), False
    for number, line in lines:
        cells = line[:width]
        outside.add(number, line, range(width, len(line)))
        if number <= bottom:
            rows.append((number, cells))
        elif all(is_blank(cell) for cell in cells):
            if page in READ_BACK:  # our own pages have other things further down
                break
            gap = True
        elif not gap:
            below.append((number, cells))
        elif sum(not is_blank(cells[place]) for place in at if place < len(cells)) >= LEAST_FILLED:
            apart.append((number, cells))
        else:
            outside.add(number, line, range(width))
    needed = required_places(page, [str(h) for h in headings])
    full = [row for row in below + apart if all(not is_blank(row[1][place]) for place in needed)]
    found = raw_table(page, sheet.name, box.left, top - 1, headings, rows + full)
    problems = _mark_problems(page, book, sheet, found, Box(box.left, top, right, bottom))
    read = [number for number, _ in full]
    for some, directly in ((below, True), (apart, False)):
        numbers = [number for number, _ in some]
        if numbers:
            of_these = [number for number in read if number in set(numbers)]
            problems.append(rows_below_note(sheet.name, table.name, numbers, of_these, directly=directly))
    if outside.cells:
        problems.append(lone_cells_note(sheet.name, table.name, outside.cells))
    return found, problems


class Outside:
    """Cells with something in them that stand beside or below a table, by their addresses."""

    def __init__(self, left: int) -> None:
        self.cells: dict[str, CellValue] = {}
        self._left, self._own = left, set[int]()

    def without_own_columns(self, headings: Sequence[CellValue], width: int) -> Sequence[CellValue]:
        """The table's headings; a column beside it that has a heading too is the planner's own."""
        self._own = {place for place in range(width, len(headings)) if not is_blank(headings[place])}
        return headings[:width]

    def add(self, number: int, line: Sequence[CellValue], places: Iterable[int]) -> None:
        """Take in what stands at some places of a row."""
        for place in places:
            if place < len(line) and place not in self._own and not is_blank(line[place]):
                self.cells[f"{get_column_letter(self._left + place)}{number}"] = line[place]


def _beside(sheet: SheetPlace, table: TablePlace, right: int) -> int:
    """How far to the right of a table cells may still be meant for it: not into the next one."""
    lefts = [other.box.left for other in sheet.tables if other.box.left > table.box.right]
    return max(right, min([right + MAX_BESIDE, *(left - 1 for left in lefts)]))


def _end_below(sheet: SheetPlace, table: TablePlace) -> int:
    """How far down rows may still belong to a table: not into the next one."""
    end = table.box.bottom + MAX_BELOW
    for other in sheet.tables:
        below = other.box.top > table.box.bottom
        if below and other.box.left <= table.box.right and table.box.left <= other.box.right:
            end = min(end, other.box.top - 1)
    return end


def _read_loose(page: InputPage, book: BookView) -> tuple[RawTable | None, list[Problem]]:
    """A page whose table object is gone: rows under a heading row on the sheet of the page's name."""
    for sheet in book.places:
        if normal(sheet.name) != normal(page.name):
            continue
        searched = Box(1, 1, SEARCHED_COLUMNS, SEARCHED_ROWS)
        head = find_heading_row(page, book.rows(sheet.name, searched))
        if head is None:
            return None, []
        block = Box(1, head[0] + 1, SEARCHED_COLUMNS, head[0] + MAX_ROWS + 1)
        rows = list(until_gap(book.rows(sheet.name, block), GAP_ROWS))
        if len(rows) > MAX_ROWS:
            return None, [too_many_rows(page, sheet.name, None)]
        found = raw_table(page, sheet.name, 1, head[0], head[1], rows)
        last = found.rows[-1].number if found.rows else head[0]
        return found, _mark_problems(page, book, sheet, found, Box(1, head[0] + 1, SEARCHED_COLUMNS, last))
    return None, []


def _mark_problems(
    page: InputPage, book: BookView, sheet: SheetPlace, table: RawTable, block: Box
) -> list[Problem]:
    """Notes on merged cells and hidden rows among the rows that were read."""
    marks = book.marks(sheet, block)
    hidden = [row.number for row in table.rows if row.number in marks.hidden]
    problems = merged_notes(page, table, [box for box in marks.merged if box.meets(block)])
    if hidden:
        problems.append(hidden_note(sheet.name, hidden))
    return problems


# Read the input tables of a workbook file that is not open in a program.
#
# openpyxl streams the cells twice, once with values and once with formulas, so that a formula
# nobody has computed can be told from an empty cell. Sheet dimensions stored in the file are
# never trusted: only the blocks that the tables name are read.


@dataclass(frozen=True, slots=True)
class _ClosedView:
    """The open package and openpyxl's two views of it."""

    package: zipfile.ZipFile
    values: Any
    formulas: Any
    places: tuple[SheetPlace, ...]

    def rows(self, sheet: str, box: Box) -> Iterator[GridRow]:
        """Give the rows of a block from both views, the number of the row with each.

        Formulas are streamed only from the first row on in which a cell that is there shows nothing.
        """
        bounds = {"min_col": box.left, "max_col": box.right, "max_row": box.bottom}
        formulas: Iterator[Any] | None = None
        for number, shown in enumerate(self.values[sheet].iter_rows(min_row=box.top, **bounds), box.top):
            if formulas is None and any(cell.value is None and cell is not EMPTY_CELL for cell in shown):
                formulas = self.formulas[sheet].iter_rows(min_row=number, **bounds)
            written = shown if formulas is None else next(formulas)
            yield number, [_value(cell, formula) for cell, formula in zip(shown, written, strict=True)]

    def marks(self, sheet: SheetPlace, block: Box) -> SheetMarks:
        """Give the merged blocks and hidden rows of a sheet."""
        return sheet_marks(self.package, sheet.part)


def read_tables(path: str | os.PathLike[str]) -> BookTables:
    """All input tables of a workbook file.

    A page that is not there is left out of the result. The file is only read; judge it with
    `guard.judge` first.

    Raises
    ------
    BookUnreadable
        The file cannot be read as a workbook.
    """
    path = Path(path)
    try:
        with zipfile.ZipFile(path) as package, warnings.catch_warnings():
            warnings.filterwarnings("ignore", module="openpyxl")  # of cells: what matters becomes a problem
            values = open_for_reading(path, values=True)
            try:
                formulas = open_for_reading(path)
                try:
                    return read_view(_ClosedView(package, values, formulas, sheet_places(package)))
                finally:
                    formulas.close()
            finally:
                values.close()
    except Exception as error:
        # Damage can surface anywhere in zip, XML or openpyxl, as almost any exception.
        raise BookUnreadable(
            book_problem(
                path,
                f"The workbook could not be read ({type(error).__name__}: {error}).",
                "Open it in your spreadsheet program, save it and try again; or take the backup beside it.",
            )
        ) from error


def mark_saved(path: Path) -> str:
    """The mark of the plan that a book's file shows; empty where it shows none."""
    try:
        book = open_for_reading(path, values=True)
        try:
            page = next((book[name] for name in book.sheetnames if normal(name) == normal(PLAN_PAGE)), None)
            rows = () if page is None else page.iter_rows(max_row=PLAN_ROWS, max_col=1, values_only=True)
            return mark_among(value for row in rows for value in row)
        finally:
            book.close()
    except Exception:  # a file that cannot be read shows nothing
        return ""


def _value(cell: Any, formula: Any) -> CellValue:
    """One cell as a plain value."""
    value = cell.value
    if value is None:
        # A formula that gives an empty text carries the type of a text and no value.
        waits = formula.data_type == "f" and cell.data_type != "str"
        return NotComputed() if waits else None
    if cell.data_type == "e":
        return ErrorValue(str(value))
    if isinstance(value, datetime.timedelta):
        return value / datetime.timedelta(days=1)
    if isinstance(value, str):
        # Half of a Windows line end is stored as _x000D_ (ECMA-376 part 1, 22.9.2.19).
        return value.replace("_x000D_", "\r")
    if isinstance(value, int | float | datetime.datetime | datetime.date | datetime.time):
        return value
    return str(value)
