"""Outlines as shapely polygons, for distances, unions and containment."""

from __future__ import annotations

import shapely

from sheetplan.model.outline import Loop, Outline
from sheetplan.shapes.flattening import Side, flatten
from sheetplan.shapes.transforms import oriented


def to_polygon(shape: Outline | Loop, bound: float, side: Side = Side.ON) -> shapely.Geometry:
    """A polygon that strays at most ``bound`` mm from the shape.

    Parameters
    ----------
    shape : Outline or Loop
        A loop is taken as filled; marks of an outline are left out.
    bound : float
        mm, greater than 0.
    side : Side
        `Side.OUT` gives a polygon that contains all the metal (its holes are too small, if
        anything), `Side.IN` one that lies within it.

    Returns
    -------
    shapely.Geometry
        A valid Polygon. Where an outward polygon meets itself, in a slit narrower than the bound, the
        slit is closed; where an inward one does, in a neck as narrow, it falls into several
        (a MultiPolygon).
    """
    if isinstance(shape, Loop):
        return _ring(shape, bound, side)
    solid = _ring(shape.outer, bound, side)
    holes = [_ring(hole, bound, side.opposite) for hole in shape.holes]
    if not holes:
        return solid
    if all(isinstance(ring, shapely.Polygon) and not ring.interiors for ring in (solid, *holes)):
        plain = shapely.Polygon(solid.exterior, [hole.exterior for hole in holes if not hole.is_empty])
        if plain.is_valid:
            return plain
    return solid.difference(shapely.union_all(holes))


def _ring(loop: Loop, bound: float, side: Side) -> shapely.Geometry:
    polygon = shapely.Polygon(flatten(oriented(loop), bound, side))
    # A buffer of nothing keeps what the ring winds around at least once.
    return polygon if polygon.is_valid else polygon.buffer(0.0)
