"""The page Cutting order of a planned book: counted up by cuts, in books of before, and no part of a plan."""

from __future__ import annotations

import datetime
import shutil
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sheetplan.app.live import run_live
from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.app.rack.cut import record_cuts
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.undo import undo_cut
from sheetplan.app.receive import SheetsAsked, ordered, receive
from sheetplan.pages.values import RESULT_PAGES
from sheetplan.planning.progress import never, quiet
from sheetplan.workbook.hosts.excel import ExcelBook
from tests.app.choice_book import planned
from tests.app.cut_book import DAY, cell, copied, fill, plan, planned_book, record_cut, write
from tests.app.test_books_of_before import TEMPLATES, typed
from tests.app.test_orders_under_way import plan_again
from tests.workbook.hosts.excel_engine import opened

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
PAGE = "Cutting order"


def rows(book: Path | openpyxl.Workbook) -> list[dict[str, Any]]:
    """The rows of the table of days, by heading."""
    opened_book = openpyxl.load_workbook(book) if isinstance(book, Path) else book
    lines = list(opened_book[PAGE].iter_rows(values_only=True))
    at = next(place for place, line in enumerate(lines) if line[0] == "Day")
    found = []
    for line in lines[at + 1 :]:
        if line[0] is None:
            break
        found.append(dict(zip(lines[at], line, strict=True)))
    return found


def done(book: Path) -> dict[str, list[int]]:
    """Cut so far by layout, a number for each of its days."""
    found: dict[str, list[int]] = {}
    for row in rows(book):
        found.setdefault(row["Layout"], []).append(row["Cut so far"])
    return found


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book whose first layout takes several days, since the table cuts for half an hour a day."""
    book = planned_book(tmp_path_factory.mktemp("made"), plates=80, on_hand=9, plan_it=False)
    write(book, "Settings", "Cutting hours", "Value", 0.5)
    plan(book)
    return book


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def largest(book: Path) -> tuple[str, list[int]]:
    """The layout that is cut most often, and how often on each of its days."""
    times: dict[str, list[int]] = {}
    for row in rows(book):
        times.setdefault(row["Layout"], []).append(row["Times"])
    return max(times.items(), key=lambda one: sum(one[1]))


def test_days_hold_all_sheets_of_the_page_layouts(book: Path) -> None:
    tag, times = largest(book)
    assert len(times) > 1
    assert sum(times) == cell(book, "Layouts", tag, "Times to cut")
    assert rows(book)[0]["Day"] == "2026-11-25 Wed"
    assert rows(book)[0]["Cut so far"] == 0


def test_a_cut_is_counted_up_on_its_first_days_and_taken_back(book: Path) -> None:
    tag, times = largest(book)
    before = done(book)
    record_cut(book, CutAsked(tag, times[0] + 1), today=DAY)
    assert cell(book, "Layouts", tag, "Cut so far") == times[0] + 1
    assert done(book)[tag] == [times[0], 1, *[0] * (len(times) - 2)]
    record_cut(book, CutAsked(tag), today=DAY)
    assert done(book)[tag] == times
    record_cut(book, CutAsked(tag, 2, again=True), today=DAY)
    assert done(book)[tag] == [*times[:-1], times[-1] + 2]
    assert sum(done(book)[tag]) == cell(book, "Layouts", tag, "Cut so far")
    for _ in range(3):
        undo_cut(book)
    assert done(book) == before


def test_cuts_recorded_together_add_up(book: Path) -> None:
    tag, _ = largest(book)
    record_cuts(book, [CutAsked(tag, 1), CutAsked(tag, 1)], today=DAY)
    assert sum(done(book)[tag]) == cell(book, "Layouts", tag, "Cut so far") == 2


def test_rows_that_the_planner_sorted_are_found_by_name(book: Path) -> None:
    tag, times = largest(book)
    plain = openpyxl.load_workbook(book)
    sheet = plain[PAGE]
    first = next(row[0].row for row in sheet.iter_rows() if row[0].value == "Day") + 1
    count = len(rows(book))
    cells = [[c.value for c in row] for row in sheet.iter_rows(min_row=first, max_row=first + count - 1)]
    for number, values in enumerate(reversed(cells), first):
        for column, value in enumerate(values, 1):
            sheet.cell(number, column).value = value
    plain.save(book)
    record_cut(book, CutAsked(tag, times[0]), today=DAY)
    assert {row["Day"]: row["Cut so far"] for row in rows(book) if row["Layout"] == tag}[
        min(row["Day"] for row in rows(book) if row["Layout"] == tag)
    ] == times[0]


def test_a_cut_in_the_open_book_counts_up_as_one_in_a_closed_book(book: Path, tmp_path: Path) -> None:
    tag, times = largest(book)
    other = copied(book, tmp_path / "other")
    record_cut(other, CutAsked(tag, times[0] + 1), today=datetime.date.today())
    excel: Any = opened(book)
    sheet = excel.impl.plain["Layouts"]
    head = next(row for row in sheet.iter_rows() if row[0].value == "Layout")
    now = next(c.column for c in head if c.value == "Cut now")
    at = next(r[0].row for r in sheet.iter_rows(min_row=head[0].row + 1) if r[0].value == tag)
    sheet.cell(at, now).value = times[0] + 1
    assert run_live(ExcelBook(excel), "cut", never)
    assert done(book) == done(other)
    assert run_live(ExcelBook(excel), "undo", never)
    assert done(book)[tag] == [0] * len(times)


def test_a_step_of_an_earlier_plan_counts_nothing_up_and_is_taken_back(book: Path) -> None:
    tag, times = largest(book)
    record_cut(book, CutAsked(tag, 1), today=DAY)
    plan_again(book)
    before = done(book)
    undo_cut(book)
    assert done(book) == before
    assert len(times) > 1


def test_hours_days_and_lead_days_change_no_plan_in_hand(book: Path) -> None:
    first = planned(plan_again(book))
    mark, days = next(book.parent.glob("layouts/plan-*")).name, len({row["Day"] for row in rows(book)})
    write(book, "Settings", "Cutting hours", "Value", 24)
    write(book, "Settings", "Cutting days", "Value", "Sat, Sun")
    write(book, "Stock", "MS10", "Lead days", 4)
    outcome = plan_book(book, PlanAsked(DAY, seconds=0.3, seed=1), stop=never, report=quiet, workers=1)
    assert f"plan-{outcome.mark}" == mark
    assert [g.layouts for g in planned(outcome).groups] != []
    assert [[(la.tag, la.repeats, la.placements) for la in g.layouts] for g in planned(outcome).groups] == [
        [(la.tag, la.repeats, la.placements) for la in g.layouts] for g in first.groups
    ]
    told = rows(book)
    assert {row["Day"][-3:] for row in told} <= {"Sat", "Sun"}
    assert len({row["Day"] for row in told}) < days
    assert any("As plan" in str(row[0]) for row in openpyxl.load_workbook(book)["Plan"].iter_rows(
        max_row=9, values_only=True))  # fmt: skip


def metal(book: Path) -> set[str]:
    return {str(row["Metal"]) for row in rows(book)}


def test_metal_that_is_ordered_comes_its_lead_days_after(tmp_path: Path) -> None:
    """Ordered on the 25th with 6 days to wait: here on the 1st of December; taken in, it is on hand."""
    book = planned_book(tmp_path, on_hand=0, plan_it=False)
    write(book, "Stock", "MS10", "Lead days", 6)
    plan(book)
    assert metal(book) == {"to buy, here 2026-12-01"}
    ordered(book, SheetsAsked(), today=DAY)
    later = datetime.date(2026, 11, 27)
    outcome = plan_book(book, PlanAsked(later, seconds=0.3, seed=1), stop=never, report=quiet, workers=1)
    assert outcome.plan is not None
    assert metal(book) == {"to come 2026-12-01"}
    assert {row["Day"] for row in rows(book)} == {"2026-12-01 Tue"}
    receive(book, SheetsAsked(), today=later)
    plan(book)
    assert metal(book) == {"on hand"}


@pytest.mark.parametrize("units", ["in", "mm"])
def test_a_book_of_before_gets_the_page_in_its_place_and_plans_with_the_starters(
    units: str, tmp_path: Path
) -> None:
    book = tmp_path / "yard.xlsx"
    shutil.copy(TEMPLATES / f"empty_{units}.xlsx", book)
    gauge, width, length = ("10 ga", 22, 40) if units == "in" else ("3 mm", 560, 1000)
    plain = openpyxl.load_workbook(book)
    assert PAGE not in plain.sheetnames
    names = plain.sheetnames
    size = (48, 96) if units == "in" else (1219, 2438)
    steel = {"Material": "mild steel", "Thickness": gauge}
    fill(plain, "Parts", [{"Part": "PLATE", **steel, "Width": width, "Length": length}])
    fill(plain, "Orders", [{"Order": "H-1", "Item": "PLATE", "Quantity": 6, "Due": "2026-11-27"}])
    fill(plain, "Stock", [{"Sheet": "MS10", **steel, "Width": size[0], "Length": size[1], "On hand": 1}])
    plain.save(book)
    before = typed(book)
    mark = plan(book)
    after = openpyxl.load_workbook(book).sheetnames
    at = after.index(PAGE)
    assert after[at - 1 : at + 2] == ["Buy", PAGE, "Layouts"]
    assert [name for name in after if name in names] == names
    assert set(after) - set(names) <= set(RESULT_PAGES)
    assert typed(book) == before
    assert "6 hours a day, Mon to Fri" in str(openpyxl.load_workbook(book)[PAGE]["A2"].value)
    assert plan(book) == mark
    tag = rows(book)[0]["Layout"]
    record_cut(book, CutAsked(tag, 1), today=DAY)
    assert sum(done(book)[tag]) == 1
    undo_cut(book)
    assert sum(done(book)[tag]) == 0


def test_a_book_planned_before_the_page_was_there_records_and_takes_back(book: Path) -> None:
    tag, _ = largest(book)
    plain = openpyxl.load_workbook(book)
    del plain[PAGE]
    plain.save(book)
    step = record_cut(book, CutAsked(tag, 1), today=DAY).step
    assert PAGE not in {change.page for change in step.changes}
    assert "Cut so far" in {change.heading for change in step.changes}
    undo_cut(book)
    assert cell(book, "Layouts", tag, "Cut so far") == 0
    plan_again(book)
    names = openpyxl.load_workbook(book).sheetnames
    assert names[names.index(PAGE) - 1] == "Buy"
