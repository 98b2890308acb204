from dataclasses import replace

import pytest

from sheetplan.model import Kit, Layout, Order, SheetSize
from sheetplan.money.buy_list import buy_list, supplier_totals
from sheetplan.money.figures import plan_figures
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
