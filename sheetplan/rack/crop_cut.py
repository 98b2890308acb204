"""The crop cut: straight lines that part what is kept of a sheet from its skeleton.

It runs half a kerf outside the rectangle that is kept, so that the rectangle comes out at its size;
it is cut on the line. Where the rectangle reaches the sheet's own edge there is nothing to cut.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from sheetplan.model.outline import Loop, Stroke
from sheetplan.shapes import Box, Side, box, is_rectangle, to_polygon
from sheetplan.trade.units import SAME_LENGTH_MM

EDGE_MM = 0.01
"""How far an odd edge may be flattened."""


def crop_cuts(edge: Loop, room: Box, kerf: float) -> tuple[Stroke, ...]:
    """The lines of the crop cut, each begun with a pierce or at the sheet's edge.

    Parameters
    ----------
    edge
        The sheet's outer edge.
    room
        The rectangle that is kept, in the sheet's frame (mm).
    kerf
        Width of the cut, mm.

    Returns
    -------
    tuple of Stroke
        Empty where the rectangle is the whole sheet.
    """
    half = kerf / 2.0
    around = box(edge)
    line = Box(
        _out(room.left, around.left, -half), _out(room.bottom, around.bottom, -half),
        _out(room.right, around.right, half), _out(room.top, around.top, half),
    )  # fmt: skip
    if is_rectangle(edge):
        return tuple(_joined(list(_sides(line, around))))
    return tuple(_on_metal(line, edge))


def _out(side: float, sheet_side: float, by: float) -> float:
    """A side moved outwards by half a kerf, unless it is the sheet's own."""
    return side if abs(side - sheet_side) <= SAME_LENGTH_MM else side + by


def _sides(line: Box, around: Box) -> Iterator[tuple[tuple[float, float], tuple[float, float]] | None]:
    """The four sides in turn; None for one that lies on the sheet's edge."""
    corners = ((line.left, line.bottom), (line.right, line.bottom),
               (line.right, line.top), (line.left, line.top))  # fmt: skip
    beyond = (
        line.bottom <= around.bottom + SAME_LENGTH_MM, line.right >= around.right - SAME_LENGTH_MM,
        line.top >= around.top - SAME_LENGTH_MM, line.left <= around.left + SAME_LENGTH_MM,
    )  # fmt: skip
    for number, on_edge in enumerate(beyond):
        yield None if on_edge else (corners[number], corners[(number + 1) % 4])


def _joined(sides: list[tuple[tuple[float, float], tuple[float, float]] | None]) -> Iterator[Stroke]:
    """Sides that follow one another as one stroke."""
    if None not in sides:  # an island: once round
        ring = [side[0] for side in sides if side]
        yield _stroke([*ring, ring[0]])
        return
    first = sides.index(None)
    points: list[tuple[float, float]] = []
    for side in (*sides[first:], *sides[:first], None):
        if side is None:
            if points:
                yield _stroke(points)
            points = []
        else:
            points = [*(points or [side[0]]), side[1]]


def _on_metal(line: Box, edge: Loop) -> Iterator[Stroke]:
    """The parts of the rectangle's sides that run through the metal of a sheet with an odd edge."""
    metal = to_polygon(edge, EDGE_MM, Side.OUT).buffer(-SAME_LENGTH_MM)
    ring = shapely.LinearRing([
        (line.left, line.bottom), (line.right, line.bottom), (line.right, line.top), (line.left, line.top),
    ])  # fmt: skip
    through = shapely.line_merge(shapely.intersection(ring, metal))
    for piece in shapely.get_parts(through):
        if piece.geom_type == "LineString" and piece.length > LEAST_MM:
            yield _stroke([(float(x), float(y)) for x, y in piece.coords])


LEAST_MM = 1.0
"""Shorter pieces of a crop cut are the dust of an edge made straight-sided, and fall with the kerf."""


def _stroke(points: list[tuple[float, float]]) -> Stroke:
    return Stroke(tuple((x, y, 0.0) for x, y in points))
