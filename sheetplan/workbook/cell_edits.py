"""Write single cells and rows into the planner's own pages, every other byte as it was.

Only numbers and text are written, never a formula; a cell that holds a formula is left alone. A
cell keeps its format. A table that has no blank row left grows by one row where the row below it is
free, with the formats and row formulas of its last row.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import replace
from io import BytesIO
from xml.sax.saxutils import escape

from openpyxl.utils.cell import (
    column_index_from_string,
    coordinate_from_string,
    get_column_letter,
    range_boundaries,
)

from sheetplan.workbook.cell_spans import RowSpan, SheetSpans, sheet_spans
from sheetplan.workbook.package import Package
from sheetplan.workbook.package_relations import relations_of
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.reading_package import SheetPlace, TablePlace, sheet_places
from sheetplan.workbook.safe_text import clean_text

Value = str | int | float | None

_ADDRESS_IN_FORMULA = re.compile(rb"(?<![A-Za-z_\[])\$?[A-Z]{1,3}\$?[0-9]+(?![A-Za-z0-9_(])")
_TEXT_IN_FORMULA = re.compile(rb'"[^"]*"|&quot;.*?&quot;')
_FORMULA = re.compile(rb"<(?:\w+:)?f>(.*?)</(?:\w+:)?f>", re.DOTALL)
_SQREF = re.compile(rb'(\bsqref=")([^"]*)(")')
_REF = re.compile(rb'(\bref=")([^"]*)(")')
_DIMENSION = re.compile(rb'(<(?:\w+:)?dimension\b[^>]*\bref=")([^"]*)(")')


class BookEdit:
    """Changes to a book's bytes under way; `done` gives the new book."""

    def __init__(self, data: bytes) -> None:
        self._package = Package.of_bytes(data)
        with zipfile.ZipFile(BytesIO(data)) as package:
            self._places = sheet_places(package)
        self.touched: set[str] = set()
        """Parts that were changed."""

    def done(self) -> bytes:
        """The book with all changes."""
        return self._package.to_bytes()

    def set(self, sheet: str, address: str, value: Value) -> bool:
        """Write one cell; False where it holds a formula, which stays."""
        part = next(p.part for p in self._places if p.name == sheet)
        letters, number = coordinate_from_string(address)
        data = self._package.read(part)
        spans = sheet_spans(data)
        row = spans.rows.get(number)
        column = column_index_from_string(letters)
        cell = row.cells.get(column) if row else None
        if cell is not None and cell.has_formula:
            return False
        style = cell.attributes.get("s", "") if cell else ""
        data = _with_cell(data, spans, number, column, _cell(spans.prefix, address, style, value))
        self._put(part, _reaching(data, number, column))
        return True

    def add_row(self, table: str, values: Mapping[str, Value], inputs: tuple[str, ...]) -> int | None:
        """Write a row of a table into its first blank row, or below it; None where there is no room.

        Parameters
        ----------
        table : str
            The table's name.
        values : mapping
            Value by heading; headings that the table does not have are passed over.
        inputs : tuple of str
            Headings of the columns that make a row count as used.
        """
        found = next(
            ((p, t) for p in self._places for t in p.tables if normal(t.name) == normal(table)), None
        )
        if found is None:
            return None
        place, spot = found
        number = self._blank_row(place, spot, inputs)
        if number is None:
            number = self._grown(place, spot)
        if number is None:
            return None
        columns = {normal(name): spot.box.left + i for i, name in enumerate(spot.names)}
        for heading, value in values.items():
            column = columns.get(normal(heading))
            if column is not None and value is not None:
                self.set(place.name, f"{get_column_letter(column)}{number}", value)
        return number

    def add_rows(
        self, table: str, rows: Sequence[Mapping[str, Value]], inputs: tuple[str, ...]
    ) -> tuple[int, ...]:
        """Write rows as `add_row` does, one after another; raises ValueError where there is no room.

        A row is put together whole, so that hundreds are written in a moment.
        """
        numbers = []
        for values in rows:
            number = self.add_row(table, values, inputs)
            if number is None:
                raise ValueError(f"the table {table} has no room for more rows")
            numbers.append(number)
        return tuple(numbers)

    def _blank_row(self, place: SheetPlace, spot: TablePlace, inputs: tuple[str, ...]) -> int | None:
        wanted = {normal(name) for name in inputs}
        columns = [spot.box.left + i for i, name in enumerate(spot.names) if normal(name) in wanted]
        rows = sheet_spans(self._package.read(place.part)).rows
        bottom = spot.box.bottom - (1 if spot.has_total_row else 0)
        for number in range(spot.box.top + 1, bottom + 1):
            cells = rows[number].cells if number in rows else {}
            if not any(column in cells and cells[column].has_value for column in columns):
                return number
        return None

    def _grown(self, place: SheetPlace, spot: TablePlace) -> int | None:
        """Stretch the table over the row below it, and return that row."""
        data = self._package.read(place.part)
        spans = sheet_spans(data)
        box, new = spot.box, spot.box.bottom + 1
        columns = range(box.left, box.right + 1)
        below = spans.rows.get(new)
        taken = below is not None and any(c in below.cells and below.cells[c].has_value for c in columns)
        meets = any(other.box.top == new and other is not spot for other in place.tables)
        part = self._table_part(place, spot)
        if spot.has_total_row or taken or meets or part is None:
            return None
        last = spans.rows.get(box.bottom)
        for column in columns:
            made = _cell_below(data, last, column, new)
            if made is not None:
                data = _with_cell(data, sheet_spans(data), new, column, made)
        data = _stretched(data, _SQREF, spot)
        self._put(place.part, data)
        self._put(part, _stretched(self._package.read(part), _REF, spot))
        self._places = tuple(_taller(p, spot) if p is place else p for p in self._places)
        return new

    def _table_part(self, place: SheetPlace, spot: TablePlace) -> str | None:
        name = f'displayName="{escape(spot.name)}"'.encode()
        for relation in relations_of(self._package, place.part):
            if relation.is_a("table") and name in self._package.read(relation.part):
                return relation.part
        return None

    def _put(self, part: str, data: bytes) -> None:
        if data != self._package.read(part):
            self._package.put(part, data)
            self.touched.add(part)


def _cell(prefix: bytes, address: str, style: str, value: Value) -> bytes:
    p = prefix.decode()
    head = f'<{p}c r="{address}"' + (f' s="{style}"' if style else "")
    if value is None or value == "":
        text = f"{head}/>"
    elif isinstance(value, str):
        shown = escape(clean_text(value))
        text = f'{head} t="inlineStr"><{p}is><{p}t xml:space="preserve">{shown}</{p}t></{p}is></{p}c>'
    else:
        text = f"{head}><{p}v>{value!r}</{p}v></{p}c>"
    return text.encode("ascii", "xmlcharrefreplace")


def _with_cell(data: bytes, spans: SheetSpans, number: int, column: int, made: bytes) -> bytes:
    """Put a cell in its place among the bytes: instead of the one there, or between its neighbours."""
    row = spans.rows.get(number)
    if row is None:
        return _with_row(data, spans, number, made)
    there = row.cells.get(column)
    if there is not None:
        return data[: there.start] + made + data[there.end :]
    after = [cell for at, cell in row.cells.items() if at > column]
    if after:
        start = min(cell.start for cell in after)
        return data[:start] + made + data[start:]
    if row.inner_end is not None:
        return data[: row.inner_end] + made + data[row.inner_end :]
    head = data[row.start : row.end].rstrip(b">").rstrip(b"/").rstrip()
    return data[: row.start] + head + b">" + made + b"</" + spans.prefix + b"row>" + data[row.end :]


def _reaching(data: bytes, number: int, column: int) -> bytes:
    """The page's stated block with the cell in it: some readers look no further than that block."""
    stated = _DIMENSION.search(data)
    if stated is None:
        return data
    try:
        left, top, right, bottom = range_boundaries(stated.group(2).decode())
    except ValueError:
        return data
    if left is None or top is None or right is None or bottom is None:
        return data
    corners = (min(left, column), min(top, number)), (max(right, column), max(bottom, number))
    if corners == ((left, top), (right, bottom)):
        return data
    block = ":".join(f"{get_column_letter(c)}{r}" for c, r in corners)
    return data[: stated.start(2)] + block.encode() + data[stated.end(2) :]


def _with_row(data: bytes, spans: SheetSpans, number: int, made: bytes) -> bytes:
    p = spans.prefix
    row = b'<%brow r="%d">%b</%brow>' % (p, number, made, p)
    later = [span.start for at, span in spans.rows.items() if at > number]
    if later:
        at = min(later)
        return data[:at] + row + data[at:]
    if spans.data_end is not None:
        return data[: spans.data_end] + row + data[spans.data_end :]
    empty = re.compile(rb"<" + p + rb"sheetData\s*/>")
    return empty.sub(b"<%bsheetData>%b</%bsheetData>" % (p, row, p), data, count=1)


def _cell_below(data: bytes, last: RowSpan | None, column: int, number: int) -> bytes | None:
    """A cell like the one above it: its format, and its formula where that names no addresses."""
    above = last.cells.get(column) if last else None
    if above is None:
        return None
    old = data[above.start : above.end]
    address = f"{get_column_letter(column)}{number}"
    prefix = old[1 : old.index(b"c")]
    style = above.attributes.get("s", "")
    formula = _FORMULA.search(old)
    if formula and not _ADDRESS_IN_FORMULA.search(_TEXT_IN_FORMULA.sub(b"", formula.group(1))):
        head = _cell(prefix, address, style, None).removesuffix(b"/>")
        return head + b">" + formula.group() + b"</" + prefix + b"c>"
    return _cell(prefix, address, style, None)


def _stretched(data: bytes, pattern: re.Pattern[bytes], spot: TablePlace) -> bytes:
    """Blocks that end with the table's last row and lie in its columns reach one row further."""

    def block(reference: str) -> str:
        left, top, right, bottom = range_boundaries(reference)
        if left is None or top is None or right is None or bottom is None or ":" not in reference:
            return reference
        inside = spot.box.left <= left and right <= spot.box.right
        if not inside or bottom != spot.box.bottom:
            return reference
        return f"{get_column_letter(left)}{top}:{get_column_letter(right)}{bottom + 1}"

    def blocks(match: re.Match[bytes]) -> bytes:
        references = " ".join(block(one) for one in match.group(2).decode().split(" "))
        return match.group(1) + references.encode() + match.group(3)

    return pattern.sub(blocks, data)


def _taller(place: SheetPlace, spot: TablePlace) -> SheetPlace:
    taller = replace(spot, box=replace(spot.box, bottom=spot.box.bottom + 1))
    return replace(place, tables=tuple(taller if table is spot else table for table in place.tables))
