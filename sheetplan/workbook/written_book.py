"""Read a freshly written book back from the disk and judge whether it may replace the old one."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path

from sheetplan.pages.values import ResultPage
from sheetplan.workbook.guard import judge
from sheetplan.workbook.opening import open_for_reading
from sheetplan.workbook.package import Package
from sheetplan.workbook.package_relations import reachable, relations_of, relations_part
from sheetplan.workbook.package_xml import OFFICE_RELATIONS, TYPES_PART, main, parse
from sheetplan.workbook.safe_text import clean_text


def judge_written(
    path: Path, old: bytes | None, pages: Sequence[ResultPage], touched: Collection[str] = ()
) -> str | None:
    """Say what is wrong with the new book, or None where it is sound.

    Three tests: the package is whole, every part outside our pages has the bytes that it had in
    ``old``, those ``touched`` aside, and the reader that we trust with the planner's pages finds ours with
    their titles.
    """
    fault = judge(path)
    if fault is not None:
        return fault.what
    try:
        stray = set() if old is None else _stray_parts(old, path.read_bytes(), pages) - set(touched)
        if stray:
            return f"parts that are not ours were altered: {', '.join(sorted(stray))}."
        return _missing_page(path, pages)
    except Exception as error:  # whatever stumbles over the new book is a reason not to put it in place
        return f"it cannot be read back ({type(error).__name__})."


def _stray_parts(old: bytes, new: bytes, pages: Sequence[ResultPage]) -> set[str]:
    names = [page.name for page in pages]
    return changed_parts(old, new) - allowed_parts(old, names) - allowed_parts(new, names)


def changed_parts(old: bytes, new: bytes) -> set[str]:
    """Names of the parts whose bytes differ, came or went."""
    before, after = Package.of_bytes(old), Package.of_bytes(new)
    names = {*before.names, *after.names}
    return {n for n in names if n not in before or n not in after or before.read(n) != after.read(n)}


def allowed_parts(data: bytes, page_names: Sequence[str]) -> set[str]:
    """Names of the parts that a splice of these pages may change: the list that `splice` states."""
    package = Package.of_bytes(data)
    book = next(r.part for r in relations_of(package, "") if r.is_a("officeDocument"))
    relations = relations_of(package, book)
    wanted = {name.lower() for name in page_names}
    ids = {
        sheet.get(f"{{{OFFICE_RELATIONS}}}id")
        for sheet in parse(package.read(book)).iter(main("sheet"))
        if sheet.get("name", "").lower() in wanted
    }
    slots = {r.part for r in relations if r.id in ids}
    ours = slots | (reachable(package, slots) - reachable(package, ("",), without=slots))
    ours |= {relations_part(part) for part in ours}
    shared = {r.part for r in relations if r.is_a("styles") or r.is_a("calcChain")}
    return ours | shared | {book, relations_part(book), TYPES_PART}


def _missing_page(path: Path, pages: Sequence[ResultPage]) -> str | None:
    book = open_for_reading(path)
    try:
        for page in pages:
            if page.name not in book.sheetnames:
                return f"its page {page.name} is missing."
            title = book[page.name]["A1"].value
            if (title or "") != clean_text(page.title):
                return f"its page {page.name} does not show its title."
    finally:
        book.close()
    return None
