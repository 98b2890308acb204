"""XML of a package: parsed without outside help, written only when it says something new."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sheetplan.workbook.package import Package

if TYPE_CHECKING:
    from lxml.etree import _Element

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
