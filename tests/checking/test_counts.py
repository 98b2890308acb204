"""The check of a plan's numbers, fault by fault, each sum done by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from sheetplan.checking import FaultKind
from sheetplan.checking.plans import count_faults, made_by
from sheetplan.model import (
    Kit,
    Layout,
    Order,
    Placement,
    Plan,
    Problem,
    Remnant,
    SheetCount,
    SheetSize,
    Weight,
    rectangle,
)
from tests.money.bookmaking import PARTS, QUARTER, SHEET, plan_of

ORDERS = (Order("H-1", "frame", 2), Order("H-2", "bar", 3, must=False))
KITS = {"frame": Kit("frame", {"plate": 2, "bar": 1})}
GAUGE = "mild steel 1/4 in"
Said = list[tuple[FaultKind, str, str]]


def laid(tag: str, sheet: SheetSize | Remnant = SHEET, repeats: int = 1, **pieces: int) -> Layout:
    places = tuple(Placement(part, 0.0, 0.0) for part, count in pieces.items() for _ in range(count))
    return Layout(tag, sheet, places, repeats)


def plan(*layouts: Layout, stock: Sequence[SheetSize] = (SHEET,)) -> Plan:
    """Two frames that must be made, of two plates and a bar each, and three bars that may wait."""
    return plan_of(layouts or [laid("L1", plate=4, bar=5)], orders=ORDERS, kits=KITS, stock=stock)


def group(of: Plan, **changes: object) -> Plan:
    """The plan with its gauge changed."""
    return replace(of, groups=(replace(of.groups[0], **changes),))


def said(of: Plan) -> Said:
    return [(fault.kind, fault.place, fault.what) for fault in count_faults(of)]


def test_a_plan_that_adds_up() -> None:
    assert said(plan()) == []
    assert made_by(plan(laid("L1", repeats=3, plate=2), laid("L2", plate=1)).groups[0]) == {"plate": 7}


STOPS = Problem("Parts", 3, "D3", "has no drawing", "Give it one.")


def without_need(of: Plan, *orders: int) -> Plan:
    group_plan = of.groups[0]
    needs = tuple(need for need in group_plan.group.needs if need.order not in orders)
    return group(of, group=replace(group_plan.group, needs=needs))


def test_an_order_that_no_gauge_took_up() -> None:
    forgotten = without_need(plan(laid("L1", plate=4, bar=2)), 1)
    assert said(forgotten) == [
        (FaultKind.DEMAND, "H-2", "order H-2 asks for 3 of bar; the plan has taken up 0"),
    ]
    assert said(replace(forgotten, problems=(STOPS,))) == [], "a problem that stops the plan says why"
    for weight in (Weight.NOTE, Weight.LEFT_OUT):
        assert len(said(replace(forgotten, problems=(replace(STOPS, weight=weight),)))) == 1
    assert said(replace(forgotten, problems=(replace(STOPS, weight=Weight.NOTE), STOPS))) == []


def test_an_order_of_which_another_number_was_taken_up_is_a_fault_whatever_the_problems() -> None:
    of = plan()
    needs = tuple(replace(n, pieces=n.pieces + (n.order == 1)) for n in of.groups[0].group.needs)
    other = replace(group(of, group=replace(of.groups[0].group, needs=needs)), problems=(STOPS,))
    assert said(other) == [
        (FaultKind.DEMAND, "H-2", "order H-2 asks for 3 of bar; the plan has taken up 4"),
    ]


def test_a_must_taken_up_as_one_that_may_wait_is_two_faults() -> None:
    of = plan()
    needs = tuple(replace(need, must=True) for need in of.groups[0].group.needs)
    places = [fault[:2] for fault in said(group(of, group=replace(of.groups[0].group, needs=needs)))]
    assert places == [(FaultKind.DEMAND, "H-2"), (FaultKind.DEMAND, "H-2")]


@pytest.mark.parametrize("number", [2, -1])
def test_a_need_of_an_order_that_is_not_there(number: int) -> None:
    of = plan()
    need = replace(of.groups[0].group.needs[-1], order=number, pieces=1)
    more = replace(of.groups[0].group, needs=(*of.groups[0].group.needs, need))
    assert said(group(of, group=more)) == [
        (FaultKind.DEMAND, f"number {number}",
         f"order number {number} asks for 0 of bar; the plan has taken up 1"),
    ]  # fmt: skip


def test_a_tag_of_two_layouts() -> None:
    two = plan(laid("L1", plate=4), laid("L1", bar=5))
    assert said(two) == [(FaultKind.TAG, "L1", "2 layouts have this tag")]


REMNANT = Remnant("R-1", "mild steel", QUARTER, rectangle(900.0, 500.0).outer, value=20.0)


def on_remnants(*layouts: Layout, known: Sequence[Remnant] = (REMNANT,)) -> Plan:
    of = plan(*layouts)
    of = group(of, group=replace(of.groups[0].group, remnants=tuple(known)))
    return replace(of, job=replace(of.job, remnants=tuple(known)))


def test_a_remnant_is_cut_once_and_as_the_book_has_it() -> None:
    once = (laid("L1", plate=4), laid("L2", REMNANT, bar=5))
    assert said(on_remnants(*once)) == []
    other = replace(REMNANT, extra_gap=3.0)
    changed = (FaultKind.REMNANT, "L2", f"remnant R-1 is not as the book has it for {GAUGE}")
    assert said(on_remnants(*once, known=(other,))) == [changed]
    twice = on_remnants(laid("L1", plate=4), laid("L2", REMNANT, bar=3), laid("L3", REMNANT, bar=2))
    assert said(twice) == [(FaultKind.REMNANT, "R-1", "remnant R-1 is cut by 2 layouts")]


def test_a_remnant_of_the_book_that_the_gauge_does_not_have_and_the_other_way() -> None:
    of = on_remnants(laid("L1", plate=4), laid("L2", REMNANT, bar=5))
    changed = [(FaultKind.REMNANT, "L2", f"remnant R-1 is not as the book has it for {GAUGE}")]
    assert said(replace(of, job=replace(of.job, remnants=()))) == changed
    assert said(group(of, group=replace(of.groups[0].group, remnants=()))) == changed


def test_pieces_that_are_missing_have_to_be_stated() -> None:
    few = plan(laid("L1", plate=3, bar=2))
    what = "3 of plate are made, 4 must be; the plan says 0 are short"
    assert said(few) == [(FaultKind.MISSING, GAUGE, what)], "the bars that may wait may be missing"
    assert said(group(few, short={"plate": 1})) == []
    what = "3 of plate are made, 4 must be; the plan says 2 are short"
    assert said(group(few, short={"plate": 2})) == [(FaultKind.MISSING, GAUGE, what)]
    what = "4 of plate are made, 4 must be; the plan says 1 are short"
    assert said(group(plan(), short={"plate": 1})) == [(FaultKind.MISSING, GAUGE, what)]
    nobody = "0 of disc are made, 0 must be; the plan says 1 are short"
    assert said(group(plan(), short={"disc": 1})) == [(FaultKind.MISSING, GAUGE, nobody)]


def test_pieces_beyond_the_orders_are_spare_ones() -> None:
    many = plan(laid("L1", plate=4, bar=6))
    what = "6 of bar are made; 5 are asked for and 0 may be spare"
    assert said(many) == [(FaultKind.SURPLUS, GAUGE, what)]
    spare = {**PARTS, "bar": replace(PARTS["bar"], spare=1)}
    assert said(replace(many, job=replace(many.job, parts=spare))) == []
    alien = plan(laid("L1", plate=4, bar=5, ghost=1))
    what = "1 of ghost are made; 0 are asked for and 0 may be spare"
    assert said(alien) == [(FaultKind.SURPLUS, GAUGE, what)]


SMALL = replace(SHEET, name="3x4", length=1219.2, width=914.4, on_hand=0, price=100.0)


def test_sheets_are_those_of_the_gauge_and_as_many_as_the_layouts_use() -> None:
    strange = plan(laid("L1", plate=4, bar=5), stock=(SHEET, SMALL))
    strange = group(strange, group=replace(strange.groups[0].group, stock=(SMALL,)))
    assert said(strange) == [(FaultKind.STOCK, "L1", f"4x8 is not a sheet of {GAUGE}")]
    uncounted = group(plan(), sheets=())
    what = "4x8: layouts use 1 sheets, the plan says 0"
    assert said(uncounted) == [(FaultKind.STOCK, GAUGE, what)]
    both = plan(laid("L1", plate=4, bar=5), stock=(SHEET, SMALL))
    both = group(both, sheets=(*both.groups[0].sheets, SheetCount(SMALL, 1, 0, 1)))
    what = "3x4: layouts use 0 sheets, the plan says 1"
    assert said(both) == [(FaultKind.STOCK, GAUGE, what)]


def counted(used: int, from_rack: int, to_buy: int, *, on_hand: int = 1, multiple: int = 1) -> Said:
    """What is said of the numbers of one size, of which the layouts use as many as is said."""
    sheet = replace(SHEET, on_hand=on_hand, multiple=multiple)
    one = SheetCount(sheet, used, from_rack, to_buy)
    layouts = (replace(laid("L1", sheet), repeats=used),) if used > 0 else ()
    of = replace(plan(stock=(sheet,)), job=replace(plan().job, orders=()))
    bare = replace(of.groups[0].group, needs=())
    return said(group(of, layouts=layouts, sheets=(one,), group=bare))


@pytest.mark.parametrize(
    ("used", "from_rack", "to_buy", "more"),
    [(3, 1, 2, {}), (1, 1, 0, {}), (3, 0, 3, {"on_hand": 0}), (3, 1, 4, {"multiple": 4}),
     (6, 1, 8, {"multiple": 4}), (0, 0, 0, {"on_hand": 0})],
)  # fmt: skip
def test_counts_that_add_up(used: int, from_rack: int, to_buy: int, more: dict[str, int]) -> None:
    assert counted(used, from_rack, to_buy, **more) == []


CANNOT = "{} used, {} from the rack and {} to buy cannot be"
LACK = "{} used, {} from the rack, yet only {} to buy"
MULTIPLE, LOT = "{} to buy is not a multiple of {}", "{} to buy is a whole order multiple more than needed"
RACK = "{} of {} come from the rack, which has {}"


@pytest.mark.parametrize(
    ("used", "from_rack", "to_buy", "more", "what"),
    [
        (3, 1, 1, {}, [LACK.format(3, 1, 1)]),
        (3, 1, 3, {}, [LOT.format(3)]),
        (3, 1, 6, {"multiple": 4}, [MULTIPLE.format(6, 4), LOT.format(6)]),
        (3, 1, 5, {"multiple": 4}, [MULTIPLE.format(5, 4)]),
        (3, 1, 8, {"multiple": 4}, [LOT.format(8)]),
        (1, 2, 0, {"on_hand": 1}, [CANNOT.format(1, 2, 0), LOT.format(0)]),
        (1, 1, -1, {}, [CANNOT.format(1, 1, -1), LACK.format(1, 1, -1)]),
        (1, -1, 2, {"on_hand": 0}, [CANNOT.format(1, -1, 2)]),
    ],
)
def test_counts_that_cannot_be(
    used: int, from_rack: int, to_buy: int, more: dict[str, int], what: list[str]
) -> None:
    faults = counted(used, from_rack, to_buy, **more)
    assert [fault for fault in faults if fault[1] == GAUGE] == [
        (FaultKind.STOCK, GAUGE, f"4x8: {one}") for one in what
    ]


@pytest.mark.parametrize(
    ("used", "from_rack", "to_buy", "on_hand", "what"),
    [(3, 1, 2, 2, [RACK.format(1, 3, 2)]), (3, 2, 1, 1, [RACK.format(2, 3, 1)]),
     (2, 1, 1, 3, [RACK.format(1, 2, 3)]), (3, 3, 0, 3, []), (2, 2, 0, 3, [])],
)  # fmt: skip
def test_what_lies_in_the_rack_is_used_first_and_no_more_of_it(
    used: int, from_rack: int, to_buy: int, on_hand: int, what: list[str]
) -> None:
    assert counted(used, from_rack, to_buy, on_hand=on_hand) == [
        (FaultKind.STOCK, "4x8", one) for one in what
    ]


@pytest.mark.parametrize(("limit", "faulty"), [(None, False), (2, False), (1, True), (0, True)])
def test_no_more_is_bought_than_the_supplier_has(limit: int | None, faulty: bool) -> None:
    sheet = replace(SHEET, buy_limit=limit)
    of = plan(replace(laid("L1", sheet, 3), placements=()), stock=(sheet,))
    here = [fault for fault in said(of) if fault[0] is FaultKind.STOCK]
    what = f"2 to buy; at most {limit} can be bought"
    assert here == ([(FaultKind.STOCK, "4x8", what)] if faulty else [])


def test_the_rack_is_one_for_all_gauges() -> None:
    """Two gauges that take the one sheet of the rack each take it twice."""
    of = plan()
    second = replace(of.groups[0], layouts=(laid("L2", plate=4, bar=5),))
    twice = replace(of, groups=(of.groups[0], second))
    assert (FaultKind.STOCK, "4x8", RACK.format(2, 2, 1)) in said(twice)
