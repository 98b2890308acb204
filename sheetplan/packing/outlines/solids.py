"""From part outlines and sheets' edges to the polygons that the packer works on, with fewer corners.

Outlines of thousands of vertices are made coarse outward. Two changes take a corner away and only ever add
metal: a hollow corner is bridged by the chord of its neighbours, and a bulging side is replaced by the point
where the sides next to it meet. The change that leaves the outline nearest to the true one goes first; what
changes before it strayed counts. Straight sides that stay keep their exact place.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.polygon import orient

from sheetplan.model.job import Part
from sheetplan.model.outline import Loop, Outline
from sheetplan.model.turns import allowed_turns, same_turn
from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.outlines.poses import Shape
from sheetplan.shapes import Side, area, size, to_polygon
from sheetplan.trade.units import SAME_LENGTH_MM

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FEWEST_CORNERS = 4
MOST_CORNERS = 160
"""Corners of one ring beyond which the bound on straying is loosened, so that maps stay quick."""

LOST_TO_ROUNDING = 1e-6
"""Area in mm2 that a simpler polygon may lack: along a metre of side it is far below an atom."""

LOOSEST = 8.0
"""How many times the bound may be loosened."""


@compiled
def _twice_area(at: Floats, a: int, b: int, c: int) -> float:
    """Twice the signed area of a triangle, positive when counter-clockwise."""
    across = (at[b, 0] - at[a, 0]) * (at[c, 1] - at[a, 1])
    return float(across - (at[b, 1] - at[a, 1]) * (at[c, 0] - at[a, 0]))


@compiled
def _from_side(at: Floats, a: int, b: int, x: float, y: float) -> float:
    """Distance of a point from the side from a to b."""
    ux, uy = at[b, 0] - at[a, 0], at[b, 1] - at[a, 1]
    vx, vy = x - at[a, 0], y - at[a, 1]
    length = ux * ux + uy * uy
    share = min(1.0, max(0.0, (ux * vx + uy * vy) / length)) if length > 0.0 else 0.0
    return math.hypot(vx - share * ux, vy - share * uy)


@compiled
def _change(at: Floats, before: Ints, after: Ints, strays: Floats, k: int) -> tuple[float, float, float]:
    """How far the outline strays at corner k once it is taken away, and where the next corner goes then.

    ``strays`` has how far each corner's side to the next one lies outside the true outline at most.
    """
    p, n = before[k], after[k]
    if _twice_area(at, p, k, n) <= 0.0:
        # The chord is nowhere farther from the two sides than the corner is from the chord's line.
        base = math.hypot(at[n, 0] - at[p, 0], at[n, 1] - at[p, 1])
        hollow = abs(_twice_area(at, p, n, k)) / base if base > 0.0 else np.inf
        return hollow + max(strays[p], strays[k]), at[n, 0], at[n, 1]
    beyond = after[n]
    if _twice_area(at, k, n, beyond) <= 0.0:
        return np.inf, 0.0, 0.0
    ux, uy = at[k, 0] - at[p, 0], at[k, 1] - at[p, 1]
    vx, vy = at[n, 0] - at[beyond, 0], at[n, 1] - at[beyond, 1]
    turn = ux * vy - uy * vx
    if turn >= 0.0:
        return np.inf, 0.0, 0.0
    dx, dy = at[n, 0] - at[k, 0], at[n, 1] - at[k, 1]
    ahead, back = (dx * vy - dy * vx) / turn, (dx * uy - dy * ux) / turn
    if ahead < 0.0 or back < 0.0:
        return np.inf, 0.0, 0.0
    x, y = at[k, 0] + ahead * ux, at[k, 1] + ahead * uy
    return max(strays[p], strays[n], strays[k] + _from_side(at, k, n, x, y)), x, y


@compiled
def _coarsen(at: Floats, bound: float) -> NDArray[np.bool_]:
    """Take corners of a ring, metal on its left, away; moves some of the others. Returns which are left."""
    count = at.shape[0]
    after, before = np.empty(count, np.int64), np.empty(count, np.int64)
    for k in range(count):
        after[k], before[k] = (k + 1) % count, (k - 1) % count
    strays, cost = np.zeros(count), np.empty(count)
    for k in range(count):
        cost[k] = _change(at, before, after, strays, k)[0]
    left = np.ones(count, np.bool_)
    alive = count
    while alive > FEWEST_CORNERS:
        k = int(np.argmin(cost))
        if cost[k] > (bound * LOOSEST if alive > MOST_CORNERS else bound):
            break
        stray, x, y = _change(at, before, after, strays, k)
        p, n = before[k], after[k]
        strays[p] = stray
        if at[n, 0] != x or at[n, 1] != y:
            at[n, 0], at[n, 1] = x, y
            strays[n] = stray
        after[p], before[n] = n, p
        left[k], cost[k] = False, np.inf
        alive -= 1
        for touched in (before[before[p]], before[p], p, n, after[n]):
            cost[touched] = _change(at, before, after, strays, touched)[0]
    return left


def _coarser(ring: shapely.LinearRing, bound: float) -> Floats:
    """The corners of a ring, metal on its left, with fewer of them."""
    at = np.array(ring.coords)[:-1, :2]
    return np.asarray(at[_coarsen(at, bound)])


def simpler(solid: shapely.Polygon, bound: float) -> shapely.Polygon:
    """A polygon with fewer corners that contains ``solid`` and strays at most ``bound`` mm from it.

    Rings of more than `MOST_CORNERS` corners may stray `LOOSEST` times as far.
    """
    ordered = orient(solid)
    rings = [_coarser(ring, bound) for ring in (ordered.exterior, *ordered.interiors)]
    coarse = shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) >= 3])
    if not coarse.is_valid:
        coarse = shapely.union(coarse.buffer(0.0), solid)
    whole = max(shapely.get_parts(coarse), key=lambda part: part.area)
    # Nothing is lost by construction but to rounding; only where rings came to cross may it be more.
    return whole if solid.difference(whole).area <= LOST_TO_ROUNDING else shapely.union(whole, solid)


FLATTEN_SHARE = 1 / 24
"""Arcs are flattened within this share of the lattice step, and corners taken away within it once more:
rounding costs far more."""


def part_shapes(parts: Sequence[Part], step: float, gap: float = 0.0) -> tuple[Shape, ...]:
    """The parts as shapes whose solids contain the true outlines.

    Holes that no part of them fits into, the gap (mm) all round it, are filled: lettering, bolt holes.
    """
    bound = step * FLATTEN_SHARE
    guests = {_Guest.of(part) for part in parts}
    solids: dict[Outline, shapely.Polygon] = {}
    for outline in (part.outline for part in parts):
        if outline not in solids:
            solids[outline] = _solid(outline, bound, guests, gap)
    return tuple(
        Shape(part.name, solids[part.outline], allowed_turns(part), part.may_mirror, 2.0 * bound)
        for part in parts
    )


@dataclass(frozen=True, slots=True)
class _Guest:
    """What a part asks of a hole that it is to lie in: so much area, and one of these boxes, mm."""

    area: float
    boxes: tuple[tuple[float, float], ...]

    @classmethod
    def of(cls, part: Part) -> _Guest:
        length, width = size(part.outline)
        turns = allowed_turns(part)
        boxes = {(width, length) if round(turn / 90.0) % 2 else (length, width) for turn in turns}
        if not all(same_turn(turn, 0.0, 90.0) for turn in turns):
            # The box at any other turn is not worked out; area alone speaks then.
            boxes = {(0.0, 0.0)}
        return cls(area(part.outline.outer), tuple(sorted(boxes)))


def _has_room(hole: Loop, guests: Iterable[_Guest], gap: float) -> bool:
    """Whether any of the guests may lie in a hole, as far as area and box go."""
    inside = area(hole)
    wide, tall = (side - 2.0 * gap + SAME_LENGTH_MM for side in size(hole))
    return any(
        guest.area <= inside and any(w <= wide and t <= tall for w, t in guest.boxes) for guest in guests
    )


def _solid(outline: Outline, bound: float, guests: Iterable[_Guest], gap: float) -> shapely.Polygon:
    holes = tuple(hole for hole in outline.holes if _has_room(hole, guests, gap))
    solid = to_polygon(Outline(outline.outer, holes), bound, Side.OUT)
    return simpler(max(shapely.get_parts(solid), key=lambda piece: piece.area), bound)


def edge_polygon(edge: Loop, bound: float) -> shapely.Polygon:
    """A sheet's edge as a polygon that lies within it."""
    inside = to_polygon(edge, bound, Side.IN)
    return max(shapely.get_parts(inside), key=lambda piece: piece.area)


def cut_polygon(cut: Loop, bound: float) -> shapely.Polygon:
    """An old cut as a polygon that contains it."""
    return max(shapely.get_parts(to_polygon(cut, bound, Side.OUT)), key=lambda piece: piece.area)
