"""Put drawn pages into the planner's package and leave everything else as it was.

Only these parts may differ from before; every other part keeps its bytes:

- the workbook part (``xl/workbook.xml``): a sheet entry for each page that is new, what counts sheets
  from there on, our defined names, full recalculation on opening;
- its relations, where a page is new or the list of calculation steps was dropped;
- ``[Content_Types].xml``, for parts that came or went;
- the style sheet (``xl/styles.xml``): formats appended, nothing renumbered;
- the parts of our own pages: the sheet, its relations, tables, drawing and pictures;
- ``xl/calcChain.xml`` goes: it lists formulas in calculation order and is rebuilt on opening.

A page keeps its sheet's name, number, place and part, so formulas and charts elsewhere still find
it. Our pages hold no dates, so it does not matter whether the book counts days from 1900 or 1904.
"""

from __future__ import annotations

import posixpath
from typing import TYPE_CHECKING

from sheetplan.workbook.package import Package
from sheetplan.workbook.package_relations import (
    ContentTypes,
    Relation,
    new_relation,
    part_at,
    reachable,
    relation_elements,
    relations_of,
    relations_part,
)
from sheetplan.workbook.package_xml import (
    OFFICE_RELATIONS,
    TYPES_PART,
    main,
    parse,
    put_if_changed,
    serialise,
)
from sheetplan.workbook.page_places import place_of
from sheetplan.workbook.splice_names import all_names, make_room, own_pages, renew_names, sheet_names
from sheetplan.workbook.splice_refusals import MayNotAlter, refuse_locked, refuse_planners_page
from sheetplan.workbook.splice_sheet import TableNumbers, fit_sheet, shared_strings
from sheetplan.workbook.splice_styles import StyleMap, TooManyFormats, empty_styles, merge_styles

if TYPE_CHECKING:
    from lxml.etree import _Element

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
        return _Splice(package, drawn, all_ours).done()
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

    def __init__(self, package: Package, drawn: Package, all_ours: bool) -> None:
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
                refuse_planners_page(self.package, name, part, self.types.of(part) == _SHEET_TYPE)
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
