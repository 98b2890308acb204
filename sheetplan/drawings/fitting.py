"""Curves as arcs within a stated tolerance.

Between two points of a smooth curve with their tangents stands one pair of arcs that meet
smoothly, a biarc (K. M. Bolton, Biarc curves, Computer-Aided Design 7, 1975). The curve is halved
until each stretch strays from its pair by no more than the tolerance, measured at points between.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence

from sheetplan.shapes.arcs import Piece
from sheetplan.shapes.meeting import nearest

Point = tuple[float, float]
Curve = Callable[[float], tuple[Point, Point]]
"""Point and tangent (any length) at a parameter."""

PROBES = (0.11, 0.25, 0.38, 0.5, 0.62, 0.75, 0.89)
"""Where a stretch is compared with its arcs; uneven, so that no wave hides between them."""

DEEPEST = 12
"""Halvings of one stretch: 4,096 arcs, finer than any table cuts."""

ON_CHORD = 1e-9
"""Share of the chord below which a stretch counts as straight."""


def fit_arcs(curve: Curve, stops: Sequence[float], tolerance: float) -> list[Piece]:
    """Arcs and lines along a curve from the first of ``stops`` to the last.

    Parameters
    ----------
    curve : Curve
        The curve; its tangent may jump at the inner stops.
    stops : Sequence[float]
        Rising parameters that the result passes through exactly.
    tolerance : float
        The most that the curve may stray from the result, in the curve's units.
    """
    pieces: list[Piece] = []
    for start, stop in itertools.pairwise(stops):
        inside = (stop - start) * 1e-6
        ends = (_end(curve, start, start + inside), _end(curve, stop, stop - inside))
        pieces.extend(_stretch(curve, (start, stop), ends, tolerance, DEEPEST))
    return pieces


def _end(curve: Curve, at: float, inside: float) -> tuple[Point, Point]:
    """Point and tangent at a stop; where the curve has a corner there, the tangent just inside."""
    point, tangent = curve(at)
    near = curve(inside)[1]
    (tx, ty), (nx, ny) = _unit(tangent), _unit(near)
    return point, tangent if tx * nx + ty * ny > 1.0 - 1e-6 else near


def _stretch(
    curve: Curve,
    span: tuple[float, float],
    ends: tuple[tuple[Point, Point], tuple[Point, Point]],
    tolerance: float,
    deeper: int,
) -> Iterator[Piece]:
    start, stop = span
    (p, t), (q, u) = ends
    chord = math.dist(p, q)
    probes = [curve(start + share * (stop - start))[0] for share in PROBES]
    if chord <= tolerance * 1e-3 and all(math.dist(p, probe) <= tolerance for probe in probes):
        return
    pieces = biarc(p, t, q, u)
    strays = [min(nearest(piece, *probe)[0] for piece in pieces) for probe in probes if pieces]
    if deeper == 0 or (pieces and max(strays) <= tolerance * 0.9):
        yield from pieces or [Piece(*p, *q, 0.0)]
        return
    middle = (start + stop) / 2.0
    there = curve(middle)
    yield from _stretch(curve, (start, middle), (ends[0], there), tolerance, deeper - 1)
    yield from _stretch(curve, (middle, stop), (there, ends[1]), tolerance, deeper - 1)


def biarc(p: Point, t: Point, q: Point, u: Point) -> list[Piece]:
    """Two arcs from ``p`` with tangent ``t`` to ``q`` with tangent ``u``; empty if there are none.

    The arcs are those whose tangent lengths at both ends are equal.
    """
    t, u = _unit(t), _unit(u)
    vx, vy = q[0] - p[0], q[1] - p[1]
    chord2 = vx * vx + vy * vy
    if chord2 == 0.0 or t == (0.0, 0.0) or u == (0.0, 0.0):
        return []
    if abs(vx * t[1] - vy * t[0]) + abs(vx * u[1] - vy * u[0]) <= ON_CHORD * math.sqrt(chord2) and (
        vx * t[0] + vy * t[1] > 0.0 and vx * u[0] + vy * u[1] > 0.0
    ):
        return [Piece(*p, *q, 0.0)]
    reach = _tangent_length(vx, vy, t, u)
    if reach is None:
        return []
    joint = (
        (p[0] + q[0] + reach * (t[0] - u[0])) / 2.0,
        (p[1] + q[1] + reach * (t[1] - u[1])) / 2.0,
    )
    if joint in (p, q):
        return []
    back = (-u[0], -u[1])
    return [Piece(*p, *joint, bulge_to(p, t, joint)), Piece(*joint, *q, 0.0 - bulge_to(q, back, joint))]


def bulge_to(p: Point, t: Point, q: Point) -> float:
    """The bulge of the arc that leaves ``p`` along the unit vector ``t`` and ends at ``q``."""
    vx, vy = q[0] - p[0], q[1] - p[1]
    # The chord leans from the tangent by half the included angle; a bulge is the tangent of a quarter.
    lean = math.atan2(t[0] * vy - t[1] * vx, t[0] * vx + t[1] * vy)
    return math.tan(lean / 2.0)


def _tangent_length(vx: float, vy: float, t: Point, u: Point) -> float | None:
    """Equal tangent lengths d: |q - p - d (t + u)| = 2 d, the positive root."""
    wx, wy = t[0] + u[0], t[1] + u[1]
    a = 4.0 - (wx * wx + wy * wy)
    b = vx * wx + vy * wy
    c = vx * vx + vy * vy
    if a < 1e-12:
        return c / (2.0 * b) if b > 0.0 else None
    reach = (-b + math.sqrt(b * b + a * c)) / a
    return reach if reach > 0.0 else None


def _unit(vector: Point) -> Point:
    length = math.hypot(*vector)
    return (vector[0] / length, vector[1] / length) if length > 0.0 else (0.0, 0.0)
