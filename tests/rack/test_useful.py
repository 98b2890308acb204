"""The largest free rectangle and metal in holes, against brute force and shapely."""

import itertools

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.model import Loop, Settings, rectangle
from sheetplan.rack.insets import drawn_in
from sheetplan.rack.useful import free_rectangle, is_useful, room_for_a_disc
from sheetplan.shapes import Box, area, box, to_polygon
from tests.rack.shapes_of_cuts import block, circle

SHEET = rectangle(100, 60).outer


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 20), st.integers(0, 12), st.integers(2, 14)), max_size=25),
    st.integers(10, 60),
    st.booleans(),
)
def test_the_quick_look_never_hides_a_useful_rectangle(
    spots: list[tuple[int, int, int]], least: int, odd: bool
) -> None:
    """Whatever the slow look finds, the quick one lets through; and it does turn sheets away."""
    edge = Loop(((0, 0, 0), (1000, 0, 0), (800, 600, 0), (0, 600, 0))) if odd else rectangle(1000, 600).outer
    cuts = [circle(50 * x, 50 * y, 5 * r) for x, y, r in spots]
    asked = Settings(least_remnant_length=5 * least, least_remnant_width=8 * least)
    if is_useful(free_rectangle(edge, cuts, 5.0), asked):
        assert room_for_a_disc(edge, cuts, 5.0, asked)


def test_the_quick_look_turns_a_full_sheet_away() -> None:
    cuts = [circle(50 + 100 * x, 50 + 100 * y, 45) for x in range(10) for y in range(6)]
    assert not room_for_a_disc(rectangle(1000, 600).outer, cuts, 5.0, Settings())


def test_an_empty_sheet_is_free_whole() -> None:
    assert free_rectangle(SHEET, [], 5) == Box(0, 0, 100, 60)


def test_a_sheet_cut_at_one_end() -> None:
    assert free_rectangle(SHEET, [block(2, 2, 38, 58)], 4) == Box(42, 0, 100, 60)


def test_nothing_is_free_where_everything_is_cut() -> None:
    assert free_rectangle(SHEET, [block(-5, -5, 105, 65)], 1) is None


def test_a_sheet_with_a_corner_missing() -> None:
    # By hand: an L of 100 x 60 without its upper right 40 x 30: 100 x 30 = 3,000 against 60 x 60.
    ell = Loop(((0, 0, 0), (100, 0, 0), (100, 30, 0), (60, 30, 0), (60, 60, 0), (0, 60, 0)))
    assert free_rectangle(ell, [], 5) == Box(0, 0, 60, 60)


CUTS = st.lists(
    st.tuples(st.integers(0, 18), st.integers(0, 10), st.integers(1, 8), st.integers(1, 6)), max_size=6
)


@settings(max_examples=80, deadline=None)
@given(CUTS, st.integers(0, 2))
def test_no_larger_rectangle_is_free(cuts: list[tuple[int, int, int, int]], gap: int) -> None:
    """Against every rectangle with whole corners, counted out."""
    length, width = 20, 12
    loops = [block(x, y, x + w, y + h) for x, y, w, h in cuts]
    found = free_rectangle(rectangle(length, width).outer, loops, gap)
    blocked = [(x - gap, y - gap, x + w + gap, y + h + gap) for x, y, w, h in cuts]

    def free(left: int, bottom: int, right: int, top: int) -> bool:
        return all(right <= b[0] or left >= b[2] or top <= b[1] or bottom >= b[3] for b in blocked)

    best = max(
        (
            (x1 - x0) * (y1 - y0)
            for x0, x1 in itertools.combinations(range(length + 1), 2)
            for y0, y1 in itertools.combinations(range(width + 1), 2)
            if free(x0, y0, x1, y1)
        ),
        default=0,
    )
    assert (found.length * found.width if found else 0) == pytest.approx(best)
    if found:
        assert free(*map(round, found))


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.floats(10, 190), st.floats(10, 90), st.floats(2, 30)), max_size=5))
def test_on_a_round_sheet_the_rectangle_lies_on_metal(cuts: list[tuple[float, float, float]]) -> None:
    edge = circle(100, 50, 48)
    found = free_rectangle(edge, [circle(*cut) for cut in cuts], 3)
    if found:
        metal = shapely.Point(100, 50).buffer(48.02, quad_segs=256)
        taken = shapely.union_all([shapely.Point(x, y).buffer(r + 2.9, quad_segs=64) for x, y, r in cuts])
        rest = shapely.box(*found)
        assert metal.buffer(1e-3).covers(rest)
        assert rest.intersection(taken).area < 1e-3


def test_room_within_the_box_of_a_triangle_is_found() -> None:
    # By hand: below the hypotenuse from (0, 60) to (100, 60 - 60) nothing is cut but the triangle on the
    # other side; the largest rectangle in a right triangle has half its sides, 50 x 30.
    triangle = Loop(((0, 60, 0), (100, 0, 0), (100, 60, 0)))
    found = free_rectangle(SHEET, [triangle], 0.0)
    assert found is not None
    assert found.length * found.width == pytest.approx(1500, rel=0.02)
    assert found.length * found.width <= 1500


def test_useful_whichever_way_round() -> None:
    asked = Settings(least_remnant_length=300, least_remnant_width=100)
    assert is_useful(Box(0, 0, 100, 300), asked)
    assert is_useful(Box(0, 0, 300, 100), asked)
    assert not is_useful(Box(0, 0, 299, 100), asked)
    assert not is_useful(Box(0, 0, 900, 99), asked)
    assert not is_useful(None, asked)


def test_metal_in_a_round_hole_is_the_hole_less_the_kerf() -> None:
    assert box(drawn_in(circle(50, 50, 20), 1.5)) == pytest.approx((31.5, 31.5, 68.5, 68.5))
    assert drawn_in(circle(50, 50, 1), 1.5) is None


def test_metal_in_a_square_hole() -> None:
    assert drawn_in(block(10, 10, 30, 20), 2) == block(12, 12, 28, 18)
    assert drawn_in(block(10, 10, 30, 14), 2) is None


def test_metal_in_an_odd_hole_is_never_too_large() -> None:
    slot = Loop(((0, 0, 0), (60, 0, 1.0), (60, 20, 0), (0, 20, 1.0)))
    inner = drawn_in(slot, 2.0)
    truth = to_polygon(slot, 1e-4).buffer(-2.0, quad_segs=64)
    assert truth.buffer(1e-3).covers(to_polygon(inner, 1e-4))
    assert area(inner) == pytest.approx(truth.area, rel=0.01)
