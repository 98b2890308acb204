"""Finished parts: offered before planning, taken over, counted, moved and scrapped; each is a step."""

from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.check import check_book
from sheetplan.app.parts import Move, PartsAsked, look_at_parts, record_marked_parts, record_parts
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.looking import look
from sheetplan.app.rack.undo import undo_cut
from sheetplan.model import Weight
from sheetplan.pages.paper.lists import pick_orders
from sheetplan.workbook.reading.book import read_tables
from tests.app.choice_book import planned
from tests.app.cut_book import DAY, copied, planned_book, record_cut, write, write_all
from tests.app.test_orders_under_way import made_rows, plan_again


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Five frames (ten plates, five braces) and four braces, all cut."""
    path = planned_book(tmp_path_factory.mktemp("cut"))
    record_cut(path, CutAsked("L1"), today=DAY)
    return path


@pytest.fixture
def book(cut: Path, tmp_path: Path) -> Path:
    return copied(cut, tmp_path / "shop")


def free(book: Path) -> dict[str, int]:
    return {one.part: one.pieces for one in look_at_parts(book) if one.pieces}


def wanted(book: Path) -> dict[str, int]:
    """Pieces still to be made, by order, from the checked job."""
    job = check_book(book).job
    assert job is not None
    sums: dict[str, int] = {}
    for order in job.orders:
        each = sum(job.kits[order.item].parts.values()) if order.item in job.kits else 1
        sums[order.name] = sums.get(order.name, 0) + each * order.quantity
    return sums


def clear(book: Path, page: str, key: str) -> None:
    """Delete a row's contents, as a planner does."""
    opened = openpyxl.load_workbook(book)
    row = next(row for row in opened[page].iter_rows() if row[0].value == key)
    for cell in row:
        cell.value = None
    opened.save(book)


def test_pieces_of_a_cancelled_order_are_offered_and_not_planned_again(book: Path) -> None:
    """By hand: the frames' braces (5) go to H-2, which now wants 7, so 3 more; nothing is left to cut."""
    assert free(book) == {}
    write_all(
        book,
        ("Orders", "H-1", "State", "cancelled"),
        ("Orders", "H-2", "Quantity", 7),
    )  # fmt: skip
    assert free(book) == {"PLATE": 10, "BRACE": 5}
    outcome = check_book(book)
    assert wanted(book) == {}
    [told] = [p for p in outcome.problems if p.page == "Finished parts"]
    assert told.weight is Weight.NOTE
    assert "From finished parts, and not made again: 3 BRACE for H-2." in told.what
    # Only recording gives them to the order; until then nothing has moved.
    assert free(book) == {"PLATE": 10, "BRACE": 5}
    said = record_parts(book, PartsAsked(take=True), today=DAY)
    assert said == ("Step 2: taken over from finished parts: 3 BRACE for H-2.",)
    assert free(book) == {"PLATE": 10, "BRACE": 2}
    assert wanted(book) == {}
    assert not [p for p in check_book(book).problems if p.page == "Finished parts"]
    undo_cut(book)
    assert free(book) == {"PLATE": 10, "BRACE": 5}


def test_the_plan_reckons_with_them_and_its_pages_say_so(book: Path) -> None:
    """Of 12 braces 4 are cut, 5 are free: 3 are made, and the picking list asks for all 12."""
    write_all(
        book,
        ("Orders", "H-1", "State", "cancelled"),
        ("Orders", "H-2", "Quantity", 12),
    )  # fmt: skip
    plan = planned(plan_again(book))
    assert [(order.name, order.quantity) for order in plan.job.orders] == [("H-2", 3)]
    row = next(one for one in made_rows(book) if one["Order"] == "H-2")
    assert [row[name] for name in ("Cut good", "From finished", "Still to cut", "Planned", "Made")] == [
        4, 5, 3, 3, 12,
    ]  # fmt: skip
    [order] = pick_orders(plan)
    [pick] = order.picks
    assert (pick.cut, pick.finished, pick.pieces, pick.short) == (4, 5, 3, 0)
    page = openpyxl.load_workbook(book)["Finished parts"]
    head, *rows = ([c.value for c in row] for row in page[page.tables["FinishedParts"].ref])
    shown = [dict(zip(head, row, strict=True)) for row in rows]
    assert [(one["Part"], one["Free"], one["For orders"]) for one in shown] == [
        ("BRACE", 5, "5 H-2"), ("PLATE", 10, None),
    ]  # fmt: skip
    assert shown[1]["From"] == "10 H-1 (frame), cancelled"


def test_what_an_order_no_longer_asks_for_is_free(book: Path) -> None:
    write(book, "Orders", "H-1", "Quantity", 3)
    assert free(book) == {"PLATE": 4, "BRACE": 2}
    said = {said for one in look_at_parts(book) for said in one.free}
    assert said == {"H-1 (frame), more than it asks for"}


def test_pieces_of_an_order_that_is_gone_are_asked_about_and_settled_by_a_count(book: Path) -> None:
    """Its row is gone: shipped, or lying there? Offered to nobody until a count says."""
    clear(book, "Orders", "H-1")
    write(book, "Orders", "H-2", "Quantity", 6)
    assert free(book) == {}
    assert {one.part: one.unsettled for one in look_at_parts(book)} == {
        "PLATE": {"H-1": 10}, "BRACE": {"H-1": 5},
    }  # fmt: skip
    assert wanted(book) == {"H-2": 2}
    assert any("15 good pieces are cut for order H-1" in p.what for p in check_book(book).problems)
    record_parts(book, PartsAsked({"BRACE": 3, "PLATE": 0}), today=DAY)
    assert free(book) == {"BRACE": 3}
    assert [one.part for one in look_at_parts(book)] == ["BRACE"]
    assert wanted(book) == {}
    assert not [p for p in check_book(book).problems if "no longer has" in p.what]


@pytest.mark.parametrize("counted", [0, 3, 5, 9])
def test_a_count_corrects_what_is_free(book: Path, counted: int) -> None:
    write(book, "Orders", "H-1", "State", "cancelled")
    record_parts(book, PartsAsked({"BRACE": counted}), today=DAY)
    assert free(book).get("BRACE", 0) == counted
    record_parts(book, PartsAsked({"BRACE": 2}), today=DAY)
    assert free(book)["BRACE"] == 2


def test_a_rush_takes_pieces_of_another_order(book: Path) -> None:
    """H-2 gives two of its four braces to the rush: it wants them again, the rush wants fewer."""
    write(book, "Orders", "H-2", "Order", "H-2")
    page = openpyxl.load_workbook(book)
    sheet = page["Orders"]
    row = next(r for r in sheet.iter_rows() if r[0].value == "H-2")[0].row + 1
    for column, value in enumerate(("RUSH", "BRACE", 3), 1):
        sheet.cell(row, column, value)
    page.save(book)
    assert wanted(book) == {"RUSH": 3}
    with pytest.raises(Refused, match="4 are cut for it"):
        record_parts(book, PartsAsked(moves=[Move("BRACE", 5, "H-2", "RUSH")]), today=DAY)
    with pytest.raises(Refused, match="RUSH wants 3 of BRACE"):
        record_parts(book, PartsAsked(moves=[Move("BRACE", 4, "H-2", "RUSH")]), today=DAY)
    record_parts(book, PartsAsked(moves=[Move("brace", 2, "h-2", "rush")]), today=DAY)
    assert wanted(book) == {"RUSH": 1, "H-2": 2}
    assert free(book) == {}


def test_pieces_found_bad_later_are_made_again_and_weigh_as_bad(book: Path) -> None:
    record_parts(book, PartsAsked(moves=[Move("PLATE", 3, "H-1", "scrap")]), today=DAY)
    assert wanted(book) == {"H-1": 3}
    rows = {row["Order"]: row for row in made_rows(book)}  # of the plan before: not renewed by a step
    assert rows["H-1"]["Bad"] is None
    plan_again(book)
    rows = {row["Order"]: row for row in made_rows(book)}
    assert (rows["H-1"]["Cut good"], rows["H-1"]["Bad"]) == (12, 3)
    from sheetplan.app.month import MonthRack

    cut, scrapped = MonthRack(book, read_tables(book)).cuts
    assert scrapped.split.parts == pytest.approx(-scrapped.split.bad)
    assert scrapped.split.bad == pytest.approx(cut.split.parts * 3 * 180 / (10 * 180 + 9 * 108), rel=1e-9)
    undo_cut(book)
    assert wanted(book) == {}


def test_marks_on_the_page_are_recorded_and_a_plan_waits_for_them(book: Path) -> None:
    write(book, "Orders", "H-1", "State", "cancelled")
    plan_again(book)
    write_all(
        book,
        ("Finished parts", "PLATE", "Counted", 8),
        ("Finished parts", "H-2", "Move", 1),
        ("Finished parts", "H-2", "To", "scrap"),
    )  # fmt: skip
    assert plan_again(book).plan is None
    said = record_marked_parts(book, today=DAY)
    assert said == (
        "Step 2: 8 pieces of PLATE counted, 10 were known as free.",
        "Step 3: 1 of BRACE from H-2 to scrap.",
    )
    assert free(book) == {"PLATE": 8, "BRACE": 5}
    assert planned(plan_again(book)).job.orders == ()  # one of the free braces takes the scrapped one's place
    assert look(book).problems == ()


def test_spares_are_free_and_offered(tmp_path: Path) -> None:
    book = planned_book(tmp_path, plates=1, plan_it=False)
    write(book, "Parts", "PLATE", "Spare", 5)
    planned(plan_again(book))
    record_cut(book, CutAsked("L1"), today=DAY)
    made = free(book)
    assert made == {"PLATE": 5}
    assert next(iter(look_at_parts(book))).free == {"spare": 5}
    write(book, "Orders", "H-1", "Quantity", 2)
    assert wanted(book) == {"H-1": 1}  # a brace; its two plates are there


def test_an_order_name_that_comes_again_is_a_new_order_since_its_day(book: Path) -> None:
    assert wanted(book) == {}
    write(book, "Orders", "H-2", "Since", "2026-12-01")
    assert wanted(book) == {"H-2": 4}
    assert free(book) == {}  # the earlier order of that name was shipped
