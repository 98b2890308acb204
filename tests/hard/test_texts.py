"""Names that try to be formulas, markup, paths or commands stay names wherever they are written."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import openpyxl
import pypdf
import pytest
from ezdxf import recover
from lxml import etree

from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.workbook.text import FORMULA_STARTS
from tests.hard.book_fuzz import TODAY
from tests.hard.hostile_texts import TEXTS, hostile_rows
from tests.hard.looking import link_faults, own_parts, parts, snapshot
from tests.nasty.books.plain import write_book

FILE_NAME = re.compile(r"[A-Za-z0-9_.-]+")


@pytest.mark.slow
@pytest.mark.parametrize("text", TEXTS[::4])
def test_a_hostile_name_stays_a_name(tmp_path: Path, text: str) -> None:
    folder = tmp_path / "work"
    folder.mkdir()
    book = write_book(folder / "b.xlsx", hostile_rows(text))
    outcome = plan_book(
        book, PlanAsked(TODAY, seconds=0.1, seed=1), stop=lambda: False, report=lambda _: None, workers=1
    )
    assert outcome.plan is not None, outcome.problems
    assert any(layout for group in outcome.plan.groups for layout in group.layouts)
    assert list(tmp_path.iterdir()) == [folder], "something was written outside"
    assert all(FILE_NAME.fullmatch(part) for name in snapshot(folder) for part in name.split("/"))
    assert link_faults(book) == []
    _pages_hold_no_formula(book)
    _drawings_and_prints_open(folder / "layouts")


def _pages_hold_no_formula(book: Path) -> None:
    data = book.read_bytes()
    package, own = parts(data), own_parts(data)
    for name in own & package.keys():
        if name.endswith(".xml"):
            assert not list(etree.fromstring(package[name]).iter("{*}f")), f"{name} holds a formula"
    for sheet in openpyxl.load_workbook(io.BytesIO(data)):
        if sheet.title in ("Plan", "Buy", "Layouts", "Made", "Problems"):
            for cell in (cell for row in sheet.iter_rows() for cell in row):
                if isinstance(cell.value, str) and cell.value.startswith(FORMULA_STARTS):
                    assert cell.quotePrefix, f"{sheet.title}!{cell.coordinate} becomes a formula when edited"
                if cell.hyperlink and cell.hyperlink.target:
                    assert not re.match(r"(?i)https?:|file:|\\\\|/", cell.hyperlink.target)


def _drawings_and_prints_open(layouts: Path) -> None:
    (folder,) = layouts.glob("plan-*")
    for path in folder.iterdir():
        if path.suffix == ".dxf":
            document, auditor = recover.readfile(path)
            assert not auditor.errors
            assert len(document.modelspace()) > 0
        elif path.suffix == ".pdf":
            read = pypdf.PdfReader(path)
            links = [a for page in read.pages for a in page.get("/Annots") or ()]
            assert not links, f"{path.name} holds links"
        elif path.suffix == ".csv":
            for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig"))):
                assert not [value for value in row if value.startswith(("=", "+", "-", "@", "\t", "\r"))]
