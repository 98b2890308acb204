"""Fewer corners without losing metal: outlines of thousands of vertices made coarse outward.

Two changes take a corner away and only ever add metal: a hollow corner is bridged by the chord
of its neighbours, and a bulging side is replaced by the point where the sides next to it meet.
The change that strays least goes first. Straight sides that stay keep their exact place.
"""

from __future__ import annotations

import heapq
import math

import numpy as np
import shapely
from shapely.geometry.polygon import orient

Corner = tuple[float, float]

FEWEST_CORNERS = 4
MOST_CORNERS = 160
"""Corners of one ring beyond which the bound on straying is loosened, so that maps stay quick."""

LOST_TO_ROUNDING = 1e-6
"""Area in mm2 that a simpler polygon may lack: along a metre of side it is far below an atom."""

LOOSEST = 8.0
"""How many times the bound may be loosened."""


def _cross(a: Corner, b: Corner, c: Corner) -> float:
    """Twice the signed area of a triangle, positive when counter-clockwise."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _height(a: Corner, b: Corner, apex: Corner) -> float:
    """Distance of ``apex`` from the line through ``a`` and ``b``."""
    base = math.dist(a, b)
    return abs(_cross(a, b, apex)) / base if base > 0.0 else math.dist(a, apex)


def _meeting(a: Corner, b: Corner, c: Corner, d: Corner) -> Corner | None:
    """Where the line from a through b, carried on, meets the line from d through c, carried on."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], c[0] - d[0], c[1] - d[1]
    turn = ux * vy - uy * vx
    if turn >= 0.0:
        return None
    ahead = ((c[0] - b[0]) * vy - (c[1] - b[1]) * vx) / turn
    back = ((c[0] - b[0]) * uy - (c[1] - b[1]) * ux) / turn
    return (b[0] + ahead * ux, b[1] + ahead * uy) if ahead >= 0.0 and back >= 0.0 else None


class _Ring:
    """A ring with metal on its left, as a linked circle of corners."""

    def __init__(self, corners: list[Corner]) -> None:
        self.at = corners
        count = len(corners)
        self.after = [(k + 1) % count for k in range(count)]
        self.before = [(k - 1) % count for k in range(count)]
        self.age = [0] * count
        self.alive = count

    def change(self, k: int) -> tuple[float, Corner | None]:
        """What taking away corner k (and, where a point is given, moving the next one there) strays."""
        p, v, n = self.at[self.before[k]], self.at[k], self.at[self.after[k]]
        if _cross(p, v, n) <= 0.0:
            return _height(p, n, v), None
        beyond = self.at[self.after[self.after[k]]]
        if _cross(v, n, beyond) <= 0.0:
            return math.inf, None
        point = _meeting(p, v, n, beyond)
        return (_height(v, n, point), point) if point else (math.inf, None)

    def take(self, k: int, point: Corner | None) -> list[int]:
        """Make the change at corner k; returns the corners whose own change is different now."""
        left, right = self.before[k], self.after[k]
        if point is not None:
            self.at[right] = point
        self.after[left], self.before[right] = right, left
        self.age[k] = -1
        self.alive -= 1
        return [self.before[left], left, right, self.after[right]]

    def corners(self) -> list[Corner]:
        """The corners that are left, in order."""
        return [self.at[k] for k in range(len(self.at)) if self.age[k] >= 0]


def _coarser_ring(corners: list[Corner], bound: float) -> list[Corner]:
    ring = _Ring(corners)
    queue = [(ring.change(k)[0], k, 0) for k in range(len(corners))]
    heapq.heapify(queue)
    while queue and ring.alive > FEWEST_CORNERS:
        strays, k, age = heapq.heappop(queue)
        limit = bound * LOOSEST if ring.alive > MOST_CORNERS else bound
        if strays > limit:
            break
        if ring.age[k] != age:
            continue
        for touched in ring.take(k, ring.change(k)[1]):
            ring.age[touched] += 1
            heapq.heappush(queue, (ring.change(touched)[0], touched, ring.age[touched]))
    return ring.corners()


def simpler(solid: shapely.Polygon, bound: float) -> shapely.Polygon:
    """A polygon with fewer corners that contains ``solid`` and strays about ``bound`` mm from it.

    Rings of more than `MOST_CORNERS` corners may stray `LOOSEST` times as far.
    """
    ordered = orient(solid)
    rings = [
        _coarser_ring([(float(x), float(y)) for x, y in np.asarray(ring.coords)[:-1, :2]], bound)
        for ring in (ordered.exterior, *ordered.interiors)
    ]
    coarse = shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) >= 3])
    if not coarse.is_valid:
        coarse = shapely.union(coarse.buffer(0.0), solid)
    whole = max(shapely.get_parts(coarse), key=lambda part: part.area)
    # Nothing is lost by construction but to rounding; only where rings came to cross may it be more.
    return whole if solid.difference(whole).area <= LOST_TO_ROUNDING else shapely.union(whole, solid)


def without_holes_below(solid: shapely.Polygon, area: float) -> shapely.Polygon:
    """The solid with holes smaller than ``area`` mm2 filled: no part fits into them."""
    return shapely.Polygon(solid.exterior, [h for h in solid.interiors if shapely.Polygon(h).area > area])
