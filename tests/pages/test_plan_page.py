"""The page Plan: rows by gauge, their total, and what is said above them."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from sheetplan.model import GroupPlan, Plan
from sheetplan.money.figures import plan_figures
from sheetplan.pages.plan_page import plan_page
from sheetplan.pages.values import Cell, ResultPage, ResultTable

TODAY = datetime.date(2026, 11, 3)
SUMMED = (
    "On hand", "To buy", "Remnants used", "Sheet weight", "Part weight", "Waste weight", "Kept weight",
    "Metal cost", "Cutting cost", "Cut length", "Pierces", "Hours",
)  # fmt: skip


def page_of(plan: Plan) -> ResultPage:
    return plan_page(plan, plan_figures(plan), today=TODAY, mark="KRTM")


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
    assert column(page_of(mm_plan).tables[1], "Size") == [
        "1219.2 x 2438.4 mm",
        "1219.2 x 2438.4 mm",
        "remnant R-017: 1219.2 x 1016 mm",
    ]


def test_savings_are_named_against_plain_boxes(inch_plan: Plan) -> None:
    table = page_of(inch_plan).tables[2]
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
    text = "\n".join(page_of(changed).lines)
    assert "stopped early" in text
    assert "6 pieces of orders that must be made could not be" in text
    assert "mild steel 10 ga: One size could not be bought." in text


def test_cautions_follow_the_metals_used(inch_plan: Plan) -> None:
    def in_aluminium(group_plan: GroupPlan) -> GroupPlan:
        metal = replace(group_plan.group.material, name="5052", gauge_series="aluminium")
        return replace(group_plan, group=replace(group_plan.group, material=metal))

    steel = "\n".join(page_of(inch_plan).notes)
    assert "hydrogen" not in steel
    assert "local codes" in steel
    changed = replace(inch_plan, groups=(inch_plan.groups[0], in_aluminium(inch_plan.groups[1])))
    notes = page_of(changed).notes
    assert "hydrogen" in notes[notes.index("Cautions") + 1]
    assert notes[notes.index("Cautions") + 1].startswith("5052: ")


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
    assert column(free.tables[1], "At once") == [None, None, None]
    assert not any("lift limit" in note for note in free.notes)
    # A 48 x 96 in sheet of 10 ga weighs 79.7 kg here, one of a quarter inch 148.2 kg, the remnant 47.9 kg.
    page = limited(100.0)
    assert column(page.tables[1], "At once") == [1, 0, 2]
    assert column(page.tables[1], "Lifts") == [2, None, 1]
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
