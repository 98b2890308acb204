"""Turning, moving and mirroring outlines; bulges, and so arcs, are kept as they are."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TypeVar

from sheetplan.model.outline import Loop, Outline, Stroke, Vertex
from sheetplan.model.plan import Placement
from sheetplan.model.turns import same_turn
from sheetplan.shapes.measures import box, signed_area

Shape = TypeVar("Shape", Loop, Stroke, Outline)

_QUARTERS = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))


def cos_sin(degrees: float) -> tuple[float, float]:
    """Cosine and sine of a turn; quarter turns exactly, so that they leave no dust.

    >>> cos_sin(90.0), cos_sin(-90.0)
    ((0.0, 1.0), (0.0, -1.0))
    """
    for quarter, exact in enumerate(_QUARTERS):
        if same_turn(degrees, 90.0 * quarter):
            return exact
    radians = math.radians(degrees % 360.0)
    return math.cos(radians), math.sin(radians)


def _mapped(shape: Shape, change: Callable[[Vertex], Vertex]) -> Shape:
    if isinstance(shape, Outline):
        return Outline(
            _mapped(shape.outer, change),
            tuple(_mapped(hole, change) for hole in shape.holes),
            tuple(_mapped(mark, change) for mark in shape.marks),
        )
    return type(shape)(tuple(map(change, shape.vertices)))


def move(shape: Shape, dx: float, dy: float) -> Shape:
    """The shape moved by ``(dx, dy)`` mm."""
    return _mapped(shape, lambda v: (v[0] + dx, v[1] + dy, v[2]))


def turn(shape: Shape, degrees: float) -> Shape:
    """The shape turned counter-clockwise about (0, 0)."""
    cos, sin = cos_sin(degrees)
    return _mapped(shape, lambda v: (cos * v[0] - sin * v[1] + 0.0, sin * v[0] + cos * v[1] + 0.0, v[2]))


def mirror(shape: Shape) -> Shape:
    """The shape with x turned into -x; arcs turn the other way."""
    return _mapped(shape, lambda v: (0.0 - v[0], v[1], 0.0 - v[2]))


def place(shape: Shape, placement: Placement) -> Shape:
    """The shape where a placement puts it: mirrored (x to -x), then turned, then moved."""
    cos, sin = cos_sin(placement.turn)
    flip = -1.0 if placement.mirrored else 1.0
    dx, dy = placement.x, placement.y

    def change(vertex: Vertex) -> Vertex:
        x, y, bulge = vertex
        x *= flip
        return cos * x - sin * y + dx, sin * x + cos * y + dy, flip * bulge

    return _mapped(shape, change)


def settle(outline: Outline) -> Outline:
    """The outline moved so that the lower left corner of its box lies at (0, 0)."""
    around = box(outline)
    if around.left == 0.0 and around.bottom == 0.0:
        return outline
    return move(outline, -around.left, -around.bottom)


def reverse(chain: Loop) -> Loop:
    """The same loop run the other way, from the same first vertex."""
    first, rest = chain.vertices[0], chain.vertices[1:]
    order = (first, *reversed(rest))
    before = (chain.vertices[-1], *reversed(chain.vertices[:-1]))
    return Loop(tuple((x, y, 0.0 - b[2]) for (x, y, _), b in zip(order, before, strict=True)))


def oriented(loop: Loop, counter_clockwise: bool = True) -> Loop:
    """The loop run counter-clockwise (or clockwise)."""
    return loop if (signed_area(loop) > 0.0) == counter_clockwise else reverse(loop)
