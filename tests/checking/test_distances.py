import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.checking.distances import Curves, _row, distances
from sheetplan.model.outline import Stroke
from sheetplan.shapes import flatten_stroke
from sheetplan.shapes.arcs import Piece

coordinate = st.floats(-50.0, 50.0).map(lambda v: round(v, 3))
bulges = st.one_of(st.just(0.0), st.floats(-2.0, 2.0).map(lambda v: round(v, 3)))


def columns(*many: Piece) -> Curves:
    return Curves(*np.array([_row(piece) for piece in many]).T)


def apart(first: Piece, second: Piece) -> float:
    return float(distances(columns(first), columns(second))[0])


@st.composite
def random_pieces(draw: st.DrawFn) -> Piece:
    x0, y0, x1, y1 = (draw(coordinate) for _ in range(4))
    if math.hypot(x1 - x0, y1 - y0) < 0.5:
        x1 += 1.0
    return Piece(x0, y0, x1, y1, draw(bulges))


def flat(piece: Piece, bound: float) -> shapely.LineString:
    stroke = Stroke(((piece.x0, piece.y0, piece.bulge), (piece.x1, piece.y1, 0.0)))
    return shapely.LineString(flatten_stroke(stroke, bound))


@given(random_pieces(), random_pieces())
@settings(max_examples=400, deadline=None)
def test_against_a_general_library_on_fine_polylines(first: Piece, second: Piece) -> None:
    bound = 1e-4
    near = shapely.distance(flat(first, bound), flat(second, bound))
    assert apart(first, second) == pytest.approx(near, abs=2 * bound)
    assert apart(second, first) == pytest.approx(apart(first, second), abs=1e-9)


HALF = Piece(-10.0, 0.0, 10.0, 0.0, 1.0)
"""The lower half of a circle of radius 10 about (0, 0)."""


@pytest.mark.parametrize(
    ("first", "second", "want"),
    [
        (Piece(0, 0, 10, 0, 0), Piece(0, 3, 10, 3, 0), 3.0),
        (Piece(0, 0, 10, 0, 0), Piece(5, -5, 5, 5, 0), 0.0),
        (Piece(0, 0, 10, 0, 0), Piece(13, 4, 20, 9, 0), 5.0),
        (HALF, Piece(-20, -16, 20, -16, 0), 6.0),
        (HALF, Piece(-20, 8, 20, 8, 0), 8.0),
        (HALF, Piece(-2, -20, 3, 20, 0), 0.0),
        (HALF, Piece(-1, -1, 1, -1, 0), 10.0 - math.sqrt(2.0)),
        # Two circles: the distance of the centres less both radii.
        (HALF, Piece(-10, -26, 10, -26, -1.0), 6.0),
        # One inside the other, concentric: the difference of the radii.
        (HALF, Piece(-4, 0, 4, 0, 1.0), 6.0),
        # Off centre by 1: the end (10, 0) lies sqrt(101) from (0, 1), less the radius of 4.
        (HALF, Piece(-4, 1, 4, 1, 1.0), math.sqrt(101.0) - 4.0),
        # Crossing circles.
        (HALF, Piece(0, -5, 20, -5, 1.0), 0.0),
        # An arc of a small hole is an arc, on either side: 5 less its radius of 0.8.
        (Piece(-20, 5, 20, 5, 0), Piece(-0.8, 0, 0.8, 0, -1.0), 4.2),
        (Piece(-0.8, 0, 0.8, 0, -1.0), Piece(-20, 5, 20, 5, 0), 4.2),
        # Across a small circle from within, which is left at 0.5.
        (Piece(0.1, 0, 0.7, 0, 0), Piece(0.4, -0.3, 0.4, 0.3, 1 / 3), 0.0),
        # A line that cuts but just below the lowest point: at the root of 10^2 less 9.99^2, which is 0.447.
        (HALF, Piece(0.2, -9.99, 0.8, -9.99, 0), 0.0),
    ],
)
def test_worked_by_hand(first: Piece, second: Piece, want: float) -> None:
    assert apart(first, second) == pytest.approx(want, abs=1e-12)


def test_nearly_straight_arcs_are_lines() -> None:
    assert apart(Piece(0, 0, 1000, 0, 1e-9), Piece(0, 5, 1000, 5, -1e-7)) == pytest.approx(5.0, abs=1e-4)
