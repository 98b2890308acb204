"""A plan by days: rows, orders that are late, metal that must be here; all by hand."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from sheetplan.model import Layout, Order, Placement, Plan, Remnant, Settings, SheetSize, rectangle
from sheetplan.money.cutting_plan import CuttingPlan, Metal, Ordered, Source, cutting_plan
from sheetplan.money.figures import plan_figures
from tests.money.bookmaking import QUARTER, RULE, SHEET, plan_of

MONDAY = datetime.date(2026, 11, 30)
SLOW = replace(RULE, feed=100.0, pierce_seconds=0.0)
"""100 mm a minute: a bar of 600 x 50 mm takes 13 minutes."""

BAR_MINUTES = 13.0
KEEPS_NOTHING = {"least_remnant_length": 1e5, "least_remnant_width": 1e5}
"""Nothing is cropped, so that only parts take time."""


def day(ahead: int) -> datetime.date:
    return MONDAY + datetime.timedelta(days=ahead)


def layout(tag: str, sheet: SheetSize | Remnant, repeats: int = 1, **pieces: int) -> Layout:
    places = [(part, place) for part, count in pieces.items() for place in range(count)]
    return Layout(tag, sheet, tuple(Placement(part, 10.0, 10.0 + 60.0 * n) for part, n in places), repeats)


def by_days(
    *layouts: Layout, orders: list[Order], stock: list[SheetSize], hours: float = 1.0,
    ordered: Ordered | None = None, feed: bool = True, days: tuple[int, ...] = (0, 1, 2, 3, 4),
) -> CuttingPlan:  # fmt: skip
    plan = book(*layouts, orders=orders, stock=stock, hours=hours, feed=feed, days=days)
    return cutting_plan(plan, plan_figures(plan), today=MONDAY, ordered=ordered)


def book(
    *layouts: Layout, orders: list[Order], stock: list[SheetSize], hours: float = 1.0, feed: bool = True,
    days: tuple[int, ...] = (0, 1, 2, 3, 4),
) -> Plan:  # fmt: skip
    settings = Settings(cutting_hours=hours, cutting_days=days, **KEEPS_NOTHING)
    rule = SLOW if feed else replace(SLOW, feed=None)
    return plan_of(layouts, orders=orders, stock=stock, rule=rule, settings=settings)


def said(found: CuttingPlan) -> list[tuple[datetime.date, str, int, str, int]]:
    return [(row.day, row.layout.tag, row.times, row.due, row.late) for row in found.rows]


HERE = replace(SHEET, on_hand=9)


def test_a_layout_of_many_sheets_runs_over_days_and_each_day_says_what_waits_first() -> None:
    """Four sheets of two bars, 26 minutes: two an hour's day. The first two serve H-1 and the last H-2."""
    orders = [Order("H-1", "bar", 4, due="2026-12-01"), Order("H-2", "bar", 4, due="2026-12-04")]
    found = by_days(layout("L1", HERE, 4, bar=2), orders=orders, stock=[HERE])
    assert said(found) == [(day(0), "L1", 2, "2026-12-01", 0), (day(1), "L1", 2, "2026-12-04", 0)]
    assert [row.order for row in found.rows] == ["H-1", "H-2"]
    assert [row.minutes for row in found.rows] == pytest.approx([4 * BAR_MINUTES, 4 * BAR_MINUTES])
    assert found.minutes == {day(0): pytest.approx(52.0), day(1): pytest.approx(52.0)}
    assert found.late == ()
    assert found.metal == ()


def test_orders_that_are_late_say_when_they_are_finished() -> None:
    """Six days of work for Friday: the last sheets are cut on the next Monday."""
    orders = [Order("H-1", "bar", 24, due="2026-12-04"), Order("H-2", "bar", 1, must=False, due="2026-12-01")]
    found = by_days(layout("L1", HERE, 6, bar=4), orders=orders, stock=[HERE])
    assert [row.day for row in found.rows] == [day(0), day(1), day(2), day(3), day(4), day(7)]
    [late] = found.late  # what is cut if it fits gets no piece here, and is not called late
    assert (late.order.name, late.finished, late.late) == ("H-1", day(7), 3)
    assert [row.late for row in found.rows] == [0, 0, 0, 0, 0, 3]


def test_of_two_lines_due_on_one_day_the_first_in_the_book_is_served_first() -> None:
    """A sheet of two bars a day: four for the line above, whatever the one below asks for, then its two."""
    orders = [Order("H-1", "bar", 4, due="2026-12-04"), Order("H-2", "bar", 2, due="2026-12-04")]
    found = by_days(layout("L1", HERE, 3, bar=2), orders=orders, stock=[HERE], hours=0.5)
    assert found.finished == {0: day(1), 1: day(2)}
    assert [row.order for row in found.rows] == ["H-1", "H-1", "H-2"]


def test_an_order_that_is_not_planned_whole_is_named() -> None:
    orders = [Order("H-1", "bar", 5, due="2026-12-04"), Order("H-2", "disc", 1)]
    found = by_days(layout("L1", HERE, bar=4), orders=orders, stock=[HERE])
    assert [(one.order.name, one.finished) for one in found.late] == [("H-1", None)]


def test_metal_comes_after_its_lead_days_and_others_go_before_it() -> None:
    """One sheet is here; the other, ordered today, comes on Wednesday. L1 is due first and gets the one."""
    sheet = replace(SHEET, on_hand=1, lead_days=2)
    other = replace(SHEET, name="5x10", length=3048.0, on_hand=1)
    orders = [Order("H-1", "bar", 4, due="2026-12-01"), Order("H-2", "disc", 1, due="2026-12-18")]
    found = by_days(
        layout("L1", sheet, 2, bar=2), layout("L2", other, disc=1), orders=orders, stock=[sheet, other]
    )
    assert said(found) == [
        (day(0), "L1", 1, "2026-12-01", 0), (day(0), "L2", 1, "2026-12-18", 0),
        (day(2), "L1", 1, "2026-12-01", 1),
    ]  # fmt: skip
    assert [row.metal for row in found.rows] == [
        ((Metal(Source.ON_HAND), 1),), ((Metal(Source.ON_HAND), 1),), ((Metal(Source.TO_BUY, day(2)), 1),)
    ]  # fmt: skip
    [need] = found.metal
    assert (need.here_by, need.order_by, need.comes, need.late) == (day(1), day(-1), day(2), 1)


def test_metal_whose_days_nobody_knows_is_there_at_once() -> None:
    sheet = replace(SHEET, on_hand=0)
    found = by_days(
        layout("L1", sheet, bar=4), orders=[Order("H-1", "bar", 4, due="2026-12-04")], stock=[sheet]
    )
    assert said(found) == [(day(0), "L1", 1, "2026-12-04", 0)]
    [need] = found.metal
    assert (need.here_by, need.order_by, need.comes, need.late) == (day(4), None, None, 0)
    assert found.rows[0].metal == ((Metal(Source.TO_BUY), 1),)


@pytest.mark.parametrize(
    ("ordered", "comes"),
    [
        ({"4x8": (("2026-11-28", 2),)}, 1),
        ({}, 3),  # not on record: as if it had been ordered today
        ({"4x8": (("2026-11-01", 1), ("2026-11-28", 2))}, 1),  # the planner took one off the count
    ],
)
def test_metal_on_order_comes_its_lead_days_after_it_was_ordered(ordered: Ordered, comes: int) -> None:
    sheet = replace(SHEET, on_hand=2, on_order=2, lead_days=3)
    orders = [Order("H-1", "bar", 8, due="2026-12-10")]
    found = by_days(layout("L1", sheet, 2, bar=4), orders=orders, stock=[sheet], hours=2.0, ordered=ordered)
    assert said(found) == [(day(comes), "L1", 2, "2026-12-10", 0)]
    [need] = found.metal
    assert (need.source, need.sheets, need.order_by, need.comes) == (Source.TO_COME, 2, None, day(comes))
    assert need.here_by == day(10)


def test_overdue_metal_may_come_today() -> None:
    sheet = replace(SHEET, on_hand=1, on_order=1, lead_days=3)
    orders = [Order("H-1", "bar", 4, due="2026-11-20")]
    ordered = {"4x8": (("2026-11-10", 1),)}
    found = by_days(layout("L1", sheet, bar=4), orders=orders, stock=[sheet], ordered=ordered)
    assert said(found) == [(day(0), "L1", 1, "2026-11-20", 10)]
    assert (found.metal[0].comes, found.metal[0].late) == (datetime.date(2026, 11, 13), 10)


def test_a_gauge_without_a_feed_takes_no_time_and_says_none() -> None:
    found = by_days(
        layout("L1", HERE, 3, bar=4), orders=[Order("H-1", "bar", 12, due="2026-12-04")], stock=[HERE],
        feed=False,
    )  # fmt: skip
    assert said(found) == [(day(0), "L1", 3, "2026-12-04", 0)]
    assert found.rows[0].minutes is None


def test_a_sheet_longer_than_a_day_goes_on_without_being_counted_twice() -> None:
    """Ten bars: 130 minutes in days of an hour."""
    found = by_days(layout("L1", HERE, 2, bar=10), orders=[Order("H-1", "bar", 20)], stock=[HERE])
    assert [(row.day, row.times, row.goes_on) for row in found.rows] == [
        (day(0), 1, False), (day(1), 0, True), (day(2), 0, True), (day(3), 1, False), (day(4), 0, True),
        (day(7), 0, True),
    ]  # fmt: skip
    assert found.too_long == ("L1",)


def test_a_remnant_is_on_hand_and_the_days_of_the_week_are_kept() -> None:
    remnant = Remnant("R-1", "mild steel", QUARTER, rectangle(1000.0, 1000.0).outer)
    found = by_days(
        layout("L1", remnant, bar=4), orders=[Order("H-1", "bar", 4)], stock=[HERE], days=(5,)
    )
    assert [(row.day, row.metal) for row in found.rows] == [(day(5), ((Metal(Source.ON_HAND), 1),))]


def test_days_without_cutting_stand_between_the_first_and_the_last() -> None:
    sheet = replace(SHEET, on_hand=1, lead_days=8)
    found = by_days(layout("L1", sheet, 2, bar=4), orders=[Order("H-1", "bar", 8)], stock=[sheet])
    assert found.days == tuple(day(n) for n in (0, 1, 2, 3, 4, 7, 8))
    assert set(found.minutes) == {day(0), day(8)}


def test_what_is_no_date_waits_for_nothing() -> None:
    orders = [Order("H-1", "bar", 4, due="end of the month"), Order("H-2", "bar", 4, due="0001-01-01")]
    sheet = replace(SHEET, on_hand=0)
    found = by_days(layout("L1", sheet, 2, bar=4), orders=orders, stock=[sheet], hours=2.0)
    assert [one.order.name for one in found.late] == ["H-2"]
    assert found.rows[0].order == "H-2"


def test_a_sheet_keeps_the_table_busy_while_it_is_laid_on_and_taken_off() -> None:
    """Four sheets, 26 minutes of cutting each: with ten more an hour's day takes one, not two."""
    orders = [Order("H-1", "bar", 8)]
    plan = book(layout("L1", HERE, 4, bar=2), orders=orders, stock=[HERE])
    busy = replace(plan.job.settings, load_minutes=3.0, square_minutes=1.0, unload_minutes=6.0)
    handled = replace(plan, job=replace(plan.job, settings=busy))
    rows = [[(row.day, row.times) for row in cutting_plan(one, plan_figures(one), today=MONDAY).rows]
            for one in (plan, handled)]  # fmt: skip
    assert rows == [[(day(0), 2), (day(1), 2)], [(day(n), 1) for n in range(4)]]
