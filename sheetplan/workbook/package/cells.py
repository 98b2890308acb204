"""Write single cells and rows into the planner's own pages, every other byte as it was."""

from __future__ import annotations

import datetime
import re
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from html import escape
from io import BytesIO
from xml.parsers import expat

from openpyxl.utils.cell import (
    column_index_from_string,
    coordinate_from_string,
    get_column_letter,
    range_boundaries,
)

from sheetplan.workbook.package.days import Days
from sheetplan.workbook.package.parts import MAIN, Package, relations_of
from sheetplan.workbook.package.splice import MayNotAlter
from sheetplan.workbook.port import AddsRows, Put, Value
from sheetplan.workbook.reading.grid import Box, SheetPlace, TablePlace, normal, sheet_places
from sheetplan.workbook.text import clean_text

# Where rows and cells stand in the bytes of a sheet's XML.
#
# The bytes are only looked at: whoever changes some of them leaves all others as they were, which a
# load and save of the XML would not.

_START_TAG = re.compile(rb"""<(?:[^>"']|"[^"]*"|'[^']*')*>""")
"""A start tag; an attribute may hold a bare ``>``."""


@dataclass(slots=True)
class CellSpan:
    """One ``<c>`` element: bytes ``[start, end)``, and whether it holds a formula or a value."""

    column: int
    start: int
    end: int
    has_formula: bool = False
    has_value: bool = False
    attributes: dict[str, str] = field(default_factory=dict)

    @property
    def style(self) -> str:
        """The number of its format, empty where it has none."""
        return self.attributes.get("s", "")


@dataclass(slots=True)
class RowSpan:
    """One ``<row>`` element; ``inner_end`` is where ``</row>`` begins, None for an empty element."""

    number: int
    start: int
    end: int
    inner_end: int | None
    cells: dict[int, CellSpan] = field(default_factory=dict)


@dataclass(slots=True)
class SheetSpans:
    """All rows of a sheet by number; ``data_end`` is where ``</sheetData>`` begins, None if it is empty."""

    rows: dict[int, RowSpan] = field(default_factory=dict)
    data_end: int | None = None
    prefix: bytes = b""


class _Walk:
    """Handlers of one parse."""

    def __init__(self, data: bytes) -> None:
        self.data, self.spans = data, SheetSpans()
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.StartDoctypeDeclHandler = self.doctype
        self.row: RowSpan | None = None
        self.cell: CellSpan | None = None
        self.last_row = 0
        self.data_start = 0

    def doctype(self, *_: object) -> None:
        raise MayNotAlter("A page of the workbook declares a document type.", "Save it again as .xlsx.")

    def start(self, name: str, attributes: dict[str, str]) -> None:
        at = self.parser.CurrentByteIndex
        if name == f"{MAIN} sheetData":
            tag = self.data[at + 1 : self.data.index(b"sheetData", at)]
            self.spans.prefix = tag
            self.data_start = at
        elif name == f"{MAIN} row":
            self.last_row = int(attributes.get("r", self.last_row + 1))
            self.row = RowSpan(self.last_row, at, at, None)
            self.spans.rows[self.last_row] = self.row
        elif name == f"{MAIN} c" and self.row is not None:
            column = max(self.row.cells, default=0) + 1
            if "r" in attributes:
                column = column_index_from_string(coordinate_from_string(attributes["r"])[0])
            self.cell = CellSpan(column, at, at, attributes=attributes)
            self.row.cells[column] = self.cell
        elif name == f"{MAIN} f" and self.cell is not None:
            self.cell.has_formula = True
        elif name in (f"{MAIN} v", f"{MAIN} is") and self.cell is not None:
            self.cell.has_value = True

    def end(self, name: str) -> None:
        if name == f"{MAIN} c" and self.cell is not None:
            self.cell.end, _ = self.closing(self.cell.start)
            self.cell = None
        elif name == f"{MAIN} row" and self.row is not None:
            self.row.end, self.row.inner_end = self.closing(self.row.start)
            self.row = None
        elif name == f"{MAIN} sheetData":
            _, self.spans.data_end = self.closing(self.data_start)

    def closing(self, start: int) -> tuple[int, int | None]:
        """Where the element that ends here ends, and where its closing tag begins if it has one."""
        head = _START_TAG.match(self.data, start)
        assert head is not None, "an element starts with a tag"
        if head.group().endswith(b"/>"):
            return head.end(), None
        at = self.parser.CurrentByteIndex
        return self.data.index(b">", at) + 1, at


def sheet_spans(data: bytes) -> SheetSpans:
    """Rows and cells of a sheet.

    Raises
    ------
    MayNotAlter
        The sheet is written in a way that cannot be changed in place.
    """
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise MayNotAlter(
            "A page of the workbook is written in UTF-16.", "Open it in your spreadsheet program and save it."
        )
    walk = _Walk(data)
    walk.parser.ParseFile(BytesIO(data))
    return walk.spans


# Write single cells and rows into the planner's own pages, every other byte as it was.
#
# Only numbers, days and text are written, never a formula; a cell that holds a formula is left alone. A
# cell keeps its format. A table that has no blank row left grows by one row where the row below it is
# free, with the formats and row formulas of its last row.
#
# Counts on hand are the planner's cells, and stay where the planner looks for them: recording a cut writes
# single cells of Stock, Remnants and Layouts. They are not worked out from a log: a planner who types a new
# count would have to know since when.

_ADDRESS_IN_FORMULA = re.compile(rb"(?<![A-Za-z_\[])\$?[A-Z]{1,3}\$?[0-9]+(?![A-Za-z0-9_(])")
_TEXT_IN_FORMULA = re.compile(rb'"[^"]*"|&quot;.*?&quot;')
_FORMULA = re.compile(rb"<(?:\w+:)?f>(.*?)</(?:\w+:)?f>", re.DOTALL)
_SQREF = re.compile(rb'(\bsqref=")([^"]*)(")')
_REF = re.compile(rb'(\bref=")([^"]*)(")')
_DIMENSION = re.compile(rb'(<(?:\w+:)?dimension\b[^>]*\bref=")([^"]*)(")')


class BookEdit(AddsRows):
    """Changes to a book's bytes under way; `done` gives the new book.

    Each page is looked through once; what is written is put among its bytes at the end, all in one go.
    """

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._package = Package.of_bytes(data)
        with zipfile.ZipFile(BytesIO(data)) as package:
            self._places = list(sheet_places(package))
        self._days = Days(self._package)
        self._pages: dict[str, _Page] = {}
        self._growths: dict[str, _Growth] = {}

    def done(self) -> bytes:
        """The book with all changes."""
        changed = self._changed()
        if not changed:
            return self._data
        package = Package.of_bytes(self._data)
        for part, data in changed.items():
            package.put(part, data)
        return package.to_bytes()

    @property
    def touched(self) -> set[str]:
        """Parts that are changed."""
        return set(self._changed())

    def _changed(self) -> dict[str, bytes]:
        """The changed parts as they are to be."""
        parts = {part: page.written() for part, page in self._pages.items()}
        for growth in self._growths.values():
            parts[growth.page] = _stretched(parts[growth.page], _SQREF, growth)
            parts[growth.part] = _stretched(self._package.read(growth.part), _REF, growth)
        return {part: data for part, data in parts.items() if data != self._package.read(part)}

    def set(self, sheet: str, address: str, value: Put) -> bool:
        """Write one cell; False where it holds a formula, which stays."""
        letters, number = coordinate_from_string(address)
        part = next(p.part for p in self._places if p.name == sheet)
        return self._page(part).set(number, column_index_from_string(letters), value)

    def _added(
        self, table: str, rows: Sequence[Mapping[str, Put]], inputs: tuple[str, ...]
    ) -> Iterator[int | None]:
        """The number of each row as it is written, None where it cannot be."""
        wanted = {normal(name) for name in inputs}
        number = 0
        for values in rows:
            at = self._table(table)
            if at is None:
                yield None
                return
            place, spot = self._places[at[0]], self._places[at[0]].tables[at[1]]
            page = self._page(place.part)
            columns = {normal(name): spot.box.left + i for i, name in enumerate(spot.names)}
            used = [column for name, column in columns.items() if name in wanted]
            blank = range(max(number, spot.box.top) + 1, spot.box.bottom + (0 if spot.has_total_row else 1))
            free = next((row for row in blank if not any(page.has_value(row, c) for c in used)), None)
            found = free if free is not None else self._grown(*at)
            if found is None:
                yield None
                return
            number = found
            for heading, value in values.items():
                column = columns.get(normal(heading))
                if column is not None and value is not None:
                    page.set(number, column, value)
            yield number

    def _page(self, part: str) -> _Page:
        if part not in self._pages:
            self._pages[part] = _Page(self._package.read(part), self._days)
        return self._pages[part]

    def _table(self, name: str) -> tuple[int, int] | None:
        """Where a table stands: among the pages, and among those of its page."""
        for i, place in enumerate(self._places):
            for j, table in enumerate(place.tables):
                if normal(table.name) == normal(name):
                    return i, j
        return None

    def _grown(self, at: int, index: int) -> int | None:
        """Stretch the table over the row below it, and return that row."""
        place = self._places[at]
        spot, page = place.tables[index], self._page(place.part)
        box, new = spot.box, spot.box.bottom + 1
        columns = range(box.left, box.right + 1)
        taken = any(page.has_value(new, column) for column in columns)
        meets = any(other.box.top == new and other is not spot for other in place.tables)
        part = self._table_part(place, spot)
        if spot.has_total_row or taken or meets or part is None:
            return None
        before = self._growths.get(spot.name)
        first = before.box if before else box
        for column in columns:
            page.copy_down(first.bottom, new, column)
        self._growths[spot.name] = _Growth(place.part, part, first, new)
        taller = replace(spot, box=replace(box, bottom=new))
        tables = tuple(taller if i == index else table for i, table in enumerate(place.tables))
        self._places[at] = replace(place, tables=tables)
        return new

    def _table_part(self, place: SheetPlace, spot: TablePlace) -> str | None:
        if spot.name in self._growths:
            return self._growths[spot.name].part
        name = f'displayName="{escape(spot.name, quote=False)}"'.encode()
        for relation in relations_of(self._package, place.part):
            if relation.is_a("table") and name in self._package.read(relation.part):
                return relation.part
        return None


@dataclass(frozen=True, slots=True)
class _Growth:
    """A table that reaches further down: its page and its own part, its box in the book, its new bottom."""

    page: str
    part: str
    box: Box
    bottom: int


@dataclass(frozen=True, slots=True)
class _Made:
    """A cell that is to stand in a page: its style, its bytes, and what it holds."""

    style: str
    data: bytes
    has_value: bool = False
    has_formula: bool = False


class _Page:
    """A page's bytes, where its cells stand in them, and the cells that are to be written."""

    def __init__(self, data: bytes, days: Days) -> None:
        self._data, self._spans, self._days = data, sheet_spans(data), days
        self._cells: dict[int, dict[int, _Made]] = {}
        self._set: list[tuple[int, int]] = []

    def _there(self, row: int, column: int) -> CellSpan | None:
        span = self._spans.rows.get(row)
        return span.cells.get(column) if span else None

    def has_value(self, row: int, column: int) -> bool:
        """Whether a cell holds a value as things are to be."""
        made = self._cells.get(row, {}).get(column)
        there = made or self._there(row, column)
        return there is not None and there.has_value

    def set(self, row: int, column: int, value: Put) -> bool:
        """Write a cell; False where it holds a formula, which stays."""
        there = self._cells.get(row, {}).get(column) or self._there(row, column)
        if there is not None and there.has_formula:
            return False
        style = there.style if there is not None else ""
        if isinstance(value, datetime.date):
            value = self._days.cell(style, value)
        data = _cell(self._spans.prefix, f"{get_column_letter(column)}{row}", style, value)
        self._cells.setdefault(row, {})[column] = _Made(style, data, has_value=value not in (None, ""))
        self._set.append((row, column))
        return True

    def copy_down(self, last: int, row: int, column: int) -> None:
        """A cell like the last row's: its format, and its formula where that names no addresses."""
        above = self._there(last, column)
        if above is None:
            return
        prefix, style = self._spans.prefix, above.style
        data = _cell(prefix, f"{get_column_letter(column)}{row}", style, None)
        formula = _FORMULA.search(self._data[above.start : above.end])
        live = formula is not None and not _ADDRESS_IN_FORMULA.search(
            _TEXT_IN_FORMULA.sub(b"", formula.group(1))
        )
        if formula is not None and live:
            data = data.removesuffix(b"/>") + b">" + formula.group() + b"</" + prefix + b"c>"
        self._cells.setdefault(row, {})[column] = _Made(style, data, has_formula=live)

    def written(self) -> bytes:
        """The page's bytes with the cells in their places."""
        if not self._cells:
            return self._data
        pieces: list[tuple[int, int, bytes]] = []
        fresh = {}
        for number in sorted(self._cells):
            row = self._spans.rows.get(number)
            if row is None:
                fresh[number] = b"".join(made.data for _, made in sorted(self._cells[number].items()))
            else:
                pieces += self._into(row, self._cells[number])
        data = _with_rows(self._data, self._spans, fresh, pieces)
        return _reaching(data, self._set)

    def _into(self, row: RowSpan, cells: Mapping[int, _Made]) -> list[tuple[int, int, bytes]]:
        """What is to stand in the place of which bytes, so that a row has these cells."""
        if row.inner_end is None:
            head = self._data[row.start : row.end].rstrip(b">").rstrip(b"/").rstrip()
            inner = b"".join(made.data for _, made in sorted(cells.items()))
            return [(row.start, row.end, head + b">" + inner + b"</" + self._spans.prefix + b"row>")]
        pieces = []
        for column, made in sorted(cells.items()):
            there = row.cells.get(column)
            after = min((cell.start for at, cell in row.cells.items() if at > column), default=row.inner_end)
            pieces.append((there.start, there.end, made.data) if there else (after, after, made.data))
        return pieces


def _with_rows(
    data: bytes, spans: SheetSpans, fresh: Mapping[int, bytes], pieces: Sequence[tuple[int, int, bytes]]
) -> bytes:
    """The bytes with pieces put in the place of others, and new rows between or after those there."""
    p = spans.prefix
    rows = {number: b'<%brow r="%d">%b</%brow>' % (p, number, cells, p) for number, cells in fresh.items()}
    if rows and not spans.rows and spans.data_end is None:
        empty = re.compile(rb"<" + p + rb"sheetData\s*/>")
        inner = b"".join(rows.values())
        return empty.sub(lambda _: b"<%bsheetData>%b</%bsheetData>" % (p, inner, p), data, count=1)
    end = spans.data_end if spans.data_end is not None else len(data)
    all_pieces = list(pieces)
    for number, row in rows.items():
        later = min((span.start for at, span in spans.rows.items() if at > number), default=end)
        all_pieces.append((later, later, row))
    parts, at = [], 0
    # Sorting keeps the order of what goes to one place.
    for start, stop, piece in sorted(all_pieces, key=lambda one: one[:2]):
        parts += [data[at:start], piece]
        at = stop
    return b"".join([*parts, data[at:]])


def _cell(prefix: bytes, address: str, style: str, value: Value) -> bytes:
    p = prefix.decode()
    head = f'<{p}c r="{address}"' + (f' s="{style}"' if style else "")
    if value is None or value == "":
        text = f"{head}/>"
    elif isinstance(value, str):
        shown = escape(clean_text(value), quote=False)
        text = f'{head} t="inlineStr"><{p}is><{p}t xml:space="preserve">{shown}</{p}t></{p}is></{p}c>'
    else:
        text = f"{head}><{p}v>{value!r}</{p}v></{p}c>"
    return text.encode("ascii", "xmlcharrefreplace")


def _reaching(data: bytes, cells: Sequence[tuple[int, int]]) -> bytes:
    """The page's stated block with the cells in it: some readers look no further than that block."""
    stated = _DIMENSION.search(data)
    if stated is None or not cells:
        return data
    try:
        left, top, right, bottom = range_boundaries(stated.group(2).decode())
    except ValueError:
        return data
    if left is None or top is None or right is None or bottom is None:
        return data
    rows, columns = zip(*cells, strict=True)
    first = min(left, *columns), min(top, *rows)
    last = max(right, *columns), max(bottom, *rows)
    if (first, last) == ((left, top), (right, bottom)):
        return data
    block = ":".join(f"{get_column_letter(c)}{r}" for c, r in (first, last))
    return data[: stated.start(2)] + block.encode() + data[stated.end(2) :]


def _stretched(data: bytes, pattern: re.Pattern[bytes], growth: _Growth) -> bytes:
    """Blocks that end with the table's last row and lie in its columns reach as far down as it does now."""

    def block(reference: str) -> str:
        left, top, right, bottom = range_boundaries(reference)
        if left is None or top is None or right is None or bottom is None or ":" not in reference:
            return reference
        inside = growth.box.left <= left and right <= growth.box.right
        if not inside or bottom != growth.box.bottom:
            return reference
        return f"{get_column_letter(left)}{top}:{get_column_letter(right)}{growth.bottom}"

    def blocks(match: re.Match[bytes]) -> bytes:
        references = " ".join(block(one) for one in match.group(2).decode().split(" "))
        return match.group(1) + references.encode() + match.group(3)

    return pattern.sub(blocks, data)
