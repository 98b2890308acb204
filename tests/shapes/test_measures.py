import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.model.outline import Loop, Outline, rectangle
from sheetplan.shapes import area, box, cut_length, flatten, perimeter, pierces, signed_area, size
from sheetplan.shapes.arcs import Piece, segment_area
from tests.shapes.strategies import circle, outlines, star_loops


def test_circle() -> None:
    ring = circle(30.0, 20.0, 10.0)
    # Circle: area pi r^2, circumference 2 pi r.
    assert area(ring) == pytest.approx(math.pi * 100.0, rel=1e-14)
    assert perimeter(ring) == pytest.approx(2 * math.pi * 10.0, rel=1e-14)
    assert box(ring) == (20.0, 10.0, 40.0, 30.0)


def test_half_disc_against_the_handbook() -> None:
    half = Loop(((-10.0, 0.0, 0.0), (10.0, 0.0, 1.0)))
    assert area(half) == pytest.approx(math.pi * 50.0)
    assert box(half) == (-10.0, 0.0, 10.0, 10.0)


def test_segment_against_the_formula() -> None:
    radius, sweep = 50.0, math.radians(80.0)
    bulge = math.tan(sweep / 4)
    chord = 2 * radius * math.sin(sweep / 2)
    piece = Piece(0.0, 0.0, chord, 0.0, bulge)
    # Circular segment: r^2/2 (t - sin t).
    assert segment_area(piece) == pytest.approx(radius**2 / 2 * (sweep - math.sin(sweep)), rel=1e-12)
    assert piece.radius == pytest.approx(radius)
    assert piece.length == pytest.approx(radius * sweep)


@pytest.mark.parametrize("bulge", [0.02999999, 0.03000001])
def test_series_and_closed_formula_meet(bulge: float) -> None:
    above = Piece(0.0, 0.0, 7.0, 0.0, 0.0301)
    here = Piece(0.0, 0.0, 7.0, 0.0, bulge)
    assert segment_area(here) / bulge == pytest.approx(segment_area(above) / 0.0301, rel=1e-4)
    theta = 4 * math.atan(bulge)
    exact = here.radius**2 / 2 * (theta - math.sin(theta))
    assert segment_area(here) == pytest.approx(exact, rel=1e-9)


def test_nearly_straight_arcs_keep_their_digits() -> None:
    piece = Piece(0.0, 0.0, 1000.0, 0.0, 1e-12)
    middle = piece.point(piece.sweep / 2)
    assert middle[0] == pytest.approx(500.0, abs=1e-9)
    # The rise of an arc is half the chord times the bulge.
    assert middle[1] == pytest.approx(-500.0 * 1e-12, rel=1e-6)
    assert piece.length == pytest.approx(1000.0)


def test_outline_takes_holes_off() -> None:
    plate = Outline(rectangle(100.0, 50.0).outer, (circle(50.0, 25.0, 10.0),))
    assert area(plate) == pytest.approx(5000.0 - math.pi * 100.0)
    assert cut_length(plate) == pytest.approx(300.0 + 20 * math.pi)
    assert pierces(plate) == 2
    assert size(plate) == (100.0, 50.0)


@given(star_loops(centre=(500.0, -300.0)))
@settings(max_examples=100, deadline=None)
def test_measures_agree_with_a_fine_polygon(loop: Loop) -> None:
    points = flatten(loop, 1e-5)
    x, y = points[:, 0], points[:, 1]
    dx, dy = [*x[1:], x[0]], [*y[1:], y[0]]
    shoelace = sum(a * d - c * b for a, b, c, d in zip(x, y, dx, dy, strict=True)) / 2
    assert signed_area(loop) == pytest.approx(shoelace, abs=1e-5 * perimeter(loop))
    around = box(loop)
    seen = (x.min(), y.min(), x.max(), y.max())
    assert around == pytest.approx(seen, abs=2e-5)
    assert around.left <= seen[0] + 1e-9
    assert around.top >= seen[3] - 1e-9


@given(outlines(), st.floats(min_value=0.1, max_value=10.0))
@settings(max_examples=50, deadline=None)
def test_area_grows_with_the_square(outline: Outline, factor: float) -> None:
    def grown(loop: Loop) -> Loop:
        return Loop(tuple((x * factor, y * factor, b) for x, y, b in loop.vertices))

    larger = Outline(grown(outline.outer), tuple(map(grown, outline.holes)))
    assert area(larger) == pytest.approx(area(outline) * factor**2, rel=1e-12)
    assert cut_length(larger) == pytest.approx(cut_length(outline) * factor, rel=1e-12)
