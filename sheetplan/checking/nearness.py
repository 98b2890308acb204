"""Which stands come near each other, and how near exactly."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from sheetplan.checking.curves import Column, Index, Mask
from sheetplan.checking.distances import distances
from sheetplan.checking.poses import Stands
from sheetplan.trade.units import SAME_LENGTH_MM

CHUNK = 1_000_000
"""Pairs of pieces measured at once, so that memory stays flat (some 300 MB at most)."""


@dataclass(frozen=True)
class Nearness:
    """Pairs of stands by index, the lower first, and the clear distance between them.

    Distances beyond the reach of the search are infinite. A pair that overlaps wholly, one in
    the metal of the other, has its boundaries apart all the same: see `swallowed`.
    """

    first: Index
    second: Index
    apart: Column

    def some(self, chosen: Mask) -> Nearness:
        """Those pairs alone."""
        return Nearness(self.first[chosen], self.second[chosen], self.apart[chosen])

    def rows(self) -> Iterator[tuple[int, int, float]]:
        """Pair by pair."""
        return zip(self.first.tolist(), self.second.tolist(), self.apart.tolist(), strict=True)


def near_pairs(stands: Stands, reach: float) -> Nearness:
    """All pairs whose boxes come within ``reach`` mm of each other, measured exactly.

    Pairs of two old cuts are left out: they lie as they lie.
    """
    left, bottom, right, top = stands.boxes.T
    tree = shapely.STRtree(shapely.box(left, bottom, right, top))
    wide = shapely.box(left - reach, bottom - reach, right + reach, top + reach)
    first, second = tree.query(wide[: stands.parts])
    keep = (first < second) | (second >= stands.parts)
    first, second = first[keep], second[keep]
    order = np.lexsort((second, first))
    first, second = first[order], second[order]
    return Nearness(first, second, _apart(stands, first, second, reach))


def swallowed(stands: Stands, near: Nearness) -> list[tuple[int, int]]:
    """Pairs, the inner first, where a point of one lies in the metal of the other.

    Meant for pairs whose boundaries do not cross: then one point tells for all.
    """
    found: list[tuple[int, int]] = []
    for inner, outer in ((near.first, near.second), (near.second, near.first)):
        rows = stands.first[inner]
        x = stands.curves.x0[rows] + stands.dx[inner]
        y = stands.curves.y0[rows] + stands.dy[inner]
        left, bottom, right, top = stands.boxes[outer].T
        inside = (left <= x) & (x <= right) & (bottom <= y) & (y <= top)
        for pose in np.unique(stands.pose[outer[inside]]):
            chosen = np.flatnonzero(inside & (stands.pose[outer] == pose))
            held = shapely.contains_xy(
                stands.poses[pose].polygon,
                x[chosen] - stands.dx[outer[chosen]],
                y[chosen] - stands.dy[outer[chosen]],
            )
            found.extend(zip(inner[chosen[held]].tolist(), outer[chosen[held]].tolist(), strict=True))
    return found


def overlaps(first: shapely.Geometry, second: shapely.Geometry) -> bool:
    """Whether two metals share more than a seam: a region thicker than twice `SAME_LENGTH_MM`."""
    shared = first.intersection(second)
    return bool(shared.area > 0.0 and not shared.buffer(-SAME_LENGTH_MM).is_empty)


def _apart(stands: Stands, first: Index, second: Index, reach: float) -> Column:
    apart = np.full(len(first), np.inf)
    if not len(first):
        return apart
    near_first = _near_pieces(stands, first, second, reach)
    near_second = _near_pieces(stands, second, first, reach)
    work = np.cumsum(_counts(near_first, len(first)) * _counts(near_second, len(first)))
    start = 0
    while start < len(first):
        done = work[start - 1] if start else 0
        stop = max(start + 1, int(np.searchsorted(work, done + CHUNK, side="right")))
        _measure(stands, (first, second), (near_first, near_second), (start, stop), reach, apart)
        start = stop
    return apart


Near = tuple[Index, Index]
"""Pieces near the other stand of their pair: the pair's number (rising), the row of ``curves``."""


def _near_pieces(stands: Stands, own: Index, other: Index, reach: float) -> Near:
    """The pieces of each pair's own stand whose boxes come within reach of the other's box."""
    pair, rows = _spread(stands.first[own], stands.count[own])
    pieces = stands.curves
    dx, dy = stands.dx[own][pair], stands.dy[own][pair]
    left, bottom, right, top = (column[pair] for column in stands.boxes[other].T)
    near = (pieces.left[rows] + dx <= right + reach) & (pieces.right[rows] + dx >= left - reach)
    near &= (pieces.bottom[rows] + dy <= top + reach) & (pieces.top[rows] + dy >= bottom - reach)
    return pair[near], rows[near]


def _measure(
    stands: Stands,
    pairs: tuple[Index, Index],
    near: tuple[Near, Near],
    span: tuple[int, int],
    reach: float,
    apart: Column,
) -> None:
    """Measure every piece of one side against every piece of the other, for a span of pairs."""
    (pair_a, rows_a), (pair_b, rows_b) = near
    a = slice(*np.searchsorted(pair_a, span))
    own, counts_b = pair_a[a] - span[0], _counts((pair_b, rows_b), len(apart))[span[0] : span[1]]
    firsts_b = np.concatenate(([0], np.cumsum(counts_b)[:-1])) + np.searchsorted(pair_b, span[0])
    taken_a, taken_b = _spread(firsts_b[own], counts_b[own])
    pair = pair_a[a][taken_a]
    first = stands.moved_curves(rows_a[a][taken_a], pairs[0][pair])
    second = stands.moved_curves(rows_b[taken_b], pairs[1][pair])
    close = (first.left <= second.right + reach) & (second.left <= first.right + reach)
    close &= (first.bottom <= second.top + reach) & (second.bottom <= first.top + reach)
    chosen = np.flatnonzero(close)
    if chosen.size:
        found = distances(first.take(chosen), second.take(chosen))
        np.minimum.at(apart, pair[chosen], np.where(found <= reach, found, np.inf))


def _spread(first: Index, count: Index) -> tuple[Index, Index]:
    """Runs ``first[i] .. first[i] + count[i]`` end to end: which run, and the numbers."""
    run = np.repeat(np.arange(len(first)), count)
    begins = np.cumsum(count) - count
    return run, np.arange(len(run)) - begins[run] + first[run]


def _counts(near: Near, pairs: int) -> Index:
    return np.bincount(near[0], minlength=pairs)
