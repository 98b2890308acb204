"""Which shifts make two polygons touch: no-fit maps on a lattice, as vertical runs.

For a standing polygon A and a moving polygon B, a shift t is forbidden when B moved by t meets A.
The forbidden shifts are the Minkowski sum of A and the mirrored B, and their border is part of the
convolution of the two outlines: every edge of the one moved by those corners of the other at which
the outline turns through the edge's direction. At corners that bulge it runs forward, at hollow
ones backward. How often it winds round a shift is how many pieces the two polygons have in common
there, so a shift is forbidden where it winds at all. Edges that face away from each other never
meet: outlines of hundreds of corners cost little more than the corners of both together.

Only positions are rounded to the lattice, never shapes.

Terms
-----
ring
    One closed chain of a polygon, metal on its left: outer rings run counter-clockwise, holes clockwise.
kept hole
    A hole that the other polygon may lie in, as far as their boxes go. Other holes are as good as
    filled, and where a hole is kept the polygon in it cannot surround it: then pieces in common
    have no holes, and winding counts them.

Sources: the convolution of Guibas, Ramshaw and Stolfi 1983 ("A kinetic framework for computational
geometry", FOCS); as a way to the no-fit polygon Wein 2006 ("Exact and efficient construction of
planar Minkowski sums using the convolution method", ESA) and Behar and Lien 2011 ("Fast and robust
2D Minkowski sum using reduced convolution", IROS).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.outlines.growing import Edges

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Events = NDArray[np.int32]

FULL_TURN = 2.0 * math.pi

EVENTS_AT_FIRST = 4096
"""Crossings that there is room for before the table grows."""


class Rings(NamedTuple):
    """The rings of polygons, ready for `forbidden_runs`.

    Ring r has the corners ``corners[first[r]:first[r + 1]]``, mm, shape (n, 2). ``angle`` is the
    direction of the edge that leaves each corner, above -pi and up to pi, ``bulges`` whether the
    outline turns left there; ``sorted_angle`` has each ring's angles in order and ``order`` the
    corners that they belong to. ``boxes`` has left, bottom, right, top of each ring, ``is_hole``
    whether it runs clockwise.
    """

    corners: Floats
    first: Ints
    angle: Floats
    bulges: NDArray[np.bool_]
    sorted_angle: Floats
    order: Ints
    boxes: Floats
    is_hole: NDArray[np.bool_]


@compiled
def _direction(dx: float, dy: float) -> float:
    angle = math.atan2(dy, dx)
    # One number for one direction, whichever zero the components have.
    return math.pi if angle <= -math.pi else angle


@compiled
def _mark_bulges(angle: Floats, wanted: float, bulges: NDArray[np.bool_]) -> None:
    """Say at which corners of a ring the outline turns left, so that all turns add up to ``wanted``.

    Rounding may take the turn at the tip of a spike without width for one to the other side. That
    would wind once more or less round everything, so of such corners the sharpest are set right.
    """
    count = angle.shape[0]
    blunt = np.empty(count)
    total = 0.0
    for k in range(count):
        turn = (angle[k] - angle[k - 1]) % FULL_TURN
        bulges[k] = turn < math.pi
        total += turn if bulges[k] else turn - FULL_TURN
        blunt[k] = abs(turn - math.pi)
    excess = round((total - wanted) / FULL_TURN)
    while excess != 0:
        sharpest, least = -1, np.inf
        for k in range(count):
            if bulges[k] == (excess > 0) and blunt[k] < least:
                sharpest, least = k, blunt[k]
        if sharpest < 0:
            return
        bulges[sharpest] = excess < 0
        excess += 1 if excess < 0 else -1


@compiled
def rings_of(edges: Edges, sign: float) -> Rings:
    """The rings of polygons given as edges (see `growing.edges`), coordinates times ``sign`` (1 or -1)."""
    count = edges.shape[0]
    corners, angle = np.empty((count, 2)), np.empty(count)
    firsts = np.zeros(count + 1, np.int64)
    rings = start = 0
    for k in range(count):
        corners[k, 0], corners[k, 1] = sign * edges[k, 0], sign * edges[k, 1]
        angle[k] = _direction(sign * (edges[k, 2] - edges[k, 0]), sign * (edges[k, 3] - edges[k, 1]))
        if edges[k, 2] == edges[start, 0] and edges[k, 3] == edges[start, 1]:
            rings += 1
            start = firsts[rings] = k + 1
    first = firsts[: rings + 1].copy()
    order, sorted_angle = np.empty(count, np.int64), np.empty(count)
    boxes, is_hole = np.empty((rings, 4)), np.empty(rings, np.bool_)
    bulges = np.empty(count, np.bool_)
    for r in range(rings):
        low, high = first[r], first[r + 1]
        order[low:high] = low + np.argsort(angle[low:high], kind="mergesort")
        twice_area = 0.0
        for k in range(low, high):
            after = k + 1 if k + 1 < high else low
            # From the ring's first corner, so that little is lost far from (0, 0).
            ax, ay = corners[k, 0] - corners[low, 0], corners[k, 1] - corners[low, 1]
            bx, by = corners[after, 0] - corners[low, 0], corners[after, 1] - corners[low, 1]
            twice_area += ax * by - ay * bx
            sorted_angle[k] = angle[order[k]]
        is_hole[r] = twice_area < 0.0
        _mark_bulges(angle[low:high], -FULL_TURN if is_hole[r] else FULL_TURN, bulges[low:high])
        boxes[r, 0], boxes[r, 2] = corners[low:high, 0].min(), corners[low:high, 0].max()
        boxes[r, 1], boxes[r, 3] = corners[low:high, 1].min(), corners[low:high, 1].max()
    return Rings(corners, first, angle, bulges, sorted_angle, order, boxes, is_hole)


@compiled
def _is_kept(a: Rings, ring: int, b: Rings, other: int) -> bool:
    """Whether two rings are convolved: two outer ones are, and a hole with what its box has room for."""
    if a.is_hole[ring] == b.is_hole[other]:
        return not a.is_hole[ring]
    one, two = a.boxes[ring], b.boxes[other]
    wider = one[2] - one[0] - (two[2] - two[0])
    taller = one[3] - one[1] - (two[3] - two[1])
    return bool(wider > 0.0 and taller > 0.0) if a.is_hole[ring] else bool(wider < 0.0 and taller < 0.0)


@compiled
def _below(values: Floats, low: int, high: int, bound: float, equal: bool) -> int:
    """First place from ``low`` up to ``high`` whose value is not below the bound (or not ``equal`` to it)."""
    while low < high:
        middle = (low + high) >> 1
        if values[middle] < bound or (equal and values[middle] == bound):
            low = middle + 1
        else:
            high = middle
    return low


@compiled
def _crossings(
    events: Events, count: int, ends: tuple[float, float, float, float], sign: int, columns: tuple[int, int]
) -> tuple[Events, int]:
    """Note where a span of the border, in steps, crosses the columns from first to last.

    An event is a column, and twice the first row above the span plus 1 where rows above it are
    wound round once less. Of the span's two ends the left one counts as on it, the right one not:
    spans that follow each other share an end to the bit, so nothing is crossed twice or missed.
    """
    x0, y0, x1, y1 = ends
    if x0 == x1:
        return events, count
    first = max(columns[0], math.ceil(min(x0, x1)))
    last = min(columns[1], math.ceil(max(x0, x1)) - 1)
    if first > last:
        return events, count
    if count + last - first + 1 > events.shape[0]:
        more = np.empty((2 * (count + last - first + 1), 2), np.int32)
        more[:count] = events[:count]
        events = more
    fewer = 1 if (x1 > x0) != (sign > 0) else 0
    for column in range(first, last + 1):
        events[count, 0] = column
        events[count, 1] = 2 * math.ceil(y0 + (y1 - y0) * ((column - x0) / (x1 - x0))) + fewer
        count += 1
    return events, count


@compiled
def _along_edges(
    a: Rings, ring: int, b: Rings, other: int, past_equal: bool, scale: float,
    columns: tuple[int, int], events: Events, count: int,
) -> tuple[Events, int]:  # fmt: skip
    """Note the crossings of the edges of ``b``'s ring moved by the corners of ``a``'s that turn through them.

    Of two equal directions one has to count as turned farther, and for both polygons it has to be
    the same one, or the border would not close: ``past_equal`` says that it is that of ``a``.
    """
    low, high = a.first[ring], a.first[ring + 1]
    least, most = b.first[other], b.first[other + 1]
    for k in range(low, high):
        before, after = a.angle[k - 1 if k > low else high - 1], a.angle[k]
        sign = 1 if a.bulges[k] else -1
        start, end = (before, after) if sign > 0 else (after, before)
        if start == end:
            continue
        place = _below(b.sorted_angle, least, most, start, past_equal)
        stop = _below(b.sorted_angle, least, most, end, past_equal)
        many = stop - place if start < end else most - place + stop - least
        ax, ay = a.corners[k, 0], a.corners[k, 1]
        for _ in range(many):
            if place == most:
                place = least
            j = b.order[place]
            place += 1
            to = j + 1 if j + 1 < most else least
            ends = (
                (ax + b.corners[j, 0]) * scale, (ay + b.corners[j, 1]) * scale,
                (ax + b.corners[to, 0]) * scale, (ay + b.corners[to, 1]) * scale,
            )  # fmt: skip
            events, count = _crossings(events, count, ends, sign, columns)
    return events, count


@compiled
def _by_column(events: Events, count: int, first: int, columns: int) -> tuple[Ints, Events]:
    """The events' rows sorted column by column, and where each column begins."""
    begins = np.zeros(columns + 1, np.int64)
    for e in range(count):
        begins[events[e, 0] - first + 1] += 1
    for c in range(columns):
        begins[c + 1] += begins[c]
    rows = np.empty(count, np.int32)
    filled = begins[:-1].copy()
    for e in range(count):
        column = events[e, 0] - first
        place, row = filled[column], events[e, 1]
        filled[column] += 1
        # Columns have few events each: they are sorted as they come.
        while place > begins[column] and rows[place - 1] > row:
            rows[place] = rows[place - 1]
            place -= 1
        rows[place] = row
    return begins, rows


@compiled
def forbidden_runs(
    standing: Rings, mirrored: Rings, step: float, first_column: int, last_column: int
) -> Events:
    """The shifts of a polygon that make it meet a standing one.

    Parameters
    ----------
    standing
        The rings of what stands.
    mirrored
        The rings of what moves, with the sign -1.
    step
        Lattice step, mm.
    first_column, last_column
        Columns of shifts that are wanted, in steps.

    Returns
    -------
    ndarray
        Shape (n, 3): column, first row, last row of each vertical run of forbidden shifts, in steps from
        the zero shift, columns ascending.
    """
    columns = (first_column, last_column)
    events, count = np.empty((EVENTS_AT_FIRST, 2), np.int32), 0
    for r in range(standing.first.shape[0] - 1):
        for q in range(mirrored.first.shape[0] - 1):
            if _is_kept(standing, r, mirrored, q):
                events, count = _along_edges(
                    standing, r, mirrored, q, False, 1.0 / step, columns, events, count
                )
                events, count = _along_edges(
                    mirrored, q, standing, r, True, 1.0 / step, columns, events, count
                )
    wide = max(0, last_column - first_column + 1)
    begins, rows = _by_column(events, count, first_column, wide)
    runs = np.empty((count // 2, 3), np.int32)
    found = 0
    for c in range(wide):
        winding = 0
        for e in range(begins[c], begins[c + 1]):
            was = winding
            winding += 1 - 2 * (rows[e] & 1)
            if was <= 0 < winding:
                runs[found, 0], runs[found, 1] = first_column + c, rows[e] >> 1
            elif winding <= 0 < was and (rows[e] >> 1) > runs[found, 1]:
                runs[found, 2] = (rows[e] >> 1) - 1
                found += 1
    return runs[:found].copy()



@compiled
def half_turned(runs: Events) -> Events:
    """Runs turned by half about the zero shift."""
    turned = np.empty_like(runs)
    count = runs.shape[0]
    for r in range(count):
        turned[count - 1 - r, 0] = -runs[r, 0]
        turned[count - 1 - r, 1], turned[count - 1 - r, 2] = -runs[r, 2], -runs[r, 1]
    return turned


@compiled
def painted(runs: Events, ox: int, oy: int, columns: int, rows: int) -> Bytes:
    """Runs as marks of a window, shape (columns, rows): 1 where shift ``(ox + i, oy + j)`` is in a run."""
    marks = np.zeros((columns, rows), np.uint8)
    for r in range(runs.shape[0]):
        column = runs[r, 0] - ox
        if 0 <= column < columns:
            for row in range(max(0, runs[r, 1] - oy), min(rows - 1, runs[r, 2] - oy) + 1):
                marks[column, row] = 1
    return marks
