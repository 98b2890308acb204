"""Moves between cuts: by hand, and never shorter than the farthest start."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.model import Corner, Layout, Placement, Settings
from sheetplan.money.figures import plan_figures
from sheetplan.money.layout_figures import moves_length
from sheetplan.money.order_shares import allocate, cost_shares
from tests.money.bookmaking import PARTS, RULE, SHEET, grid, plan_of

MOVING = replace(RULE, travel=6000.0)


def test_two_plates_by_hand() -> None:
    layout = Layout("L1", SHEET, (Placement("plate", 10.0, 0.0), Placement("plate", 330.0, 0.0)))
    # From the corner 10 mm to the first plate's start, then 320 mm to the second's.
    assert moves_length(layout, PARTS) == pytest.approx(330.0)


def test_a_hole_has_a_move_of_its_own() -> None:
    one = moves_length(Layout("L1", SHEET, (Placement("washer", 0.0, 0.0),)), PARTS)
    # The rim starts at (0, 40), the hole at (25, 40).
    assert one == pytest.approx(40.0 + 25.0)


def test_the_datum_corner_is_where_the_head_starts() -> None:
    layout = Layout("L1", SHEET, (Placement("plate", 0.0, 0.0),))
    assert moves_length(layout, PARTS, Corner.LOWER_LEFT) == pytest.approx(0.0)
    far = moves_length(layout, PARTS, Corner.UPPER_RIGHT)
    assert far == pytest.approx(math.hypot(SHEET.length, SHEET.width))


@given(st.lists(st.tuples(st.floats(0.0, 2000.0), st.floats(0.0, 900.0)), min_size=1, max_size=12))
def test_moves_reach_every_start(places: list[tuple[float, float]]) -> None:
    layout = Layout("L1", SHEET, tuple(Placement("plate", x, y) for x, y in places))
    farthest = max(math.hypot(x, y) for x, y in places)
    longest = sum(math.hypot(2000.0, 900.0) for _ in places) + 1.0
    assert farthest - 1e-6 <= moves_length(layout, PARTS) <= longest


def test_moves_take_hours_and_money_and_parts_pay_for_them() -> None:
    plates = grid("plate", 3, 2, (310, 210))
    layout = Layout("L1", SHEET, (*plates, Placement("washer", 1500.0, 10.0)), 4)
    still, moving = plan_of([layout]), plan_of([layout], rule=MOVING)
    before, after = plan_figures(still).total, plan_figures(moving).total
    assert after.work.moves == pytest.approx(4 * moves_length(layout, PARTS))
    assert after.hours == pytest.approx(before.hours + after.work.moves / 6000.0 / 60.0)
    assert after.money.cutting == pytest.approx(before.money.cutting + (after.hours - before.hours) * 90.0)
    shares = cost_shares(moving, plan_figures(moving), allocate(moving))
    assert shares.total == pytest.approx(after.money.total, rel=1e-12)
    # Eight pierces on a sheet, two of them the washer's.
    without = cost_shares(still, plan_figures(still), allocate(still))
    more = shares.parts["washer"].cutting - without.parts["washer"].cutting
    assert more == pytest.approx((after.money.cutting - before.money.cutting) * 2 / 8)


def test_without_a_feed_moves_are_not_counted() -> None:
    layout = Layout("L1", SHEET, (Placement("plate", 500.0, 0.0),))
    used_up = Settings(least_remnant_length=9999.0)
    figures = plan_figures(plan_of([layout], rule=replace(MOVING, feed=None), settings=used_up)).total
    assert figures.hours is None
    assert figures.money.cutting == pytest.approx(RULE.pierce_cost)
