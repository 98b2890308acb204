"""The largest free rectangle and metal in holes, against brute force and shapely."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sheetplan.model import Loop, Settings, rectangle
from sheetplan.rack.cut import drawn_in
from sheetplan.rack.free_space import (
    Taken,
    _cells_within,
    free_rectangle,
    is_useful,
    room_for_a_disc,
    useful_rectangle,
)
from sheetplan.shapes import Box, area, box, to_polygon
from sheetplan.trade.units import SAME_LENGTH_MM
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
        assert room_for_a_disc(edge, [Taken(cut) for cut in cuts], 5.0, asked)


def test_the_quick_look_turns_a_full_sheet_away() -> None:
    cuts = [circle(50 + 100 * x, 50 + 100 * y, 45) for x in range(10) for y in range(6)]
    assert not room_for_a_disc(rectangle(1000, 600).outer, [Taken(cut) for cut in cuts], 5.0, Settings())


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


TURNS = [(1, 1), (-1, 1), (1, -1), (-1, -1)]
"""Which way a shape drawn from the origin lies."""


def lying(points: list[tuple[float, float]], way: tuple[int, int]) -> Loop:
    return Loop(tuple((way[0] * x + 2000.0, way[1] * y + 1000.0, 0.0) for x, y in points))


def room_on(edge: Loop, *cuts: Loop, gap: float = 0.0) -> float:
    """Area of the rectangle found; it must lie on the metal and keep the gap, by shapely."""
    found = free_rectangle(edge, cuts, gap)
    if found is None:
        return 0.0
    metal = to_polygon(edge, 1e-4).buffer(2 * SAME_LENGTH_MM)
    assert metal.covers(shapely.box(*found))
    for cut in cuts:
        assert to_polygon(cut, 1e-4).distance(shapely.box(*found)) >= gap - 2 * SAME_LENGTH_MM
    return found.length * found.width


@settings(max_examples=25, deadline=None)
@given(st.floats(50, 2000), st.floats(50, 2000), st.sampled_from(TURNS))
def test_in_a_right_triangle_half_its_metal(a: float, b: float, way: tuple[int, int]) -> None:
    # By calculus: legs a and b along the axes; a corner on the hypotenuse at (x, b - b x / a) gives
    # b (x - x^2 / a), whose slope b (1 - 2 x / a) is 0 at x = a / 2: a b / 4, half of a b / 2.
    assert room_on(lying([(0, 0), (a, 0), (0, b)], way)) == pytest.approx(a * b / 4, rel=EXACT)


@settings(max_examples=25, deadline=None)
@given(st.floats(50, 2000), st.floats(50, 2000), st.booleans(), st.sampled_from(TURNS))
def test_in_an_isosceles_triangle_half_its_metal(
    base: float, height: float, on_side: bool, way: tuple[int, int]
) -> None:
    # By calculus: a rectangle y high under the apex is base (1 - y / height) long; y base (1 - y / height)
    # is largest at y = height / 2: base height / 4, half of base height / 2.
    points = [(0.0, 0.0), (base, 0.0), (base / 2.0, height)]
    points = [(y, x) for x, y in points] if on_side else points
    assert room_on(lying(points, way)) == pytest.approx(base * height / 4, rel=EXACT)


@settings(max_examples=60, deadline=None)
@example(228.0, 0.46875, 50.0, 0.5, (1, -1))
@given(
    st.floats(100, 2000), st.floats(0.1, 0.95), st.floats(50, 1500), st.floats(0.0, 1.0),
    st.sampled_from(TURNS),
)  # fmt: skip
def test_in_a_trapezium(base: float, share: float, height: float, lean: float, way: tuple[int, int]) -> None:
    # By calculus: y above the base the trapezium is w(y) = a - (a - c) y / h long, and wherever the top lies
    # over the base the rectangle can stand below it. y w(y) has slope a - 2 (a - c) y / h, 0 at
    # y = a h / (2 (a - c)): a^2 h / (4 (a - c)) where that is below h, so c < a / 2; else c h.
    top = share * base
    start = lean * (base - top)
    edge = lying([(0, 0), (base, 0), (start + top, height), (start, height)], way)
    largest = base**2 * height / (4 * (base - top)) if share < 0.5 else top * height
    assert room_on(edge) == pytest.approx(largest, rel=EXACT)


def test_in_a_tilted_square_half_its_metal() -> None:
    # By calculus: |x| + |y| <= d holds 4 x y with x + y = d, largest at x = y: d^2 of 2 d^2.
    edge = Loop(((500, 0, 0), (1000, 500, 0), (500, 1000, 0), (0, 500, 0)))
    assert room_on(edge) == pytest.approx(500.0**2, rel=EXACT)


@pytest.mark.parametrize("radius", [40.0, 300.0])
def test_in_a_disc_the_square(radius: float) -> None:
    # By calculus: 4 r^2 cos a sin a = 2 r^2 sin 2a is largest at 45 degrees: 2 r^2. The edge is flattened
    # inwards by up to 0.01 mm.
    assert room_on(circle(400, 400, radius)) == pytest.approx(2 * radius**2, rel=4 * 0.01 / radius)


def test_a_triangle_with_a_cut_in_its_corner() -> None:
    # By calculus: legs 1000; the corner 200 x 200 and a gap of 10 are gone. Beside it the free rectangle
    # begins at 210: (x - 210)(1000 - x), largest at x = 605: 395^2 = 156,025.
    edge = Loop(((0, 0, 0), (1000, 0, 0), (0, 1000, 0)))
    assert room_on(edge, block(0, 0, 200, 200), gap=10.0) == pytest.approx(395.0**2, rel=2e-4)


def test_a_triangle_with_a_round_cut_in_its_corner() -> None:
    # As above: from a disc's gap outwards, at 190 + 10 from its middle in the corner.
    edge = Loop(((0, 0, 0), (1000, 0, 0), (0, 1000, 0)))
    assert room_on(edge, circle(0, 0, 190), gap=10.0) == pytest.approx(400.0**2, rel=2e-4)


def test_a_triangle_is_useful_by_its_room() -> None:
    edge = Loop(((0, 0, 0), (700, 0, 0), (0, 700, 0)))
    asked = Settings(least_remnant_length=349.0, least_remnant_width=349.0)
    room = useful_rectangle(edge, [], 5.0, asked)
    assert room == pytest.approx((0, 0, 350, 350), abs=0.5)
    assert useful_rectangle(edge, [], 5.0, replace(asked, least_remnant_length=352.0)) is None


EXACT = 1e-5
"""In convex room the answer may be smaller by this share: ten times `GAP`."""


def spiked(rng: np.random.Generator) -> Loop:
    """A star-shaped loop of straight edges with spikes and notches, in a square of 1000."""
    while True:
        turns = np.sort(rng.uniform(0.0, 2.0 * math.pi, rng.integers(4, 15)))
        reach = rng.uniform(150.0, 500.0, len(turns))
        points = np.column_stack((500.0 + reach * np.cos(turns), 500.0 + reach * np.sin(turns)))
        if shapely.Polygon(points).is_valid and shapely.Polygon(points).area > 50_000.0:
            return Loop(tuple((float(x), float(y), 0.0) for x, y in points))


def counted_out(metal: shapely.Geometry, lines: int) -> float:
    """The largest rectangle on even lines over a square of 1000, of all pairs of lines."""
    at = np.linspace(0.0, 1000.0, lines)
    shapely.prepare(metal)
    free = shapely.covers(metal, shapely.box(at[:-1, None], at[None, :-1], at[1:, None], at[None, 1:]))
    best = 0
    for first in range(lines - 1):
        open_rows = np.ones(lines - 1, bool)
        for last in range(first, lines - 1):
            open_rows &= free[last]
            starts = np.flatnonzero(np.diff(np.concatenate(([0], open_rows, [0]))) == 1)
            ends = np.flatnonzero(np.diff(np.concatenate(([0], open_rows, [0]))) == -1)
            best = max(best, (last - first + 1) * int((ends - starts).max(initial=0)))
    return best * (1000.0 / (lines - 1)) ** 2


def test_on_random_shapes_no_larger_one_is_counted_out() -> None:
    rng = np.random.default_rng(4)
    shares = []
    for number in range(40):
        edge = spiked(rng)
        discs = [(*rng.uniform(200, 800, 2), rng.uniform(20, 80)) for _ in range(number % 4)]
        gone = [shapely.Point(x, y).buffer(radius + 5.0, quad_segs=64) for x, y, radius in discs]
        metal = to_polygon(edge, 0.01).difference(shapely.union_all(gone))
        found = room_on(edge, *(circle(*disc) for disc in discs), gap=5.0)
        shares.append(found / counted_out(metal, 81))
    assert min(shares) >= 0.97  # a place passed over
    assert sum(share < 1.0 for share in shares) <= 1


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


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(0, 24), st.integers(1, 9)), min_size=1, max_size=5),
    st.lists(st.integers(0, 400_000).map(lambda n: n / 1000.0), min_size=2, max_size=30, unique=True),
    st.lists(st.integers(0, 240_000).map(lambda n: n / 1000.0), min_size=2, max_size=30, unique=True),
)
def test_cells_asked_about_in_blocks_are_those_asked_about_one_by_one(
    spots: list[tuple[int, int, int]], across: list[float], up: list[float]
) -> None:
    xs, ys = np.array(sorted(across)), np.array(sorted(up))
    room = shapely.box(0.0, 0.0, 400.0, 240.0).difference(
        shapely.union_all([to_polygon(circle(10.0 * x, 10.0 * y, 5.0 * r), 0.1) for x, y, r in spots])
    )
    in_x, in_y = (np.minimum(SAME_LENGTH_MM, np.diff(lines) / 4.0) for lines in (xs, ys))
    each = [
        [
            shapely.covers(room, shapely.box(xs[i] + in_x[i], ys[j] + in_y[j], xs[i + 1] - in_x[i],
                                             ys[j + 1] - in_y[j]))
            for i in range(len(xs) - 1)
        ]
        for j in range(len(ys) - 1)
    ]  # fmt: skip
    assert _cells_within(room, xs, ys).tolist() == np.array(each, np.bool_).tolist()
