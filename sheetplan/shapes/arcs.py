"""Lines and arcs, the pieces of a loop: a piece given by its bulge, and where two pieces meet."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from sheetplan.model.outline import Loop, Stroke

# One piece of a loop, a line or an arc given by its bulge.
#
# Terms
# chord
#     The straight vector from the start of the piece to its end.
# sweep
#     The included angle in radians, ``4 atan(bulge)``, positive when counter-clockwise.
#
# Points are reckoned from the start along turned chords and not from the centre, because the
# centre of a nearly straight arc lies so far away that its coordinates have no digits left.

FLAT_BULGE = 0.03
"""Below this bulge the closed formulas cancel; their power series are exact to rounding there."""

FAR_CENTRE_BULGE = 1e-3
"""Below this bulge a centre lies more than 250 chords away and is not used for coordinates."""


STRAIGHT_BULGE = 1e-12
"""Below this a piece counts as a line: even on 10 m its arc would rise 5e-9 mm, which is rounding."""


class Piece(NamedTuple):
    """A line (``bulge`` 0) or an arc from ``(x0, y0)`` to ``(x1, y1)``."""

    x0: float
    y0: float
    x1: float
    y1: float
    bulge: float

    @property
    def chord(self) -> float:
        """Length of the chord."""
        return math.hypot(self.x1 - self.x0, self.y1 - self.y0)

    @property
    def sweep(self) -> float:
        """Included angle in radians, signed."""
        return 4.0 * math.atan(self.bulge)

    @property
    def radius(self) -> float:
        """Radius of the arc; infinite for a line."""
        if self.bulge == 0.0:
            return math.inf
        return self.chord * (1.0 + self.bulge**2) / (4.0 * abs(self.bulge))

    @property
    def centre(self) -> tuple[float, float]:
        """Centre of the arc; only for arcs."""
        rise = (1.0 - self.bulge**2) / (4.0 * self.bulge)
        return (
            (self.x0 + self.x1) / 2.0 - rise * (self.y1 - self.y0),
            (self.y0 + self.y1) / 2.0 + rise * (self.x1 - self.x0),
        )

    @property
    def length(self) -> float:
        """Length along the piece."""
        half = 2.0 * math.atan(abs(self.bulge))
        return self.chord if half == 0.0 else self.chord * half / math.sin(half)

    def point(self, angle: float) -> tuple[float, float]:
        """The point that lies ``angle`` radians (signed as the sweep) from the start of an arc."""
        half = self.sweep / 2.0
        share = math.sin(angle / 2.0) / math.sin(half)
        lean = angle / 2.0 - half
        cos, sin = share * math.cos(lean), share * math.sin(lean)
        dx, dy = self.x1 - self.x0, self.y1 - self.y0
        return self.x0 + cos * dx - sin * dy, self.y0 + sin * dx + cos * dy


def pieces(chain: Loop | Stroke) -> Iterator[Piece]:
    """The pieces of a chain in order; pieces whose ends coincide exactly are left out."""
    vertices = chain.vertices
    ends = vertices[1:] + vertices[:1] if isinstance(chain, Loop) else vertices[1:]
    for (x0, y0, bulge), (x1, y1, _) in zip(vertices, ends, strict=False):
        if x0 != x1 or y0 != y1:
            yield Piece(x0, y0, x1, y1, bulge if abs(bulge) > STRAIGHT_BULGE else 0.0)


def segment_area(piece: Piece) -> float:
    """Signed area between an arc and its chord, mm2, positive where the arc turns counter-clockwise.

    Circular segment, ``r^2 / 2 (t - sin t)``, rewritten in the bulge.
    """
    b, c2 = piece.bulge, piece.chord**2
    if abs(b) < FLAT_BULGE:
        return c2 * b * (1 / 3 + b**2 * (1 / 15 - b**2 * (1 / 105 - b**2 / 315)))
    return c2 * ((1 + b * b) ** 2 * math.atan(b) - b * (1 - b * b)) / (8 * b * b)


SURELY = 1e-9
"""Angles (radians) that differ by more than this differ whatever their rounding."""


def extremes(piece: Piece) -> Iterator[tuple[float, float]]:
    """Points inside an arc where it is farthest left, right, down or up."""
    sweep = piece.sweep
    heading = math.atan2(piece.y1 - piece.y0, piece.x1 - piece.x0) - sweep / 2.0
    # Of the many short arcs of a drawn curve hardly one has any.
    if -heading * math.copysign(1.0, sweep) % (math.pi / 2.0) > abs(sweep) + SURELY:
        return
    for quarter in range(4):
        # The tangent points along a quarter direction after this much of the arc.
        angle = (quarter * math.pi / 2.0 - heading) * math.copysign(1.0, sweep) % (2.0 * math.pi)
        if not 0.0 < angle < abs(sweep):
            continue
        if abs(piece.bulge) < FAR_CENTRE_BULGE:
            yield piece.point(math.copysign(angle, sweep))
            continue
        # From the centre, so that a circle of round numbers has a box of round numbers.
        (cx, cy), reach = piece.centre, math.copysign(piece.radius, sweep)
        across, up = ((0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0))[quarter]
        yield cx + across * reach, cy + up * reach


# Where pieces meet: nearest points, crossings, and cutting a piece at a point.
#
# Terms
# share
#     A place along a piece as a fraction of its length, 0 at its start and 1 at its end.

CHORD_BULGE = 1e-8
"""An arc flatter than this is met as its chord: on 10 m it rises 5e-5 mm."""


def point_at(piece: Piece, share: float) -> tuple[float, float]:
    """The point at a share of the piece; exactly its ends at 0 and 1."""
    if share <= 0.0:
        return piece.x0, piece.y0
    if share >= 1.0:
        return piece.x1, piece.y1
    if piece.bulge == 0.0:
        return piece.x0 + share * (piece.x1 - piece.x0), piece.y0 + share * (piece.y1 - piece.y0)
    return piece.point(share * piece.sweep)


def between(piece: Piece, start: float, stop: float) -> Piece:
    """The stretch of a piece from one share to a later one."""
    x0, y0 = point_at(piece, start)
    x1, y1 = point_at(piece, stop)
    bulge = piece.bulge if (start, stop) == (0.0, 1.0) else math.tan((stop - start) * piece.sweep / 4.0)
    return Piece(x0, y0, x1, y1, bulge)


def at_most(piece: Piece, sweep: float) -> Iterator[Piece]:
    """The piece in equal stretches that turn no more than so far (rad)."""
    count = max(1, math.ceil(abs(piece.sweep) / sweep - 1e-9))
    for k in range(count):
        yield between(piece, k / count, (k + 1) / count)


def nearest(piece: Piece, x: float, y: float) -> tuple[float, float]:
    """Distance from a point to the piece, and the share of the nearest place."""
    inner = _foot(piece, x, y)
    ends = ((math.hypot(x - piece.x0, y - piece.y0), 0.0), (math.hypot(x - piece.x1, y - piece.y1), 1.0))
    return min((*ends, inner)) if inner else min(ends)


def _foot(piece: Piece, x: float, y: float) -> tuple[float, float] | None:
    """Distance and share where the joining line is square to the piece, if that lies within it."""
    if abs(piece.bulge) <= CHORD_BULGE:
        dx, dy = piece.x1 - piece.x0, piece.y1 - piece.y0
        square = dx * dx + dy * dy
        share = ((x - piece.x0) * dx + (y - piece.y0) * dy) / square
        across = abs((x - piece.x0) * dy - (y - piece.y0) * dx) / math.sqrt(square)
        return (across, share) if 0.0 <= share <= 1.0 else None
    cx, cy = piece.centre
    share = _share_of_angle(piece, math.atan2(y - cy, x - cx))
    return (abs(math.hypot(x - cx, y - cy) - piece.radius), share) if share <= 1.0 else None


def _share_of_angle(piece: Piece, angle: float) -> float:
    """The share of an arc that lies in a direction from its centre; above 1 where there is none."""
    cx, cy = piece.centre
    start = math.atan2(piece.y0 - cy, piece.x0 - cx)
    gone = (angle - start) * math.copysign(1.0, piece.sweep) % (2.0 * math.pi)
    return gone / abs(piece.sweep)


def meetings(first: Piece, second: Piece, tolerance: float) -> list[tuple[float, float]]:
    """Where two pieces cross or touch, as shares of each.

    Pieces that miss by no more than ``tolerance`` mm count as touching where they run alongside
    (a tangent); pieces that overlap along a stretch are not meant for this and give nothing.
    """
    straight_first, straight_second = abs(first.bulge) <= CHORD_BULGE, abs(second.bulge) <= CHORD_BULGE
    if straight_first and straight_second:
        return _line_line(first, second)
    if straight_first:
        return _line_arc(first, second, tolerance)
    if straight_second:
        return [(share, other) for other, share in _line_arc(second, first, tolerance)]
    return _arc_arc(first, second, tolerance)


def _line_line(first: Piece, second: Piece) -> list[tuple[float, float]]:
    ax, ay = first.x1 - first.x0, first.y1 - first.y0
    bx, by = second.x1 - second.x0, second.y1 - second.y0
    turn = ax * by - ay * bx
    if abs(turn) <= 1e-12 * math.hypot(ax, ay) * math.hypot(bx, by):
        return []
    dx, dy = second.x0 - first.x0, second.y0 - first.y0
    return _kept([((dx * by - dy * bx) / turn, (dx * ay - dy * ax) / turn)])


def _line_arc(line: Piece, arc: Piece, tolerance: float) -> list[tuple[float, float]]:
    dx, dy = line.x1 - line.x0, line.y1 - line.y0
    length = math.hypot(dx, dy)
    dx, dy = dx / length, dy / length
    (cx, cy), radius = arc.centre, arc.radius
    along = (cx - line.x0) * dx + (cy - line.y0) * dy
    away = (cx - line.x0) * dy - (cy - line.y0) * dx
    if abs(away) > radius + tolerance:
        return []
    half = math.sqrt(max(0.0, radius * radius - away * away))
    steps = (along,) if abs(abs(away) - radius) <= tolerance else (along - half, along + half)
    found = []
    for step in steps:
        x, y = line.x0 + step * dx, line.y0 + step * dy
        found.append((step / length, _share_of_angle(arc, math.atan2(y - cy, x - cx))))
    return _kept(found)


def _arc_arc(first: Piece, second: Piece, tolerance: float) -> list[tuple[float, float]]:
    if first.radius > second.radius:
        # Points are reckoned on the smaller circle: on a nearly straight arc's the angle has no
        # digits left.
        return [(share, other) for other, share in _arc_arc(second, first, tolerance)]
    (ax, ay), (bx, by) = first.centre, second.centre
    away, towards = math.hypot(bx - ax, by - ay), math.atan2(by - ay, bx - ax)
    r, s = first.radius, second.radius
    if away <= tolerance or away > r + s + tolerance or away < s - r - tolerance:
        return []
    if abs(away - (r + s)) <= tolerance:
        leans = [0.0]
    elif abs(away - (s - r)) <= tolerance:
        leans = [math.pi]
    else:
        cosine = ((away - s) * (away + s) + r * r) / (2.0 * away * r)
        lean = math.acos(max(-1.0, min(1.0, cosine)))
        leans = [lean, -lean]
    found = []
    for lean in leans:
        x, y = ax + r * math.cos(towards + lean), ay + r * math.sin(towards + lean)
        other = _share_of_angle(second, math.atan2(y - by, x - bx))
        found.append((_share_of_angle(first, towards + lean), other))
    return _kept(found)


def _kept(found: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return [(a, b) for a, b in found if 0.0 <= a <= 1.0 and 0.0 <= b <= 1.0]
