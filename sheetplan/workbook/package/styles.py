"""Bring our cell styles into the planner's style sheet without touching what is there.

Entries are only ever appended, and an entry that says the same as one already there is used
instead, so that repeated runs do not grow the book. The lists are those of ECMA-376 part 1,
section 18.8.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sheetplan.workbook.package.parts import MAIN, main, parse

if TYPE_CHECKING:
    from lxml.etree import _Element

MOST_FORMATS = 65_000
"""Cell formats in one book; spreadsheet programs stop at 65,490."""

_ORDER = (
    "numFmts",
    "fonts",
    "fills",
    "borders",
    "cellStyleXfs",
    "cellXfs",
    "cellStyles",
    "dxfs",
    "tableStyles",
    "colors",
    "extLst",
)
_FIRST_OWN_NUMBER_FORMAT = 164
_NEUTRAL = {"family", "charset", "scheme"}
"""Hints on a font that programs add or drop when they save; they do not change its look here."""


class TooManyFormats(Exception):
    """The planner's book has no room for more cell formats."""


@dataclass(frozen=True, slots=True)
class StyleMap:
    """Where our formats stand in the planner's style sheet, by our own number."""

    cells: tuple[int, ...]
    differential: tuple[int, ...]


def empty_styles(ours: _Element) -> _Element:
    """Start a style sheet for a book that has none: only the named styles that ours rest on."""
    made = parse(f'<styleSheet xmlns="{MAIN}"/>'.encode())
    for name in ("cellStyleXfs", "cellStyles"):
        found = ours.find(main(name))
        if found is not None:
            made.append(deepcopy(found))
    for name in ("fonts", "fills", "borders"):
        _append_all(made, ours, name)
    return made


def merge_styles(theirs: _Element, ours: _Element) -> StyleMap:
    """Append to ``theirs`` what our formats need and return the new numbers.

    Our format 0 is the plain one; it becomes theirs, so that empty cells look like the planner's.
    """
    fonts = _append_all(theirs, ours, "fonts")
    fills = _append_all(theirs, ours, "fills")
    borders = _append_all(theirs, ours, "borders")
    differential = _append_all(theirs, ours, "dxfs")
    numbers = _number_formats(theirs, ours)
    there = _collection(theirs, "cellXfs")
    known = _Known(there)
    cells = []
    for index, element in enumerate(_entries(ours, "cellXfs")):
        xf = deepcopy(element)
        xf.set("xfId", "0")
        for name, places in (("fontId", fonts), ("fillId", fills), ("borderId", borders)):
            xf.set(name, str(places[int(xf.get(name, "0"))]))
            xf.set("apply" + name.removesuffix("Id").capitalize(), "1")
        own = xf.get("numFmtId", "0")
        xf.set("numFmtId", numbers.get(own, own))
        xf.set("applyNumberFormat", "1")
        cells.append(0 if index == 0 and len(there) else known.place(xf))
    if len(there) > MOST_FORMATS:
        raise TooManyFormats
    _count(there)
    return StyleMap(tuple(cells), tuple(differential))


class _Known:
    """Entries of a list by what they say."""

    def __init__(self, entries: _Element) -> None:
        self._entries = entries
        self._places: dict[object, int] = {}
        for place, element in enumerate(entries):
            self._places.setdefault(_meaning(element), place)

    def place(self, element: _Element) -> int:
        """Find an entry that says the same, or append this one."""
        meaning = _meaning(element)
        if meaning not in self._places:
            self._places[meaning] = len(self._entries)
            self._entries.append(element)
        return self._places[meaning]


def _meaning(element: _Element) -> object:
    """Return a value that is equal for entries that look the same on paper, whatever their prefixes."""
    if element.tag == main("font"):
        return frozenset((child.tag, _attributes(child)) for child in element if _tag(child) not in _NEUTRAL)
    return element.tag, _attributes(element), tuple(_meaning(child) for child in element)


def _tag(element: _Element) -> str:
    return str(element.tag).rpartition("}")[2]


def _attributes(element: _Element) -> frozenset[tuple[str, str]]:
    found = {str(name): str(value) for name, value in element.attrib.items()}
    if not found and _tag(element) in ("b", "i", "u"):
        found = {"val": "single" if _tag(element) == "u" else "1"}
    return frozenset(found.items())


def _append_all(theirs: _Element, ours: _Element, name: str) -> list[int]:
    """Append what is new of one of our lists; return the place of each of our entries."""
    entries = _entries(ours, name)
    if not entries:
        return []
    there = _collection(theirs, name)
    known = _Known(there)
    places = [known.place(deepcopy(element)) for element in entries]
    _count(there)
    return places


def _number_formats(theirs: _Element, ours: _Element) -> dict[str, str]:
    """Map our own number formats to theirs by what they say, adding the missing ones."""
    from lxml import etree

    mapped: dict[str, str] = {}
    entries = _entries(ours, "numFmts")
    if not entries:
        return mapped
    there = _collection(theirs, "numFmts")
    by_code = {e.get("formatCode", ""): e.get("numFmtId", "0") for e in there}
    highest = max([_FIRST_OWN_NUMBER_FORMAT - 1, *(int(e.get("numFmtId", "0")) for e in there)])
    for element in entries:
        code = element.get("formatCode", "")
        if code not in by_code:
            highest += 1
            by_code[code] = str(highest)
            etree.SubElement(there, main("numFmt"), {"numFmtId": str(highest), "formatCode": code})
        mapped[element.get("numFmtId", "0")] = by_code[code]
    _count(there)
    return mapped


def _entries(root: _Element, name: str) -> list[_Element]:
    found = root.find(main(name))
    return [] if found is None else list(found)


def _collection(root: _Element, name: str) -> _Element:
    """Find a list of the style sheet, or make it at the place that the schema gives it."""
    from lxml import etree

    found = root.find(main(name))
    if found is not None:
        return found
    made: _Element = etree.Element(main(name))
    for later in _ORDER[_ORDER.index(name) + 1 :]:
        following = root.find(main(later))
        if following is not None:
            following.addprevious(made)
            return made
    root.append(made)
    return made


def _count(entries: _Element) -> None:
    entries.set("count", str(len(entries)))
