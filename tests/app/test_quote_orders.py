"""What a run of quotes writes beside prices: orders, rows that are left out, drawings, customers' pages."""

from __future__ import annotations

import datetime
import io
import json
from itertools import pairwise
from pathlib import Path

import openpyxl
import pypdf
import pytest

from sheetplan.app.kept_quotes import kept_quotes
from sheetplan.app.quote import quote_book
from sheetplan.model import Weight
from sheetplan.planning.progress import Progress
from tests.app.cut_book import DAY, fill, planned_book
from tests.app.quote_book import copied, plan_files, quote, quote_yard
from tests.cli.running import run


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A planned book."""
    return quote_yard(tmp_path_factory.mktemp("orders"))


def orders_of(path: Path) -> dict[str, tuple[object, ...]]:
    """Item, quantity and due day of each row of Orders, by its name."""
    sheet = openpyxl.load_workbook(path)["Orders"]
    return {str(row[0].value): tuple(cell.value for cell in row[1:4]) for row in sheet.iter_rows(min_row=5)}


def test_the_day_that_is_wanted_becomes_a_day_of_orders(yard: Path, tmp_path: Path) -> None:
    path = copied(yard, tmp_path, [
        {"Quote": "Q-31", "Item": "stand", "Quantity": 1, "Wanted": "2026-12-04", "Order it": "yes"},
        {"Quote": "Q-32", "Item": "PLATE", "Quantity": 2, "Order it": 2},
    ])  # fmt: skip
    quote(path)
    assert orders_of(path)["Q-31"] == ("stand", 1, datetime.datetime(2026, 12, 4))
    assert orders_of(path)["Q-32"] == ("PLATE", 2, None)


def test_orders_wait_for_no_other_price(yard: Path, tmp_path: Path) -> None:
    """While the others are priced the order stands in the book; the backup is the book before the run."""
    asked = [{"Quote": "Q-32", "Item": "stand", "Quantity": 2},
             {"Quote": "Q-31", "Item": "PLATE", "Quantity": 1}]  # fmt: skip
    path = copied(yard, tmp_path, asked)
    quote(path)
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", [asked[0], asked[1] | {"Order it": "yes"}])
    book.save(path)
    before, seen = path.read_bytes(), []

    def watched(progress: Progress) -> None:
        if progress.sentence.startswith("Pricing"):
            assert "Q-31" not in progress.sentence, "it was priced by the last run"
            seen.append("Q-31" in orders_of(path))

    outcome = quote_book(path, today=DAY, seconds=0.5, report=watched)
    assert seen == [True]
    assert path.with_name(f"{path.stem}.backup.xlsx").read_bytes() == before
    assert any(said.startswith("Q-31 is a row of the page Orders now") for said in outcome.said)
    assert [one.line.name for one in outcome.quotes] == ["Q-32", "Q-31"]
    assert {one.line.name: one.ordered for one in kept_quotes(path)} == {"Q-31": DAY.isoformat(), "Q-32": ""}


@pytest.mark.parametrize(("rows", "code"), [
    ([{"Quote": "Q-1", "Item": "PLATE", "Quantity": 1}], 0),
    ([{"Quote": "Q-1", "Item": "PLATE", "Quantity": 1}, {"Quote": "Q-2", "Item": "stnad", "Quantity": 1}], 5),
    ([{"Quote": "Q-1", "Item": "PLATE", "Quantity": 1, "Order it": "9"}], 5),
    ([{"Quote": "Q-2", "Item": "stnad", "Quantity": 1}], 1),
])  # fmt: skip
def test_the_exit_code_tells_of_rows_that_were_left_out(
    yard: Path, tmp_path: Path, rows: list[dict[str, object]], code: int
) -> None:
    path = copied(yard, tmp_path, rows)
    ran = run("quote", path.name, "--json", "quotes.json", folder=path.parent)
    assert ran.returncode == code, ran.stdout
    told = json.loads((path.parent / "quotes.json").read_text())
    assert len(told["quotes"]) == sum(row["Item"] == "PLATE" for row in rows)
    assert bool([one for one in told["problems"] if one["page"] == "Quotes"]) == bool(code)


@pytest.mark.parametrize("item", ["PLATE", "stand"])
def test_a_quote_of_nothing_costs_nothing(yard: Path, tmp_path: Path, item: str) -> None:
    path = copied(yard, tmp_path, [{"Quote": "Q-1", "Item": item, "Quantity": 0}])
    outcome = quote(path)
    (answer,) = outcome.quotes[0].answers
    for cost in (answer.alone, answer.added):
        assert {*cost.printed().values()} == {0.0}
        assert (cost.machine_minutes, cost.hand_minutes, cost.weight, cost.sheets) == (0.0, 0.0, 0.0, 0)
        assert (cost.to_pay, cost.kept, cost.saved, cost.left_out) == (0.0, 0.0, 0.0, 0.0)
    assert (answer.short_alone, answer.short_added, answer.price_each, outcome.files) == ({}, {}, None, ())
    lines = [str(row[0].value) for row in openpyxl.load_workbook(path)["Quoted"].iter_rows(max_col=1)]
    assert not [line for line in lines if "Cannot be made" in line]


def test_a_quote_leaves_plan_and_rack_as_they_were(tmp_path: Path) -> None:
    """A month under way: a layout is cut, what was left of its sheet lies in the rack."""
    path = planned_book(tmp_path / "shop")
    assert run("cut", path.name, "L1", folder=path.parent).returncode == 0
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", [{"Quote": "Q-1", "Item": "frame", "Quantity": "1; 3", "Price by": "this month"}])
    book.save(path)
    before = plan_files(path)
    assert [name for name in before if "rack" in Path(name).parts], "something lies in the rack"
    assert quote(path).quotes
    assert plan_files(path) == before


def without_a_unit() -> str:
    """A plate of 90 x 60. A DXF without a header, as old programs write it, says nothing of its unit."""
    corners = [(0, 0), (90, 0), (90, 60), (0, 60), (0, 0)]
    lines = [f"0\nLINE\n8\n0\n10\n{a}\n20\n{b}\n11\n{c}\n21\n{d}\n"
             for (a, b), (c, d) in pairwise(corners)]  # fmt: skip
    return "".join(["0\nSECTION\n2\nENTITIES\n", *lines, "0\nENDSEC\n0\nEOF\n"])


def test_a_drawing_without_a_unit_is_told_once_where_nothing_is_ordered(yard: Path, tmp_path: Path) -> None:
    row = {"Quote": "Q-7", "Drawing": "lug.dxf", "Material": "mild steel", "Thickness": "10 ga",
           "Quantity": 2}  # fmt: skip
    path = copied(yard, tmp_path, [row])
    (path.parent / "lug.dxf").write_text(without_a_unit())
    book = openpyxl.load_workbook(path)
    for line in book["Orders"].iter_rows(min_row=5, max_col=3):
        for cell in line:
            cell.value = None
    book.save(path)
    told = [one.cell for one in quote(path).problems if "its part comes out" in one.what]
    assert told == ["F5"]


def test_a_drawing_without_a_unit_is_told_and_its_unit_may_be_said(yard: Path, tmp_path: Path) -> None:
    row = {"Quote": "Q-7", "Drawing": "lug.dxf", "Material": "mild steel", "Thickness": "10 ga",
           "Quantity": 2}  # fmt: skip
    path = copied(yard, tmp_path, [row])
    (path.parent / "lug.dxf").write_text(without_a_unit())
    outcome = quote(path)
    (told,) = [one for one in outcome.problems if (one.page, one.cell) == ("Quotes", "F5")]
    assert told.weight is Weight.NOTE
    assert told.what.startswith("lug.dxf is read in inches, the book's unit")
    assert "60 x 90 in" in told.what
    assert "Drawn in" in told.remedy
    assert outcome.left_out == 0
    (large,) = outcome.quotes[0].answers
    assert large.price is None, "60 x 90 in fits on no sheet of the gauge"
    assert large.short_alone == large.short_added == {"Q-7 drawing": 2}
    assert not outcome.files
    lines = [str(row[0].value) for row in openpyxl.load_workbook(path)["Quoted"].iter_rows(max_col=1)]
    assert [line for line in lines if line.startswith("Quotes!F5: lug.dxf is read in inches")]
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", [row | {"Drawn in": "mm", "Order it": 2}])
    book.save(path)
    outcome = quote(path)
    assert not [one for one in outcome.problems if one.page == "Quotes"]
    (answer,) = outcome.quotes[0].answers
    # Two edges of 300 mm at 140 in/min take 0.17 min and two pierces; in inches they would take 4.3 min.
    assert 0.16 < answer.added.machine_minutes < 0.25
    sheet = openpyxl.load_workbook(path)["Parts"]
    heads = [cell.value for cell in next(sheet.iter_rows(min_row=4, max_row=4))]
    lines = [[cell.value for cell in line] for line in sheet.iter_rows(min_row=5)]
    named = [dict(zip(heads, line, strict=True)) for line in lines]
    (part,) = [one for one in named if one["Part"] == "Q-7 drawing"]
    assert part["Drawn in"] == "mm"


def test_the_customers_page_names_the_parts_of_a_set_and_what_the_day_means(
    yard: Path, tmp_path: Path
) -> None:
    path = copied(yard, tmp_path, [{"Quote": "Q-1", "Item": "stand", "Quantity": 1}])
    book = openpyxl.load_workbook(path)
    fill(book, "Parts", [{"Description": "wall plate"}, {"Description": "base of the stand"}])
    book.save(path)
    (file,) = quote(path).files
    pages = pypdf.PdfReader(io.BytesIO(file.read_bytes())).pages
    said = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert "stand, set of 3 pieces of mild steel 1/4 in: 1 x base of the stand (BASE), 2 x RIB" in said
    assert "Cut by (not delivery)" in said
    assert "It is not a day of delivery" in said
