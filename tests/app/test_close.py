"""A month is closed: what is done goes into an archive, and what goes on says the same before and after."""

import datetime
import io
import json
import zipfile
from pathlib import Path

import openpyxl
import pytest
from openpyxl.utils.cell import range_boundaries

from sheetplan.app.check import check_book
from sheetplan.app.close import close_month
from sheetplan.app.month import month_of
from sheetplan.app.parts import Move, PartsAsked, look_at_parts, record_parts
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import read_steps
from sheetplan.app.rack.looking import look
from sheetplan.app.rack.undo import undo_cut
from sheetplan.app.receive import SheetsAsked, receive
from sheetplan.planning.progress import quiet
from tests.app.cut_book import DAY, cell, copied, planned_book, record_cut, write
from tests.app.test_finished_parts import free, wanted

NEXT = datetime.date(2026, 12, 2)


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Part of the month: frames and braces cut but for one plate, one sheet was cut before it came."""
    book = planned_book(tmp_path_factory.mktemp("cut"), on_hand=0)
    record_cut(book, CutAsked("L1", only=("PLATE#1-9", "BRACE")), today=DAY)
    record_parts(book, PartsAsked(moves=[Move("BRACE", 1, "H-2", "free")]), today=DAY)
    return book


@pytest.fixture
def book(cut: Path, tmp_path: Path) -> Path:
    return copied(cut, tmp_path / "shop")


def archive(book: Path, month: str = "2026-11") -> zipfile.ZipFile:
    return zipfile.ZipFile(book.parent / f"yard {month}.zip")


def test_open_orders_finished_parts_and_rack_go_on(book: Path) -> None:
    before = wanted(book), free(book), look(book).lines
    said = close_month(book, "2026-11", today=NEXT)
    assert said[0].startswith("Step 3: 2026-11 closed. 2 steps and 0 order lines, done or cancelled, are in ")
    assert (wanted(book), free(book), look(book).lines) == before
    assert before[:2] == ({"H-1": 1}, {"BRACE": 1})
    assert look(book).problems == ()
    assert list(read_steps(book.parent / "rack")) == [3]
    # What the layout was cut is remembered, and the sheet that came late is not put on hand twice.
    with pytest.raises(Refused, match="recorded already: 1 of 1"):
        record_cut(book, CutAsked("L1"), today=NEXT)
    _, told = receive(book, SheetsAsked({"MS10": 1}), today=NEXT)
    assert "(1 of them was cut before they came)" in " ".join(told)
    undo_cut(book)
    with pytest.raises(Refused, match="closed 2026-11"):
        undo_cut(book)


def test_closing_says_what_does_not_agree_and_that_the_month_is_not_over(book: Path) -> None:
    said = close_month(book, "2026-11", today=DAY)
    assert "2026-11 is not over yet: what is cut or comes in it from now on is balanced anew." in said
    assert any(one.startswith("mild steel, scrap: ") and "Less scrap was weighed" in one for one in said)


def test_a_cut_of_a_closed_month_says_that_its_balance_is_without_it(book: Path) -> None:
    close_month(book, "2026-11", today=NEXT)
    late = record_cut(book, CutAsked("L1", only=("BRACE#1",), again=True, date=DAY), today=NEXT)
    assert any(
        one.startswith("2026-11 is closed: the balance in yard 2026-11.zip is without this cut.")
        for one in late.sentences
    )
    balance = month_of(book, "2026-11", report=quiet).metals
    assert balance is not None
    assert balance.total.split.taken > read_steps(book.parent / "rack")[4].weights.taken, "both count"
    now = record_cut(book, CutAsked("L1", only=("BRACE#1",), again=True), today=NEXT)
    assert not any("is closed" in one for one in now.sentences)


def test_the_archive_has_the_book_the_steps_the_plan_and_the_balance(book: Path) -> None:
    old = {(row[0].value, row[1].value) for row in openpyxl.load_workbook(book)["Orders"].iter_rows()}
    write(book, "Orders", "H-2", "State", "done")
    close_month(book, "2026-11", today=NEXT)
    with archive(book) as kept:
        names = set(kept.namelist())
        assert {"yard.xlsx", "month.json", "steps/000001.json", "steps/000002.json"} <= names
        assert any(name.endswith("/exact.json") for name in names)
        then = openpyxl.load_workbook(io.BytesIO(kept.read("yard.xlsx")))
        assert {(row[0].value, row[1].value) for row in then["Orders"].iter_rows()} == old
        assert "Cut log" in then.sheetnames
        assert "Month" in then.sheetnames
        assert json.loads(kept.read("month.json"))["month"] == "2026-11"


def test_done_orders_go_and_their_name_may_come_again(book: Path) -> None:
    write(book, "Orders", "H-2", "State", "done")
    close_month(book, "2026-11", today=NEXT)
    opened = openpyxl.load_workbook(book)
    rows = [row for row in opened["Orders"].iter_rows() if row[0].value in ("H-1", "H-2")]
    assert [row[0].value for row in rows] == ["H-1"]
    row = rows[0][0].row + 1
    for column, value in enumerate(("H-2", "BRACE", 4), 1):
        opened["Orders"].cell(row, column, value)
    opened.save(book)
    assert wanted(book) == {"H-1": 1, "H-2": 3}  # one brace is among the finished parts
    assert not [p for p in check_book(book).problems if "no longer has" in p.what]


def test_pieces_of_a_cancelled_order_stay_free_when_its_row_goes(book: Path) -> None:
    write(book, "Orders", "H-1", "State", "cancelled")
    before = free(book)
    assert before == {"PLATE": 9, "BRACE": 6}
    close_month(book, "2026-11", today=NEXT)
    assert free(book) == before
    assert all(set(one.free) == {"spare"} for one in look_at_parts(book))


def test_a_renamed_order_that_is_done_leaves_nothing_to_a_new_one_with_its_old_name(book: Path) -> None:
    """H-2 became H-2b and is shipped with its three braces; a new H-2 has the one that was left over."""
    for heading, value in (
        ("Quantity", 3), ("State", "done"), ("Earlier name", "H-2"), ("Order", "H-2b")
    ):  # fmt: skip
        write(book, "Orders", "H-2", heading, value)
    opened = openpyxl.load_workbook(book)
    row = next(row for row in opened["Orders"].iter_rows() if row[0].value == "H-2b")
    for cell_of, value in zip(opened["Orders"][row[0].row + 1], ("H-2", "BRACE", 2), strict=False):
        cell_of.value = value
    opened.save(book)
    before = wanted(book), free(book)
    assert before == ({"H-1": 1, "H-2": 1}, {"BRACE": 1})
    close_month(book, "2026-11", today=NEXT)
    assert (wanted(book), free(book)) == before


def test_a_month_is_closed_after_another(book: Path) -> None:
    """Steps of the next month that are recorded already stay, whatever month they are for."""
    record_parts(book, PartsAsked(moves=[Move("PLATE", 2, "H-1", "scrap")]), today=NEXT)
    before = wanted(book), free(book)
    close_month(book, "2026-11", today=NEXT)
    assert sorted(read_steps(book.parent / "rack")) == [3, 4]
    assert (wanted(book), free(book)) == before
    with pytest.raises(Refused, match="nothing to close"):
        close_month(book, "2026-11", today=NEXT)
    record_parts(book, PartsAsked({"BRACE": 4}), today=NEXT)
    close_month(book, "2026-12", today=NEXT)
    assert (wanted(book), free(book)) == ({"H-1": 3}, {"BRACE": 4})
    assert list(read_steps(book.parent / "rack")) == [6]


def test_the_month_that_was_closed_still_balances(book: Path) -> None:
    """Earlier cuts say what the steps said, and the rack that the month ends with is written."""
    before = month_of(book, "2026-11", report=quiet)
    close_month(book, "2026-11", today=NEXT)
    after = month_of(book, "2026-11", report=quiet)
    assert before.metals is not None
    assert after.metals is not None
    for name in ("parts", "bad", "kerf", "used_up"):
        [old], [new] = ([getattr(line.split, name) for line in one.metals.lines] for one in (before, after))
        assert new == pytest.approx(old, rel=1e-9)
    tags = [row[6].value for row in openpyxl.load_workbook(book)["Rack count"].iter_rows()]
    assert [tag for tag in tags if str(tag).startswith("R-")] == [
        line.record.tag for line in look(book).lines if not line.record.used_up
    ]  # fmt: skip


def test_a_rack_count_without_a_blank_row_takes_the_rack_of_the_month(book: Path) -> None:
    """Forty rows of earlier months fill the table as it comes."""
    opened = openpyxl.load_workbook(book)
    table = opened["Rack count"].tables["RackCount"]
    left, top, right, bottom = range_boundaries(table.ref)
    sheet = opened["Rack count"]
    heads = {str(sheet.cell(top, column).value): column for column in range(left, right + 1)}
    counted = {"End of": "2026-10", "Material": "mild steel", "Thickness": "10 ga", "Width": 12, "Length": 20}
    for row in range(top + 1, bottom + 1):
        for heading, value in {**counted, "Tag": f"R-{700 + row}"}.items():
            sheet.cell(row, heads[heading], value)
    opened.save(book)
    assert bottom - top >= 40
    close_month(book, "2026-11", today=NEXT)
    sheet = openpyxl.load_workbook(book)["Rack count"]
    rows = list(sheet.iter_rows(min_row=top + 1, values_only=True))
    lying = [line.record.tag for line in look(book).lines if not line.record.used_up]
    assert lying
    november = [row[heads["Tag"] - 1] for row in rows if row[heads["End of"] - 1] not in (None, "2026-10")]
    assert [tag for tag in november if tag] == lying
    assert range_boundaries(sheet.tables["RackCount"].ref)[3] >= bottom + len(lying)


def test_a_month_to_come_is_refused_and_nothing_is_written(book: Path) -> None:
    with pytest.raises(Refused, match="still to come"):
        close_month(book, "2027-01", today=NEXT)
    assert not list(book.parent.glob("*.zip"))
    assert cell(book, "Cut log", 1, "Layout") == "L1"
