"""Put drawn pages into the planner's package and leave everything else as it was, or refuse."""

from __future__ import annotations

import posixpath
from collections.abc import Sequence
from copy import deepcopy
from typing import TYPE_CHECKING

from sheetplan.pages.values import OWNED_PAGES
from sheetplan.workbook.package.parts import (
    MAIN,
    OFFICE_RELATIONS,
    TYPES_PART,
    ContentTypes,
    Package,
    Relation,
    main,
    new_relation,
    parse,
    part_at,
    put_if_changed,
    reachable,
    relation_elements,
    relations_of,
    relations_part,
    serialise,
)
from sheetplan.workbook.package.styles import StyleMap, TooManyFormats, empty_styles, merge_styles
from sheetplan.workbook.text import quoted_page

if TYPE_CHECKING:
    from lxml.etree import _Element


# When a sound book may nevertheless not be altered.

_TRUE = ("1", "true", "on")


class MayNotAlter(Exception):
    """The book must stay as it is: ``what`` says why, ``remedy`` what the planner can do."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(f"{what} {remedy}")
        self.what = what
        self.remedy = remedy


def refuse_locked(package: Package) -> None:
    """Raise where altering the book would break a signature, a lock or a form that we cannot write."""
    start = relations_of(package, "")
    if any("digital-signature" in relation.type for relation in start) or any(
        name.lower().startswith("_xmlsignatures/") for name in package.names
    ):
        raise MayNotAlter(
            "The workbook is digitally signed; any change would break the signature.",
            "Plan a copy without the signature, or use the results book.",
        )
    book = next((relation.part for relation in start if relation.is_a("officeDocument")), "")
    if book not in package:
        raise MayNotAlter(
            "The file does not say which of its parts is the workbook.",
            "Open it in your spreadsheet program and save it again.",
        )
    workbook = parse(package.read(book))
    if not str(workbook.tag).startswith(f"{{{MAIN}}}"):
        raise MayNotAlter(
            "The workbook is saved as Strict Open XML.",
            "Save it again as plain Excel Workbook (.xlsx), not Strict.",
        )
    protection = workbook.find(main("workbookProtection"))
    if protection is not None and protection.get("lockStructure", "0") in _TRUE:
        raise MayNotAlter(
            "The workbook's structure is locked, so no page may be added or replaced.",
            "Unlock it (Review, Protect Workbook), or use the results book.",
        )
    sharing = workbook.find(main("fileSharing"))
    if sharing is not None and {"reservationPassword", "hashValue"} & {str(k) for k in sharing.attrib}:
        raise MayNotAlter(
            "The workbook asks for a password before it may be changed.",
            "Take the password to modify off, or use the results book.",
        )


def refuse_planners_page(package: Package, name: str, part: str, *, is_sheet: bool) -> None:
    """Raise where a page that bears one of our names was not made by us and is not empty."""
    if not is_sheet or _holds_something(package, part):
        raise MayNotAlter(
            f"The page {name} is your own: it was not made here, so it is not replaced.",
            "Give your page another name, or use the results book.",
        )


def _holds_something(package: Package, part: str) -> bool:
    if relations_part(part) in package:
        return True
    sheet = parse(package.read(part))
    return any(len(cell) for cell in sheet.iter(main("c")))


# The book's defined names: ours are renewed, the planner's stay as they are.

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


# Fit a drawn sheet, and the tables on it, into the planner's package.


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


# Where a page of ours goes in a book that does not have it yet.


def neighbours(page: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Pages of ours that stand before a page in a new book and those after it, the nearest first."""
    if page not in OWNED_PAGES:
        return (), ()
    place = OWNED_PAGES.index(page)
    return OWNED_PAGES[:place][::-1], OWNED_PAGES[place + 1 :]


def place_of(page: str, there: Sequence[str]) -> int:
    """How many of the book's pages come before a new one.

    It follows the nearest page of ours that stands before it in a new book; where the book has none of them
    it goes before the nearest that stands after it there, else to the end.

    >>> place_of("Cutting order", ("Orders", "Plan", "Buy", "Layouts", "My notes"))
    3
    """
    places = {name.casefold(): place for place, name in enumerate(there)}
    before, after = neighbours(page)
    follows = (places[name.casefold()] + 1 for name in before if name.casefold() in places)
    precedes = (places[name.casefold()] for name in after if name.casefold() in places)
    return next(follows, next(precedes, len(there)))


# Put drawn pages into the planner's package and leave everything else as it was.
#
# Only these parts may differ from before; every other part keeps its bytes:
#
# - the workbook part (``xl/workbook.xml``): a sheet entry for each page that is new, what counts sheets
#   from there on, our defined names, full recalculation on opening;
# - its relations, where a page is new or the list of calculation steps was dropped;
# - ``[Content_Types].xml``, for parts that came or went;
# - the style sheet (``xl/styles.xml``): formats appended, nothing renumbered;
# - the parts of our own pages: the sheet, its relations, tables, drawing and pictures;
# - ``xl/calcChain.xml`` goes: it lists formulas in calculation order and is rebuilt on opening.
#
# A page keeps its sheet's name, number, place and part, so formulas and charts elsewhere still find
# it. Our pages hold no dates, so it does not matter whether the book counts days from 1900 or 1904.

_STYLES_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"
_TABLE_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.table+xml"
_SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
_OURS = "sheetplan_"
"""Start of the names of new parts, so that they meet no part of the planner's."""

_BEFORE_NAMES = ("sheets", "functionGroups", "externalReferences")
"""What may stand before the defined names (ECMA-376 part 1, 18.2.27)."""


def splice_pages(data: bytes, drawn: Package, *, all_ours: bool = False) -> bytes:
    """Return the planner's book with the drawn pages replaced, or added in their places among ours.

    Parameters
    ----------
    data : bytes
        The planner's book, found sound by `guard.judge`.
    drawn : Package
        What `page_writer.draw_pages` made.
    all_ours : bool
        The book is a results book: every page of it is ours to replace.

    Returns
    -------
    bytes
        The new book. Splicing the same pages again gives the same bytes.

    Raises
    ------
    MayNotAlter
        The book is signed or locked, a page of that name is the planner's own, or a part that
        would have to change is damaged.
    """
    try:
        package = Package.of_bytes(data)
        refuse_locked(package)
        return _Splice(package, drawn, all_ours=all_ours).done()
    except MayNotAlter:
        raise
    except Exception as error:
        # Damage in parts that reading does not need can surface here, as almost any exception.
        raise MayNotAlter(
            f"The workbook is damaged inside, so it cannot be changed ({type(error).__name__}: {error}).",
            "Open it in your spreadsheet program, save it there and try again; or use the results book.",
        ) from error


class _Splice:
    """One splice under way: the two packages, and what is known of both."""

    def __init__(self, package: Package, drawn: Package, *, all_ours: bool) -> None:
        self.package, self.drawn, self.all_ours = package, drawn, all_ours
        self.book = workbook_part(package)
        self.workbook = parse(package.read(self.book))
        self.relations = parse(package.read(relations_part(self.book)))
        self.types = ContentTypes(package)
        self.drawn_book = workbook_part(drawn)
        self.drawn_workbook = parse(drawn.read(self.drawn_book))
        self.drawn_types = ContentTypes(drawn)
        strings = _first(relations_of(drawn, self.drawn_book), "sharedStrings")
        self.strings = shared_strings(parse(drawn.read(strings.part))) if strings else []
        self.brought: dict[str, str] = {}

    def done(self) -> bytes:
        """Do the splice."""
        slots = self._slots()
        former = self._drop_private_parts([slot for slot in slots.values() if slot])
        self.styles = self._styles()
        self.tables = TableNumbers(*self._taken_by_tables(), former)
        drawn_parts = _sheet_parts(self.drawn, self.drawn_book, self.drawn_workbook)
        for name, slot in slots.items():
            part = self._bring(drawn_parts[name], slot)
            if slot is None:
                self._add_sheet(name, part)
        self._renew_names()
        self._recalculate()
        put_if_changed(self.package, self.book, self.workbook)
        put_if_changed(self.package, relations_part(self.book), self.relations)
        put_if_changed(self.package, TYPES_PART, self.types.root)
        return self.package.to_bytes()

    def _slots(self) -> dict[str, str | None]:
        """For each drawn page the part that it replaces; None where the page is new."""
        marked = own_pages(self.workbook)
        there = {
            name.lower(): part for name, part in _sheet_parts(self.package, self.book, self.workbook).items()
        }
        slots: dict[str, str | None] = {}
        for sheet in self.drawn_workbook.iter(main("sheet")):
            name = sheet.get("name", "")
            slots[name] = part = there.get(name.lower())
            if part is not None and name.lower() not in marked and not self.all_ours:
                is_sheet = self.types.of(part) == _SHEET_TYPE
                refuse_planners_page(self.package, name, part, is_sheet=is_sheet)
        return slots

    def _drop_private_parts(self, slots: list[str]) -> dict[str, int]:
        """Drop what only our old pages used; return the numbers that their tables had."""
        former = {}
        kept = reachable(self.package, ("",), without=slots)
        for part in sorted(reachable(self.package, slots) - kept):
            if self.types.of(part) == _TABLE_TYPE:
                table = parse(self.package.read(part))
                former[table.get("displayName", "")] = int(table.get("id", "0"))
            self.package.drop(relations_part(part))
            if part not in slots:
                self.package.drop(part)
                self.types.forget(part)
        return former

    def _styles(self) -> StyleMap:
        """Bring our formats into the style sheet."""
        drawn_part = _first(relations_of(self.drawn, self.drawn_book), "styles")
        assert drawn_part is not None, "a drawn book has a style sheet"
        ours = parse(self.drawn.read(drawn_part.part))
        there = _first(relations_of(self.package, self.book), "styles")
        if there is not None and there.part in self.package:
            part, theirs = there.part, parse(self.package.read(there.part))
        else:
            part, theirs = self._new_style_part(), empty_styles(ours)
        try:
            styles = merge_styles(theirs, ours)
        except TooManyFormats:
            raise MayNotAlter(
                "The workbook has no room for more cell formats.",
                "Remove formats that are no longer used, or use the results book.",
            ) from None
        put_if_changed(self.package, part, theirs)
        return styles

    def _new_style_part(self) -> str:
        part = self._free_name(posixpath.join(posixpath.dirname(self.book), "styles.xml"))
        self.types.set(part, _STYLES_TYPE)
        new_relation(self.relations, f"{OFFICE_RELATIONS}/styles", f"/{part}")
        return part

    def _taken_by_tables(self) -> tuple[set[int], set[str]]:
        """Return the numbers and names that tables of the planner's pages have, and all defined names."""
        numbers, names = set(), all_names(self.workbook) - all_names(self.drawn_workbook)
        for part in self.package.names:
            if self.types.of(part) == _TABLE_TYPE:
                table = parse(self.package.read(part))
                numbers.add(int(table.get("id", "0")))
                names.add(table.get("displayName", ""))
        return numbers, names

    def _bring(self, source: str, slot: str | None = None) -> str:
        """Copy a drawn part, and all that it needs, into the package; return its name there."""
        if source in self.brought:
            return self.brought[source]
        name = slot or self._free_name(self._beside_book(source))
        self.brought[source] = name
        kind = self.drawn_types.of(source) or ""
        data = self.drawn.read(source)
        if kind == _SHEET_TYPE:
            sheet = parse(data)
            fit_sheet(sheet, self.strings, self.styles)
            if slot is not None:
                keep_protection(parse(self.package.read(slot)), sheet)
            data = serialise(sheet)
        elif kind == _TABLE_TYPE:
            table = parse(data)
            self.tables.fit(table, self.styles)
            data = serialise(table)
        self.package.put(name, data)
        self.types.set(name, kind)
        self._bring_relations(source, name)
        return name

    def _bring_relations(self, source: str, name: str) -> None:
        if relations_part(source) not in self.drawn:
            return
        root = parse(self.drawn.read(relations_part(source)))
        for element in relation_elements(root):
            if element.get("TargetMode") != "External":
                target = part_at(self.drawn, source, element.get("Target", ""))
                element.set("Target", "/" + self._bring(target))
        self.package.put(relations_part(name), serialise(root))

    def _beside_book(self, source: str) -> str:
        """Name for a drawn part in the folder that the planner's book uses."""
        inside = posixpath.relpath(source, posixpath.dirname(self.drawn_book))
        folder, base = posixpath.split(inside)
        return posixpath.join(posixpath.dirname(self.book), folder, _OURS + base)

    def _free_name(self, wanted: str) -> str:
        stem, dot, extension = wanted.rpartition(".")
        name, count = wanted, 1
        while name in self.package:
            count += 1
            name = f"{stem}_{count}{dot}{extension}"
        return name

    def _add_sheet(self, name: str, part: str) -> None:
        """Enter a new page in its place among our others, after all others where there are none."""
        from lxml import etree

        sheets = self.workbook.find(main("sheets"))
        assert sheets is not None, "a workbook lists its sheets"
        number = max([0, *(int(sheet.get("sheetId", "0")) for sheet in sheets)]) + 1
        relation = new_relation(self.relations, f"{OFFICE_RELATIONS}/worksheet", f"/{part}")
        place = place_of(name, sheet_names(self.workbook))
        sheet = {"name": name, "sheetId": str(number), f"{{{OFFICE_RELATIONS}}}id": relation}
        sheets.insert(place, etree.Element(main("sheet"), sheet))
        make_room(self.workbook, place)

    def _renew_names(self) -> None:
        before = [e for e in self.workbook if e.tag in {main(tag) for tag in _BEFORE_NAMES}]
        renew_names(self.workbook, self.drawn_workbook, before[-1])

    def _recalculate(self) -> None:
        """Drop the list of calculation steps and ask for a full recalculation on opening."""
        from lxml import etree

        for relation in relations_of(self.package, self.book):
            if relation.is_a("calcChain"):
                self.package.drop(relation.part)
                self.types.forget(relation.part)
                for element in relation_elements(self.relations):
                    if element.get("Id") == relation.id:
                        self.relations.remove(element)
        settings = self.workbook.find(main("calcPr"))
        if settings is None:
            settings = etree.Element(main("calcPr"))
            names = self.workbook.find(main("definedNames"))
            assert names is not None, "our marks were just entered"
            names.addnext(settings)
        settings.set("fullCalcOnLoad", "1")


def workbook_part(package: Package) -> str:
    """Name of the part that is the workbook."""
    relation = _first(relations_of(package, ""), "officeDocument")
    if relation is None or relation.part not in package:
        raise MayNotAlter(
            "The file does not say which of its parts is the workbook.",
            "Open it in your spreadsheet program and save it again.",
        )
    return relation.part


def _first(relations: tuple[Relation, ...], kind: str) -> Relation | None:
    return next((relation for relation in relations if relation.is_a(kind)), None)


def _sheet_parts(package: Package, book: str, workbook: _Element) -> dict[str, str]:
    """Part of each sheet by the sheet's name."""
    by_id = {relation.id: relation.part for relation in relations_of(package, book)}
    return {
        sheet.get("name", ""): by_id[sheet.get(f"{{{OFFICE_RELATIONS}}}id", "")]
        for sheet in workbook.iter(main("sheet"))
    }
