"""How far the head travels without cutting.

The table's own program decides the order of the cuts; here the head goes from the datum corner to the
nearest loop that is not cut yet, and so on, straight from start to start. That is an estimate, good
enough for hours and money, and the same for the same layout.
"""

from __future__ import annotations

from collections.abc import Mapping

from sheetplan.model.job import Part, edge_of
from sheetplan.model.plan import Layout, Placement
from sheetplan.model.settings import Corner
from sheetplan.shapes import box, place

Point = tuple[float, float]


def moves_length(layout: Layout, parts: Mapping[str, Part], datum: Corner = Corner.LOWER_LEFT) -> float:
    """Length of the moves on one sheet of a layout, mm: from the datum corner to every loop's start.

    The way back is not counted: the head stays where the next sheet is squared from.
    """
    import numpy as np

    points = np.array(_starts(layout, parts))
    at = np.array(_corner(layout, datum))
    left = np.ones(len(points), dtype=bool)
    total = 0.0
    for _ in range(len(points)):
        apart = np.hypot(*(points - at).T)
        nearest = int(np.argmin(np.where(left, apart, np.inf)))
        total += float(apart[nearest])
        at = points[nearest]
        left[nearest] = False
    return total


def _starts(layout: Layout, parts: Mapping[str, Part]) -> list[Point]:
    """Where each loop begins on the sheet: its first vertex."""
    at_origin: dict[tuple[str, float, bool], list[Point]] = {}
    found = []
    for placement in layout.placements:
        key = placement.part, placement.turn, placement.mirrored
        if key not in at_origin:
            at_origin[key] = _loop_starts(placement, parts)
        found += [(x + placement.x, y + placement.y) for x, y in at_origin[key]]
    return found


def _loop_starts(placement: Placement, parts: Mapping[str, Part]) -> list[Point]:
    turned = Placement(placement.part, 0.0, 0.0, placement.turn, placement.mirrored)
    outline = place(parts[placement.part].outline, turned)
    return [loop.vertices[0][:2] for loop in (outline.outer, *outline.holes)]


def _corner(layout: Layout, datum: Corner) -> Point:
    around = box(edge_of(layout.sheet))
    return (
        around.right if datum.is_right else around.left,
        around.top if datum.is_upper else around.bottom,
    )
