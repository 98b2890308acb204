"""Looking at what a run left behind, without the code under test: folders, books, links, sentences."""

from __future__ import annotations

import hashlib
import io
import os
import posixpath
import re
import zipfile
from collections.abc import Iterable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any
from urllib.parse import unquote

from lxml import etree

from sheetplan.pages.values import OWNED_PAGES

OURS = OWNED_PAGES
"""Names of the pages that a run may write."""

_UGLY = re.compile(r"Traceback|object at 0x|NoneType|\bNone\b|<class |\bnan\b|\{\}|\\x[0-9a-f]{2}")
_MARK = re.compile(r"plan-([A-Z]{4})")


def snapshot(folder: Path) -> dict[str, str]:
    """Every file below a folder with its digest; folders have none."""
    found = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        found[name] = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""
    return found


def problem_faults(problems: Iterable[Any]) -> list[str]:
    """What is wrong with how problems are said."""
    faults = []
    for problem in problems:
        said = f"{problem.what} {problem.remedy}"
        if not problem.page or len(problem.what) < 5 or len(problem.remedy) < 5:
            faults.append(f"says too little: {problem}")
        # What the planner wrote stands between back quotes, what a library says between brackets.
        if _UGLY.search(re.sub(r"`[^`]*`|\(.*\)", "", said)):
            faults.append(f"not a sentence for a planner: {said[:300]}")
        if len(said) > 2_000:
            faults.append(f"{len(said)} characters: {said[:100]}")
    return faults


def links_of(data: bytes) -> set[str]:
    """Files that a book's own links name, as paths relative to it."""
    links = set()
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        for name in package.namelist():
            if name.startswith("xl/worksheets/_rels/"):
                for relation in etree.fromstring(package.read(name)):
                    target = unquote(str(relation.get("Target")))
                    if relation.get("TargetMode") == "External" and target.lower().endswith(".dxf"):
                        links.add(target)
    return links


def drawings_of(book: Path) -> dict[str, str]:
    """The drawings that a book points at: their digests by name."""
    there = [book.parent / link for link in links_of(book.read_bytes())]
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in there if path.is_file()}


def link_faults(book: Path, earlier: Mapping[str, str] = MappingProxyType({})) -> list[str]:
    """Links of the book to drawings that are not there, or that bear another plan's mark.

    A layout that stays from an earlier plan keeps its code, and its drawing to the byte: ``earlier`` are
    the drawings before (`drawings_of`).
    """
    faults = []
    links = links_of(book.read_bytes())
    marks = {mark for link in links for mark in _MARK.findall(link)}
    if len(marks) > 1:
        faults.append(f"the book points at several plans: {sorted(marks)}")
    for link in links:
        path = book.parent / link
        if not path.is_file():
            faults.append(f"the book points at {link}, which is not there")
            continue
        content = path.read_bytes()
        if not content.rstrip().endswith(b"EOF"):
            faults.append(f"{link} is not whole")
        mark, _, tag = path.name.split("_")[0].rpartition("-")
        if f"plan {mark}, layout {tag}".encode() not in content[:200]:
            faults.append(f"{link} does not say its plan's mark {mark} inside")
        if marks and mark not in marks and earlier.get(path.name) != hashlib.sha256(content).hexdigest():
            faults.append(f"{link} does not bear the plan's mark {marks}, and is no drawing from before")
    return faults


def book_faults(book: Path, before: bytes) -> list[str]:
    """Parts of the planner's that a run has changed."""
    data = book.read_bytes()
    faults = []
    if data != before:
        old, new = parts(before), parts(data)
        may_change = re.compile(
            r"\[Content_Types\]\.xml|xl/workbook\.xml|xl/_rels/workbook\.xml\.rels|xl/styles\.xml|xl/calcChain\.xml"
            r"|.*sheetplan_.*|.*/comments\d+\.xml",
            re.IGNORECASE,
        )
        own = own_parts(data) | hung_on_ours(before)
        for name, content in old.items():
            if new.get(name) != content and not may_change.fullmatch(name) and name not in own:
                faults.append(f"the planner's part {name} was changed")
    if os.listdir(book.parent).count(book.name) != 1:
        faults.append("there is no book")
    return faults


def parts(data: bytes) -> dict[str, bytes]:
    """Parts of a book by name."""
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {name: package.read(name) for name in package.namelist()}


def own_parts(data: bytes) -> set[str]:
    """Parts of our own pages and their relations, found by the sheets' names."""
    return {one for part in own_sheets(parts(data)) for one in (part, relations_of(part))}


def hung_on_ours(data: bytes) -> set[str]:
    """`own_parts` with what hangs on them alone: a spoilt book may have hung one of the planner's there."""
    package = parts(data)
    own = own_sheets(package)
    users: dict[str, set[str]] = {}
    for name in package:
        for target in targets_of(package, name):
            users.setdefault(target, set()).add(name)
    for _ in range(DEEPEST):
        own |= {target for target, of in users.items() if of <= own}
    return {one for part in own for one in (part, relations_of(part))}


def own_sheets(package: Mapping[str, bytes]) -> set[str]:
    """The sheets of our own pages, found by name."""
    by_id = {}
    for relation in etree.fromstring(package["xl/_rels/workbook.xml.rels"]):
        by_id[relation.get("Id")] = "xl/" + str(relation.get("Target")).removeprefix("/xl/")
    own = set()
    for sheet in etree.fromstring(package["xl/workbook.xml"]).iter("{*}sheet"):
        if sheet.get("name") in OURS:
            id_ = next(value for key, value in sheet.attrib.items() if str(key).endswith("}id"))
            own.add(by_id.get(id_, ""))
    return own


def relations_of(part: str) -> str:
    """Where the relations of a part stand."""
    folder, _, name = part.rpartition("/")
    return f"{folder}/_rels/{name}.rels"


DEEPEST = 3
"""Page, drawing, chart: how deep parts hang on one another."""


def targets_of(package: Mapping[str, bytes], name: str) -> set[str]:
    """Parts that the relations of a part lead to."""
    folder, relations = name.rpartition("/")[0], package.get(relations_of(name))
    if relations is None:
        return set()
    try:
        found = [one for one in etree.fromstring(relations) if one.get("TargetMode") != "External"]
    except etree.XMLSyntaxError:
        return set()
    there = (posixpath.normpath(posixpath.join(f"/{folder}", str(one.get("Target")))) for one in found)
    return {target.lstrip("/") for target in there}
