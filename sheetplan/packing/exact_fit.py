"""Whether a few boxes fit on one rectangle at all: an exhaustive search that can say no.

Every arrangement can be pushed down and to the left until each box starts at a sum of other boxes'
sides. Taken in the order of their lower sides, boxes of such an arrangement each lie on the highest
of those before that they overlap; so it is enough to try, for each place in that order, every box
at every sum of sides along x (normal patterns: Herz 1972, Christofides and Whitlock 1977).
"""

from __future__ import annotations

import numpy as np

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.maxrects import Flags, Ints

FITS, FITS_NOT, UNKNOWN = 1, 0, -1

MOST_SUMS = 1500
"""Sums of sides beyond which the question is left open."""


@compiled
def side_sums(lengths: Ints, widths: Ints, turnable: Flags, limit: int) -> Ints:
    """All sums of the sides that may lie along x, up to a limit, in rising order; empty if too many."""
    sums = np.zeros(1, np.int64)
    for i in range(lengths.shape[0]):
        options = [sums, sums + lengths[i]]
        if turnable[i]:
            options.append(sums + widths[i])
        total = 0
        for option in options:
            total += option.shape[0]
        joined = np.empty(total, np.int64)
        at = 0
        for option in options:
            joined[at : at + option.shape[0]] = option
            at += option.shape[0]
        sums = np.unique(joined)
        sums = sums[sums <= limit]
        if sums.shape[0] > MOST_SUMS:
            return np.empty(0, np.int64)
    return sums


@compiled
def _lost(sums: Ints, skyline: Ints, length: int, level: int) -> float:
    """Area below a level that no box can reach any more."""
    lost = 0.0
    for k in range(sums.shape[0]):
        far = sums[k + 1] if k + 1 < sums.shape[0] else length
        if skyline[k] < level:
            lost += float(level - skyline[k]) * float(far - sums[k])
    return lost


@compiled
def _is_passed_over(lengths: Ints, widths: Ints, turnable: Flags, used: Flags, i: int, way: int) -> bool:
    """Whether a box need not be tried this way: used, the same turned, or not the first of its equals."""
    if used[i] or (way == 1 and (not turnable[i] or lengths[i] == widths[i])):
        return True
    for j in range(i):
        twin = lengths[j] == lengths[i] and widths[j] == widths[i] and turnable[j] == turnable[i]
        if twin and not used[j]:
            return True
    return False


@compiled
def fits_exactly(
    lengths: Ints, widths: Ints, turnable: Flags, length: int, width: int, trials: int
) -> int:
    """Whether all boxes fit: `FITS`, `FITS_NOT`, or `UNKNOWN` once so many places have been tried."""
    boxes = lengths.shape[0]
    sums = side_sums(lengths, widths, turnable, length)
    if sums.shape[0] == 0:
        return UNKNOWN
    points = sums.shape[0]
    slack = float(length) * float(width) - (lengths.astype(np.float64) * widths.astype(np.float64)).sum()
    if slack < 0.0:
        return FITS_NOT
    skylines = np.zeros((boxes + 1, points), np.int64)
    used = np.zeros(boxes, np.bool_)
    # One frame a depth: the box, way and place tried last, and where that box came to lie.
    box = np.full(boxes + 1, -1, np.int64)
    way = np.zeros(boxes + 1, np.int64)
    place = np.zeros(boxes + 1, np.int64)
    low = np.zeros(boxes + 1, np.int64)
    at = np.full(boxes + 1, -1, np.int64)
    depth = 0
    spent = 0
    box[0], way[0], place[0] = 0, 0, -1
    while depth >= 0:
        if depth == boxes:
            return FITS
        # Step on to the next place, way or box of this depth.
        if box[depth] >= 0 and box[depth] < boxes and place[depth] >= 0 and at[depth] >= 0:
            used[box[depth]] = False
            at[depth] = -1
        found = False
        while box[depth] < boxes and not found:
            spent += 1
            if spent > trials:
                return UNKNOWN
            i = box[depth]
            skip = _is_passed_over(lengths, widths, turnable, used, i, way[depth])
            along = widths[i] if way[depth] == 1 else lengths[i]
            across = lengths[i] if way[depth] == 1 else widths[i]
            place[depth] += 1
            if skip or place[depth] >= points or sums[place[depth]] + along > length:
                place[depth] = -1
                way[depth] += 1
                if way[depth] > 1:
                    way[depth] = 0
                    box[depth] += 1
                continue
            x = sums[place[depth]]
            end = place[depth]
            while end < points and sums[end] < x + along:
                end += 1
            y = skylines[depth, place[depth] : end].max()
            before_y = low[depth - 1] if depth > 0 else 0
            before_x = at[depth - 1] if depth > 0 else -1
            if y + across > width or y < before_y or (y == before_y and x <= before_x):
                continue
            if _lost(sums, skylines[depth], length, y) > slack:
                continue
            skylines[depth + 1] = skylines[depth]
            skylines[depth + 1, place[depth] : end] = y + across
            used[i] = True
            low[depth], at[depth] = y, x
            found = True
        if found:
            depth += 1
            if depth < boxes:
                box[depth], way[depth], place[depth], at[depth] = 0, 0, -1, -1
        else:
            depth -= 1
    return FITS_NOT
