"""Polygons cut into convex pieces that cover them exactly.

Triangles of a constrained Delaunay triangulation are joined across a shared side as long as the
union stays convex (Hertel and Mehlhorn 1983, "Fast triangulation of simple polygons": at most
four times as many pieces as the least possible).
"""

from __future__ import annotations

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
    i, j = first.index(a), second.index(b)
    # From b round the first piece to a, then on round the second piece back to b.
    round_first = [first[(i + 1 + k) % len(first)] for k in range(len(first))]
    round_second = [second[(j + 1 + k) % len(second)] for k in range(len(second))]
    whole = round_first + round_second[1:-1]
    count = len(whole)
    for k in (0, len(first) - 1):
        if _turn(whole[k - 1], whole[k], whole[(k + 1) % count]) < 0.0:
            return None
    return whole


def convex_pieces(solid: shapely.Polygon) -> list[Points]:
    """Convex pieces of a polygon, counter-clockwise corners, each of shape (n, 2)."""
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(solid))
    pieces: dict[int, list[Corner]] = {}
    owner: dict[tuple[Corner, Corner], int] = {}
    for number, triangle in enumerate(triangles):
        ring = np.asarray(shapely.geometry.polygon.orient(triangle).exterior.coords)[:-1, :2]
        corners = [(float(x), float(y)) for x, y in ring]
        pieces[number] = corners
        for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
            owner[a, b] = number
    for side in sorted(owner, key=lambda s: (-np.hypot(s[0][0] - s[1][0], s[0][1] - s[1][1]), s)):
        back = (side[1], side[0])
        if back not in owner or owner[side] == owner[back]:
            continue
        kept, gone = owner[side], owner[back]
        whole = _joined(pieces[kept], pieces[gone], side)
        if whole is not None:
            pieces[kept] = whole
            del pieces[gone]
            for edge, of in owner.items():
                if of == gone:
                    owner[edge] = kept
    return [np.array(corners) for corners in pieces.values()]
