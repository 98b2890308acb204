"""A workbook's package in memory: its parts as bytes, their XML, their types and how they point at one
another.
"""

from __future__ import annotations

import io
import posixpath
import zipfile
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import unquote

if TYPE_CHECKING:
    from lxml.etree import _Element


# A workbook's package in memory: its parts by name, as bytes, in their order.
#
# Words used here (ECMA-376, part 2):
#
# part
#     One file inside the package, named without a leading slash. Names compare without regard to
#     case, so a part is found however a relation spells it.
# entry
#     The zip's record of a part: its date, its method of compression. Entries of parts that stay
#     are written again as they were.

_FIXED_DATE = (1980, 1, 1, 0, 0, 0)
"""The date of entries that we make: fixed, so that equal content is equal bytes."""


@dataclass(slots=True)
class _Entry:
    info: zipfile.ZipInfo
    data: bytes


class Package:
    """Parts of a package. Dropped parts keep their place, so putting one back keeps the order."""

    def __init__(self) -> None:
        self._entries: dict[str, _Entry | None] = {}
        self._spelling: dict[str, str] = {}
        self._comment = b""

    @classmethod
    def of_bytes(cls, data: bytes) -> Package:
        """Read a package that `guard.judge` found sound."""
        package = cls()
        with zipfile.ZipFile(io.BytesIO(data)) as file:
            package._comment = file.comment
            for info in file.infolist():
                package._entries[info.filename] = _Entry(_copied(info), file.read(info))
                package._spelling[_key(info.filename)] = info.filename
        return package

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all parts, in order."""
        return tuple(name for name, entry in self._entries.items() if entry is not None)

    def find(self, name: str) -> str | None:
        """Spell a part's name as the package does, or None where there is no such part."""
        spelled = self._spelling.get(_key(name))
        return spelled if spelled is not None and self._entries[spelled] is not None else None

    def __contains__(self, name: str) -> bool:
        return self.find(name) is not None

    def read(self, name: str) -> bytes:
        """Bytes of a part; KeyError where there is none."""
        spelled = self.find(name)
        entry = self._entries[spelled] if spelled is not None else None
        if entry is None:
            raise KeyError(name)
        return entry.data

    def put(self, name: str, data: bytes) -> None:
        """Add a part, or replace its bytes."""
        spelled = self._spelling.setdefault(_key(name), name)
        entry = self._entries.get(spelled)
        if entry is None:
            info = zipfile.ZipInfo(spelled, _FIXED_DATE)
            info.compress_type = zipfile.ZIP_STORED if spelled.endswith(".png") else zipfile.ZIP_DEFLATED
            info.create_system = 0
            self._entries[spelled] = _Entry(info, data)
        else:
            entry.data = data

    def drop(self, name: str) -> None:
        """Take a part out, if it is there."""
        spelled = self.find(name)
        if spelled is not None:
            self._entries[spelled] = None

    def to_bytes(self) -> bytes:
        """Write the package as a zip; the same parts in the same order give the same bytes."""
        memory = io.BytesIO()
        with zipfile.ZipFile(memory, "w") as file:
            file.comment = self._comment
            for entry in self._entries.values():
                if entry is not None:
                    file.writestr(_copied(entry.info), entry.data)
        return memory.getvalue()


def _key(name: str) -> str:
    """Make names comparable; some writers put a slash in front that does not belong there."""
    return name.lstrip("/").lower()


def _copied(info: zipfile.ZipInfo) -> zipfile.ZipInfo:
    """Copy what is worth keeping of an entry; sizes and offsets belong to the file it came from."""
    copy = zipfile.ZipInfo(info.filename, info.date_time)
    copy.compress_type = info.compress_type
    copy.create_system = info.create_system
    copy.external_attr = info.external_attr
    copy.comment = info.comment
    return copy


# XML of a package: parsed without outside help, written only when it says something new.

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE_RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE_RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
CONTENT_TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"

TYPES_PART = "[Content_Types].xml"


def main(tag: str) -> str:
    """Spell a tag of SpreadsheetML with its namespace."""
    return f"{{{MAIN}}}{tag}"


def parse(data: bytes) -> _Element:
    """Parse a part; entities are not resolved, nothing is fetched, comments would upset counted lists."""
    from lxml import etree

    return etree.fromstring(
        data, etree.XMLParser(resolve_entities=False, no_network=True, remove_comments=True, remove_pis=True)
    )


def canonical(element: _Element) -> bytes:
    """Return bytes that are equal for elements that say the same."""
    from lxml import etree

    data: bytes = etree.tostring(element, method="c14n", exclusive=True, with_tail=False)
    return data


def serialise(element: _Element) -> bytes:
    """Write a whole part."""
    from lxml import etree

    data: bytes = etree.tostring(element, xml_declaration=True, encoding="UTF-8", standalone=True)
    return data


def put_if_changed(package: Package, name: str, root: _Element) -> None:
    """Write a part only if it says something new, so that untouched parts keep their bytes."""
    if name in package and canonical(parse(package.read(name))) == canonical(root):
        return
    package.put(name, serialise(root))


# How parts point at one another, and what type each part has (ECMA-376 part 2, clauses 8 and 10).

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
