"""From a block of cells to a raw table, the same way for every host."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence

from openpyxl.utils.cell import get_column_letter

from sheetplan.workbook.look_alikes import visible
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import CellValue, RawCell, RawRow, RawTable

GridRow = tuple[int, Sequence[CellValue]]
"""A row's number in the sheet and its cells from the block's left edge."""


def normal(text: object) -> str:
    """A name as it is compared: small letters, single spaces, none at the ends, nothing that cannot be seen.

    >>> normal("  Order   Multi\u00adple ")
    'order multiple'
    """
    said = str(text)
    if not said.isascii():
        said = unicodedata.normalize("NFC", visible(said))
    return " ".join(said.split()).casefold()


def is_blank(value: CellValue) -> bool:
    """Whether a cell holds nothing that a person can see."""
    return value is None or (isinstance(value, str) and not visible(value).strip())


def heading_score(page: InputPage, cells: Sequence[CellValue]) -> int:
    """How many of the page's input columns these cells name."""
    there = {normal(cell) for cell in cells if isinstance(cell, str)}
    return sum(normal(column.heading) in there for column in page.columns)


def find_heading_row(page: InputPage, rows: Iterable[GridRow]) -> GridRow | None:
    """The first row that names most of the page's columns; None where none names half of the needed."""
    needed = sum(column.required for column in page.columns)
    best: GridRow | None = None
    best_score = max(2, (needed + 1) // 2) - 1
    for number, cells in rows:
        score = heading_score(page, cells)
        if score > best_score:
            best, best_score = (number, cells), score
    return best


def raw_table(
    page: InputPage,
    sheet: str,
    left: int,
    heading_row: int,
    headings: Sequence[CellValue],
    rows: Iterable[GridRow],
) -> RawTable:
    """The table as found; rows that are blank in every input column are dropped.

    Parameters
    ----------
    page
        What the table should be.
    sheet
        The sheet's name in the book.
    left
        Column number (from 1) of the first cell of ``headings`` and of each row.
    heading_row
        Row number of the headings.
    headings
        Cells of the heading row.
    rows
        The rows below.
    """
    rows = list(rows)
    said = tuple("" if is_blank(cell) else " ".join(str(cell).split()) for cell in headings)
    letters = tuple(get_column_letter(left + place) for place in range(len(said)))
    names = _named(said, letters, rows)
    wanted = input_places(page, names)
    kept = tuple(
        RawRow(number, _cells(names, letters, number, cells))
        for number, cells in rows
        if any(place < len(cells) and not is_blank(cells[place]) for place in wanted)
    )
    return RawTable(sheet, heading_row, names, kept)


def _named(said: Sequence[str], letters: Sequence[str], rows: Sequence[GridRow]) -> tuple[str, ...]:
    """The headings; one that is empty between others, over cells that are not, is named by its letter."""
    filled = [place for place, name in enumerate(said) if name]
    inside = range(filled[0], filled[-1]) if filled else range(0)
    return tuple(
        f"column {letter}"
        if not name and place in inside and any(len(c) > place and not is_blank(c[place]) for _, c in rows)
        else name
        for place, (name, letter) in enumerate(zip(said, letters, strict=True))
    )


def input_places(page: InputPage, names: Sequence[str]) -> tuple[int, ...]:
    """Places of the page's input columns among the headings."""
    inputs = {normal(column.heading) for column in page.columns}
    return tuple(place for place, name in enumerate(names) if normal(name) in inputs)


def required_places(page: InputPage, names: Sequence[str]) -> tuple[int, ...]:
    """Places of the columns that every row has to fill."""
    needed = {normal(column.heading) for column in page.columns if column.required}
    return tuple(place for place, name in enumerate(names) if normal(name) in needed)


def until_gap(rows: Iterable[GridRow], gap: int) -> Iterator[GridRow]:
    """Rows up to the first run of ``gap`` blank ones."""
    blank = 0
    for number, cells in rows:
        blank = blank + 1 if all(is_blank(cell) for cell in cells) else 0
        if blank >= gap:
            return
        yield number, cells


def _cells(
    names: Sequence[str], letters: Sequence[str], number: int, cells: Sequence[CellValue]
) -> dict[str, RawCell]:
    """Cells by heading; where a heading stands twice the first counts."""
    found: dict[str, RawCell] = {}
    for name, letter, value in zip(names, letters, cells, strict=False):
        if name:
            found.setdefault(name, RawCell(value, f"{letter}{number}"))
    return found
