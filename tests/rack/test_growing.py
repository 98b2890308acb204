"""A free block grown to the largest rectangle of its place, against calculus and another optimiser."""

import numpy as np
import pytest
import shapely
from scipy.optimize import LinearConstraint, minimize
from scipy.spatial import ConvexHull

from sheetplan.rack.free_space import grown
from sheetplan.shapes import Box


def edges_of(*rings: object) -> np.ndarray:
    closed = [np.array(ring, float) for ring in rings]
    return np.concatenate([np.stack((ring, np.roll(ring, -1, axis=0)), axis=1) for ring in closed])


def in_middle(x: float, y: float, by: float) -> Box:
    return Box(x - by, y - by, x + by, y + by)


def size(found: Box) -> float:
    return found.length * found.width


def test_a_square_grows_back_to_itself_to_the_last_digit() -> None:
    edges = edges_of([(0.0, 0.0), (2438.4, 0.0), (2438.4, 1219.2), (0.0, 1219.2)])
    assert grown(in_middle(300.0, 700.0, 1.0), edges) == pytest.approx((0.0, 0.0, 2438.4, 1219.2), abs=1e-9)


def test_a_tilted_square() -> None:
    # By calculus: corners at (x, y) with x + y = 100 give 4 x y, largest at x = y = 50: 10,000.
    edges = edges_of([(100.0, 0.0), (0.0, 100.0), (-100.0, 0.0), (0.0, -100.0)])
    found = grown(in_middle(20.0, -30.0, 2.0), edges)
    assert found == pytest.approx((-50.0, -50.0, 50.0, 50.0), abs=0.1)
    assert size(found) == pytest.approx(10_000.0, rel=1e-5)
    reach = max(abs(x) + abs(y) for x in (found.left, found.right) for y in (found.bottom, found.top))
    assert reach == pytest.approx(100.0, abs=1e-9), "at last it is moved up to the edge itself"


def test_a_thin_tilted_rectangle() -> None:
    """A strip of 1000 x 20 mm at 30 degrees: by calculus half its metal where both of its short ends bind.

    Upright sides l and w within |y cos - x sin| <= 10: l sin + w cos = 20, so l w is largest where both are
    10, l = 20 and w = 10 / cos 30.
    """
    cos, sin = np.cos(np.pi / 6), np.sin(np.pi / 6)
    corners = ((-500, -10), (500, -10), (500, 10), (-500, 10))
    ring = [(x * cos - y * sin, x * sin + y * cos) for x, y in corners]
    found = grown(in_middle(0.0, 0.0, 1.0), edges_of(ring))
    assert (found.length, found.width) == pytest.approx((20.0, 10.0 / cos), rel=1e-3)
    assert size(found) == pytest.approx(200.0 / cos, rel=1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_on_convex_shapes_another_optimiser_finds_no_more(seed: int) -> None:
    """Against scipy's SLSQP on the same problem written down from the hull's half-planes."""
    points = np.random.default_rng(seed).uniform(0.0, 1000.0, (seed + 4, 2))
    hull = ConvexHull(points)
    ring = points[hull.vertices]
    middle = ring.mean(axis=0)
    found = grown(in_middle(*middle, 1.0), edges_of(ring))

    out_x, out_y, offset = hull.equations.T
    corners = [(0, 1), (2, 1), (2, 3), (0, 3)]  # of (left, bottom, right, top)
    rows = np.zeros((4 * len(offset), 4))
    for number, (x, y) in enumerate(corners):
        rows[number::4, x], rows[number::4, y] = out_x, out_y
    within = LinearConstraint(rows, ub=np.repeat(-offset, 4))
    start = np.array(in_middle(*middle, 1.0))
    other = minimize(
        lambda v: -np.log(v[2] - v[0]) - np.log(v[3] - v[1]), start, method="SLSQP", constraints=[within],
        options={"maxiter": 500, "ftol": 1e-12},
    )  # fmt: skip
    assert other.success
    assert size(found) == pytest.approx(size(Box(*other.x)), rel=2e-4)
    assert shapely.Polygon(ring).buffer(1e-6).covers(shapely.box(*found))


def test_a_hole_is_never_grown_over() -> None:
    """A round hole, which each round of lines only touches: by calculus the corner finds its best point.

    In the square beside a disc of radius 400 in the corner (0, 0), corner at angle a: (1000 - 400 cos a)
    (1000 - 400 sin a), in which more is free the nearer a comes to 0 or 90 degrees: 600 x 1000.
    """
    turn = np.linspace(0.0, np.pi / 2.0, 40)
    around = np.column_stack((400.0 * np.cos(turn), 400.0 * np.sin(turn)))[::-1]
    edges = edges_of([*around, (1000.0, 0.0), (1000.0, 1000.0), (0.0, 1000.0)])
    found = grown(in_middle(800.0, 600.0, 50.0), edges)
    assert size(found) == pytest.approx(600_000.0, rel=1e-3)
    assert not shapely.Point(0, 0).buffer(399.5, quad_segs=64).intersects(shapely.box(*found))


def test_a_sliver_grows_too() -> None:
    edges = edges_of([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)])
    assert grown(Box(10.0, 10.0, 10.003, 50.0), edges) == pytest.approx((0.0, 0.0, 100.0, 100.0), abs=1e-9)


def test_a_block_that_an_edge_crosses_stays() -> None:
    edges = edges_of([(0.0, 0.0), (100.0, 0.0), (0.0, 100.0)])
    block = Box(10.0, 10.0, 80.0, 80.0)
    assert grown(block, edges) == pytest.approx(block, abs=0.0011)
