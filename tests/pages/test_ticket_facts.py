"""What a ticket says, before it is set: where sheets come from, times, checks."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from sheetplan.model import Plan, SheetCount
from sheetplan.money.buy_list import buy_list
from sheetplan.money.cutting_plan import days_of, timetable
from sheetplan.money.figures import plan_figures
from sheetplan.pages.ticket_facts import Issue, TicketFacts, code_of, ticket_facts
from sheetplan.pages.wording import minutes_text, moves_said
from sheetplan.trade.units import KG_PER_POUND, Units

TODAY = datetime.date(2026, 11, 14)


def facts(plan: Plan) -> list[TicketFacts]:
    drawings, days = {"L1": "layouts/plan-KRTM/L1.dxf"}, {tag: None for tag in ("L1", "L2", "L3")}
    return ticket_facts(Issue(plan, plan_figures(plan), TODAY, "KRTM", drawings, days))


@pytest.mark.parametrize(("used", "from_rack", "to_buy", "said"), [
    (2, 2, 0, "from rack place A2"),
    (2, 1, 1, "1 from rack place A2, 1 still to come (to be bought)"),
    (2, 0, 2, "still to come (to be bought); goes to rack place A2"),
    (2, 0, 5, "still to come (to be bought); goes to rack place A2"),
])  # fmt: skip
def test_where_the_sheets_come_from(
    inch_plan: Plan, used: int, from_rack: int, to_buy: int, said: str
) -> None:
    group = inch_plan.groups[0]
    count = SheetCount(group.sheets[0].sheet, used, from_rack, to_buy)
    plan = replace(inch_plan, groups=(replace(group, sheets=(count,)), inch_plan.groups[1]))
    assert facts(plan)[0].source == said
    assert sum(line.count for line in buy_list(plan) if line.sheet == count.sheet.name) == to_buy


def test_sheets_of_one_size_come_from_the_rack_for_one_layout_and_are_bought_for_another(
    inch_plan: Plan,
) -> None:
    """Nobody at the table may fetch the sheet of another layout: each ticket says where its own come from."""
    group = inch_plan.groups[0]
    (count,) = group.sheets
    one, other = (replace(group.layouts[0], tag=tag, repeats=1) for tag in ("L1", "L2"))
    two = SheetCount(count.sheet, 2, 1, 1)
    plan = replace(inch_plan, groups=(replace(group, layouts=(one, other), sheets=(two,)),))
    found = ticket_facts(Issue(plan, plan_figures(plan), TODAY, "KRTM", {}, {"L1": None, "L2": None}))
    assert sorted(one.source for one in found) == [
        "from rack place A2", "still to come (to be bought); goes to rack place A2",
    ]  # fmt: skip


def test_a_ticket_says_its_day_and_how_late_that_is(inch_plan: Plan) -> None:
    figures = plan_figures(inch_plan)
    days = days_of(inch_plan, figures, today=TODAY)
    told = ticket_facts(Issue(inch_plan, figures, TODAY, "KRTM", {}, timetable(inch_plan, days)))
    assert days is not None
    rows = {row.layout.tag: row for row in days.rows}
    for one in told:
        row = rows[one.layout.tag]
        assert one.day.startswith(f"{row.day.isoformat()} ")
        assert one.day.endswith(f", {row.late} days late") is (row.late > 1)
    assert any(row.late > 1 for row in rows.values())


def test_a_remnant_comes_from_its_place_with_its_tag(inch_plan: Plan) -> None:
    remnant = facts(inch_plan)[1]
    assert (remnant.source, remnant.sheet_name) == ("from rack place R1", "remnant R-017")
    assert len(remnant.squaring) == 3


@pytest.mark.parametrize(("above", "is_most", "said"), [
    (2, False, "from rack place R1, under 2 sheets: 295 lb to move"),
    (2, True, "from rack place R1, under 2 sheets: up to 295 lb to move"),
    (0, False, "from rack place R1"),
])  # fmt: skip
def test_what_lies_on_a_remnant_is_rounded_up_since_people_lift_by_it(
    inch_plan: Plan, above: int, is_most: bool, said: str
) -> None:
    group = inch_plan.groups[1]
    index = next(i for i, layout in enumerate(group.layouts) if layout.tag == "L2")
    low = replace(
        group.layouts[index].sheet, above=above, weight_above=294.1 * KG_PER_POUND, is_most=is_most
    )
    layouts = list(group.layouts)
    layouts[index] = replace(layouts[index], sheet=low)
    plan = replace(inch_plan, groups=(inch_plan.groups[0], replace(group, layouts=tuple(layouts))))
    assert [one.source for one in facts(plan) if one.layout.tag == "L2"] == [said]


def test_parts_are_counted_for_a_sheet_and_in_all_and_say_what_they_are_for(inch_plan: Plan) -> None:
    parts = {part.part: part for part in facts(inch_plan)[0].parts}
    assert (parts["CB-102"].on_sheet, parts["CB-102"].in_all) == (22, 44)
    assert parts["CB-102"].wanted_for == "12 x B ladder rail, 32 x A cleat set"
    # 12 x 6 in of 10 ga at 7850 kg/m3: 304.8 x 152.4 x 3.416 mm3.
    assert parts["CB-101"].weight == pytest.approx(304.8 * 152.4 * 3.416 * 7850e-9)
    assert [part.part for part in facts(inch_plan)[0].parts] == ["CB-101", "LR-210", "CB-102", "FP-7"]
    assert {part.part: part.wanted_for for part in facts(inch_plan)[1].parts}[
        "WS-1"
    ] == "12 x B ladder rail, 3 x order H-2044"


def test_a_remnant_to_keep_adds_a_box_to_tick(inch_plan: Plan) -> None:
    first, second, _ = facts(inch_plan)
    assert first.checks[-1] == "remnant cropped, marked, put back"
    assert first.kept_texts == ("cropped to 30.5 x 93.25 in",)
    assert second.checks[-1] == "all parts out"
    assert second.kept_texts == ()


@pytest.mark.parametrize(("hours", "said"), [
    (None, "not known: no feed"), (0.001, "under 1 min"), (0.2, "12 min"), (0.999, "1 h 00 min"),
    (1.25, "1 h 15 min"), (26.5, "26 h 30 min"),
])  # fmt: skip
def test_times_in_words(hours: float | None, said: str) -> None:
    assert minutes_text(hours) == said


def test_time_in_all_is_said_where_a_layout_is_repeated(inch_plan: Plan) -> None:
    assert dict(facts(inch_plan)[0].work)["Time in all"] == "20 min"
    assert "Time in all" not in dict(facts(inch_plan)[2].work)
    assert [one.drawing for one in facts(inch_plan)] == ["L1.dxf", "", ""]


def test_the_code_names_plan_and_layout() -> None:
    assert code_of("L12", "KRTM") == "KRTM-L12"
    assert code_of("L12", "") == "L12"


def test_a_sheet_too_heavy_for_the_lift_limit_is_said_first(inch_plan: Plan) -> None:
    settings = replace(inch_plan.job.settings, lift_limit=100.0)
    limited = facts(replace(inch_plan, job=replace(inch_plan.job, settings=settings)))
    assert limited[0].cautions == ()
    assert (
        limited[2].cautions[0].startswith("Too heavy: one sheet weighs 326.7 lb, the lift limit is 220.5 lb.")
    )


def test_a_ticket_says_whether_moves_are_in_its_time(inch_plan: Plan) -> None:
    assert "Time a sheet, no moves" in dict(facts(inch_plan)[0].work)
    group_plan = inch_plan.groups[0]
    rule = replace(group_plan.group.rule, travel=10000.0)
    group_plan = replace(group_plan, group=replace(group_plan.group, rule=rule))
    moving = replace(inch_plan, groups=(group_plan, *inch_plan.groups[1:]))
    assert "Time a sheet" in dict(facts(moving)[0].work)
    assert moves_said(inch_plan).startswith("Times leave out moves")
    assert moves_said(moving).startswith('Times of mild steel 1/4" leave out moves')


def test_a_ticket_names_its_orders_the_first_due_first(inch_plan: Plan) -> None:
    """So a rush is seen at the machine, whatever kit it is for."""
    assert [one.orders for one in facts(inch_plan)][::2] == [
        (("H-2042", "2026-11-12"), ("H-2041", "2026-11-20"), ("H-2043", "")), (("H-2041", "2026-11-20"),),
    ]  # fmt: skip


@pytest.mark.parametrize("units", Units)
def test_headings_of_figures_say_their_units(inch_plan: Plan, mm_plan: Plan, units: Units) -> None:
    work = dict(facts(inch_plan if units is Units.INCH else mm_plan)[0].work)
    said = {"Cut length ft": "80.6", "Gap in": "0.25", "Margin in": "0.25", "Kerf in": "0.059"}
    if units is Units.MM:
        said = {"Cut length m": "24.6", "Gap mm": "6.3", "Margin mm": "6.3", "Kerf mm": "1.5"}
    assert {word: work[word] for word in said} == said
