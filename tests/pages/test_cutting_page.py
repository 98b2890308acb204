"""The page Cutting order: what stands in its tables, and what it says first."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from sheetplan.model import Plan, Settings
from sheetplan.money.cutting_plan import Metal, Ordered, Source, days_of, timetable
from sheetplan.money.figures import plan_figures
from sheetplan.pages.book.cutting import (
    ALL_HERE,
    LATE_SAID,
    MOST_BARS,
    TOO_MANY_DAYS,
    cutting_page,
    day_text,
    metal_text,
    weekdays_text,
)
from sheetplan.pages.book.layouts import bare_layouts_page, layout_rows, layouts_page
from sheetplan.pages.values import Link, ResultPage
from sheetplan.pages.wording import minutes_text
from sheetplan.trade.units import Units
from sheetplan.workbook.writing.grid import Role, grid_of

TODAY = datetime.date(2026, 11, 9)
"""A Monday; the orders with a date are due on Thursday and on Friday of the next week."""


def page_of(plan: Plan, today: datetime.date = TODAY, ordered: Ordered | None = None) -> ResultPage:
    figures = plan_figures(plan)
    days = days_of(plan, figures, today=today, ordered=ordered)
    return cutting_page(plan, figures, days, today=today, rows={"L1": 9, "L2": 10})


def with_settings(plan: Plan, **settings: object) -> Plan:
    changed: Settings = replace(plan.job.settings, **settings)  # type: ignore[arg-type]
    return replace(plan, job=replace(plan.job, settings=changed))


def with_sheet(plan: Plan, **values: object) -> Plan:
    """The plan with other values of the sheet that it buys."""
    old = plan.job.stock[0]
    new = replace(old, **values)  # type: ignore[arg-type]
    first = plan.groups[0]
    layouts = tuple(replace(one, sheet=new) for one in first.layouts)
    sheets = tuple(replace(one, sheet=new) for one in first.sheets)
    group = replace(first, layouts=layouts, sheets=sheets, group=replace(first.group, stock=(new,)))
    job = replace(plan.job, stock=(new, *plan.job.stock[1:]))
    return replace(plan, groups=(group, *plan.groups[1:]), job=job)


@pytest.fixture(params=["inch_plan", "mm_plan"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return request.getfixturevalue(request.param)  # type: ignore[no-any-return]


def test_each_layout_stands_on_its_day_with_the_minutes_of_its_ticket(plan: Plan) -> None:
    figures = plan_figures(plan)
    one = figures.groups[0].layouts["L1"]
    rows = page_of(plan).tables[0].rows
    assert [row[1] for row in rows] == [Link("L1", "#Layouts!A9"), Link("L2", "#Layouts!A10"), "L3"]
    assert rows[0] == (
        "2026-11-09 Mon", Link("L1", "#Layouts!A9"), 2, "mild steel 10 ga", "MS10-4x8",
        "1 on hand\n1 to buy", minutes_text(2 * (one.hours or 0.0)), "2026-11-12", "H-2042", 0, None,
    )  # fmt: skip
    assert rows[1][5] == "on hand"
    remnant = "R-017: 48 x 40 in" if plan.job.settings.units is Units.INCH else "R-017: 1219.2 x 1016 mm"
    assert rows[1][4] == remnant


def test_days_add_up_to_the_hours_of_the_plan_and_to_those_of_the_day(plan: Plan) -> None:
    [row] = page_of(plan).tables[1].rows
    hours = plan_figures(plan).total.hours
    assert hours is not None
    assert row == ("2026-11-09 Mon", 3, 4, round(60 * hours), 360 - round(60 * hours))


def test_it_says_first_when_all_is_cut_and_that_all_is_in_time(plan: Plan) -> None:
    lines = page_of(plan).lines
    assert lines[:2] == (
        "4 sheets on 1 day of cutting, 2026-11-09 Mon. The table cuts 6 hours a day, Mon to Fri: see "
        "Settings.",
        "Every order with a date is in time.",
    )
    assert "planned as if it came at once: MS10-4x8" in lines[2]
    captions = [table.caption for table in page_of(plan).tables]
    assert captions[2] == f"{LATE_SAID}: none"


def test_large_figures_say_the_last_day_what_is_late_and_when_to_order(plan: Plan) -> None:
    def figures_of(page: ResultPage) -> list[tuple[str, object]]:
        return [(one.label, one.value) for one in page.headlines]

    late = figures_of(page_of(with_sheet(plan, lead_days=14)))
    assert late == [
        ("Last day of cutting", "2026-11-23 Mon"), ("Order lines late", 2),
        ("Order metal by", "2026-10-29 Thu"),
    ]  # fmt: skip
    assert figures_of(page_of(plan)) == [("Last day of cutting", "2026-11-09 Mon"), ("Order lines late", 0)]
    assert cutting_page(None, None, None).headlines == ()


def test_late_orders_and_metal_too_late_are_named(plan: Plan) -> None:
    """Ordered on Monday the 9th the metal comes on Monday the 23rd: after both dates."""
    page = page_of(with_sheet(plan, lead_days=14))
    assert page.lines[1:3] == (
        "2 orders cannot be done in time: H-2042 by 11 days, H-2041 by 3 days.",
        "The last day to order in time is past: MS10-4x8 by 11 days.",
    )
    assert page.tables[2].caption == LATE_SAID
    assert page.tables[2].rows[0] == ("H-2042", 6, 11, "ladder rail", "2026-11-12", "2026-11-23 Mon")
    [metal] = page.tables[3].rows
    assert metal[:3] == ("MS10-4x8", 5, 14)
    assert metal[5:] == ("to buy, here 2026-11-23", "2026-11-12", "2026-10-29", "Quay Metals", 11)
    assert [row[0] for row in page.tables[1].rows] == [
        day_text(TODAY + datetime.timedelta(days=ahead)) for ahead in range(15) if ahead % 7 < 5
    ]


def test_lines_of_one_order_are_named_once_by_the_latest(plan: Plan) -> None:
    """H-2044 gets a date and H-2042's name: of its two lines the ladder rails are later."""
    orders = tuple(
        replace(one, name="H-2042", due="2026-11-20") if one.name == "H-2044" else one
        for one in plan.job.orders
    )
    late = with_sheet(replace(plan, job=replace(plan.job, orders=orders)), lead_days=14)
    first = late.groups[1]
    coming = replace(late.groups[0], sheets=tuple(replace(c, from_rack=0) for c in late.groups[0].sheets))
    page = page_of(replace(late, groups=(coming, first)), today=datetime.date(2026, 12, 7))
    assert page.lines[1] == (
        "3 lines of 2 orders cannot be done in time: H-2042 by 39 days, H-2041 by 31 days."
    )
    assert len(page.tables[2].rows) == 3


def test_what_is_to_be_ordered_today_is_said(plan: Plan) -> None:
    page = page_of(with_sheet(plan, lead_days=3))
    assert "To be ordered today: MS10-4x8." in page.lines
    assert page.tables[3].rows[0][7] == "2026-11-09"
    assert page.tables[3].rows[0][9] is None


def test_metal_on_order_says_its_day_and_that_it_is_overdue(plan: Plan) -> None:
    coming = with_sheet(plan, lead_days=3, on_hand=2, on_order=1)
    first = replace(coming.groups[0], sheets=(replace(coming.groups[0].sheets[0], from_rack=2, to_buy=0),))
    coming = replace(coming, groups=(first, *coming.groups[1:]))
    page = page_of(coming, ordered={"MS10-4x8": (("2026-11-08", 1),)})
    assert page.tables[0].rows[-1][5] == "to come 2026-11-11"
    assert page.tables[3].rows[0][1:8] == (
        1, 3, "mild steel 10 ga", page.tables[3].rows[0][4], "to come 2026-11-11", "2026-11-12", None
    )  # fmt: skip
    overdue = page_of(coming, ordered={"MS10-4x8": (("2026-10-01", 1),)})
    assert "Overdue, planned as if it came today: MS10-4x8." in overdue.lines


def test_all_on_hand_is_said(plan: Plan) -> None:
    groups = tuple(
        replace(one, sheets=tuple(replace(c, from_rack=c.used, to_buy=0) for c in one.sheets))
        for one in plan.groups
    )
    assert page_of(replace(plan, groups=groups)).tables[3].caption == ALL_HERE


def test_gauges_without_a_feed_and_sheets_longer_than_a_day_are_said(plan: Plan) -> None:
    first = plan.groups[0]
    silent = replace(first, group=replace(first.group, rule=replace(first.group.rule, feed=None)))
    page = page_of(replace(plan, groups=(silent, *plan.groups[1:])))
    assert any(line.startswith("Time not known: mild steel 10 ga.") for line in page.lines)
    assert page.tables[0].rows[0][6] == "not known: no feed"
    slow = replace(first, group=replace(first.group, rule=replace(first.group.rule, feed=50.0)))
    page = page_of(replace(plan, groups=(slow, *plan.groups[1:])))
    assert "One sheet takes longer than a day and goes on over the next: L1." in page.lines
    assert any(row[5] == "goes on" and row[2] == 0 for row in page.tables[0].rows)


def test_work_without_end_is_said_and_not_listed(plan: Plan) -> None:
    first = plan.groups[0]
    endless = replace(first, group=replace(first.group, rule=replace(first.group.rule, feed=0.01)))
    page = page_of(replace(plan, groups=(endless, *plan.groups[1:])))
    assert page.lines == (TOO_MANY_DAYS,)
    assert all(not table.rows for table in page.tables)


def test_of_a_long_time_the_days_without_cutting_are_left_out(plan: Plan) -> None:
    rows = page_of(with_sheet(plan, lead_days=200)).tables[1].rows
    assert [row[2] for row in rows] == [3, 1]
    assert MOST_BARS == 62


def test_hours_and_days_are_those_of_the_settings(plan: Plan) -> None:
    page = page_of(with_settings(plan, cutting_hours=0.5, cutting_days=(1, 3)))
    assert "The table cuts 0.5 hours a day, Tue, Thu" in page.lines[0]
    assert page.tables[1].rows[0][0] == "2026-11-10 Tue"
    assert all(row[3] <= 30 for row in page.tables[1].rows)


@pytest.mark.parametrize(("days", "said"), [
    ((0, 1, 2, 3, 4), "Mon to Fri"), ((0, 2, 5), "Mon, Wed, Sat"), (tuple(range(7)), "every day"),
    ((5, 6), "Sat, Sun"), ((3,), "Thu"),
])  # fmt: skip
def test_days_of_the_week_in_words(days: tuple[int, ...], said: str) -> None:
    assert weekdays_text(days) == said


def test_metal_in_words() -> None:
    said = [metal_text(Metal(source)) for source in Source]
    assert said == ["on hand", "to come", "to buy"]


def test_links_lead_to_the_row_of_the_layout(plan: Plan) -> None:
    page = layouts_page(plan, plan_figures(plan), pictures={}, drawings={}, days=timetable(plan, None))
    grid = grid_of(page, plan.job.settings.units)
    drawn = {str(c.value): c.row + 1 for c in grid.cells if c.column == 0 and c.role is Role.BODY}
    assert layout_rows(page) == drawn
    assert layout_rows(bare_layouts_page()) == {}
