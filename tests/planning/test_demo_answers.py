"""What the page What fits says of the demo month, held against plans of exactly that.

Every answer becomes a book of its own: the stock cut down to the sheets that the answer speaks of, the
orders grown to what it promises. The planner, which knows nothing of the answer, has to make all of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache

import pytest

from sheetplan.checking import check_plan
from sheetplan.model import Job, Order, Plan
from sheetplan.planning import never, plan_job, quiet
from sheetplan.planning.whatif import (
    best_share,
    gauges_of_orders,
    groups_of,
    kits_on_hand,
    one_more_sheet,
    room_in,
    round_up,
)
from sheetplan.trade.units import Units
from tests.demo import demo_job

SECONDS = 1.0


def demo() -> Job:
    return demo_job(Units.INCH)


@cache
def month() -> Plan:
    return planned(demo())


def planned(job: Job) -> Plan:
    return plan_job(job, seconds=SECONDS, seed=1, stop=never, report=quiet, clock=lambda: 0.0)


def test_the_same_seed_gives_the_same_plan_and_it_stands_up() -> None:
    assert planned(demo()).groups == month().groups
    assert check_plan(month()) == ()


def short(plan: Plan) -> dict[str, int]:
    return {part: pieces for one in plan.groups for part, pieces in one.short.items()}


def with_only(job: Job, sheets: Mapping[str, int], orders: tuple[Order, ...]) -> Job:
    """The job with so many of some sheets and no others, and these orders."""
    stock = tuple(replace(s, on_hand=sheets.get(s.name, 0), buy_limit=0) for s in job.stock)
    return replace(job, stock=stock, orders=orders)


@pytest.mark.parametrize("kit", ["Cable tray cover set", "Shore power box kit", "Bollard cap set"])
def test_kits_from_the_stock_on_hand_are_made_by_a_plan(kit: str) -> None:
    answer = kits_on_hand(demo(), kit)
    assert answer.whole > 0
    assert answer.whole == min(answer.by_gauge.values()) == answer.by_gauge[answer.bottleneck]
    there = {sheet.name: sheet.on_hand for sheet in demo().stock}
    assert short(planned(with_only(demo(), there, (Order("All", kit, answer.whole, line=2),)))) == {}


@pytest.mark.parametrize(
    ("kit", "name"), [("Cable tray cover set", "GV16-4x10"), ("Shore power box kit", "AL18-5x10")]
)
def test_kits_a_sheet_are_made_by_a_plan_of_so_many_sheets(kit: str, name: str) -> None:
    """Kits of plain parts: what fits is worked out with boxes, and of true shapes more may fit."""
    (group,) = groups_of(demo(), kit)
    sheet = next(one for one in group.stock if one.name == name)
    share = best_share(group, demo(), kit, sheet)
    orders = (Order("All", kit, share.kits, line=2),)
    bare = replace(with_only(demo(), {name: share.sheets}, orders), remnants=())
    assert short(planned(bare)) == {}
    one_less = replace(with_only(demo(), {name: share.sheets - 1}, orders), remnants=())
    assert short(planned(one_less)) != {}


def test_an_order_rounded_up_needs_no_other_sheet() -> None:
    """Of the orders of single parts the one with most room: the month again on the month's own sheets."""
    places = [place for place in gauges_of_orders(month()) if place[0] in demo().parts]
    rooms = {place: room_in(month(), *place) for place in places}
    found = {one.extra: (one.order, one.full) for one in round_up(month(), rooms)}
    most = max(found)
    index, full = found[most]
    assert most > 0
    order = demo().orders[index]
    orders = list(demo().orders)
    orders[index] = replace(order, quantity=order.quantity + most)
    used = {count.sheet.name: count.used for one in month().groups for count in one.sheets}
    again = planned(with_only(demo(), used, tuple(orders)))
    missing = next(one.short for one in again.groups if one.group.label == full)
    assert missing == {}


def test_one_more_sheet_makes_what_it_is_said_to_add() -> None:
    """The gauge with the fewest pieces: its sheets and one more, its orders and so many more of an item."""
    gauge = min(month().groups, key=lambda one: sum(need.pieces for need in one.group.needs))
    used = {count.sheet.name: count.used for count in gauge.sheets}
    answers = one_more_sheet(gauge, demo(), (), {})
    assert answers
    for answer in answers:
        more = {**used, answer.sheet.name: used.get(answer.sheet.name, 0) + 1}
        orders = (*demo().orders, Order("More", answer.item, answer.adds, line=99))
        here = {need.part for need in gauge.group.needs}
        mine = tuple(order for order in orders if order.item in here)
        again = planned(with_only(demo(), more, mine))
        assert short(again) == {}, answer
