"""Outlines as shapely polygons, for distances, unions and containment."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.model.outline import Loop, Outline
from sheetplan.shapes.flattening import Side, flatten
from sheetplan.shapes.transforms import oriented

Points = NDArray[np.float64]


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


SAMPLES = 4
"""Points of each line that are held against other lines, its end not counted."""


def apart(first: Sequence[Points], second: Sequence[Points]) -> float:
    """How far either of two sets of polylines strays from the other at most, mm.

    Ends alone do not tell: the same corners joined in another order are another outline.

    Parameters
    ----------
    first, second
        Polylines of shape (n, 2); the end of a closed one is its beginning.
    """
    one, other = _lines(first), _lines(second)
    return max(_strays(one, other), _strays(other, one))


def _lines(polylines: Sequence[Points]) -> tuple[Points, Points]:
    """Starts and ends of all straight lines."""
    return np.vstack([one[:-1] for one in polylines]), np.vstack([one[1:] for one in polylines])


def _strays(lines: tuple[Points, Points], others: tuple[Points, Points]) -> float:
    shares = np.arange(SAMPLES)[:, None] / SAMPLES
    points = (lines[0][:, None] + (lines[1] - lines[0])[:, None] * shares).reshape(-1, 2)
    tree = shapely.STRtree(shapely.linestrings(np.stack(others, axis=1)))
    every = shapely.points(np.vstack([points, lines[1]]))
    _, away = tree.query_nearest(every, return_distance=True, all_matches=False)
    return float(away.max())
