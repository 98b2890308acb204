"""Segments of SVG paths as lines and arcs."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Any

import svgelements as svg

from sheetplan.drawings.fitting import Curve, Point, fit_arcs
from sheetplan.shapes.arcs import Piece

ROUND_SHARE = 1e-7
"""Axes of an arc that differ by less than this share, as decimals in text do, are a circle's."""


CLOSING_SHARE = 1e-6
"""Lines shorter than this share of the tolerance are the rounding of sums."""

FLAT_REACH = 1e-7
"""Half the chord over the radius below which an arc is the short way round, whatever the angles say."""


def segment_pieces(segment: Any, tolerance: float) -> Iterator[Piece]:
    """The pieces of one segment; moves give nothing. ``tolerance`` in the segment's units."""
    if isinstance(segment, svg.Move) or segment.start is None or segment.end is None:
        return
    start, end = (segment.start.x, segment.start.y), (segment.end.x, segment.end.y)
    if isinstance(segment, svg.Arc):
        yield from _arc(segment, start, end, tolerance)
    elif isinstance(segment, svg.CubicBezier):
        controls = [(p.x, p.y) for p in (segment.control1, segment.control2)]
        yield from fit_arcs(_bezier([start, *controls, end]), (0.0, 1.0), tolerance)
    elif isinstance(segment, svg.QuadraticBezier):
        control = (segment.control.x, segment.control.y)
        yield from fit_arcs(_bezier([start, control, end]), (0.0, 1.0), tolerance)
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

    def curve(t: float) -> tuple[Point, Point]:
        cos, sin = math.cos(t), math.sin(t)
        point = (cx + cos * ax + sin * bx, cy + cos * ay + sin * by)
        return point, (cos * bx - sin * ax, cos * by - sin * ay)

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
        ends = [start, *(curve(t0 + sweep * i / count)[0] for i in range(1, count)), end]
        for p, q in itertools.pairwise(ends):
            if p != q:
                yield Piece(*p, *q, turning * math.tan(sweep / count / 4.0))


def _parameter(point: Point, centre: Point, a: Point, b: Point) -> float:
    """The parameter t of ``centre + cos t a + sin t b`` at a point on it."""
    dx, dy = point[0] - centre[0], point[1] - centre[1]
    turn = a[0] * b[1] - a[1] * b[0]
    return math.atan2((a[0] * dy - a[1] * dx) / turn, (dx * b[1] - dy * b[0]) / turn)


def _backwards(curve: Curve) -> Curve:
    def reverse(t: float) -> tuple[Point, Point]:
        point, (tx, ty) = curve(-t)
        return point, (-tx, -ty)

    return reverse


def _bezier(controls: list[Point]) -> Curve:
    """A Bezier curve and its tangent by de Casteljau's steps."""

    def curve(t: float) -> tuple[Point, Point]:
        points = list(controls)
        while len(points) > 2:
            points = _between(points, t)
        (x0, y0), (x1, y1) = points
        return (x0 + t * (x1 - x0), y0 + t * (y1 - y0)), (x1 - x0, y1 - y0)

    return curve


def _between(points: list[Point], t: float) -> list[Point]:
    return [(x0 + t * (x1 - x0), y0 + t * (y1 - y0)) for (x0, y0), (x1, y1) in itertools.pairwise(points)]
