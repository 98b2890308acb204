import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.model.outline import Loop, Outline, Stroke
from sheetplan.shapes import Side, area, flatten, flatten_stroke, perimeter, reverse, to_polygon
from tests.shapes.strategies import circle, outlines, star_loops


def polygon_area(points: np.ndarray) -> float:
    x, y = points[:, 0], points[:, 1]
    return abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2


@pytest.mark.parametrize("bound", [1.0, 0.1, 0.01, 0.001])
def test_circle_against_the_formulas_for_regular_polygons(bound: float) -> None:
    radius = 40.0
    ring = circle(0.0, 0.0, radius)
    outward, inward = flatten(ring, bound, Side.OUT), flatten(ring, bound, Side.IN)
    # Regular n-gon inscribed in a circle: area n/2 r^2 sin(2 pi/n).
    n = len(inward)
    assert polygon_area(inward) == pytest.approx(n / 2 * radius**2 * math.sin(2 * math.pi / n), rel=1e-12)
    assert radius * (1 - math.cos(math.pi / n)) <= bound
    # Circumscribed: n r^2 tan(pi/n), here with two of its corners cut back to the vertices of the
    # loop, where the sides through them are tangent: n steps give n + 2 corners, the area unchanged.
    m = len(outward) - 2
    assert polygon_area(outward) == pytest.approx(m * radius**2 * math.tan(math.pi / m), rel=1e-12)
    assert radius * (1 / math.cos(math.pi / m) - 1) <= bound
    assert polygon_area(inward) < math.pi * radius**2 < polygon_area(outward)


@given(
    radius=st.floats(0.5, 500.0),
    sweep=st.floats(0.01, 6.2),
    bound=st.floats(1e-4, 1.0),
    clockwise=st.booleans(),
)
@settings(max_examples=200, deadline=None)
def test_every_point_of_an_arc_is_on_the_stated_side(
    radius: float, sweep: float, bound: float, clockwise: bool
) -> None:
    bulge = math.tan(sweep / 4)
    end = (radius * math.cos(sweep), radius * math.sin(sweep))
    # A pie slice, its arc bulging outward.
    pie = Loop(((0.0, 0.0, 0.0), (radius, 0.0, bulge), (*end, 0.0)))
    # Sector of a circle: area r^2 t / 2.
    assert area(pie) == pytest.approx(radius**2 * sweep / 2, rel=1e-9)
    pie = reverse(pie) if clockwise else pie
    for side, sign in ((Side.OUT, 1.0), (Side.IN, -1.0)):
        points = flatten(pie, bound, side)
        onward = np.roll(points, -1, axis=0)
        for start, stop in zip(points, onward, strict=True):
            samples = np.linspace(start, stop, 7)
            reach = np.hypot(samples[:, 0], samples[:, 1])
            if min(np.hypot(*start), np.hypot(*stop)) < radius / 2:
                continue
            assert np.all(sign * (reach - radius) >= -1e-12 * radius)
            assert np.all(np.abs(reach - radius) <= bound + 1e-12 * radius)


@given(star_loops(), st.floats(1e-3, 0.5))
@settings(max_examples=100, deadline=None)
def test_outward_contains_and_inward_is_contained(loop: Loop, bound: float) -> None:
    fine = to_polygon(loop, 1e-6)
    outward, inward = to_polygon(loop, bound, Side.OUT), to_polygon(loop, bound, Side.IN)
    assert fine.difference(outward).area <= 2e-6 * perimeter(loop)
    assert inward.difference(fine).area <= 2e-6 * perimeter(loop)
    assert area(loop) <= outward.area * (1 + 1e-12)
    assert inward.area <= area(loop) * (1 + 1e-12)
    assert outward.hausdorff_distance(fine) <= bound + 2e-6
    assert inward.hausdorff_distance(fine) <= bound + 2e-6


@given(outlines(), st.floats(1e-3, 0.5))
@settings(max_examples=60, deadline=None)
def test_outlines_shrink_their_holes_outward(outline: Outline, bound: float) -> None:
    outward, inward = to_polygon(outline, bound, Side.OUT), to_polygon(outline, bound, Side.IN)
    assert inward.area <= area(outline) * (1 + 1e-12) <= outward.area * (1 + 2e-12)
    assert outward.is_valid
    assert inward.is_valid
    for hole in outline.holes:
        through = to_polygon(hole, 1e-6).difference(to_polygon(hole, bound, Side.IN))
        assert outward.intersection(to_polygon(hole, bound, Side.IN)).area <= 1e-6
        assert through.area <= 2.5 * bound * perimeter(hole)


def test_a_slit_narrower_than_the_bound_is_closed() -> None:
    # Two walls that bulge towards each other across a slit of 0.02 mm at its narrowest.
    chord, gap = 100.0, 0.02
    bulge = 0.1
    rise = chord / 2 * bulge
    half = gap / 2 + rise
    loop = Loop(
        (
            (-60.0, -10.0, 0.0),
            (60.0, -10.0, 0.0),
            (60.0, chord, 0.0),
            (half, chord, bulge),
            (half, 0.0, 0.0),
            (-half, 0.0, bulge),
            (-half, chord, 0.0),
            (-60.0, chord, 0.0),
        )
    )
    fine, outward = to_polygon(loop, 1e-6), to_polygon(loop, 0.3, Side.OUT)
    assert fine.is_valid
    assert shapely.Polygon(flatten(loop, 0.3, Side.OUT)).is_valid is False
    assert outward.is_valid
    assert fine.difference(outward).area < 1e-3
    assert len(outward.interiors) == 1


def test_a_lens_keeps_its_inside() -> None:
    lens = Loop(((0.0, 0.0, 0.1), (10.0, 0.0, 0.1)))
    assert to_polygon(lens, 5.0, Side.IN).area > 0.0
    assert to_polygon(lens, 5.0, Side.OUT).area >= area(lens)


def test_strokes_keep_their_ends() -> None:
    points = flatten_stroke(Stroke(((0.0, 0.0, 1.0), (10.0, 0.0, 0.0), (20.0, 0.0, 0.0))), 0.01)
    assert tuple(points[0]) == (0.0, 0.0)
    assert tuple(points[-1]) == (20.0, 0.0)
    assert points[:, 1].min() == pytest.approx(-5.0, abs=0.01)


@pytest.mark.parametrize("bound", [0.0, -1.0, math.nan])
def test_a_bound_must_be_above_zero(bound: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        flatten(circle(0.0, 0.0, 1.0), bound)
