"""When a sound book may nevertheless not be altered."""

from __future__ import annotations

from sheetplan.workbook.package import Package
from sheetplan.workbook.package_relations import relations_of, relations_part
from sheetplan.workbook.package_xml import MAIN, main, parse

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


def refuse_planners_page(package: Package, name: str, part: str, is_sheet: bool) -> None:
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
