"""From a block of cells to a raw table, the same way for every host; and what only the package tells of
it.
"""

from __future__ import annotations

import posixpath
import unicodedata
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import IO

from lxml import etree
from openpyxl.utils.cell import get_column_letter, range_boundaries

from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import CellValue, RawCell, RawRow, RawTable
from sheetplan.workbook.text import visible

# What openpyxl's streaming reader leaves out: where tables stand, merged cells, hidden rows.
#
# Only small parts of the package are parsed whole; the cells themselves are left to openpyxl.

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


# From a block of cells to a raw table, the same way for every host.

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
