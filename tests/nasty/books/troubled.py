"""Workbooks whose cells are good and whose make-up is not, each named after its trouble."""

from __future__ import annotations

import datetime
import io
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import xlsxwriter

from tests.nasty.books.plain import HEAD_ROW, Rows, page, plain_rows, put_page, write_book

PARTS_HEADINGS = [column.heading for column in page("Parts").columns]


def parts_elsewhere(path: Path, rows: Rows) -> Path:
    """The table of Parts far off on a page of another name, between the planner's own notes."""
    with xlsxwriter.Workbook(path) as book:
        for name in rows:
            if name != "Parts":
                put_page(book.add_worksheet(name), name, rows[name])
        sheet = book.add_worksheet("what we make")
        sheet.write(0, 0, "Width")
        sheet.write(3, 2, "Part")
        put_page(sheet, "Parts", rows["Parts"], at=(20, 7))
        sheet.write(60, 7, "end of list")
    return path


def columns_shuffled(path: Path, rows: Rows) -> Path:
    """Columns backwards, headings in odd spelling, the planner's own columns among them."""
    headings = [heading.upper() for heading in reversed(PARTS_HEADINGS)]
    headings[2:2] = ["Welder"]
    odd = {heading: f" {heading} " for heading in headings}
    spelled = [{odd[h.upper()]: v for h, v in row.items()} for row in rows["Parts"]]
    with xlsxwriter.Workbook(path) as book:
        for name in rows:
            if name != "Parts":
                put_page(book.add_worksheet(name), name, rows[name])
        lines = [{key.strip(): value for key, value in row.items()} | {"Welder": "who"} for row in spelled]
        put_page(book.add_worksheet("Parts"), "Parts", lines, headings=list(odd.values()))
    return path


def table_gone(path: Path, rows: Rows) -> Path:
    """Bare headings and rows, as another program leaves them."""
    return write_book(path, rows, tables=False)


def with_parts_sheet(path: Path, rows: Rows, change: Callable[[xlsxwriter.Workbook, object], None]) -> Path:
    """The book with something done to the sheet Parts after its rows were written."""
    with xlsxwriter.Workbook(path) as book:
        for name in rows:
            sheet = book.add_worksheet(name)
            put_page(sheet, name, rows[name])
            if name == "Parts":
                change(book, sheet)
    return path


def patched(path: Path, part: str, old: str, new: str) -> Path:
    """A part of the package changed by hand; ``old`` is a regular expression that must be found."""
    source = path.read_bytes()
    memory = io.BytesIO()
    found = False
    after = zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED)
    with zipfile.ZipFile(io.BytesIO(source)) as before, after:
        for info in before.infolist():
            data = before.read(info)
            if info.filename == part:
                text, times = re.subn(old, new, data.decode("utf-8"), flags=re.DOTALL)
                found = times > 0
                data = text.encode("utf-8")
            after.writestr(info, data)
    assert found, f"{part} has no {old}"
    path.write_bytes(memory.getvalue())
    return path


def sheet_part(path: Path, name: str) -> str:
    """The part of a sheet in a book that XlsxWriter made."""
    with zipfile.ZipFile(path) as package:
        names = re.findall(r'<sheet name="([^"]+)"', package.read("xl/workbook.xml").decode())
    return f"xl/worksheets/sheet{names.index(name) + 1}.xml"


def table_part(path: Path, name: str) -> str:
    """The part of a table in a book that XlsxWriter made."""
    with zipfile.ZipFile(path) as package:
        for part in package.namelist():
            if part.startswith("xl/tables/") and f'displayName="{name}"' in package.read(part).decode():
                return part
    raise AssertionError(f"no table {name}")


def long_book(path: Path, parts: int) -> Path:
    """Many parts, each ordered once."""
    rows = plain_rows()
    rows["Parts"] = [{**rows["Parts"][0], "Part": f"P-{n}", "Width": 2 + n % 30} for n in range(parts)]
    rows["Kits"] = []
    rows["Orders"] = [{"Order": f"H-{n}", "Item": f"P-{n}", "Quantity": 1 + n % 9} for n in range(parts)]
    return write_book(path, rows)


def date_1904(path: Path, rows: Rows) -> Path:
    """A book whose days are counted from 1904, as old Macintosh books are."""
    with xlsxwriter.Workbook(path, {"date_1904": True}) as book:
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for name in rows:
            sheet = book.add_worksheet(name)
            put_page(sheet, name, rows[name])
            if name == "Orders":
                sheet.write_datetime(HEAD_ROW, 3, datetime.datetime(2026, 12, 4), day)
    return path
