"""Segments of SVG paths as lines and arcs."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
import svgelements as svg

from sheetplan.drawings.fitting import Array, Curve, Point, fit_arcs
from sheetplan.shapes.arcs import Piece

ROUND_SHARE = 1e-7
"""Axes of an arc that differ by less than this share, as decimals in text do, are a circle's."""


CLOSING_SHARE = 1e-6
"""Lines shorter than this share of the tolerance are the rounding of sums."""

FLAT_REACH = 1e-7
"""Half the chord over the radius below which an arc is the short way round, whatever the angles say."""


def path_pieces(path: Iterable[Any], tolerance: float) -> Iterator[Piece]:
    """The pieces of a path's segments; moves give nothing. ``tolerance`` in the path's units.

    Bezier segments in a row are fitted as one curve.
    """
    row: list[list[Point]] = []
    for segment in path:
        controls = _controls(segment)
        if row and (controls is None or controls[0] != row[-1][-1] or len(row) >= MOST_IN_A_ROW):
            yield from fit_arcs(_beziers(row), range(len(row) + 1), tolerance)
            row = []
        if controls is None:
            yield from _plain(segment, tolerance)
        else:
            row.append(controls)
    if row:
        yield from fit_arcs(_beziers(row), range(len(row) + 1), tolerance)


MOST_IN_A_ROW = 2000
"""Bezier segments that are fitted together: a longer row is fitted in several, to bound the memory."""


def _controls(segment: Any) -> list[Point] | None:
    """The four control points of a Bezier segment, None for any other; one of three is raised to four."""
    if segment.start is None or segment.end is None:
        return None
    start, end = (segment.start.x, segment.start.y), (segment.end.x, segment.end.y)
    if isinstance(segment, svg.CubicBezier):
        return [start, *((p.x, p.y) for p in (segment.control1, segment.control2)), end]
    if isinstance(segment, svg.QuadraticBezier):
        cx, cy = segment.control.x, segment.control.y
        inner = [(x + 2.0 / 3.0 * (cx - x), y + 2.0 / 3.0 * (cy - y)) for x, y in (start, end)]
        return [start, *inner, end]
    return None


def _plain(segment: Any, tolerance: float) -> Iterator[Piece]:
    """The pieces of a line or an arc."""
    if isinstance(segment, svg.Move) or segment.start is None or segment.end is None:
        return
    start, end = (segment.start.x, segment.start.y), (segment.end.x, segment.end.y)
    if isinstance(segment, svg.Arc):
        yield from _arc(segment, start, end, tolerance)
    elif math.dist(start, end) > tolerance * CLOSING_SHARE:
        # A path that is closed where it is closed already ends in a line without length.
        yield Piece(*start, *end, 0.0)


def _arc(segment: Any, start: Point, end: Point, tolerance: float) -> Iterator[Piece]:
    cx, cy = segment.center.x, segment.center.y
    ax, ay = segment.prx.x - cx, segment.prx.y - cy
    bx, by = segment.pry.x - cx, segment.pry.y - cy
    first, second = math.hypot(ax, ay), math.hypot(bx, by)
    sweep = float(segment.sweep)
    if first == 0.0 or second == 0.0 or sweep == 0.0:
        if start != end:
            yield Piece(*start, *end, 0.0)
        return
    t0 = _parameter(start, (cx, cy), (ax, ay), (bx, by))
    count = max(1, math.ceil(abs(sweep) / (math.pi / 2.0) - 1e-9))
    stops = [t0 + sweep * i / count for i in range(count + 1)]

    middle, ahead, aside = np.array((cx, cy)), np.array((ax, ay)), np.array((bx, by))

    def curve(t: Array) -> tuple[Array, Array]:
        cos, sin = np.cos(t)[:, None], np.sin(t)[:, None]
        return middle + cos * ahead + sin * aside, cos * aside - sin * ahead

    if abs(first - second) <= ROUND_SHARE * first and abs(ax * bx + ay * by) <= ROUND_SHARE * first * second:
        yield from _round(segment, start, end, math.copysign(1.0, ax * by - ay * bx), first, curve, t0)
        return
    rising = stops if sweep > 0.0 else [-t for t in stops]
    yield from fit_arcs(curve if sweep > 0.0 else _backwards(curve), rising, tolerance)


def _round(
    segment: Any, start: Point, end: Point, turning: float, radius: float, curve: Curve, t0: float
) -> Iterator[Piece]:
    """An arc of a circle, half a turn at most to the piece."""
    sweep, reach = float(segment.sweep), math.dist(start, end) / (2.0 * radius)
    if reach > 0.0 and (reach < FLAT_REACH or abs(sweep) <= math.pi / 2.0):
        # From the chord, the radius and the centre's side: the library's angles of flat arcs have
        # few digits or none.
        cx, cy = segment.center.x - start[0], segment.center.y - start[1]
        left = (end[0] - start[0]) * cy - (end[1] - start[1]) * cx
        bulge = reach / (1.0 + math.sqrt(1.0 - reach * reach))
        yield Piece(*start, *end, math.copysign(bulge, left))
    else:
        count = max(1, math.ceil(abs(sweep) / math.pi - 1e-9))
        inner, _ = curve(np.array([t0 + sweep * i / count for i in range(1, count)]))
        ends = [start, *((x, y) for x, y in inner.tolist()), end]
        for p, q in itertools.pairwise(ends):
            if p != q:
                yield Piece(*p, *q, turning * math.tan(sweep / count / 4.0))


def _parameter(point: Point, centre: Point, a: Point, b: Point) -> float:
    """The parameter t of ``centre + cos t a + sin t b`` at a point on it."""
    dx, dy = point[0] - centre[0], point[1] - centre[1]
    turn = a[0] * b[1] - a[1] * b[0]
    return math.atan2((a[0] * dy - a[1] * dx) / turn, (dx * b[1] - dy * b[0]) / turn)


def _backwards(curve: Curve) -> Curve:
    def reverse(t: Array) -> tuple[Array, Array]:
        points, tangents = curve(-t)
        return points, -tangents

    return reverse


def _beziers(row: Sequence[Sequence[Point]]) -> Curve:
    """Cubic Bezier segments one after another, each one parameter long."""
    controls = np.asarray(row, np.float64)
    hodographs = 3.0 * np.diff(controls, axis=1)

    def curve(t: Array) -> tuple[Array, Array]:
        which = np.clip(np.floor(t).astype(np.int64), 0, len(controls) - 1)
        share = (t - which)[:, None]
        back = 1.0 - share
        p, d = controls[which], hodographs[which]
        first, last = back * p[:, 0] + share * p[:, 1], back * p[:, 2] + share * p[:, 3]
        inner = 2.0 * back * share * (back * p[:, 1] + share * p[:, 2])
        slopes = back**2 * d[:, 0] + 2.0 * back * share * d[:, 1] + share**2 * d[:, 2]
        return back**2 * first + inner + share**2 * last, slopes

    return curve
