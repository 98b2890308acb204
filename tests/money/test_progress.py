"""How far an order is: cut, planned, offered, and what then is missing, counted by hand."""

from dataclasses import replace

import pytest

from sheetplan.model import Kit, Layout, Order, OrderProgress, OrderState
from sheetplan.money.order_shares import LineProgress, progress
from tests.money.bookmaking import SHEET, grid, plan_of

FRAME = {"plate": 2, "bar": 1}
THREE = Order("H-1", "frame", 3)
LINE = LineProgress(
    THREE, FRAME, cut={"plate": 3, "bar": 1}, bad={"bar": 1}, planned={"plate": 2, "bar": 1},
    offered={"bar": 1},
)  # fmt: skip
"""Three frames take six plates and three bars."""


def test_pieces_that_are_there_are_not_cut_again() -> None:
    assert LINE.pieces == 9
    assert LINE.to_cut == 9 - (3 + 1) - 1, "a bad one is none, and what is planned is still to be cut"


def test_only_what_is_neither_cut_nor_planned_is_missing() -> None:
    assert LINE.missing == (("plate", 1),), "of the bars one is cut, one planned and one offered"
    assert replace(LINE, planned={}).missing == (("plate", 3), ("bar", 1))
    assert replace(LINE, planned={"plate": 9, "bar": 9}).missing == ()


@pytest.mark.parametrize("state", [OrderState.ON_HOLD, OrderState.CANCELLED, OrderState.DONE])
def test_of_an_order_that_is_not_open_nothing_is_wanted(state: OrderState) -> None:
    line = replace(LINE, order=replace(THREE, state=state))
    assert (line.to_cut, line.missing) == (0, ())
    assert line.whole_cut == 1, "what is cut is cut"


def test_an_item_is_whole_when_all_its_parts_are_there() -> None:
    assert (LINE.whole_cut, LINE.whole) == (1, 2)
    assert replace(LINE, cut={"plate": 20, "bar": 20}).whole == 3, "no more than were asked for"
    assert replace(LINE, cut={"bar": 3}, planned={}).whole == 0


def test_a_plan_makes_what_is_wanted_of_each_line() -> None:
    """Six plates for two frames, of which no bar is made, and for three loose plates."""
    orders = [Order("H-1", "frame", 2, line=5), Order("H-2", "plate", 3, line=6)]
    plan = plan_of(
        [Layout("L1", SHEET, tuple(grid("plate", 3, 2, (310, 210))))],
        orders=orders, kits={"frame": Kit("frame", FRAME)},
    )  # fmt: skip
    frames, loose = progress(plan)
    # Whole items first: three loose plates, then three of the four plates that the frames want.
    assert (frames.planned, loose.planned) == ({"plate": 3, "bar": 0}, {"plate": 3})
    assert (frames.missing, loose.missing) == ((("plate", 1), ("bar", 2)), ())
    known = replace(plan, job=replace(plan.job, progress=(OrderProgress(orders[1], {"plate": 1}),)))
    (told,) = progress(known)
    assert (told.order, told.cut, told.planned) == (orders[1], {"plate": 1}, {"plate": 3})
