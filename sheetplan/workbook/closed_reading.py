"""Read the input tables of a workbook file that is not open in a program.

openpyxl streams the cells twice, once with values and once with formulas, so that a formula
nobody has computed can be told from an empty cell. Sheet dimensions stored in the file are
never trusted: only the blocks that the tables name are read.
"""

from __future__ import annotations

import datetime
import os
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import openpyxl

from sheetplan.model.problem import Problem
from sheetplan.workbook.columns import INPUT_PAGES
from sheetplan.workbook.errors import BookUnreadable, book_problem
from sheetplan.workbook.reading_grid import (
    GridRow,
    find_heading_row,
    heading_score,
    is_blank,
    normal,
    raw_table,
    required_places,
    until_gap,
)
from sheetplan.workbook.reading_notes import hidden_note, merged_notes, rows_below_note, too_many_rows
from sheetplan.workbook.reading_package import Box, SheetPlace, TablePlace, sheet_marks, sheet_places
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables, CellValue, ErrorValue, NotComputed, RawTable

MAX_ROWS = 20_000
"""Most rows read from one table: four times a large order book, a few seconds' work."""

SEARCHED_ROWS = 60
"""A heading row without a table is looked for this far down a page."""

SEARCHED_COLUMNS = 60
"""And this far to the right."""

GAP_ROWS = 200
"""Without a table, a page ends at this many blank rows."""

MAX_BELOW = 2_000
"""Rows directly below a table that are looked at in case the table was not stretched over them."""


@dataclass(frozen=True, slots=True)
class _Book:
    """The open package and openpyxl's two views of it."""

    package: zipfile.ZipFile
    values: Any
    formulas: Any
    places: tuple[SheetPlace, ...]


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
        with zipfile.ZipFile(path) as package:
            values = openpyxl.load_workbook(path, read_only=True, data_only=True)
            try:
                formulas = openpyxl.load_workbook(path, read_only=True, data_only=False)
                try:
                    return _read(_Book(package, values, formulas, sheet_places(package)))
                finally:
                    formulas.close()
            finally:
                values.close()
    except Exception as error:
        # Damage can surface anywhere in zip, XML or openpyxl, as almost any exception.
        raise BookUnreadable(book_problem(
            path, f"The workbook could not be read ({type(error).__name__}: {error}).",
            "Open it in your spreadsheet program, save it and try again; or take the backup beside it.",
        )) from error


def _read(book: _Book) -> BookTables:
    tables: dict[str, RawTable] = {}
    problems: list[Problem] = []
    for page in INPUT_PAGES:
        place = _find_table(page, book.places)
        if place is not None:
            table, found = _read_table(page, book, *place)
        else:
            table, found = _read_loose(page, book)
        problems += found
        if table is not None:
            tables[page.name] = table
    return BookTables(tables, tuple(problems))


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


def _read_table(
    page: InputPage, book: _Book, sheet: SheetPlace, table: TablePlace
) -> tuple[RawTable | None, list[Problem]]:
    box = table.box
    if box.bottom - box.top > MAX_ROWS:
        return None, [too_many_rows(page, sheet.name, box.bottom - box.top, MAX_ROWS)]
    top = box.top + 1 if table.has_heading_row else box.top
    bottom = box.bottom - 1 if table.has_total_row else box.bottom
    end = bottom if table.has_total_row else _end_below(sheet, table)
    lines = _rows(book, sheet.name, Box(box.left, box.top, box.right, end))
    headings: Sequence[CellValue] = table.names
    if table.has_heading_row:
        headings = next(lines, (0, table.names))[1]
    rows: list[GridRow] = []
    below: list[GridRow] = []
    for number, cells in lines:
        if number <= bottom:
            rows.append((number, cells))
        elif all(is_blank(cell) for cell in cells):
            break
        else:
            below.append((number, cells))
    needed = required_places(page, [str(h) for h in headings])
    full = [row for row in below if all(not is_blank(row[1][place]) for place in needed)]
    found = raw_table(page, sheet.name, box.left, top - 1, headings, rows + full)
    problems = _mark_problems(page, book, sheet, found, Box(box.left, top, box.right, bottom))
    if below:
        problems.append(rows_below_note(sheet.name, table.name, [n for n, _ in below], [n for n, _ in full]))
    return found, problems


def _end_below(sheet: SheetPlace, table: TablePlace) -> int:
    """How far down rows may still belong to a table: not into the next one."""
    end = table.box.bottom + MAX_BELOW
    for other in sheet.tables:
        below = other.box.top > table.box.bottom
        if below and other.box.left <= table.box.right and table.box.left <= other.box.right:
            end = min(end, other.box.top - 1)
    return end


def _read_loose(page: InputPage, book: _Book) -> tuple[RawTable | None, list[Problem]]:
    """A page whose table object is gone: rows under a heading row on the sheet of the page's name."""
    for sheet in book.places:
        if normal(sheet.name) != normal(page.name):
            continue
        searched = Box(1, 1, SEARCHED_COLUMNS, SEARCHED_ROWS)
        head = find_heading_row(page, _rows(book, sheet.name, searched))
        if head is None:
            return None, []
        block = Box(1, head[0] + 1, SEARCHED_COLUMNS, head[0] + MAX_ROWS + 1)
        rows = list(until_gap(_rows(book, sheet.name, block), GAP_ROWS))
        if len(rows) > MAX_ROWS:
            return None, [too_many_rows(page, sheet.name, None, MAX_ROWS)]
        found = raw_table(page, sheet.name, 1, head[0], head[1], rows)
        last = found.rows[-1].number if found.rows else head[0]
        return found, _mark_problems(page, book, sheet, found, Box(1, head[0] + 1, SEARCHED_COLUMNS, last))
    return None, []


def _mark_problems(
    page: InputPage, book: _Book, sheet: SheetPlace, table: RawTable, block: Box
) -> list[Problem]:
    """Notes on merged cells and hidden rows among the rows that were read."""
    marks = sheet_marks(book.package, sheet.part)
    hidden = [row.number for row in table.rows if row.number in marks.hidden]
    problems = merged_notes(page, table, [box for box in marks.merged if box.meets(block)])
    if hidden:
        problems.append(hidden_note(sheet.name, hidden))
    return problems


def _rows(book: _Book, sheet: str, box: Box) -> Iterator[GridRow]:
    """The rows of a block from both views; the number of the row with each."""
    bounds = {"min_row": box.top, "max_row": box.bottom, "min_col": box.left, "max_col": box.right}
    values = book.values[sheet].iter_rows(**bounds)
    formulas = book.formulas[sheet].iter_rows(**bounds)
    for number, (shown, written) in enumerate(zip(values, formulas, strict=False), start=box.top):
        yield number, [_value(cell, formula) for cell, formula in zip(shown, written, strict=True)]


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
    if isinstance(value, str | int | float | datetime.datetime | datetime.date | datetime.time):
        return value
    return str(value)
