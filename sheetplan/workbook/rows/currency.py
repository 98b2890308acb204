"""Amounts with the book's own currency beside them, as people write them: `1,15 EUR`, `€ 78.50`."""

from __future__ import annotations

from dataclasses import replace

from sheetplan.workbook.columns import ALL_PAGES
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.schema import Holds, InputPage
from sheetplan.workbook.tables import BookTables, CellValue, RawRow, RawTable

SIGNS = {
    "€": ("eur", "euro", "euros"), "$": ("usd", "us$", "cad", "c$", "aud", "a$", "nzd"),
    "£": ("gbp",), "¥": ("jpy", "cny", "yen"),
}  # fmt: skip
"""A sign and the letters that it may stand for."""


def words_for(currency: str) -> tuple[str, ...]:
    """All ways of writing a currency, the longest first.

    >>> words_for("EUR")
    ('euros', 'euro', 'eur', '€')
    """
    said = currency.strip().casefold()
    known = {said}
    for sign, letters in SIGNS.items():
        if said == sign:
            known |= {*letters}
        elif said in letters:
            known |= {sign, *(letters if sign == "€" else ())}
    return tuple(sorted(filter(None, known), key=len, reverse=True))


def without_currency(text: str, words: tuple[str, ...]) -> str:
    """The amount alone, where one of the words stands before or behind it; else the text as it is.

    >>> without_currency("1,15 EUR", ("eur", "€")), without_currency("12 USD", ("eur", "€"))
    ('1,15', '12 USD')
    """
    bare = text.strip()
    for word in words:
        if bare.casefold().endswith(word):
            return bare[: -len(word)].strip()
        if bare.casefold().startswith(word):
            return bare[len(word) :].strip()
    return text


def in_own_currency(tables: BookTables, currency: str) -> BookTables:
    """The tables with the book's own currency taken off its amounts; any other is left to be asked about."""
    words = words_for(currency)
    bare = {page.name: _bare(page, tables.tables[page.name], words)
            for page in ALL_PAGES if page.name in tables.tables}  # fmt: skip
    return replace(tables, tables={**tables.tables, **bare})


def _bare(page: InputPage, table: RawTable, words: tuple[str, ...]) -> RawTable:
    amounts = {normal(column.heading) for column in page.columns if column.holds is Holds.MONEY}
    if not amounts:
        return table
    return replace(table, rows=tuple(_bare_row(row, amounts, words) for row in table.rows))


def _bare_row(row: RawRow, amounts: set[str], words: tuple[str, ...]) -> RawRow:
    changed = {
        heading: replace(cell, value=_bare_value(cell.value, words))
        for heading, cell in row.cells.items() if isinstance(cell.value, str) and normal(heading) in amounts
    }  # fmt: skip
    return replace(row, cells={**row.cells, **changed}) if changed else row


def _bare_value(value: CellValue, words: tuple[str, ...]) -> CellValue:
    return without_currency(value, words) if isinstance(value, str) else value
