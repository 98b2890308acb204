"""What is said on orders that are cut already, in part or in full."""

from __future__ import annotations

from sheetplan.app.rack_job import MOST_NAMED, order_notes
from sheetplan.model import Order, Weight
from sheetplan.rack.crediting import Credit
from tests.money.bookmaking import plan_of


def notes(orders: list[Order], cut: dict[str, int]):
    credits = [Credit(order.name, order.item, order.item, cut.get(order.name, 0)) for order in orders]
    return order_notes(plan_of([], orders=orders).job, credits)


def test_all_orders_that_are_cut_in_full_share_one_note() -> None:
    count = MOST_NAMED + 3
    orders = [Order(f"H-{n}", "bar", 4, line=n + 4) for n in range(1, count + 1)]
    cut = {order.name: 4 for order in orders} | {"H-2": 1, "H-3": 0}
    part, full = notes(orders, cut)
    assert (part.row, part.weight) == (6, Weight.NOTE)
    assert "1 of 4 pieces are cut already" in part.what
    assert (full.row, full.weight) == (None, Weight.NOTE)
    assert full.what.startswith(f"{count - 2} order lines are cut in full already")
    assert "H-1 (bar), H-4 (bar)" in full.what
    assert "and 1 more" in full.what


def test_one_order_that_is_cut_in_full_is_told_on_its_row() -> None:
    [full] = notes([Order("H-1", "bar", 4, line=5), Order("H-2", "bar", 4, line=6)], {"H-1": 4})
    assert full.row == 5
    assert "H-1 (bar)" in full.what
