"""The page Plan: rows by gauge, their total, and what is said above them."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from sheetplan.model import GroupPlan, Plan
from sheetplan.money.cutting_plan import days_of
from sheetplan.money.figures import plan_figures
from sheetplan.pages.book.plan import Earlier, bare_plan_page, plan_page
from sheetplan.pages.book.results import result_pages
from sheetplan.pages.values import Cell, ResultPage, ResultTable
from sheetplan.trade.units import Units
from sheetplan.workbook.writing.grid import grid_of

TODAY = datetime.date(2026, 11, 3)
SUMMED = (
    "On hand", "To buy", "Remnants used", "Sheet weight", "Part weight", "Waste weight", "Kept weight",
    "Metal cost", "Cutting cost", "Cut length", "Pierces", "Cutting time",
)  # fmt: skip


def page_of(plan: Plan) -> ResultPage:
    return plan_page(plan, plan_figures(plan), today=TODAY, mark="KRTM")


def named(page: ResultPage, name: str) -> ResultTable:
    return next(table for table in page.tables if table.name == name)


def column(table: ResultTable, heading: str) -> list[Cell]:
    place = [column.heading for column in table.columns].index(heading)
    return [row[place] for row in table.rows]


def total(table: ResultTable, heading: str) -> Cell:
    assert table.total is not None
    return table.total[[column.heading for column in table.columns].index(heading)]


@pytest.mark.parametrize("heading", SUMMED)
def test_the_total_row_adds_up(inch_plan: Plan, heading: str) -> None:
    table = page_of(inch_plan).tables[0]
    assert total(table, heading) == pytest.approx(sum(column(table, heading)))  # type: ignore[arg-type]


def test_yield_is_parts_over_metal_used_up(inch_plan: Plan) -> None:
    table = page_of(inch_plan).tables[0]
    figures = (*(column(table, name) for name in ("Yield", "Part weight", "Sheet weight", "Kept weight")),)
    for share, parts, sheets, kept in zip(*figures, strict=True):
        assert share == pytest.approx(parts / (sheets - kept))  # type: ignore[operator]


def test_sheets_are_said_by_size_and_remnants_by_tag(inch_plan: Plan) -> None:
    table = page_of(inch_plan).tables[0]
    assert column(table, "Sheets") == ["2 of 48 x 96 in", "1 of 48 x 96 in\nremnant R-017"]


def test_a_millimetre_book_says_millimetres(mm_plan: Plan) -> None:
    assert column(named(page_of(mm_plan), "PlanSheets"), "Size") == [
        "1219.2 x 2438.4 mm",
        "1219.2 x 2438.4 mm",
        "remnant R-017: 1219.2 x 1016 mm",
    ]


def test_savings_are_named_against_plain_boxes(inch_plan: Plan) -> None:
    table = named(page_of(inch_plan), "PlanSavings")
    # 10 ga: the boxes of all pieces lie on one sheet at 92.50; the plan made by hand takes two.
    assert column(table, "Box sheets")[0] == 1
    assert column(table, "Cost saved")[0] == pytest.approx(-92.5)


def test_the_total_is_proven_only_where_every_gauge_is(inch_plan: Plan) -> None:
    """The fixture: 185.00 over a bound of 180, and a gauge of which nothing is proven."""
    heading = "Against the cheapest"
    table = page_of(inch_plan).tables[0]
    assert column(table, heading) == ["at most 2.8% above", "not proven"]
    assert total(table, heading) == "not proven"
    bounded = tuple(replace(group_plan, bound=group_plan.cost / 1.1) for group_plan in inch_plan.groups)
    assert total(page_of(replace(inch_plan, groups=bounded)).tables[0], heading) == "at most 10.0% above"
    met = tuple(replace(group_plan, bound=group_plan.cost) for group_plan in inch_plan.groups)
    assert total(page_of(replace(inch_plan, groups=met)).tables[0], heading) == "cheapest possible"


def test_the_state_comes_first_with_date_and_mark(inch_plan: Plan) -> None:
    first = page_of(inch_plan).lines[0]
    assert first == "Plan KRTM, 2026-11-03: 93 pieces from 3 sheets and 1 remnant in 3 layouts for 2 gauges."


def test_what_the_reader_must_know_is_said(inch_plan: Plan) -> None:
    def told(group_plan: GroupPlan) -> GroupPlan:
        return replace(group_plan, short={"CB-101": 3}, note="One size could not be bought.")

    changed = replace(inch_plan, stopped_early=True, groups=tuple(told(gp) for gp in inch_plan.groups))
    page = page_of(changed)
    text = "\n".join(page.lines)
    assert "stopped early" in text
    assert "6 pieces of orders that must be made could not be" in text
    assert "mild steel 10 ga: One size could not be bought." in page.notes, "how a gauge was searched, below"


def test_cautions_stand_elsewhere_and_the_page_says_where(inch_plan: Plan) -> None:
    notes = page_of(inch_plan).notes
    assert "Cautions for the work stand on the page Start and on the cover of the tickets." in notes
    assert not any("hydrogen" in note or "local codes" in note for note in notes)


def test_the_large_figures_are_those_of_the_plan(inch_plan: Plan) -> None:
    page, figures = page_of(inch_plan), plan_figures(inch_plan)
    told = {one.label: one.value for one in page.headlines}
    assert told["To pay, USD"] == sum(group.to_pay for group in inch_plan.groups)
    assert told["Sheets to buy"] == total(page.tables[0], "To buy")
    assert (told["On hand used"], told["Remnants used"]) == (figures.total.sheets_from_rack, 1)
    assert told["Yield"] == total(page.tables[0], "Yield")
    assert told["Problems and notes"] == f"{len(inch_plan.problems)}"
    dues = {inch_plan.job.orders[n.order].due for g in inch_plan.groups for n in g.group.needs if n.must}
    dated = sorted(due for due in dues if due)
    label, due = next((one.label, one.value) for one in page.headlines if one.label.startswith("First due"))
    assert due == (dated[0] if dated else "no date")
    assert label == "First due" or label.removeprefix("First due: ") in {o.name for o in inch_plan.job.orders}


def test_the_large_figures_have_one_place_with_and_without_a_plan(inch_plan: Plan) -> None:
    """Start finds them by their cells."""
    places = [[one.columns for one in page.headlines] for page in (page_of(inch_plan), bare_plan_page())]
    assert places[0] == places[1]
    assert {one.value for one in bare_plan_page().headlines} == {None}


def test_the_lowest_yield_comes_first_with_the_month_before_beside_it(inch_plan: Plan) -> None:
    figures = plan_figures(inch_plan)
    page = plan_page(inch_plan, figures, today=TODAY, earlier=Earlier(yields={"mild steel 10 ga": 0.71}))
    table = named(page, "PlanYields")
    labels = column(table, "Gauge")
    shares = [one.yield_share for one in figures.groups]
    yields = dict(zip([one.group.label for one in inch_plan.groups], shares, strict=True))
    assert labels == sorted(yields, key=lambda label: yields[str(label)])
    assert dict(zip(labels, column(table, "Yield last month"), strict=True)) == {
        label: 0.71 if label == "mild steel 10 ga" else None for label in labels
    }
    for row in table.rows:
        assert sum(row[2:]) == pytest.approx(1.0)  # type: ignore[arg-type]


def test_sheets_are_parts_waste_and_what_is_kept(inch_plan: Plan) -> None:
    table = page_of(inch_plan).tables[0]
    shares = zip(
        *(column(table, name) for name in ("Part weight", "Waste weight", "Kept weight")), strict=True
    )
    for weights, whole in zip(shares, column(table, "Sheet weight"), strict=True):
        assert sum(weights) == pytest.approx(whole)  # type: ignore[arg-type]


def test_a_chart_names_columns_of_its_table(inch_plan: Plan) -> None:
    for table in page_of(inch_plan).tables:
        if table.chart:
            assert {table.chart.labels, *table.chart.series} <= {column.heading for column in table.columns}


def test_a_lift_limit_is_applied_and_said(inch_plan: Plan) -> None:
    def limited(limit: float | None) -> ResultPage:
        settings = replace(inch_plan.job.settings, lift_limit=limit)
        return page_of(replace(inch_plan, job=replace(inch_plan.job, settings=settings)))

    free = limited(None)
    assert column(named(free, "PlanSheets"), "At once") == [None, None, None]
    assert not any("lift limit" in note for note in free.notes)
    # A 48 x 96 in sheet of 10 ga weighs 79.7 kg here, one of a quarter inch 148.2 kg, the remnant 47.9 kg.
    page = limited(100.0)
    assert column(named(page, "PlanSheets"), "At once") == [1, 0, 2]
    assert column(named(page, "PlanSheets"), "Lifts") == [2, None, 1]
    assert [note for note in page.notes if "heavier" in note] == [
        'MS25-4x8 (mild steel 1/4") is heavier than the lift limit: plan how to move it.'
    ]


def test_sheets_still_to_come_are_not_passed_off_as_lying_in_the_rack(inch_plan: Plan) -> None:
    first = inch_plan.groups[0]
    count = first.sheets[0]
    coming = replace(count, sheet=replace(count.sheet, on_hand=2, on_order=2), from_rack=2)
    plan = replace(inch_plan, groups=(replace(first, sheets=(coming,)), *inch_plan.groups[1:]))
    said = f"On hand counts sheets that are on order and still to come, too: 2 of {count.sheet.name}."
    assert said in page_of(plan).lines
    assert not any("still to come" in line for line in page_of(inch_plan).lines)


def test_the_page_prints_on_one_sheet_across(inch_plan: Plan, mm_plan: Plan) -> None:
    for plan, units in ((inch_plan, Units.INCH), (mm_plan, Units.MM)):
        for page in result_pages(plan, plan_figures(plan), today=TODAY, mark="KRTM"):
            assert grid_of(page, units).paper.across == 1, page.name


def test_that_no_order_is_late_is_said_only_as_far_as_it_is_known(inch_plan: Plan) -> None:
    """The fixture buys sheets without lead days: nobody knows when they come."""
    figures = plan_figures(inch_plan)

    def late(plan: Plan) -> Cell:
        days = days_of(plan, figures, today=datetime.date(2026, 1, 5))
        page = plan_page(plan, figures, today=TODAY, days=days)
        return next(one.value for one in page.headlines if one.label == "Order lines late")

    whole = replace(
        inch_plan, job=replace(inch_plan.job, orders=tuple(replace(o, due="") for o in inch_plan.job.orders))
    )
    assert late(whole) == "none known"

    def delivered(group: GroupPlan) -> GroupPlan:
        sheets = {one.sheet.name: replace(one.sheet, lead_days=3) for one in group.sheets}
        return replace(
            group,
            sheets=tuple(replace(one, sheet=sheets[one.sheet.name]) for one in group.sheets),
            layouts=tuple(
                replace(one, sheet=sheets.get(getattr(one.sheet, "name", ""), one.sheet))
                for one in group.layouts
            ),
        )

    assert late(replace(whole, groups=tuple(map(delivered, whole.groups)))) == "none"
