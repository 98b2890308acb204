"""How parts point at one another, and what type each part has (ECMA-376 part 2, clauses 8 and 10)."""

from __future__ import annotations

import posixpath
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import unquote

from sheetplan.workbook.package import Package
from sheetplan.workbook.package_xml import (
    CONTENT_TYPES,
    PACKAGE_RELATIONS,
    TYPES_PART,
    parse,
)

if TYPE_CHECKING:
    from lxml.etree import _Element

ROOT = ""
"""The package itself, as the part from which the first relations start."""


@dataclass(frozen=True, slots=True)
class Relation:
    """One arrow from a part to another part (``part`` is its name in the package)."""

    id: str
    type: str
    part: str

    def is_a(self, kind: str) -> bool:
        """Whether the relation is of a kind such as ``worksheet``, whoever spelled the type."""
        return self.type.rpartition("/")[2] == kind


def relations_part(part: str) -> str:
    """Name of the part that holds the relations of ``part``."""
    folder, base = posixpath.split(part)
    return posixpath.join(folder, "_rels", base + ".rels")


def part_at(package: Package, source: str, target: str) -> str:
    """Resolve a target, absolute or relative to its source, to the package's spelling of the part."""
    plain = target.partition("#")[0]
    path = plain if plain.startswith("/") else posixpath.join("/", posixpath.dirname(source), plain)
    name = posixpath.normpath(path).lstrip("/")
    return package.find(name) or package.find(unquote(name)) or name


def relations_of(package: Package, part: str) -> tuple[Relation, ...]:
    """Relations from a part to other parts of the package; links out of the package are left out."""
    name = relations_part(part)
    if name not in package:
        return ()
    return tuple(
        Relation(
            element.get("Id", ""), element.get("Type", ""), part_at(package, part, element.get("Target", ""))
        )
        for element in relation_elements(parse(package.read(name)))
        if element.get("TargetMode") != "External"
    )


def relation_elements(root: _Element) -> list[_Element]:
    """Every relation in a relations part."""
    return list(root.iter(f"{{{PACKAGE_RELATIONS}}}Relationship"))


def new_relation(root: _Element, kind: str, target: str) -> str:
    """Add a relation to a part (absolute target) and return its new id."""
    from lxml import etree

    taken = {element.get("Id", "").lower() for element in relation_elements(root)}
    number = len(taken) + 1
    while f"rid{number}" in taken:
        number += 1
    etree.SubElement(
        root,
        f"{{{PACKAGE_RELATIONS}}}Relationship",
        {
            "Id": f"rId{number}",
            "Type": kind,
            "Target": target,
        },
    )
    return f"rId{number}"


def reachable(package: Package, starts: Iterable[str], without: Collection[str] = ()) -> set[str]:
    """Parts that can be reached from some parts along relations, never passing through ``without``."""
    seen: set[str] = set()
    waiting = [part for part in starts if part not in without]
    while waiting:
        part = waiting.pop()
        if part not in seen:
            seen.add(part)
            waiting.extend(r.part for r in relations_of(package, part) if r.part not in without)
    return seen


class ContentTypes:
    """The list of part types; change it, then `save`."""

    def __init__(self, package: Package) -> None:
        self.root = parse(package.read(TYPES_PART))

    def of(self, part: str) -> str | None:
        """Type of a part: its own entry, else the default of its extension."""
        for element in self.root.iter(f"{{{CONTENT_TYPES}}}Override"):
            if unquote(element.get("PartName", "")).lower() == f"/{unquote(part)}".lower():
                return element.get("ContentType")
        return self._default(part)

    def set(self, part: str, kind: str) -> None:
        """Give a part a type, with an entry of its own only where the default is another."""
        from lxml import etree

        self.forget(part)
        if self._default(part) != kind:
            etree.SubElement(
                self.root, f"{{{CONTENT_TYPES}}}Override", {"PartName": f"/{part}", "ContentType": kind}
            )

    def forget(self, part: str) -> None:
        """Remove a part's own entry."""
        for element in list(self.root.iter(f"{{{CONTENT_TYPES}}}Override")):
            if unquote(element.get("PartName", "")).lower() == f"/{unquote(part)}".lower():
                self.root.remove(element)

    def _default(self, part: str) -> str | None:
        extension = part.rpartition(".")[2].lower()
        for element in self.root.iter(f"{{{CONTENT_TYPES}}}Default"):
            if element.get("Extension", "").lower() == extension:
                return element.get("ContentType")
        return None
