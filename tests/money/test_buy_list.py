from dataclasses import replace

import pytest

from sheetplan.model import GroupPlan, Kit, Layout, Order, Remnant, SheetSize, rectangle
from sheetplan.money.buy_list import buy_list, compare_sizes, supplier_totals
from sheetplan.money.figures import plan_figures
from sheetplan.planning.order_book import OneSize
from sheetplan.trade.units import KG_PER_POUND
from tests.money.bookmaking import INCH, QUARTER, SHEET, grid, plan_of

BIG = SheetSize("5x10", "mild steel", QUARTER, 120 * INCH, 60 * INCH, price=500.0, multiple=4)
KITS = {"cleat set": Kit("cleat set", {"plate": 2, "washer": 4})}
ORDERS = [
    Order("H-1", "cleat set", 9, due="2026-11-20"),
    Order("H-2", "plate", 5, due="2026-11-04"),
    Order("H-3", "washer", 5),
    Order("H-4", "bar", 5, due="2026-11-01"),
]


def month():
    return plan_of(
        [
            Layout("L1", SHEET, tuple(grid("plate", 7, 5, (310, 210))), 3),
            Layout("L2", BIG, tuple(grid("washer", 10, 5, (90, 90))), 2),
        ],
        stock=(SHEET, BIG), orders=ORDERS, kits=KITS,
    )  # fmt: skip


def test_lines_by_supplier() -> None:
    first, second = buy_list(month())
    assert (first.supplier, first.sheet, first.count, first.for_stock) == ("Quay Metals", "4x8", 2, 0)
    assert (second.supplier, second.sheet, second.count, second.for_stock) == ("", "5x10", 4, 2)
    assert first.orders == ("H-1", "H-2")
    assert first.needed_by == "2026-11-04"
    assert second.orders == ("H-1", "H-3")
    assert second.needed_by == "2026-11-20"
    assert first.total_price == 640.0
    # Source: theoretical weight of 1/4 in steel plate, 10.21 lb/ft2.
    assert first.total_weight / KG_PER_POUND == pytest.approx(2 * 32 * 10.21, rel=1e-3)


def test_an_order_that_is_made_if_it_fits_causes_no_buying() -> None:
    orders = [replace(ORDERS[0], must=False), *ORDERS[1:]]
    plan = month()
    needs = tuple(replace(need, must=need.order != 0) for need in plan.groups[0].group.needs)
    group = replace(plan.groups[0].group, needs=needs)
    plan = replace(
        plan, job=replace(plan.job, orders=tuple(orders)), groups=(replace(plan.groups[0], group=group),)
    )
    first, second = buy_list(plan)
    assert (first.orders, second.orders) == (("H-2",), ("H-3",))
    assert (first.needed_by, second.needed_by) == ("2026-11-04", "")


def test_totals_agree_with_the_figures_to_the_cent() -> None:
    plan = month()
    lines = buy_list(plan)
    totals = supplier_totals(lines)
    assert sum(total.price for total in totals) == pytest.approx(plan_figures(plan).total.money.to_pay)
    assert sum(total.sheets for total in totals) == plan_figures(plan).total.sheets_to_buy
    assert [total.needed_by for total in totals] == ["2026-11-04", "2026-11-20"]
    assert totals[1].weight == pytest.approx(4 * lines[1].weight)


def test_nothing_to_buy() -> None:
    rich = replace(SHEET, on_hand=9)
    assert buy_list(plan_of([Layout("L1", rich, tuple(grid("plate", 1, 1, (0, 0))))], stock=(rich,))) == ()


def one(plan: GroupPlan) -> OneSize:
    return OneSize(plan.group.label, SHEET, plan)


def test_sizes_side_by_side() -> None:
    on_big = Layout("L1", BIG, tuple(grid("plate", 9, 7, (310, 210))), 5)
    on_small = Layout("L1", SHEET, tuple(grid("plate", 7, 5, (310, 210))), 9)
    chosen = plan_of([on_big], stock=(BIG,)).groups[0]
    small = plan_of([on_small], stock=(SHEET,)).groups[0]
    short = replace(small, short={"plate": 3}, cost=1.0)
    first, second = compare_sizes(chosen, [one(short), one(small)])
    assert (first.length, first.width) == (96 * INCH, 48 * INCH)
    assert first.saving == pytest.approx(9 * 320 - 5 * 500)
    assert first.weight_saving == pytest.approx((9 * 32 - 5 * 50) * 10.21 * KG_PER_POUND, rel=1e-3)
    assert (first.sheets, first.short, second.short) == (9, 0, 3)


def test_what_is_found_with_one_size_is_no_more_than_what_is_proven_of_it() -> None:
    on_big = Layout("L1", BIG, tuple(grid("plate", 9, 7, (310, 210))), 5)
    on_small = Layout("L1", SHEET, tuple(grid("plate", 7, 5, (310, 210))), 9)
    chosen = plan_of([on_big], stock=(BIG,)).groups[0]
    small = one(plan_of([on_small], stock=(SHEET,)).groups[0])
    [unproven] = compare_sizes(chosen, [small])
    assert (unproven.above, unproven.saving_at_least) == (None, 0.0)
    [near] = compare_sizes(chosen, [replace(small, at_least=8.5 * 320)])
    assert near.above == pytest.approx(9 / 8.5 - 1)
    assert near.saving_at_least == pytest.approx(8.5 * 320 - 5 * 500)
    [met] = compare_sizes(chosen, [replace(small, at_least=9.0 * 320)])
    assert (met.above, met.saving_at_least) == (0.0, pytest.approx(met.saving))
    [below] = compare_sizes(chosen, [replace(small, at_least=7 * 320)])
    assert (below.above, below.saving_at_least) == (None, 0.0), "29 per cent below: too little is proven"


def test_a_size_that_was_not_searched_comes_last() -> None:
    on_big = Layout("L1", BIG, tuple(grid("plate", 9, 7, (310, 210))), 5)
    chosen = plan_of([on_big], stock=(BIG,)).groups[0]
    near = replace(one(replace(chosen, cost=2501.0)), searched=False)
    far = one(replace(chosen, cost=9999.0))
    assert [found.searched for found in compare_sizes(chosen, [near, far])] == [True, False]


def test_remnants_count_in_the_sheets_and_the_weight_of_both_plans() -> None:
    edge = rectangle(48 * INCH, 36 * INCH).outer
    remnant = Remnant("R-1", "mild steel", QUARTER, edge, value=60.0)
    small = Layout("L1", SHEET, tuple(grid("plate", 7, 5, (310, 210))), 2)
    on_remnant = Layout("L2", remnant, tuple(grid("plate", 3, 4, (310, 210))))
    big = Layout("L1", BIG, tuple(grid("plate", 9, 7, (310, 210))))
    without = plan_of([big], stock=(BIG,)).groups[0]
    with_it = plan_of([small, on_remnant], stock=(SHEET,)).groups[0]
    [found] = compare_sizes(without, [one(with_it)])
    # Source: theoretical weight of 1/4 in steel plate, 10.21 lb/ft2; 32, 12 and 50 ft2.
    assert found.sheets == 3
    assert found.weight_saving == pytest.approx((2 * 32 + 12 - 50) * 10.21 * KG_PER_POUND, rel=1e-3)
    assert found.weight_saving == pytest.approx(
        plan_figures(plan_of([small, on_remnant])).total.sheet_weight
        - plan_figures(plan_of([big], stock=(BIG,))).total.sheet_weight
    )
    [turned_round] = compare_sizes(with_it, [OneSize("", BIG, without)])
    assert turned_round.weight_saving == pytest.approx(-found.weight_saving)
    assert turned_round.sheets == 1
