"""What openpyxl's streaming reader leaves out: where tables stand, merged cells, hidden rows.

Only small parts of the package are parsed whole; the cells themselves are left to openpyxl.
"""

from __future__ import annotations

import posixpath
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO

from lxml import etree
from openpyxl.utils.cell import range_boundaries

MAX_SCANNED_BYTES = 64 * 1024**2
"""A sheet larger than this is not searched for merged cells and hidden rows: they only make
messages better, and the search takes about a second for each 50 MB."""

_RELATION_ID = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


@dataclass(frozen=True, slots=True)
class Box:
    """A block of cells, both ends counted, from 1."""

    left: int
    top: int
    right: int
    bottom: int

    def meets(self, other: Box) -> bool:
        """Whether the two blocks share a cell."""
        return (
            self.left <= other.right
            and other.left <= self.right
            and self.top <= other.bottom
            and other.top <= self.bottom
        )


@dataclass(frozen=True, slots=True)
class TablePlace:
    """Where a table stands; ``names`` are its columns as the table itself calls them."""

    name: str
    box: Box
    has_heading_row: bool
    has_total_row: bool
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetPlace:
    """A worksheet, its part in the package, and the tables on it."""

    name: str
    part: str
    tables: tuple[TablePlace, ...]


@dataclass(frozen=True, slots=True)
class SheetMarks:
    """What bears on how cells are read: merged blocks and rows that are hidden."""

    merged: tuple[Box, ...] = ()
    hidden: frozenset[int] = frozenset()


def sheet_places(package: zipfile.ZipFile) -> tuple[SheetPlace, ...]:
    """All worksheets of the package in the book's order.

    Raises KeyError, ValueError or an lxml error where the package is not built like a workbook.
    """
    book_part = next(target for kind, target in _relations(package, "").values() if kind == "officeDocument")
    relations = _relations(package, book_part)
    places = []
    for sheet in _parse(package, book_part).iterfind(".//{*}sheets/{*}sheet"):
        kind, part = relations[sheet.get(_RELATION_ID, "")]
        if kind == "worksheet":
            tables = tuple(
                _table_place(package, target)
                for kind, target in _relations(package, part).values()
                if kind == "table"
            )
            places.append(SheetPlace(sheet.get("name", ""), part, tables))
    return tuple(places)


def sheet_marks(package: zipfile.ZipFile, part: str) -> SheetMarks:
    """Merged blocks and hidden rows of a sheet; none for a sheet too large to search."""
    if package.getinfo(part).file_size > MAX_SCANNED_BYTES:
        return SheetMarks()
    merged: list[Box] = []
    hidden: set[int] = set()
    with package.open(part) as source:
        for element in _elements(source):
            name = etree.QName(element).localname
            if name == "mergeCell":
                merged.append(_box(element.get("ref", "")))
            elif name == "row" and element.get("hidden") in ("1", "true") and element.get("r"):
                hidden.add(int(element.get("r", "0")))
    return SheetMarks(tuple(merged), frozenset(hidden))


def _elements(source: IO[bytes]) -> Iterator[etree._Element]:
    """Rows and merged blocks of a sheet as they go by; what has gone by is freed."""
    walk = etree.iterparse(source, tag=("{*}row", "{*}mergeCell"), resolve_entities=False, no_network=True)
    for _, element in walk:
        yield element
        element.clear()
        while element.getprevious() is not None:
            del element.getparent()[0]


def _table_place(package: zipfile.ZipFile, part: str) -> TablePlace:
    table = _parse(package, part)
    return TablePlace(
        name=table.get("displayName", table.get("name", "")),
        box=_box(table.get("ref", "")),
        has_heading_row=table.get("headerRowCount", "1") != "0",
        has_total_row=table.get("totalsRowCount", "0") != "0",
        names=tuple(column.get("name", "") for column in table.iterfind(".//{*}tableColumn")),
    )


def _box(reference: str) -> Box:
    left, top, right, bottom = range_boundaries(reference)
    if left is None or top is None or right is None or bottom is None:
        raise ValueError(f"`{reference}` is no block of cells")
    return Box(left, top, right, bottom)


def _relations(package: zipfile.ZipFile, part: str) -> dict[str, tuple[str, str]]:
    """Relations of a part inside the package: id to (last word of the kind, target part)."""
    folder, name = posixpath.split(part)
    try:
        root = _parse(package, posixpath.join(folder, "_rels", f"{name}.rels"))
    except KeyError:
        return {}
    found = {}
    for relation in root:
        if isinstance(relation.tag, str) and relation.get("TargetMode") != "External":
            inside = posixpath.normpath(posixpath.join("/", folder, relation.get("Target", "")))[1:]
            found[relation.get("Id", "")] = (relation.get("Type", "").rpartition("/")[2], inside)
    return found


def _parse(package: zipfile.ZipFile, part: str) -> etree._Element:
    safe = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=False)
    return etree.fromstring(package.read(part), safe)
