"""Where rows and cells stand in the bytes of a sheet's XML.

The bytes are only looked at: whoever changes some of them leaves all others as they were, which a
load and save of the XML would not.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from xml.parsers import expat

from openpyxl.utils.cell import column_index_from_string, coordinate_from_string

from sheetplan.workbook.package_xml import MAIN
from sheetplan.workbook.splice_refusals import MayNotAlter

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
    walk.parser.Parse(data, True)
    return walk.spans
