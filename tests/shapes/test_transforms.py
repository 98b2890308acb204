import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.model.outline import Loop, Outline, Stroke, rectangle
from sheetplan.model.plan import Placement
from sheetplan.shapes import (
    area,
    box,
    cut_length,
    mirror,
    move,
    oriented,
    place,
    reverse,
    same_loop,
    settle,
    signed_area,
    size,
    turn,
)
from tests.shapes.strategies import outlines, star_loops


def test_quarter_turns_leave_no_dust() -> None:
    turned = turn(rectangle(48.0, 96.0), 90.0)
    assert turned.outer.vertices == ((0.0, 0.0, 0.0), (0.0, 48.0, 0.0), (-96.0, 48.0, 0.0), (-96.0, 0.0, 0.0))
    assert turn(rectangle(1.0, 2.0), -90.0) == turn(rectangle(1.0, 2.0), 270.0)
    assert turn(rectangle(1.0, 2.0), 360.0) == rectangle(1.0, 2.0)


def test_place_mirrors_then_turns_then_moves() -> None:
    shape = Loop(((0.0, 0.0, 0.0), (2.0, 0.0, 0.5), (0.0, 1.0, 0.0)))
    placed = place(shape, Placement("A", 10.0, 20.0, 90.0, mirrored=True))
    by_hand = move(turn(mirror(shape), 90.0), 10.0, 20.0)
    assert placed == by_hand
    # x to -x puts (2, 0) at (-2, 0); a quarter turn puts that at (0, -2); then the move.
    assert placed.vertices[1] == (10.0, 18.0, -0.5)


def test_marks_travel_with_the_outline() -> None:
    marked = Outline(rectangle(10.0, 5.0).outer, (), (Stroke(((1.0, 1.0, 0.0), (2.0, 1.0, 0.0))),))
    assert move(marked, 3.0, 4.0).marks[0].vertices == ((4.0, 5.0, 0.0), (5.0, 5.0, 0.0))


def test_settle_starts_the_box_at_zero() -> None:
    disc = Outline(Loop(((5.0, 7.0, 1.0), (9.0, 7.0, 1.0))))
    assert box(settle(disc)) == (0.0, 0.0, 4.0, 4.0)
    assert settle(rectangle(3.0, 2.0)) == rectangle(3.0, 2.0)


@given(outlines(), st.floats(-720.0, 720.0), st.floats(-5e3, 5e3), st.floats(-5e3, 5e3), st.booleans())
@settings(max_examples=60, deadline=None)
def test_placing_keeps_area_and_cut_length(
    outline: Outline, degrees: float, x: float, y: float, mirrored: bool
) -> None:
    placed = place(outline, Placement("A", x, y, degrees, mirrored))
    assert area(placed) == pytest.approx(area(outline), rel=1e-10)
    assert cut_length(placed) == pytest.approx(cut_length(outline), rel=1e-10)
    sign = -1.0 if mirrored else 1.0
    assert signed_area(placed.outer) == pytest.approx(sign * signed_area(outline.outer), rel=1e-10)


@given(star_loops())
@settings(max_examples=50, deadline=None)
def test_reversing(loop: Loop) -> None:
    assert signed_area(reverse(loop)) == pytest.approx(-signed_area(loop), rel=1e-12)
    assert reverse(reverse(loop)) == loop
    assert same_loop(reverse(loop), loop)
    assert signed_area(oriented(loop, counter_clockwise=False)) < 0 < signed_area(oriented(loop))
    assert box(reverse(loop)) == pytest.approx(box(loop))


@given(star_loops())
@settings(max_examples=30, deadline=None)
def test_quarter_turns_swap_the_box(loop: Loop) -> None:
    length, width = size(loop)
    assert size(turn(loop, 90.0)) == pytest.approx((width, length), abs=1e-9)
