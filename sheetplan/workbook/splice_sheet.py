"""Fit a drawn sheet, and the tables on it, into the planner's package."""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING

from sheetplan.workbook.package_xml import main
from sheetplan.workbook.splice_styles import StyleMap

if TYPE_CHECKING:
    from lxml.etree import _Element


def fit_sheet(sheet: _Element, strings: list[_Element], styles: StyleMap) -> None:
    """Renumber the formats, set the strings into their cells and leave the sheet unselected.

    Strings go into the cells so that the planner's own list of shared strings stays untouched. A
    second selected sheet would open as a group with the planner's, and typing would go to both.
    """
    for element in sheet.iter(main("row"), main("c"), main("col")):
        attribute = "style" if element.tag == main("col") else "s"
        number = element.get(attribute)
        if number is not None:
            element.set(attribute, str(styles.cells[int(number)]))
    for cell in sheet.iter(main("c")):
        if cell.get("t") == "s":
            _set_inline(cell, strings)
    for view in sheet.iter(main("sheetView")):
        if "tabSelected" in view.attrib:
            del view.attrib["tabSelected"]
    renumber_differential(sheet, styles)


def keep_protection(former: _Element, sheet: _Element) -> None:
    """Protect the drawn sheet as the one was that it replaces: who locked a page wants it locked.

    Source of its place: ECMA-376 part 1, CT_Worksheet, sheetProtection follows sheetData and sheetCalcPr.
    """
    protection, data = former.find(main("sheetProtection")), sheet.find(main("sheetData"))
    if protection is not None and data is not None and sheet.find(main("sheetProtection")) is None:
        data.addnext(deepcopy(protection))


def renumber_differential(root: _Element, styles: StyleMap) -> None:
    """Renumber the differential formats of conditional formats and tables."""
    for element in root.iter():
        for name, value in list(element.attrib.items()):
            if str(name).lower().endswith("dxfid"):
                element.set(name, str(styles.differential[int(value)]))


def shared_strings(root: _Element) -> list[_Element]:
    """Entries of a list of shared strings."""
    return list(root.iter(main("si")))


def _set_inline(cell: _Element, strings: list[_Element]) -> None:
    from lxml import etree

    value = cell.find(main("v"))
    if value is None:
        return
    entry = strings[int(value.text or "0")]
    cell.remove(value)
    cell.set("t", "inlineStr")
    inline = etree.SubElement(cell, main("is"))
    inline.extend(deepcopy(child) for child in entry)


class TableNumbers:
    """Numbers and names of tables: unique in the book, and kept by a table that returns.

    A filter that the planner tied to one of our tables knows it by number.
    """

    def __init__(self, taken_numbers: set[int], taken_names: set[str], former: dict[str, int]) -> None:
        self._numbers = taken_numbers
        self._names = {name.lower() for name in taken_names}
        self._former = {name.lower(): number for name, number in former.items()}

    def fit(self, table: _Element, styles: StyleMap) -> None:
        """Give a drawn table its number and a name that nothing else in the book has."""
        name = base = table.get("displayName", "")
        count = 1
        while name.lower() in self._names:
            count += 1
            name = f"{base}_{count}"
        self._names.add(name.lower())
        number = self._former.get(name.lower())
        if number is None or number in self._numbers:
            number = max([0, *self._numbers, *self._former.values()]) + 1
        self._numbers.add(number)
        table.set("id", str(number))
        table.set("name", name)
        table.set("displayName", name)
        renumber_differential(table, styles)
