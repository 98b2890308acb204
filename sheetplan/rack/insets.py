"""The metal that falls out of a hole: the hole's loop drawn in by the kerf."""

from __future__ import annotations

import shapely

from sheetplan.model.outline import Loop
from sheetplan.shapes import Side, as_circle, box, is_rectangle, to_polygon

FLAT_MM = 0.02
"""How far an odd loop may be flattened inwards before it is drawn in."""


def drawn_in(loop: Loop, by: float) -> Loop | None:
    """The loop that lies ``by`` mm inside another, or None where nothing is left.

    Circles and rectangles are exact. Other loops lose up to `FLAT_MM` more, never less; where the
    inside falls apart, the largest piece is taken.
    """
    circle = as_circle(loop)
    if circle:
        x, y, radius = circle
        radius -= by
        return Loop(((x - radius, y, 1.0), (x + radius, y, 1.0))) if radius > 0.0 else None
    if is_rectangle(loop):
        a = box(loop)
        left, bottom, right, top = a.left + by, a.bottom + by, a.right - by, a.top - by
        if right <= left or top <= bottom:
            return None
        return Loop(((left, bottom, 0.0), (right, bottom, 0.0), (right, top, 0.0), (left, top, 0.0)))
    inside = to_polygon(loop, FLAT_MM, Side.IN).buffer(-by, join_style="mitre").simplify(FLAT_MM / 2.0)
    pieces = [piece for piece in shapely.get_parts(inside) if not piece.is_empty]
    if not pieces:
        return None
    largest = max(pieces, key=lambda piece: piece.area)
    return Loop(tuple((x, y, 0.0) for x, y in largest.exterior.coords[:-1]))
