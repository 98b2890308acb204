"""Where pieces meet: nearest points, crossings, and cutting a piece at a point.

Terms
-----
share
    A place along a piece as a fraction of its length, 0 at its start and 1 at its end.
"""

from __future__ import annotations

import math

from sheetplan.shapes.arcs import Piece

FLAT_BULGE = 1e-8
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


def nearest(piece: Piece, x: float, y: float) -> tuple[float, float]:
    """Distance from a point to the piece, and the share of the nearest place."""
    inner = _foot(piece, x, y)
    ends = ((math.hypot(x - piece.x0, y - piece.y0), 0.0), (math.hypot(x - piece.x1, y - piece.y1), 1.0))
    return min((*ends, inner)) if inner else min(ends)


def _foot(piece: Piece, x: float, y: float) -> tuple[float, float] | None:
    """Distance and share where the joining line is square to the piece, if that lies within it."""
    if abs(piece.bulge) <= FLAT_BULGE:
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
    straight_first, straight_second = abs(first.bulge) <= FLAT_BULGE, abs(second.bulge) <= FLAT_BULGE
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
