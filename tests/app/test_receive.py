"""Metal from order to rack: the buy list marked as ordered, deliveries taken in, cuts before they came."""

import datetime
import itertools
import shutil
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sheetplan.app.check import check_book
from sheetplan.app.live import run_live
from sheetplan.app.month import month_of
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.looking import look
from sheetplan.app.rack.repair import repair
from sheetplan.app.rack.undo import undo_cut
from sheetplan.app.receive import SheetsAsked, ordered, receive
from sheetplan.planning.progress import never, quiet
from sheetplan.workbook.hosts.excel import ExcelBook
from tests.app.cut_book import DAY, cell, copied, fill, plan, planned_book, record_cut, state, write
from tests.workbook.hosts.excel_engine import opened

BEFORE = Path(__file__).parent / "earlier_templates"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("made"), on_hand=0)


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def counts(book: Path) -> tuple[int, int]:
    """On hand and On order of the one sheet."""
    return tuple(int(cell(book, "Stock", "MS10", head) or 0) for head in ("On hand", "On order"))  # type: ignore[return-value]


def available(book: Path) -> int:
    """What a plan reckons with."""
    job = check_book(book).job
    assert job is not None
    return job.stock[0].on_hand


def purchases(book: Path) -> list[tuple[object, ...]]:
    sheet = openpyxl.load_workbook(book)["Purchases"]
    head = next(row for row in sheet.iter_rows() if row[0].value == "Date")
    rows = [[c.value for c in row] for row in sheet.iter_rows(min_row=head[0].row + 1)]
    return [(str(row[0])[:10], row[5], row[7]) for row in rows if row[0]]


def mark_bought(book: Path) -> int:
    step, _ = ordered(book, SheetsAsked(), today=DAY)
    return sum(line.count for line in step.lines)


def test_the_buy_list_is_ordered_and_received_in_a_step_each(book: Path) -> None:
    assert mark_bought(book) == 1
    assert counts(book) == (0, 1)
    with pytest.raises(Refused, match="ordered already"):
        ordered(book, SheetsAsked(), today=DAY)
    assert available(book) == 1
    step, said = receive(book, SheetsAsked(), today=DAY)
    assert counts(book) == (1, 0)
    assert purchases(book) == [("2026-11-25", 1, 140)]
    assert said[1] == "1 of MS10: On hand 0 -> 1, On order down by 1; a row in Purchases."
    assert cell(book, "Stock log", 2, "What") == "received"
    assert step.number == 2
    assert check_book(book).stops is False
    with pytest.raises(Refused, match="No sheets are on order"):
        receive(book, SheetsAsked(), today=DAY)


def test_what_is_on_order_is_not_bought_again_and_said(book: Path) -> None:
    mark_bought(book)
    plan(book)
    sheet = openpyxl.load_workbook(book)["Buy"]
    text = "\n".join(str(c.value) for row in sheet.iter_rows(max_row=6) for c in row if c.value)
    assert "On order already, used by this plan and not listed: 1 of MS10." in text
    assert "Nothing to buy" in text
    with pytest.raises(Refused, match="buys nothing"):
        ordered(book, SheetsAsked(), today=DAY)


def test_each_step_taken_back_gives_the_book_as_it_was(book: Path) -> None:
    before = (counts(book), purchases(book))
    mark_bought(book)
    between = (counts(book), purchases(book))
    receive(book, SheetsAsked({"ms10": 1}, paid=133.0), today=DAY)
    assert purchases(book) == [("2026-11-25", 1, 133)]
    undo_cut(book)
    assert (counts(book), purchases(book)) == between
    _, said = undo_cut(book)
    assert said == ("Step 1 was taken back: 1 of MS10 ordered.",)
    assert (counts(book), purchases(book)) == before
    assert look(book).problems == ()
    with pytest.raises(Refused, match="Nothing is recorded"):
        undo_cut(book)


EVENTS = ("order", "receive", "cut")


@pytest.mark.parametrize("order", list(itertools.permutations(EVENTS)))
def test_any_order_of_order_delivery_and_cut_comes_out_right(book: Path, order: tuple[str, ...]) -> None:
    """By hand: three sheets ordered, three delivered, one cut: two lie in the rack, whatever came first."""
    todo = {
        "order": lambda: ordered(book, SheetsAsked({"MS10": 3}), today=DAY),
        "receive": lambda: receive(book, SheetsAsked({"MS10": 3}), today=DAY),
        "cut": lambda: record_cut(book, CutAsked("L1"), today=DAY),
    }
    there = {"order": 0, "receive": 0, "cut": 0}
    for event in order:
        todo[event]()
        there[event] = 3 if event != "cut" else 1
        on_hand, _ = counts(book)
        assert on_hand == max(0, there["receive"] - there["cut"])
    assert counts(book)[0] == 2
    assert counts(book)[1] == (3 if order.index("receive") < order.index("order") else 0)
    assert [row[1] for row in purchases(book)] == [3]
    assert not [p for p in look(book).problems if "Stock" in p.page]
    for _ in order:
        undo_cut(book)
    assert counts(book) == (0, 0)
    assert purchases(book) == []


def test_sheets_cut_before_they_came_are_not_reckoned_with_twice(book: Path) -> None:
    ordered(book, SheetsAsked({"MS10": 3}), today=DAY)
    record_cut(book, CutAsked("L1"), today=DAY)
    assert counts(book) == (0, 3)
    assert available(book) == 2
    _, said = receive(book, SheetsAsked(), today=DAY)
    assert "(1 of them was cut before they came)" in said[1]
    assert counts(book) == (2, 0)
    assert available(book) == 2


def test_a_delivered_count_typed_over_a_cut_is_named(book: Path) -> None:
    """One sheet was cut before the book knew of it; typing the delivery's four makes a sheet from nowhere."""
    record_cut(book, CutAsked("L1"), today=DAY)
    write(book, "Stock", "MS10", "On hand", 4)
    [note] = [p for p in check_book(book).problems if "before the book knew" in p.what]
    assert note.page == "Stock"
    assert note.cell is not None
    assert openpyxl.load_workbook(book)["Stock"][note.cell].value == 4
    assert "write 3" in note.remedy
    # What was typed is the planner's word: the next delivery is put on hand whole.
    receive(book, SheetsAsked({"MS10": 2}), today=DAY)
    assert counts(book) == (6, 0)
    assert not [p for p in check_book(book).problems if "before the book knew" in p.what]


def test_what_is_noted_in_received_is_taken_in(book: Path) -> None:
    ordered(book, SheetsAsked({"MS10": 5}), today=DAY)
    write(book, "Stock", "MS10", "Received", 2)
    assert [p for p in check_book(book).problems if "marked as received" in p.what]
    _, said = receive(book, SheetsAsked(date=datetime.date(2026, 11, 20)), today=DAY)
    assert said[1].endswith("a row in Purchases. Still on order: 3.")
    assert counts(book) == (2, 3)
    assert cell(book, "Stock", "MS10", "Received") is None
    assert purchases(book)[0][0] == "2026-11-20"


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (SheetsAsked({"MS99": 1}), "no sheet MS99"),
        (SheetsAsked({"MS10": 0}), "0 of MS10"),
        (SheetsAsked({"MS10": 1}, date=DAY + datetime.timedelta(days=1)), "still to come"),
    ],
)
def test_what_cannot_be_is_refused_and_changes_nothing(book: Path, asked: SheetsAsked, says: str) -> None:
    before = state(book.parent)
    for run in (receive, ordered):
        with pytest.raises(Refused, match=says):
            run(book, asked, today=DAY)
    assert {k: v for k, v in state(book.parent).items() if "steps" not in k} == before


def test_the_month_counts_the_delivery_and_only_cuts_as_cuts(book: Path) -> None:
    receive(book, SheetsAsked({"MS10": 2}), today=DAY)
    record_cut(book, CutAsked("L1"), today=DAY)
    outcome = month_of(book, "2026-11", report=quiet)
    assert outcome.metals is not None
    assert not [p for p in outcome.problems if p.page == "Purchases"]


def test_a_book_restored_from_a_copy_is_noticed_and_mended(book: Path) -> None:
    yesterday = book.read_bytes()
    receive(book, SheetsAsked({"MS10": 2}), today=DAY)
    book.write_bytes(yesterday)
    with pytest.raises(Refused, match="is older than its folder rack"):
        receive(book, SheetsAsked({"MS10": 2}), today=DAY)
    assert any("put back on the page Stock log" in sentence for sentence in repair(book))
    assert look(book).problems == ()


def test_the_open_book_orders_receives_and_takes_back(book: Path) -> None:
    excel: Any = opened(book)
    for run in ("ordered", "receive"):
        assert run_live(ExcelBook(excel), run, never)
    assert counts(book) == (1, 0)
    assert [row[1:] for row in purchases(book)] == [(1, 140)]
    assert run_live(ExcelBook(excel), "undo", never)
    assert run_live(ExcelBook(excel), "undo", never)
    assert counts(book) == (0, 0)
    assert purchases(book) == []
    assert not run_live(ExcelBook(excel), "receive", never)


def test_a_book_made_before_receives_and_is_told_how_to_note_orders(tmp_path: Path) -> None:
    """The template as it was before the columns On order and Received."""
    path = tmp_path / "old.xlsx"
    shutil.copy(BEFORE / "empty_in.xlsx", path)
    old = openpyxl.load_workbook(path)
    metal = {"Material": "mild steel", "Thickness": "10 ga"}
    fill(old, "Parts", [{"Part": "PLATE", **metal, "Width": 12, "Length": 15}])
    fill(old, "Orders", [{"Order": "H-1", "Item": "PLATE", "Quantity": 5}])
    fill(old, "Stock", [{"Sheet": "MS10", **metal, "Width": 48, "Length": 96, "Price": 140}])
    old.save(path)
    plan(path)
    with pytest.raises(Refused, match="has no such column"):
        ordered(path, SheetsAsked(), today=DAY)
    record_cut(path, CutAsked("L1"), today=DAY)
    receive(path, SheetsAsked({"MS10": 3}), today=DAY)
    assert int(str(cell(path, "Stock", "MS10", "On hand"))) == 2
    assert purchases(path) == [("2026-11-25", 3, 420)]
    plan(path)
    undo_cut(path)
    undo_cut(path)
    assert not cell(path, "Stock", "MS10", "On hand")
