"""The book's defined names: ours are renewed, the planner's stay as they are."""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING

from sheetplan.workbook.package_xml import main
from sheetplan.workbook.page_links import quoted_page

if TYPE_CHECKING:
    from lxml.etree import _Element

OWN_PAGE = "sheetplan_page"
"""Name, local to a page, that says that the page is ours to replace. Programs keep it when they save."""

_BUILT_IN = "_xlnm."


def sheet_names(workbook: _Element) -> list[str]:
    """Names of all sheets in their order; a local defined name counts its sheet from here."""
    return [sheet.get("name", "") for sheet in workbook.iter(main("sheet"))]


def own_pages(workbook: _Element) -> set[str]:
    """Pages that carry our mark, in lower case."""
    sheets = sheet_names(workbook)
    marked = set()
    for name in workbook.iter(main("definedName")):
        local = name.get("localSheetId")
        if name.get("name", "").lower() == OWN_PAGE and local is not None and int(local) < len(sheets):
            marked.add(sheets[int(local)].lower())
    return marked


def all_names(workbook: _Element) -> set[str]:
    """Every defined name of the book."""
    return {name.get("name", "") for name in workbook.iter(main("definedName"))}


def make_room(workbook: _Element, place: int) -> None:
    """Count on what counts sheets by their places, after a sheet has come in at a place."""
    counts = [
        *((name, "localSheetId") for name in workbook.iter(main("definedName"))),
        *((view, at) for view in workbook.iter(main("workbookView")) for at in ("activeTab", "firstSheet")),
    ]
    for element, attribute in counts:
        said = element.get(attribute)
        number = int(said) if said is not None else 0
        # A view that says nothing shows the first sheet, and goes on doing so.
        if number >= place and (said is not None or attribute == "activeTab"):
            element.set(attribute, str(number + 1))


def renew_names(workbook: _Element, drawn: _Element, added_after: _Element) -> None:
    """Bring the drawn book's names in, replacing those that we brought before.

    Parameters
    ----------
    workbook, drawn : element
        The planner's workbook part, the drawn pages already among its sheets, and the drawn one.
    added_after : element
        Where the list goes if the book has none: it follows this element.
    """
    from lxml import etree

    sheets = [name.lower() for name in sheet_names(workbook)]
    drawn_sheets = [name.lower() for name in sheet_names(drawn)]
    ours = {sheets.index(name) for name in drawn_sheets}
    new_elements = [deepcopy(e) for e in drawn.iter(main("definedName"))]
    for element in new_elements:
        local = element.get("localSheetId")
        if local is not None:
            element.set("localSheetId", str(sheets.index(drawn_sheets[int(local)])))
    brought = {e.get("name", "").lower() for e in new_elements if e.get("localSheetId") is None}
    names = workbook.find(main("definedNames"))
    if names is None:
        names = etree.Element(main("definedNames"))
        added_after.addnext(names)
    for element in list(names):
        local, name = element.get("localSheetId"), element.get("name", "").lower()
        mine = (
            name in brought
            if local is None
            else (int(local) in ours and (name.startswith(_BUILT_IN) or name == OWN_PAGE))
        )
        if mine:
            names.remove(element)
    names.extend(new_elements)
    for place in sorted(ours):
        mark = etree.SubElement(
            names, main("definedName"), {"name": OWN_PAGE, "localSheetId": str(place), "hidden": "1"}
        )
        mark.text = f"{quoted_page(sheet_names(workbook)[place])}!$A$1"
