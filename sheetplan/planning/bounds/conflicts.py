"""Pairs of large parts of which no sheet holds both, however they lie.

For one way of lying each, the shifts of B against A that keep both on a sheet of length L and width W are a
whole rectangle of shifts: from -(L - length of A) to L - length of B along x, and so along y. B moved by t
keeps the gap to A if and only if t lies outside the no-fit polygon of the pair grown by the gap (Albano and
Sapuppo, "Optimal allocation of two-dimensional irregular shapes using heuristic search methods", IEEE
Transactions on Systems, Man and Cybernetics 10, 1980). So the pair is impossible on a sheet if for all ways
of lying the grown polygon covers the rectangle.

The polygon is made too small, never too large: of outlines drawn in by `SHRINK_MM`, cut into triangles of
which those that reach outside are left out, and of convex sums of triangles (a convex decomposition:
Agarwal, Flato and Halperin, "Polygon decomposition for efficient construction of Minkowski sums",
Computational Geometry 21, 2002). Holes in which a part may lie are left open.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from shapely import affinity

from sheetplan.model.turns import allowed_turns
from sheetplan.packing.rectangles import NM_PER_MM
from sheetplan.planning.bounds.model import BoundModel, Metal, Pair, solid_of

SHRINK_MM = 0.25
"""How far outlines are drawn in, and simplified within that."""

SEAM_MM = 1e-3
"""Seams between sums of triangles are closed up to this; a true slit is wider by twice `SHRINK_MM`."""

MOST_TYPES = 10
"""Types looked at: those of the largest boxes."""

MOST_CORNERS = 60
"""Outlines of more corners than this are simplified further."""

MOST_WAYS = 8
"""A part of more ways of lying is not looked at."""

LEAST_SHARE = 0.08
"""Parts whose boxes are smaller than this share of a sheet are not looked at: two of them fit."""

Span = tuple["np.ndarray[tuple[int], np.dtype[np.float64]]", "np.ndarray[tuple[int], np.dtype[np.float64]]"]


@lru_cache(maxsize=64)
def with_conflicts(known: BoundModel) -> BoundModel:
    """The same model once it is known which pairs of pieces share no sheet."""
    return replace(known, pairs=conflicts_of(known))


def conflicts_of(known: BoundModel) -> tuple[Pair, ...]:
    """All pairs of wanted pieces that are known to share no sheet, by metal."""
    return tuple(pair for m, metal in enumerate(known.metals) for pair in _on_metal(known, m, metal))


def _on_metal(known: BoundModel, m: int, metal: Metal) -> Iterator[Pair]:
    whole = float(metal.sides[0]) * float(metal.sides[1])
    wanted = known.problem.wanted
    boxes = [max(float(w.box[0]) * float(w.box[1]) for w in ways) for ways in known.ways]
    large = [
        t for t in np.argsort(-np.array(boxes), kind="stable")
        if wanted[t] and boxes[t] >= LEAST_SHARE * whole and _fits(known, int(t), metal)
    ][:MOST_TYPES]  # fmt: skip
    for place, t in enumerate(large):
        for u in large[place:]:
            if (t != u or wanted[t] > 1) and share_no_sheet(known, int(t), int(u), metal):
                yield m, min(int(t), int(u)), max(int(t), int(u))


def _fits(known: BoundModel, t: int, metal: Metal) -> bool:
    room = np.array(metal.sides) + known.slack
    return any((np.array(way.box) <= room).all() for way in known.ways[t])


def share_no_sheet(known: BoundModel, t: int, u: int, metal: Metal) -> bool:
    """Whether two pieces are known to lie on no sheet of a metal together."""
    sides = (np.array(metal.sides) + known.slack) / NM_PER_MM
    gap = known.gap / NM_PER_MM
    firsts, seconds = poses_of(known, t), poses_of(known, u)
    if not firsts or not seconds:
        return False
    pairs = [
        (first, second, shifts)
        for first in firsts
        for second in seconds
        if (shifts := _shifts(first, second, sides)) is not None
    ]
    # A glance at the corners first: most pairs fit with one part in one corner and one in another.
    for first, second, (low, high) in pairs:
        for x, y in ((low[0], low[1]), (low[0], high[1]), (high[0], low[1]), (high[0], high[1])):
            if shapely.distance(first, affinity.translate(second, x, y)) >= gap + 2.0 * SHRINK_MM:
                return False
    return all(_is_covered(first, second, shifts, gap) for first, second, shifts in pairs)


def _shifts(first: shapely.Geometry, second: shapely.Geometry, sides: np.ndarray) -> Span | None:
    """The least and greatest shift of the second against the first that keep both on a sheet."""
    own, other = _box(first), _box(second)
    free_first, free_second = sides - own, sides - other
    if (free_first < 0.0).any() or (free_second < 0.0).any():
        return None
    return -free_first, free_second


def _box(polygon: shapely.Geometry) -> np.ndarray:
    left, bottom, right, top = polygon.bounds
    return np.array((right - left, top - bottom))


@lru_cache(maxsize=512)
def poses_of(known: BoundModel, t: int) -> tuple[shapely.Polygon, ...]:
    """The ways in which a part may lie, drawn in, lower left corners at (0, 0); none if they are too many."""
    part = known.problem.boxes[t].part
    solid = _simple(solid_of(known.problem, t))
    if solid is None:
        return ()
    found: list[shapely.Polygon] = []
    for mirrored in (False, True) if part.may_mirror else (False,):
        base = affinity.scale(solid, -1.0, 1.0, origin=(0.0, 0.0)) if mirrored else solid
        for degrees in allowed_turns(part):
            turned = affinity.rotate(base, degrees, origin=(0.0, 0.0))
            left, bottom, _, _ = turned.bounds
            turned = affinity.translate(turned, -left, -bottom)
            if all(turned.symmetric_difference(other).area > 1e-6 * turned.area for other in found):
                found.append(turned)
    return tuple(found) if len(found) <= MOST_WAYS else ()


def _simple(solid: shapely.Geometry) -> shapely.Polygon | None:
    """A polygon of few corners within the metal; None where there is none."""
    for shrink in (SHRINK_MM, 4.0 * SHRINK_MM, 16.0 * SHRINK_MM):
        inner = solid.buffer(-shrink, join_style="mitre").simplify(shrink * 0.9)
        if isinstance(inner, shapely.Polygon) and not inner.is_empty and solid.covers(inner):
            corners = len(shapely.get_coordinates(inner))
            if corners <= MOST_CORNERS:
                return inner
    return None


def _is_covered(first: shapely.Polygon, second: shapely.Polygon, shifts: Span, gap: float) -> bool:
    """Whether every shift brings the two closer than the gap."""
    (low_x, low_y), (high_x, high_y) = shifts
    wanted = shapely.box(low_x, low_y, high_x, high_y).buffer(2.0 * SEAM_MM, join_style="mitre")
    sums = _convex_sums(_triangles(first), -_triangles(second))
    touching = sums[shapely.intersects(sums, wanted.buffer(gap))]
    if not len(touching):
        return False
    forbidden = shapely.union_all(touching).buffer(gap + SEAM_MM).buffer(-2.0 * SEAM_MM)
    return bool(forbidden.covers(wanted))


def _triangles(polygon: shapely.Polygon) -> np.ndarray:
    """Triangles within a polygon, shape (n, 3, 2)."""
    found = shapely.get_parts(shapely.delaunay_triangles(polygon.segmentize(_longest(polygon))))
    inside = found[shapely.covers(polygon.buffer(1e-9), found)]
    return np.array([shapely.get_coordinates(triangle)[:3] for triangle in inside]).reshape(-1, 3, 2)


def _longest(polygon: shapely.Polygon) -> float:
    """Edges are parted so that triangles between corners seldom cross the outline."""
    return max(float(_box(polygon).max()) / 4.0, 1.0)


def _convex_sums(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """The Minkowski sums of all pairs of triangles."""
    points = first[:, None, :, None, :] + second[None, :, None, :, :]
    return np.asarray(shapely.convex_hull(shapely.multipoints(points.reshape(-1, 9, 2))))
