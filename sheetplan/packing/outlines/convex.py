"""Polygons cut into convex pieces that cover them exactly.

Triangles of a constrained Delaunay triangulation are joined across a shared side as long as the
union stays convex (Hertel and Mehlhorn 1983, "Fast triangulation of simple polygons": at most
four times as many pieces as the least possible).
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

Points = NDArray[np.float64]

Corner = tuple[float, float]


def _turn(a: Corner, b: Corner, c: Corner) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _joined(first: list[Corner], second: list[Corner], side: tuple[Corner, Corner]) -> list[Corner] | None:
    """The union of two convex pieces across a side that runs a to b in the first, if it is convex."""
    a, b = side
    i, j, many, more = first.index(a), second.index(b), len(first), len(second)
    # Only where the side ends may the union be hollow: from the first on to the second, and back.
    if _turn(first[i - 1], a, second[(j + 2) % more]) < 0.0:
        return None
    if _turn(second[j - 1], b, first[(i + 2) % many]) < 0.0:
        return None
    # From b round the first piece to a, then on round the second piece back to b.
    return [*first[i + 1 :], *first[: i + 1], *[*second[j:], *second[:j]][2:]]


def _triangles(solid: shapely.Polygon) -> list[list[Corner]]:
    """Triangles that make up a polygon, corners counter-clockwise."""
    found = shapely.get_parts(shapely.constrained_delaunay_triangles(solid))
    corners = shapely.get_coordinates(found).reshape(-1, 4, 2)[:, :3]
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    clockwise = first[:, 0] * second[:, 1] < first[:, 1] * second[:, 0]
    corners[clockwise] = corners[clockwise, ::-1]
    return [[(x, y) for x, y in triangle] for triangle in corners.tolist()]


def convex_pieces(solid: shapely.Polygon) -> list[Points]:
    """Convex pieces of a polygon, counter-clockwise corners, each of shape (n, 2)."""
    pieces = dict(enumerate(_triangles(solid)))
    owner: dict[tuple[Corner, Corner], int] = {}
    for number, corners in pieces.items():
        for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
            owner[a, b] = number
    joined_to = list(range(len(pieces)))

    def now(number: int) -> int:
        """The piece that a triangle is part of by now."""
        while joined_to[number] != number:
            joined_to[number] = number = joined_to[joined_to[number]]
        return number

    for side in sorted(owner, key=lambda s: (-math.dist(*s), s)):
        back = (side[1], side[0])
        if back not in owner:
            continue
        kept, gone = now(owner[side]), now(owner[back])
        if kept == gone:
            continue
        whole = _joined(pieces[kept], pieces[gone], side)
        if whole is not None:
            pieces[kept] = whole
            del pieces[gone]
            joined_to[gone] = kept
    return [np.array(corners) for corners in pieces.values()]
