"""Read the input tables of a workbook file that is not open in a program.

openpyxl streams the cells twice, once with values and once with formulas, so that a formula
nobody has computed can be told from an empty cell. Sheet dimensions stored in the file are
never trusted: only the blocks that the tables name are read.
"""

from __future__ import annotations

import datetime
import os
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sheetplan.workbook.errors import BookUnreadable, book_problem
from sheetplan.workbook.opening import open_for_reading
from sheetplan.workbook.reading_book import MAX_ROWS as MAX_ROWS
from sheetplan.workbook.reading_book import PLAN_PAGE, PLAN_ROWS, mark_among, read_view
from sheetplan.workbook.reading_grid import GridRow, normal
from sheetplan.workbook.reading_package import Box, SheetMarks, SheetPlace, sheet_marks, sheet_places
from sheetplan.workbook.tables import BookTables, CellValue, ErrorValue, NotComputed


@dataclass(frozen=True, slots=True)
class _ClosedView:
    """The open package and openpyxl's two views of it."""

    package: zipfile.ZipFile
    values: Any
    formulas: Any
    places: tuple[SheetPlace, ...]

    def rows(self, sheet: str, box: Box) -> Iterator[GridRow]:
        """Give the rows of a block from both views, the number of the row with each."""
        bounds = {"min_row": box.top, "max_row": box.bottom, "min_col": box.left, "max_col": box.right}
        values = self.values[sheet].iter_rows(**bounds)
        formulas = self.formulas[sheet].iter_rows(**bounds)
        for number, (shown, written) in enumerate(zip(values, formulas, strict=False), start=box.top):
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
