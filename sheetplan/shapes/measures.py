"""Areas, lengths and boxes of loops and outlines, exact on arcs."""

from __future__ import annotations

import math
from typing import NamedTuple

from sheetplan.model.outline import Loop, Outline, Stroke
from sheetplan.shapes.arcs import Piece, extremes, pieces, segment_area, segment_moment


class Box(NamedTuple):
    """The smallest upright rectangle around something, mm."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def length(self) -> float:
        """Extent along x."""
        return self.right - self.left

    @property
    def width(self) -> float:
        """Extent along y."""
        return self.top - self.bottom


def signed_area(loop: Loop) -> float:
    """Area of a loop in mm2, positive when it runs counter-clockwise, exact on arcs."""
    ox, oy, _ = loop.vertices[0]
    total = 0.0
    for x0, y0, x1, y1, bulge in pieces(loop):
        cross = (x0 - ox) * (y1 - oy) - (x1 - ox) * (y0 - oy)
        total += cross / 2.0 + (segment_area(Piece(x0, y0, x1, y1, bulge)) if bulge else 0.0)
    return total


def area(shape: Loop | Outline) -> float:
    """Area in mm2: inside a loop, or the metal of an outline (holes taken off).

    >>> from sheetplan.model.outline import rectangle
    >>> area(rectangle(4.0, 3.0))
    12.0
    """
    if isinstance(shape, Loop):
        return abs(signed_area(shape))
    return area(shape.outer) - sum(area(hole) for hole in shape.holes)


def _moments(loop: Loop) -> tuple[float, float, float]:
    """Area and first moments (about the first vertex) of a loop, as if counter-clockwise."""
    ox, oy, _ = loop.vertices[0]
    total = mx = my = 0.0
    for piece in pieces(loop):
        x0, y0, x1, y1 = piece.x0 - ox, piece.y0 - oy, piece.x1 - ox, piece.y1 - oy
        triangle = (x0 * y1 - x1 * y0) / 2.0
        total += triangle
        mx += triangle * (x0 + x1) / 3.0
        my += triangle * (y0 + y1) / 3.0
        if piece.bulge:
            cap, chord = segment_area(piece), piece.chord
            # The segment bows to the right of the chord when its area counts as positive, and
            # area and side change sign together, so the moment across the chord does not.
            across = segment_moment(piece)
            total += cap
            mx += cap * (x0 + x1) / 2.0 + across * (y1 - y0) / chord
            my += cap * (y0 + y1) / 2.0 - across * (x1 - x0) / chord
    sign = math.copysign(1.0, total)
    return sign * total, sign * mx, sign * my


def centroid(shape: Loop | Outline) -> tuple[float, float]:
    """Centre of gravity of a loop's inside or of an outline's metal, exact on arcs.

    Raises
    ------
    ValueError
        If there is no area.
    """
    loops = (shape,) if isinstance(shape, Loop) else (shape.outer, *shape.holes)
    total = mx = my = 0.0
    for i, loop in enumerate(loops):
        sign = 1.0 if i == 0 else -1.0
        part, px, py = _moments(loop)
        ox, oy, _ = loop.vertices[0]
        total += sign * part
        mx += sign * (px + part * ox)
        my += sign * (py + part * oy)
    if total == 0.0:
        raise ValueError("a shape without area has no centroid")
    return mx / total, my / total


def perimeter(chain: Loop | Stroke) -> float:
    """Length along a loop or stroke, mm, exact on arcs."""
    return sum(piece.length for piece in pieces(chain))


def cut_length(outline: Outline) -> float:
    """Length that is cut through: outer loop and holes, mm; marks are not cut."""
    return perimeter(outline.outer) + sum(perimeter(hole) for hole in outline.holes)


def pierces(outline: Outline) -> int:
    """How often the torch starts: once for the outer loop and once for each hole."""
    return 1 + len(outline.holes)


def box(shape: Loop | Stroke | Outline) -> Box:
    """The smallest upright rectangle around a shape, exact on arcs; an outline's is its outer loop's."""
    chain = shape.outer if isinstance(shape, Outline) else shape
    xs = [vertex[0] for vertex in chain.vertices]
    ys = [vertex[1] for vertex in chain.vertices]
    if any(vertex[2] for vertex in chain.vertices):
        for piece in pieces(chain):
            if piece.bulge:
                for x, y in extremes(piece):
                    xs.append(x)
                    ys.append(y)
    return Box(min(xs), min(ys), max(xs), max(ys))


def size(outline: Outline | Loop) -> tuple[float, float]:
    """Length (along x) and width (along y) of the box, mm."""
    around = box(outline)
    return around.length, around.width
