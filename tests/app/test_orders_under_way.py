"""Orders under way: progress told of the whole order, states, renamed and cancelled orders."""

from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.check import check_book
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import read_steps
from sheetplan.model import Weight
from sheetplan.money.order_shares import progress
from sheetplan.pages.book.choices import fits_page
from sheetplan.pages.paper.lists import pick_orders
from sheetplan.planning.progress import quiet
from sheetplan.planning.whatif.fits import Fits, RoundUp
from tests.app.choice_book import planned
from tests.app.cut_book import DAY, copied, fill, planned_book, record_cut, write, write_all


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Five frames (two plates and a brace each) and four braces, of which one sheet makes all."""
    return planned_book(tmp_path_factory.mktemp("made"))


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def plan_again(book: Path) -> PlanOutcome:
    return plan_book(book, PlanAsked(DAY, seconds=0.3, seed=1), stop=lambda: False, report=quiet, workers=1)


def made_rows(book: Path) -> list[dict[str, object]]:
    sheet = openpyxl.load_workbook(book)["Made"]
    table = sheet.tables["MadeList"]
    head, *rows = ([cell.value for cell in row] for row in sheet[table.ref])
    return [dict(zip(head, row, strict=True)) for row in rows]


def lines_of(book: Path, page: str) -> str:
    sheet = openpyxl.load_workbook(book)[page]
    return "\n".join(str(c.value) for row in sheet.iter_rows(max_row=8) for c in row[:1] if c.value)


def test_a_kit_order_stays_one_whatever_is_cut_of_it(book: Path) -> None:
    """By hand: 4 of 10 plates, 4 of 5 braces are good, one brace came out bad: two frames are complete."""
    record_cut(book, CutAsked("L1", only=("PLATE#1-4", "BRACE#1-5"), bad={"BRACE": 1}), today=DAY)
    plan = planned(plan_again(book))
    frame, brace = made_rows(book)
    assert (frame["Order"], frame["Item"], frame["Asked"], frame["Cut"], frame["Made"]) == (
        "H-1", "frame", 5, 2, 5,
    )  # fmt: skip
    assert (frame["Pieces"], frame["Cut good"], frame["Bad"], frame["Still to cut"], frame["Planned"]) == (
        15, 8, 1, 7, 7,
    )  # fmt: skip
    assert frame["Finished"] == "■" * 5 + "·" * 5
    assert (brace["Asked"], brace["Cut"], brace["Still to cut"], brace["Planned"]) == (4, None, 4, 4)
    said = lines_of(book, "Made")
    assert "Cut so far: 0 of 2 lines, 8 of 19 pieces." in said
    assert "Must be made: 2 of 2 lines complete once this plan is cut." in said
    told = progress(plan)
    assert [line.order.item for line in told] == ["frame", "BRACE"]
    # The whole order is picked: what is cut lies there, the rest comes from the layouts.
    order = next(one for one in pick_orders(plan) if one.order == "H-1")
    assert (order.item, order.asked, order.whole) == ("frame", 5, 5)
    picks = {pick.part: (pick.cut, pick.pieces, pick.short) for pick in order.picks}
    assert picks == {"PLATE": (4, 6, 0), "BRACE": (4, 1, 0)}


def test_kit_costs_do_not_vanish_when_a_kit_is_left_in_parts(book: Path) -> None:
    record_cut(book, CutAsked("L1", only=("PLATE#1-9", "BRACE#1-5")), today=DAY)
    plan_again(book)
    sheet = openpyxl.load_workbook(book)["Made"]
    kits = [row[0].value for row in sheet[sheet.tables["KitCosts"].ref]][1:]
    assert kits == ["frame"]


def test_an_order_cut_in_full_keeps_its_row(book: Path) -> None:
    record_cut(book, CutAsked("L1"), today=DAY)
    write(book, "Orders", "H-2", "Quantity", 6)
    plan = planned(plan_again(book))
    frame, brace = made_rows(book)
    assert (frame["Cut"], frame["Made"], frame["Finished"]) == (5, 5, "■" * 10)
    assert (brace["Cut"], brace["Made"], brace["Still to cut"]) == (4, 6, 2)
    assert [one.order for one in pick_orders(plan)] == ["H-2"]


def test_rounding_up_counts_from_the_whole_order(book: Path) -> None:
    """Of five frames four are left to cut; one more makes six, not five."""
    record_cut(book, CutAsked("L1", only=("PLATE#1-2", "BRACE#1")), today=DAY)
    plan = planned(plan_again(book))
    [index] = [n for n, order in enumerate(plan.job.orders) if order.item == "frame"]
    assert plan.job.orders[index].quantity == 4
    page = fits_page(plan, Fits(round_up=(RoundUp(index, 1, "mild steel 10 ga", is_most=False),)))
    rows = next(table.rows for table in page.tables if table.rows)
    assert (rows[0][0], rows[0][2], rows[0][-1]) == ("H-1", 5, 6)


@pytest.mark.parametrize("state", ["on hold", "cancelled", "done"])
def test_only_open_orders_are_planned_and_the_others_are_told(book: Path, state: str) -> None:
    write(book, "Orders", "H-1", "State", state)
    plan = planned(plan_again(book))
    assert [order.name for order in plan.job.orders] == ["H-2"]
    row = made_rows(book)[0]
    assert (row["Order"], row["Must"], row["Still to cut"], row["Short"]) == ("H-1", state, None, None)
    assert f"Not planned: 1 {state}." in lines_of(book, "Made")


def test_a_word_that_is_no_state_is_told(book: Path) -> None:
    write(book, "Orders", "H-1", "State", "maybe")
    assert any("`maybe` is not one of the words" in p.what for p in check_book(book).problems)


def test_pieces_go_to_no_order_that_is_not_open(book: Path) -> None:
    write(book, "Orders", "H-2", "State", "cancelled")
    step = record_cut(book, CutAsked("L1"), today=DAY).step
    assert {one.order for one in step.credits} == {"H-1"}


def test_a_renamed_order_is_asked_about_and_known_again(book: Path) -> None:
    record_cut(book, CutAsked("L1"), today=DAY)
    write(book, "Orders", "H-1", "Order", "H-1b")
    outcome = check_book(book)
    assert outcome.stops
    [asked] = [p for p in outcome.problems if p.weight is Weight.STOPS]
    assert "15 good pieces are cut for order H-1 (frame)" in asked.what
    assert "H-1b asks for 5 of the same item. Is it that order, renamed?" in asked.what
    assert plan_again(book).plan is None
    write(book, "Orders", "H-1b", "Earlier name", "H-1")
    outcome = check_book(book)
    assert not outcome.stops
    assert outcome.job is not None
    assert outcome.job.orders == ()
    [renamed] = [one for one in outcome.job.progress if one.order.name == "H-1b"]
    assert renamed.cut == {"PLATE": 10, "BRACE": 5}


def test_another_order_for_the_same_item_gets_what_a_cancelled_one_left(book: Path) -> None:
    record_cut(book, CutAsked("L1"), today=DAY)
    write(book, "Orders", "H-1", "Order", "H-9")
    opened = openpyxl.load_workbook(book)
    fill(opened, "Orders", [
        {"Order": "H-9", "Item": "frame", "Quantity": 5}, {"Order": "H-2", "Item": "BRACE", "Quantity": 4},
        {"Order": "H-1", "Item": "frame", "Quantity": 5, "State": "cancelled"},
    ])  # fmt: skip
    opened.save(book)
    outcome = check_book(book)
    assert not outcome.stops
    assert outcome.job is not None
    assert outcome.job.orders == ()
    told = next(p.what for p in outcome.problems if p.page == "Finished parts")
    assert "10 PLATE for H-9" in told
    assert "5 BRACE for H-9" in told


def test_pieces_of_an_order_that_is_gone_are_mentioned(book: Path) -> None:
    record_cut(book, CutAsked("L1"), today=DAY)
    opened = openpyxl.load_workbook(book)
    row = next(row for row in opened["Orders"].iter_rows() if row[0].value == "H-1")
    for one in row[:3]:
        one.value = None
    opened.save(book)
    outcome = check_book(book)
    [note] = [p for p in outcome.problems if "no longer has" in p.what]
    assert (note.weight, note.page) == (Weight.NOTE, "Orders")
    assert "15 good pieces are cut for order H-1 (frame)" in note.what


def test_a_next_order_of_another_size_is_no_question_that_stops(book: Path) -> None:
    """The month goes on: rows of finished orders are written over with new ones."""
    record_cut(book, CutAsked("L1"), today=DAY)
    write_all(
        book,
        ("Orders", "H-1", "Quantity", 7),
        ("Orders", "H-1", "Order", "H-11"),
    )  # fmt: skip
    assert not check_book(book).stops


def test_the_step_keeps_what_the_order_was(book: Path) -> None:
    record_cut(book, CutAsked("L1", bad={"PLATE": 1}), today=DAY)
    [step] = read_steps(book.parent / "rack").values()
    asked = {(one.order, one.item, one.quantity) for one in step.asked}
    assert asked == {("H-1", "frame", 5), ("H-2", "BRACE", 4)}
    assert [(one.order, one.part, one.pieces) for one in step.bad_for] == [("H-1", "PLATE", 1)]
