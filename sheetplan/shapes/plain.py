"""Recognising plain shapes, and whether two loops are the same."""

from __future__ import annotations

import math

from sheetplan.model.outline import Loop, Outline, Vertex
from sheetplan.model.settings import Corner
from sheetplan.shapes.arcs import pieces
from sheetplan.shapes.measures import box
from sheetplan.shapes.transforms import oriented
from sheetplan.trade.units import SAME_LENGTH_MM


def is_rectangle(shape: Outline | Loop) -> bool:
    """Whether the outer loop is a plain upright rectangle; holes and marks do not matter."""
    loop = shape.outer if isinstance(shape, Outline) else shape
    rises = (abs(vertex[2]) * _chord(loop, i) / 2.0 for i, vertex in enumerate(loop.vertices))
    if max(rises) > SAME_LENGTH_MM:
        return False
    around = box(loop)
    if min(around.length, around.width) <= SAME_LENGTH_MM:
        return False
    corners = set()
    for i, (x, y, _) in enumerate(loop.vertices):
        ahead_x, ahead_y, _ = loop.vertices[(i + 1) % len(loop.vertices)]
        if min(abs(ahead_x - x), abs(ahead_y - y)) > SAME_LENGTH_MM:
            return False
        at_side = min(x - around.left, around.right - x) <= SAME_LENGTH_MM
        at_end = min(y - around.bottom, around.top - y) <= SAME_LENGTH_MM
        if not (at_side or at_end):
            return False
        if at_side and at_end:
            corners.add((x - around.left < around.length / 2, y - around.bottom < around.width / 2))
    return len(corners) == 4


def _chord(loop: Loop, i: int) -> float:
    x0, y0, _ = loop.vertices[i]
    x1, y1, _ = loop.vertices[(i + 1) % len(loop.vertices)]
    return math.hypot(x1 - x0, y1 - y0)


def without_corner(length: float, width: float, gone_length: float, gone_width: float, at: Corner) -> Loop:
    """A rectangle with a smaller one cut from a corner: six corners, lower left of the whole at (0, 0).

    >>> without_corner(10.0, 6.0, 4.0, 2.0, Corner.UPPER_RIGHT).vertices[2:5]
    ((10.0, 4.0, 0.0), (6.0, 4.0, 0.0), (6.0, 6.0, 0.0))
    """
    inner_x, inner_y = length - gone_length, width - gone_width
    right = [(length, 0.0), (length, inner_y), (inner_x, inner_y), (inner_x, width)]
    points = [(0.0, 0.0), *right, (0.0, width)]
    if not at.is_right:
        points = [(length - x, y) for x, y in reversed(points)]
    if not at.is_upper:
        points = [(x, width - y) for x, y in reversed(points)]
    return Loop(tuple((x, y, 0.0) for x, y in points))


def across_corner(length: float, width: float, gone_length: float, gone_width: float, at: Corner) -> Loop:
    """A rectangle with a corner cut off straight; as wide or as long as the whole, the corner goes with it.

    >>> across_corner(10.0, 6.0, 4.0, 6.0, Corner.UPPER_RIGHT).vertices
    ((0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (6.0, 6.0, 0.0), (0.0, 6.0, 0.0))
    """
    cut = (length, width - gone_width), (length - gone_length, width)
    points = [(0.0, 0.0), (length, 0.0), *cut, (0.0, width)]
    kept = [
        point for point, before in zip(points, (points[-1], *points[:-1]), strict=True)
        if math.dist(point, before) > SAME_LENGTH_MM
    ]  # fmt: skip
    if not at.is_right:
        kept = [(length - x, y) for x, y in reversed(kept)]
    if not at.is_upper:
        kept = [(x, width - y) for x, y in reversed(kept)]
    return Loop(tuple((x, y, 0.0) for x, y in kept))


def same_loop(first: Loop, second: Loop, tolerance: float = SAME_LENGTH_MM) -> bool:
    """Whether two loops have the same vertices and arcs, whatever their start and direction."""
    if len(first.vertices) != len(second.vertices):
        return False
    a, b = oriented(first).vertices, oriented(second).vertices
    return any(_same_vertices(a, b[k:] + b[:k], tolerance) for k in range(len(b)))


def _same_vertices(first: tuple[Vertex, ...], second: tuple[Vertex, ...], tolerance: float) -> bool:
    """Vertex by vertex; bulges are compared by how far apart they put the middle of the piece."""
    for i, ((ax, ay, a_bulge), (bx, by, b_bulge)) in enumerate(zip(first, second, strict=True)):
        if max(abs(ax - bx), abs(ay - by)) > tolerance:
            return False
        ahead_x, ahead_y, _ = first[(i + 1) % len(first)]
        if abs(a_bulge - b_bulge) * math.hypot(ahead_x - ax, ahead_y - ay) / 2.0 > tolerance:
            return False
    return True


def circle_loop(x: float, y: float, radius: float) -> Loop:
    """A full circle as two half turns."""
    return Loop(((x - radius, y, 1.0), (x + radius, y, 1.0)))


def as_circle(loop: Loop) -> tuple[float, float, float] | None:
    """Centre and radius of a loop that is one full circle, or None.

    >>> as_circle(Loop(((0.0, 0.0, 1.0), (4.0, 0.0, 1.0))))
    (2.0, 0.0, 2.0)
    """
    arcs = list(pieces(loop))
    if not arcs or any(arc.bulge * arcs[0].bulge <= 0.0 for arc in arcs):
        return None
    around = box(loop)
    radius = (around.length + around.width) / 4.0
    x, y = (around.left + around.right) / 2.0, (around.bottom + around.top) / 2.0
    for arc in arcs:
        cx, cy = arc.centre
        if max(abs(cx - x), abs(cy - y), abs(arc.radius - radius)) > SAME_LENGTH_MM:
            return None
    once_round = abs(sum(arc.sweep for arc in arcs))
    return (x, y, radius) if abs(once_round - 2.0 * math.pi) * radius <= SAME_LENGTH_MM else None
