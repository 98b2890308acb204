"""Small helpers of the write-back tests: look into books and change them by hand."""

from __future__ import annotations

import io
import re
import zipfile
from functools import cache
from typing import Any

import openpyxl
import xlsxwriter

from sheetplan.app.new import template_path
from sheetplan.trade.units import Units
from sheetplan.workbook.package.parts import OFFICE_RELATIONS, main, parse


@cache
def shipped(demo: bool, units: Units) -> Any:
    """A book that ships, only to be looked at."""
    return openpyxl.load_workbook(template_path(demo=demo, units=units))


def parts_of(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        return {name: file.read(name) for name in file.namelist()}


def book_of(parts: dict[str, bytes]) -> bytes:
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as file:
        for name, data in parts.items():
            file.writestr(zipfile.ZipInfo(name), data)
    return memory.getvalue()


def changed(data: bytes, part: str, old: bytes, new: bytes) -> bytes:
    """The book with some bytes of one part replaced; it must have them."""
    parts = parts_of(data)
    assert old in parts[part], f"{part} does not hold {old!r}"
    parts[part] = parts[part].replace(old, new)
    return book_of(parts)


def plain_book(*pages: str, date_1904: bool = False) -> bytes:
    memory = io.BytesIO()
    book = xlsxwriter.Workbook(memory, {"in_memory": True, "date_1904": date_1904})
    for name in pages or ("Mine",):
        book.add_worksheet(name).write(0, 0, f"on {name}")
    book.close()
    return memory.getvalue()


def read(data: bytes) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(data))


def sheet_part(data: bytes, page: str) -> str:
    """The part of a page, found without the code under test."""
    parts = parts_of(data)
    for sheet in parse(parts["xl/workbook.xml"]).iter(main("sheet")):
        if sheet.get("name") == page:
            wanted = sheet.get(f"{{{OFFICE_RELATIONS}}}id")
            for relation in parse(parts["xl/_rels/workbook.xml.rels"]):
                if relation.get("Id") == wanted:
                    return "xl/" + relation.get("Target").removeprefix("/xl/")
    raise AssertionError(f"no page {page}")


def prefixed(xml: bytes, prefix: str = "x") -> bytes:
    """The same part with a prefix on every element that has none, as some programs write it."""
    text = re.sub(r"<(/?)([A-Za-z]+)(?=[\s/>])", rf"<\1{prefix}:\2", xml.decode())
    return text.replace(' xmlns="', f' xmlns:{prefix}="').encode()
