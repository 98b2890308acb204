"""A small good book as rows, as raw tables, and as a file."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import xlsxwriter
from openpyxl.utils.cell import get_column_letter

from sheetplan.workbook.columns import ALL_PAGES, INPUT_PAGES
from sheetplan.workbook.reading.grid import raw_table
from sheetplan.workbook.schema import SETTING_ROWS, InputPage
from sheetplan.workbook.tables import BookTables

Rows = dict[str, list[dict[str, Any]]]
"""Rows by page; a row is its filled cells by heading."""

HEAD_ROW = 4
"""Row of the headings, from 1; the first data row is the next."""

FIRST_ROW = HEAD_ROW + 1

_PLAIN: Rows = {
    "Settings": [{"Setting": "Units", "Value": "in"}, {"Setting": "Seed", "Value": 3}],
    "Materials": [
        {"Material": "mild steel", "Gauge system": "carbon steel", "Density": 0.2836},
        {"Material": "aluminium 5052", "Gauge system": "aluminium", "Density": 0.0968},
    ],
    "Cutting": [
        {"Material": "mild steel", "Thickness": "10 ga", "Kerf": 0.06, "Gap": 0.25, "Margin": 0.5},
        {"Material": "aluminium 5052", "Thickness": '1/8"', "Kerf": 0.06, "Gap": 0.25, "Margin": 0.5},
    ],
    "Parts": [
        {"Part": "CB-100", "Material": "mild steel", "Thickness": "10ga", "Width": 6, "Length": 10},
        {"Part": "CB-101", "Material": "mild steel", "Thickness": ".1345", "Width": "4 1/2", "Length": "12"},
        {"Part": "SP-704", "Material": "aluminium 5052", "Thickness": "0.125", "Width": 2, "Length": 16},
    ],
    "Kits": [
        {"Kit": "cleat set", "Part": "CB-100", "Quantity": 1},
        {"Kit": "cleat set", "Part": "CB-101", "Quantity": 2},
    ],
    "Orders": [
        {"Order": "H-1", "Item": "cleat set", "Quantity": 5},
        {"Order": "H-2", "Item": "SP-704", "Quantity": "7", "Must": "if it fits"},
    ],
    "Stock": [
        {"Sheet": "MS-4x8", "Material": "mild steel", "Thickness": "10 ga", "Width": 48, "Length": 96,
         "On hand": 1, "Price": 110},
        {"Sheet": "AL-4x8", "Material": "aluminium 5052", "Thickness": "1/8", "Width": 48, "Length": 96,
         "Price": 220},
    ],
    "Remnants": [
        {"Tag": "R-1", "Material": "mild steel", "Thickness": "10 ga", "Width": 20, "Length": 30},
    ],
}  # fmt: skip


def page(name: str) -> InputPage:
    """The input page of this name; KeyError if there is none."""
    for candidate in ALL_PAGES:
        if candidate.name == name:
            return candidate
    raise KeyError(name)


def plain_rows() -> Rows:
    """Rows of a book in inches in which nothing is wrong."""
    return copy.deepcopy(_PLAIN)


def whole(rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> dict[str, Sequence[Mapping[str, Any]]]:
    """The rows with all other settings behind those that are stated, without a value: nothing is missing."""
    stated = [row.get("Setting") for row in rows.get("Settings", ())]
    others = [{"Setting": one.name} for one in SETTING_ROWS if one.name not in stated]
    return {page: [*lines, *others] if page == "Settings" else lines for page, lines in rows.items()}


def tables_of(rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> BookTables:
    """Raw tables as a host would hand them on; pages without an entry are missing."""
    tables = {}
    for name, lines in whole(rows).items():
        input_page = page(name)
        headings = [column.heading for column in input_page.columns]
        grid = [
            (FIRST_ROW + number, [line.get(heading) for heading in headings])
            for number, line in enumerate(lines)
        ]
        tables[name] = raw_table(input_page, name, 1, HEAD_ROW, headings, grid)
    return BookTables(tables)


def address(name: str, heading: str, row: int) -> str:
    """The cell under a heading in the given data row, from 0."""
    headings = [column.heading for column in page(name).columns]
    return f"{get_column_letter(headings.index(heading) + 1)}{FIRST_ROW + row}"


def write_book(path: Path, rows: Mapping[str, Sequence[Mapping[str, Any]]], *, tables: bool = True) -> Path:
    """The rows as a workbook, each page with its table, or with bare headings."""
    with xlsxwriter.Workbook(path) as book:
        for input_page in INPUT_PAGES:
            name = input_page.name
            if name in rows:
                put_page(book.add_worksheet(name), name, rows[name], tables=tables)
    return path


def put_page(
    sheet: Any,
    name: str,
    rows: Sequence[Mapping[str, Any]],
    *,
    tables: bool = True,
    headings: Sequence[str] = (),
    at: tuple[int, int] = (HEAD_ROW - 1, 0),
) -> None:
    """One page's headings and rows at a place of the sheet, from 0."""
    rows = whole({name: rows})[name]
    top, left = at
    headings = headings or [column.heading for column in page(name).columns]
    for place, heading in enumerate(headings):
        sheet.write_string(top, left + place, heading)
        for number, row in enumerate(rows, start=1):
            put_cell(sheet, top + number, left + place, row.get(heading.strip()))
    if tables:
        sheet.add_table(top, left, top + max(1, len(rows)), left + len(headings) - 1, {
            "name": page(name).table, "columns": [{"header": heading} for heading in headings],
        })  # fmt: skip


def put_cell(sheet: Any, row: int, column: int, value: Any) -> None:
    """A value as what it is: text never turns into anything else."""
    if isinstance(value, str):
        sheet.write_string(row, column, value)
    elif value is not None:
        sheet.write(row, column, value)
