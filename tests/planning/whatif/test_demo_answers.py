"""What the page What fits says of the demo month: held against what a person found by hand or reckoning.

Every answer is checked layout by layout on its own: gap, margin, turns, pieces and sheets.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache

import pytest

from sheetplan.checking import check_layout, check_plan
from sheetplan.model import Job, Layout, Order, Plan, Remnant, SheetSize
from sheetplan.money.order_shares import allocate
from sheetplan.pages.book.buy import buy_page
from sheetplan.planning import RunOptions, plan_job
from sheetplan.planning.whatif.asking import Gauge, Kind, Question, answer, gauges_of, questions_of
from sheetplan.planning.whatif.beds import Bed, filler_of, held_by
from sheetplan.planning.whatif.capacity import WORKS, Found, Inquiry, on_hand, parts_of, sets_on_sheets
from sheetplan.rack.cut import left_over
from sheetplan.trade.units import Units
from tests.demo import demo_job

SECONDS = 1.0
INCH, CENT = 25.4, 0.01


def demo() -> Job:
    return demo_job(Units.INCH)


def planned(job: Job) -> Plan:
    return plan_job(job, RunOptions(SECONDS, clock=lambda: 0.0))


@cache
def month() -> Plan:
    return planned(demo())


def test_the_same_seed_gives_the_same_plan_and_it_stands_up() -> None:
    assert planned(demo()).groups == month().groups
    assert check_plan(month()) == ()


def test_buy_says_nothing_of_what_one_size_alone_would_cost() -> None:
    """Plans by hand were cheaper than what was once said of a size; nothing is known of the cheapest."""
    page = buy_page(month())
    text = " ".join((*page.lines, *(table.caption for table in page.tables)))
    assert not re.search(r"alone|only|sav(es|ed|ing)", text), text


# By hand: four sheets of 48 x 96 in, three of them on hand, and the 60 x 120 on hand; four, two on hand.
@pytest.mark.parametrize(("label", "pays"), [("10 ga", 108.98), ("3/16", 313.64)])
def test_nobody_pays_less_by_hand_than_the_least_that_is_shown(label: str, pays: float) -> None:
    own = next(one for one in month().groups if label in one.group.label)
    shown = [own.to_pay, *(choice.plan.to_pay for choice in own.choices)]
    assert min(shown) <= pays + CENT


def test_of_two_plans_of_14_ga_at_one_price_the_one_that_leaves_a_strip_is_taken() -> None:
    own = gauge_with("14 ga").plan
    lefts = [left_over(layout, own.group, demo().parts, demo().settings).largest for layout in own.layouts]
    sides = [sorted((box.right - box.left, box.top - box.bottom)) for box in lefts if box]
    assert any(short >= 13.49 * INCH and long >= 95.99 * INCH for short, long in sides)


def gauge_with(label: str) -> Gauge:
    return next(one for one in gauges_of(month()) if label in one.plan.group.label)


@cache
def asked(kind: Kind, label: str, item: str, sheet: str = "", work: int = 1) -> tuple[Found, ...]:
    gauge = gauge_with(label)
    filler = filler_of(gauge.plan.group, gauge.job.parts, gauge.job.settings)
    inquiry = Inquiry(filler, gauge.plan.layouts, WORKS[work])
    return answer(gauge, Question(kind, gauge.plan.group.label, item, sheet), inquiry)


def faults(label: str, beds: Iterable[Bed]) -> list[object]:
    gauge = gauge_with(label)
    layouts = [Layout("L1", bed.metal, bed.placements) for bed in beds if bed.placements]
    return [
        fault
        for layout in layouts
        for fault in check_layout(layout, gauge.plan.group, gauge.job.parts, Units.INCH)
    ]


def check_on(label: str, item: str, found: Found, metal: Mapping[SheetSize | Remnant, int]) -> None:
    """All the sets that are said lie on no more sheets than there are, as the rules ask for."""
    one = parts_of(gauge_with(label).plan.group, demo(), item)
    held = held_by(found.beds)
    assert all(held[name] >= count * found.sets for name, count in one.items())
    for sheet, count in metal.items():
        assert sum(bed.count for bed in found.beds if bed.metal == sheet) <= count
    assert all(bed.metal in metal for bed in found.beds)
    assert faults(label, found.beds) == []
    assert found.sets <= found.most


# By hand, and what the planner's own layout of the month holds on such a sheet.
@pytest.mark.parametrize(
    ("label", "item", "sheet", "least"),
    [
        ("stainless", "Bollard cap set", "SS14-4x10", 10),
        ("stainless", "Bollard cap set", "SS14-4x8", 8),
        ("3/16", "OD-807", "MS316-4x8", 252),
        ("3/16", "OD-807", "MS316-4x10", 318),
        ("3/16", "OD-807", "MS316-5x10", 398),
        ("1/4", "OD-804", "MS250-5x10", 84),
    ],
)
def test_a_sheet_holds_what_was_found_by_hand(label: str, item: str, sheet: str, least: int) -> None:
    for number, found in enumerate(asked(Kind.SHEET, label, item, sheet), 1):
        size = next(one for one in gauge_with(label).plan.group.stock if one.name == sheet)
        assert found.sets >= least * number
        check_on(label, item, found, {size: number})


def test_kits_from_the_stainless_on_hand() -> None:
    """One sheet of 48 x 96 in holds eight by itself, and there is a remnant besides."""
    (found,) = asked(Kind.ON_HAND, "stainless", "Bollard cap set")
    assert found.sets >= 8
    check_on("stainless", "Bollard cap set", found, on_hand(gauge_with("stainless").plan.group))


def test_every_quick_answer_can_be_cut() -> None:
    """All that is said of sheets and of the stock on hand without the work of a second round."""
    for gauge in gauges_of(month()):
        group = gauge.plan.group
        for question in questions_of(gauge):
            if question.kind is Kind.ROOM:
                continue
            counts = asked(question.kind, group.label, question.item, question.sheet, 0)
            for number, found in enumerate(counts, 1):
                sizes = {one: number for one in group.stock if one.name == question.sheet}
                check_on(group.label, question.item, found, sizes or on_hand(group))


def test_no_layout_of_the_plan_holds_more_than_is_said() -> None:
    """Kits a sheet are at least those that lie on one sheet of the plan."""
    for one in month().groups:
        for layout in one.layouts:
            if isinstance(layout.sheet, Remnant):
                continue
            held = held_by([Bed(layout.sheet, layout.placements)])
            for kit in demo().kits:
                parts = parts_of(one.group, demo(), kit)
                if parts and kit in {order.item for order in demo().orders}:
                    there = min(held[name] // count for name, count in parts.items())
                    found = asked(Kind.SHEET, one.group.label, kit, layout.sheet.name, 0)
                    assert found[0].sets >= there


@pytest.mark.parametrize("label", ["14 ga", "1/4"])
def test_an_order_rounded_up_needs_no_other_sheet(label: str) -> None:
    """Every piece of the plan and so many more lie on the plan's sheets."""
    gauge = gauge_with(label)
    group = gauge.plan.group
    rooms = [question for question in questions_of(gauge) if question.kind is Kind.ROOM]
    extras = 0
    for question in rooms:
        (found,) = asked(Kind.ROOM, group.label, question.item)
        used = held_by([Bed(x.sheet, x.placements, x.repeats) for x in gauge.plan.layouts])
        wanted = {need.part: 0 for need in group.needs}
        for need in group.needs:
            wanted[need.part] += min(need.pieces, used[need.part])
        held = held_by(found.beds)
        one = parts_of(group, demo(), question.item)
        assert all(held[name] >= n + one.get(name, 0) * found.sets for name, n in wanted.items())
        taken = [(bed.metal, bed.count) for bed in found.beds]
        for sheet in {metal for metal, _ in taken}:
            there = sum(x.repeats for x in gauge.plan.layouts if x.sheet == sheet)
            assert sum(count for metal, count in taken if metal == sheet) <= there
        assert faults(group.label, found.beds) == []
        extras += found.sets
    assert extras > 0 or label != "14 ga", "sheets of 14 ga have room"


def test_no_room_goes_to_pieces_that_complete_nothing() -> None:
    """Washers fill their line; odd pieces of cleat sets that other gauges hold up took their room before."""
    lines = {demo().orders[one.order].name: one for one in allocate(month()).lines}
    assert (lines["H-2055"].asked, lines["H-2055"].made) == (30, 30)
    for one in lines.values():
        order = demo().orders[one.order]
        if order.must or one.made == one.asked:
            continue
        # Of what a kit still lacks, nothing is cut but spares that the planner allows of that part.
        each = demo().kits[order.item].parts
        missing = dict(one.missing)
        for name, count in each.items():
            towards = (one.asked - one.made) * count - missing.get(name, 0)
            assert towards <= demo().parts[name].spare


def test_a_plan_makes_the_kits_that_are_said() -> None:
    """The planner, which knows nothing of the answer, makes so many of a kit like boxes from the stock."""
    kit = "Cable tray cover set"
    (found,) = asked(Kind.ON_HAND, "galvanised", kit)
    stock = tuple(replace(s, buy_limit=0) for s in demo().stock)
    again = planned(replace(demo(), stock=stock, orders=(Order("All", kit, found.sets, line=2),)))
    assert not any(one.short for one in again.groups)


def test_sets_of_several_parts_on_sheets_that_are_bought_and_on_hand_alike() -> None:
    """The answer is of the sheets, not of where they come from."""
    gauge = gauge_with("stainless")
    filler = filler_of(gauge.plan.group, gauge.job.parts, gauge.job.settings)
    one = parts_of(gauge.plan.group, gauge.job, "Bollard cap set")
    size = gauge.plan.group.stock[0]
    mine, theirs = (sets_on_sheets(Inquiry(filler), one, {replace(size, on_hand=n): 2}).sets for n in (0, 2))
    assert mine == theirs
