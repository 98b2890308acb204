"""A small planned book that asks for quotes, for the tests of them."""

from __future__ import annotations

import hashlib
import shutil
import zipfile
from pathlib import Path

import openpyxl

from sheetplan.app.kept_quotes import quotes_file
from sheetplan.app.quote import QuoteOutcome, quote_book
from sheetplan.pages.values import QUOTED_PAGE, RESULT_PAGES
from sheetplan.planning.progress import quiet
from sheetplan.workbook.columns import QUOTES
from sheetplan.workbook.reading.grid import sheet_places
from tests.app.choice_book import choice_book, planned, run
from tests.app.cut_book import DAY, fill
from tests.workbook.books import parts_of, sheet_part

LINES = [
    {"Quote": "Q-1", "Item": "stand", "Quantity": "1; 4", "Customer": "north pier"},
    {"Quote": "Q-2", "Item": "PLATE", "Quantity": "2", "Price by": "this month", "Mark-up": 0.4},
    {"Quote": "Q-3", "Item": "stand", "Quantity": "0"},
]


def quote_yard(folder: Path) -> Path:
    """A planned book with a page Quotes that asks for something."""
    path = choice_book(folder)
    book = openpyxl.load_workbook(path)
    settings = {row[0].value: row[1] for row in book["Settings"].iter_rows()}
    for name, value in (("Shop name", "Quay works"), ("Hand hour cost", 45), ("Minutes to load", 4),
                        ("Minutes to clean", 1), ("Mark-up", 0.25)):  # fmt: skip
        settings[name].value = value
    fill(book, "Quotes", LINES)
    book.save(path)
    planned(run(path))
    return path


def quote(path: Path) -> QuoteOutcome:
    """Answer its quotes."""
    return quote_book(path, today=DAY, seconds=0.5, report=quiet)


def plan_files(path: Path) -> dict[str, str]:
    """All that a plan is and stands on: layouts, rack, all pages of the book but Quoted and Problems, byte
    by byte."""
    found = [one for name in ("layouts", "rack") for one in sorted((path.parent / name).rglob("*"))]
    kept = {str(one): hashlib.sha256(one.read_bytes()).hexdigest() for one in found if one.is_file()}
    data = path.read_bytes()
    parts = parts_of(data)
    written = {QUOTED_PAGE, "Problems"}
    names = [sheet.name for sheet in sheet_places(zipfile.ZipFile(path)) if sheet.name not in written]
    assert {*RESULT_PAGES} - written <= {*names}
    pages = {page: parts[sheet_part(data, page)] for page in names}
    return kept | {page: hashlib.sha256(sheet).hexdigest() for page, sheet in pages.items()}


def copied(yard: Path, folder: Path, rows: list[dict[str, object]]) -> Path:
    """The planned book with other rows of the page Quotes, in a folder of its own, and nothing quoted yet."""
    shutil.copytree(yard.parent, folder / "yard")
    path = folder / "yard" / yard.name
    quotes_file(path).unlink(missing_ok=True)
    book = openpyxl.load_workbook(path)
    for line in book["Quotes"].iter_rows(min_row=5, max_col=len(QUOTES.columns)):
        for cell in line:
            cell.value = None
    fill(book, "Quotes", rows)
    book.save(path)
    return path
