"""Splines as arcs: within the tolerance of the exact curve, smooth, and few, however many knots there are.

The exact curve is ezdxf's own B-spline and svgelements' own Bezier curve, evaluated densely.
"""

from __future__ import annotations

import itertools
import math
import time

import ezdxf
import numpy as np
import pytest
import shapely
import svgelements
from ezdxf.math import BSpline, fit_points_to_cad_cv

from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes
from sheetplan.drawings.reading.dxf import spline_pieces
from sheetplan.drawings.reading.svg import path_pieces
from sheetplan.shapes import flatten
from sheetplan.shapes.arcs import Piece, point_at
from sheetplan.trade.units import Units
from tests.nasty.drawings_making import dxf, space

TOLERANCE = 0.05


def ripple(count: int, noise: float, seed: int) -> BSpline:
    """A closed outline about 400 mm round, drawn through that many points."""
    rng = np.random.default_rng(seed)
    angle = np.linspace(0.0, 2.0 * math.pi, count + 1)
    radius = 60.0 + 6.0 * np.sin(3.0 * angle) + noise * np.append(rng.normal(size=count), 0.0)
    radius[-1] = radius[0]
    points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    return fit_points_to_cad_cv([(x, y, 0.0) for x, y in points])


def odd(seed: int) -> BSpline:
    """Control points at random, some repeated, of any degree, with weights and knots that coincide."""
    rng = np.random.default_rng(seed)
    degree, count = int(rng.integers(2, 6)), int(rng.integers(8, 40))
    points = np.cumsum(rng.normal(size=(count, 2)) * 10.0, axis=0)
    if seed % 3 == 0:
        points[3] = points[4]
    inner = np.sort(rng.uniform(size=count - degree - 1))
    if seed % 4 == 0 and len(inner) > degree:
        inner[:degree] = inner[0]
    knots = [0.0] * (degree + 1) + inner.tolist() + [1.0] * (degree + 1)
    weights = rng.uniform(0.5, 2.0, count).tolist() if seed % 2 else None
    return BSpline([(x, y, 0.0) for x, y in points], degree + 1, knots, weights)


def pieces_of(spline: BSpline) -> list[Piece]:
    entity = ezdxf.new("R2000").modelspace().add_spline()
    entity.apply_construction_tool(spline)
    return list(spline_pieces(entity, TOLERANCE))


def along(pieces: list[Piece]) -> np.ndarray:
    """Points along pieces, 60 on each."""
    rows = [point_at(piece, share) for piece in pieces for share in np.linspace(0.0, 1.0, 60).tolist()]
    return np.array(rows)


def apart(pieces: list[Piece], exact: np.ndarray) -> float:
    """How far arcs and curve lie from one another at most, whichever one starts from."""
    ours = along(pieces)
    return max(farthest(exact, ours), farthest(ours, exact))


def farthest(points: np.ndarray, line: np.ndarray) -> float:
    """Of the points, the greatest distance from the line."""
    steps = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    _, away = shapely.STRtree(steps).query_nearest(
        shapely.points(points), return_distance=True, all_matches=False
    )
    return float(away.max())


def dense(spline: BSpline) -> np.ndarray:
    """Points of the curve, thousands in all and hundreds between two knots where those are few."""
    knots = sorted(set(spline.knots()))
    knots = [k for k in knots if spline.knots()[spline.degree] <= k <= spline.knots()[-spline.degree - 1]]
    count = max(4, 12000 // len(knots))
    rows = [np.linspace(a, b, count, endpoint=False) for a, b in itertools.pairwise(knots)]
    at = np.append(np.concatenate(rows), knots[-1])
    return np.array([(p.x, p.y) for p in spline.points(at.tolist())])


def sharpest(pieces: list[Piece]) -> float:
    """The largest turn between one piece and the next, radians."""
    turns = [0.0]
    for first, second in itertools.pairwise(pieces):
        leaving = math.atan2(first.y1 - first.y0, first.x1 - first.x0) + first.sweep / 2.0
        arriving = math.atan2(second.y1 - second.y0, second.x1 - second.x0) - second.sweep / 2.0
        turns.append(abs((arriving - leaving + math.pi) % (2.0 * math.pi) - math.pi))
    return max(turns)


@pytest.mark.parametrize(("count", "noise"), [(10, 0.0), (100, 0.0), (580, 0.0), (580, 0.004), (3000, 0.002)])
def test_knots_do_not_count(count: int, noise: float) -> None:
    spline = ripple(count, noise, count)
    pieces = pieces_of(spline)
    exact = dense(spline)
    assert apart(pieces, exact) <= TOLERANCE
    assert sharpest(pieces) < 1e-6
    chords = len(shapely.LineString(exact).simplify(TOLERANCE, preserve_topology=False).coords)
    assert len(pieces) <= chords, (len(pieces), chords)


@pytest.mark.parametrize("seed", range(30))
def test_odd_splines_keep_the_tolerance(seed: int) -> None:
    spline = odd(seed)
    pieces = pieces_of(spline)
    exact = dense(spline)
    assert apart(pieces, exact) <= TOLERANCE
    assert (pieces[0].x0, pieces[0].y0) == pytest.approx(tuple(exact[0]))
    assert (pieces[-1].x1, pieces[-1].y1) == pytest.approx(tuple(exact[-1]))


def test_beziers_in_a_row_are_one_curve_and_a_corner_stays() -> None:
    wave = " ".join(f"q 1 {1 if i % 2 else 1.2} 2 0.4" for i in range(30))
    path = svgelements.Path(f"M 0 0 {wave} c 30 0 40 40 0 40 s 9 9 5 30")
    curves = [s for s in path if isinstance(s, svgelements.CubicBezier | svgelements.QuadraticBezier)]
    exact = np.vstack([s.npoint(np.linspace(0.0, 1.0, 100)) for s in curves])
    assert apart(list(path_pieces(path, TOLERANCE)), exact) <= TOLERANCE
    # A circle as drawing programs draw it, in four Beziers with the usual constant.
    k = 10.0 * 0.5522847498
    quarter = f"c 0 {k} {10 - k} 10 10 10 s 10 {k - 10} 10 -10 s {k - 10} -10 -10 -10 s -10 {10 - k} -10 10"
    assert len(list(path_pieces(svgelements.Path(f"M 0 0 {quarter}"), TOLERANCE))) <= 8


def test_a_large_drawing_of_splines_is_read_fast() -> None:
    """900,000 bytes of splines: a third of the largest that come, within a third of two seconds."""
    splines = [ripple(580, 0.004, seed) for seed in range(4)]

    def draw(msp) -> None:
        for i in range(20):
            entity = msp.add_spline()
            moved = [(p.x + 200.0 * i, p.y, 0.0) for p in splines[i % 4].control_points]
            entity.apply_construction_tool(BSpline(moved, 4, splines[i % 4].knots()))

    data = dxf(space(draw))
    assert len(data) > 800_000
    begun = time.process_time()
    report = read_bytes("x.dxf", data, ReadingChoices(units=Units.MM), time.process_time)
    assert time.process_time() - begun < 1.5
    assert len(report.parts) == 20
    assert sum(len(part.outline.outer.vertices) for part in report.parts) < 20 * 130
    ring = flatten(report.parts[0].outline.outer, 0.001)
    assert shapely.Polygon(ring).is_valid
