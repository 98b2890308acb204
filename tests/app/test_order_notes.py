"""What is said on orders that are cut already, in part or in full."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sheetplan.app.check import check_tables
from sheetplan.app.rack.known import MOST_NAMED, order_notes
from sheetplan.model import Kit, Order, Weight
from sheetplan.rack.step import Credit
from tests.money.bookmaking import plan_of
from tests.nasty.books.plain import plain_rows, tables_of


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


def test_a_kit_is_cut_in_full_only_when_every_part_of_it_is() -> None:
    """An order cut down from six kits to four: twelve plates lie there, and not one brace."""
    job = plan_of([], orders=[Order("H-1", "frame", 4, line=5)]).job
    job = replace(job, kits={"frame": Kit("frame", {"plate": 2, "brace": 1})})
    [note] = order_notes(job, [Credit("H-1", "frame", "plate", 12)])
    assert "8 of 12 pieces are cut already" in note.what
    [note] = order_notes(job, [Credit("H-1", "frame", "plate", 12), Credit("H-1", "frame", "brace", 4)])
    assert "cut in full already" in note.what


@pytest.mark.parametrize(("state", "told"), [("open", True), ("done", False), ("cancelled", False)])
def test_an_order_asked_for_twice_is_told_where_both_rows_count(state: str, told: bool) -> None:
    rows = plain_rows()
    first = rows["Orders"][0]
    rows["Orders"] += [{**first, "Quantity": 7}]
    first["State"] = state
    problems = check_tables(tables_of(rows)).problems
    assert any("already; both count" in problem.what for problem in problems) is told
