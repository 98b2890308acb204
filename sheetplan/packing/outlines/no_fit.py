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

Maps are stored once per pair of families and relative quarter turn. Of two ordered poses the shift is that
of the moving reference against the standing one. Swapping the two turns the map by half; turning both by a
quarter turns it by a quarter. So one map serves up to eight ordered pairs of poses, as long as references
are fixed points of the parts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.outlines.poses import Edges, Pose, PoseSet

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
RunRows = NDArray[np.int32]

FULL_TURN = 2.0 * math.pi


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


def rings_of(edges: Edges, sign: float) -> Rings:
    """The rings of polygons given as edges (see `growing.edges`), coordinates times ``sign`` (1 or -1)."""
    corners = np.ascontiguousarray(sign * edges[:, :2])
    along = sign * (edges[:, 2:] - edges[:, :2])
    angle = np.arctan2(along[:, 1], along[:, 0])
    # One number for one direction, whichever zero the components have.
    angle[angle <= -math.pi] = math.pi
    first = _ring_starts(edges)
    bulges, order = np.empty(len(edges), np.bool_), np.empty(len(edges), np.int64)
    boxes, is_hole = np.empty((len(first) - 1, 4)), np.empty(len(first) - 1, np.bool_)
    for r, (low, high) in enumerate(pairwise(first)):
        ring = corners[low:high]
        boxes[r, :2], boxes[r, 2:] = ring.min(axis=0), ring.max(axis=0)
        # From the ring's first corner, so that little is lost far from (0, 0).
        x, y = (ring - ring[0]).T
        is_hole[r] = x[:-1] @ y[1:] < y[:-1] @ x[1:]
        bulges[low:high] = _bulging(angle[low:high], -FULL_TURN if is_hole[r] else FULL_TURN)
        order[low:high] = low + np.argsort(angle[low:high], kind="stable")
    return Rings(corners, first, angle, bulges, angle[order], order, boxes, is_hole)


def _ring_starts(edges: Edges) -> Ints:
    """Where each ring begins, and how many edges there are: a ring ends where it comes back to its start."""
    starts = [0]
    while starts[-1] < len(edges):
        ahead = edges[starts[-1] :]
        starts.append(starts[-1] + 1 + int(np.argmax((ahead[:, 2:] == ahead[0, :2]).all(axis=1))))
    return np.array(starts, np.int64)


def _bulging(angle: Floats, wanted: float) -> NDArray[np.bool_]:
    """At which corners of a ring the outline turns left, so that all turns add up to ``wanted``.

    Rounding may take the turn at the tip of a spike without width for one to the other side. That
    would wind once more or less round everything, so of such corners the sharpest are set right.
    """
    turn = (angle - np.roll(angle, 1)) % FULL_TURN
    bulges: NDArray[np.bool_] = turn < math.pi
    excess = round((turn.sum() - FULL_TURN * np.count_nonzero(~bulges) - wanted) / FULL_TURN)
    if excess:
        wrong = np.flatnonzero(bulges == (excess > 0))
        sharpest = wrong[np.argsort(np.abs(turn[wrong] - math.pi), kind="stable")]
        bulges[sharpest[: abs(excess)]] = excess < 0
    return bulges


class Table(NamedTuple):
    """Where the border crosses columns of shifts, from column ``first`` on.

    ``rows`` has each column's crossings from ``begins`` on, ``counts`` of them so far, sorted: twice
    the first row above, and 1 more where the border winds round that row once less than round the row
    below. Empty rows: crossings are only counted.
    """

    first: int
    begins: Ints
    counts: Ints
    rows: NDArray[np.int32]


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
def _cross(table: Table, x0: float, y0: float, x1: float, y1: float, sign: int) -> None:
    """Note where a span of the border, in steps, crosses the table's columns.

    Of the span's two ends the left one counts as on it, the right one not: spans that follow each
    other share an end to the bit, so nothing is crossed twice or missed.
    """
    if x0 == x1:
        return
    left, right = (x0, x1) if x0 < x1 else (x1, x0)
    # Where rows above the span are wound round once less.
    fewer = 1 if (x0 < x1) != (sign > 0) else 0
    column = max(math.ceil(left), table.first)
    last = min(math.ceil(right) - 1, table.first + table.counts.shape[0] - 1)
    while column <= last:
        c = column - table.first
        if table.rows.shape[0]:
            row = 2 * math.ceil(y0 + (y1 - y0) * ((column - x0) / (x1 - x0))) + fewer
            # Columns have few crossings each: they are sorted as they come.
            place = table.begins[c] + table.counts[c]
            while place > table.begins[c] and table.rows[place - 1] > row:
                table.rows[place] = table.rows[place - 1]
                place -= 1
            table.rows[place] = row
        table.counts[c] += 1
        column += 1


@compiled
def _move_edges(
    a: Rings, ring: int, b: Rings, other: int, past_equal: bool, scale: float, table: Table
) -> None:
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
            to = j + 1 if j + 1 < most else least
            place += 1
            _cross(
                table,
                (ax + b.corners[j, 0]) * scale,
                (ay + b.corners[j, 1]) * scale,
                (ax + b.corners[to, 0]) * scale,
                (ay + b.corners[to, 1]) * scale,
                sign,
            )


@compiled
def _convolve(standing: Rings, mirrored: Rings, step: float, table: Table) -> None:
    """Note the crossings of the whole convolution."""
    for r in range(standing.first.shape[0] - 1):
        for q in range(mirrored.first.shape[0] - 1):
            if _is_kept(standing, r, mirrored, q):
                _move_edges(standing, r, mirrored, q, False, 1.0 / step, table)
                _move_edges(mirrored, q, standing, r, True, 1.0 / step, table)


@compiled
def forbidden_runs(standing: Rings, mirrored: Rings, step: float, first: int, columns: int) -> RunRows:
    """The shifts of a polygon that make it meet a standing one.

    Parameters
    ----------
    standing
        The rings of what stands.
    mirrored
        The rings of what moves, with the sign -1.
    step
        Lattice step, mm.
    first, columns
        The first column of shifts that is wanted, in steps, and how many.

    Returns
    -------
    ndarray
        Shape (n, 3): column, first row, last row of each vertical run of forbidden shifts, in steps from
        the zero shift, columns ascending.
    """
    begins = np.zeros(columns + 1, np.int64)
    counts = np.zeros(columns, np.int64)
    # First how many there are in each column, then where.
    _convolve(standing, mirrored, step, Table(first, begins, counts, np.empty(0, np.int32)))
    for c in range(columns):
        begins[c + 1] = begins[c] + counts[c]
        counts[c] = 0
    rows = np.empty(begins[columns], np.int32)
    if rows.shape[0]:
        _convolve(standing, mirrored, step, Table(first, begins, counts, rows))
    runs = np.empty((rows.shape[0] // 2, 3), np.int32)
    found = 0
    for c in range(columns):
        winding = 0
        for e in range(begins[c], begins[c + 1]):
            was, row = winding, rows[e] >> 1
            winding += 1 - 2 * (rows[e] & 1)
            if was <= 0 < winding:
                runs[found, 0], runs[found, 1] = first + c, row
            elif winding <= 0 < was and row > runs[found, 1]:
                runs[found, 2] = row - 1
                found += 1
    return runs[:found]


@compiled
def half_turned(runs: RunRows) -> RunRows:
    """Runs turned by half about the zero shift."""
    turned = np.empty_like(runs)
    count = runs.shape[0]
    for r in range(count):
        turned[count - 1 - r, 0] = -runs[r, 0]
        turned[count - 1 - r, 1], turned[count - 1 - r, 2] = -runs[r, 2], -runs[r, 1]
    return turned


@compiled
def painted(runs: RunRows, ox: int, oy: int, columns: int, rows: int) -> Bytes:
    """Runs as marks of a window, shape (columns, rows): 1 where shift ``(ox + i, oy + j)`` is in a run."""
    marks = np.zeros((columns, rows), np.uint8)
    for r in range(runs.shape[0]):
        column = runs[r, 0] - ox
        if 0 <= column < columns:
            for row in range(max(0, runs[r, 1] - oy), min(rows - 1, runs[r, 2] - oy) + 1):
                marks[column, row] = 1
    return marks


class Runs(NamedTuple):
    """Forbidden shifts of ordered pose pairs as vertical runs.

    ``first`` and ``last`` have shape (poses, poses), standing by moving: the rows of ``runs``
    (column, first row, last row; in steps) from ``first`` up to, not including, ``last``.
    """

    runs: NDArray[np.int16]
    first: Ints
    last: Ints


@dataclass(frozen=True, slots=True)
class ContactMap:
    """Forbidden shifts of one family against another, turned relative to it; window origin in steps."""

    marks: Bytes
    ox: int
    oy: int


def quarter_turned_map(held: ContactMap, quarter: int) -> ContactMap:
    """A map turned counter-clockwise about the zero shift by quarter turns."""
    marks, left, low = held.marks, held.ox, held.oy
    for _ in range(quarter):
        # (x, y) goes to (-y, x).
        left, low = -(low + marks.shape[1] - 1), left
        marks = marks.T[::-1, :]
    return ContactMap(np.ascontiguousarray(marks), left, low)


Key = tuple[int, int, int]
"""Standing family, moving family, quarter turns of the moving one against the standing one."""


def key_of(standing: Pose, moving: Pose) -> tuple[Key, int]:
    """The map that serves an ordered pair of poses, and the quarter turns that bring it there."""
    if standing.family <= moving.family:
        return (standing.family, moving.family, (moving.quarter - standing.quarter) % 4), standing.quarter
    key = (moving.family, standing.family, (standing.quarter - moving.quarter) % 4)
    return key, (moving.quarter + 2) % 4


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a contact: what stands, or what moves mirrored; ``box`` is left, bottom, right, top, mm."""

    rings: Rings
    box: tuple[float, float, float, float]


def standing_side(around: Edges) -> Side:
    """What stands, given as edges."""
    return _side(rings_of(around, 1.0))


def moving_side(around: Edges) -> Side:
    """What moves, given as edges."""
    return _side(rings_of(around, -1.0))


def _side(rings: Rings) -> Side:
    left, bottom = rings.boxes[:, :2].min(axis=0)
    right, top = rings.boxes[:, 2:].max(axis=0)
    return Side(rings, (float(left), float(bottom), float(right), float(top)))


def window(standing: Side, moving: Side, step: float) -> tuple[int, int, int, int]:
    """The lattice window (first column, first row, columns, rows) that holds all shifts that touch."""
    left, bottom, right, top = (a + b for a, b in zip(standing.box, moving.box, strict=True))
    column, row = math.floor(left / step), math.floor(bottom / step)
    return column, row, math.ceil(right / step) - column + 1, math.ceil(top / step) - row + 1


def contact_map(standing: Side, moving: Side, step: float) -> ContactMap:
    """The forbidden shifts of one polygon against a standing one."""
    ox, oy, columns, rows = window(standing, moving, step)
    runs = forbidden_runs(standing.rings, moving.rings, step, ox, columns)
    return ContactMap(painted(runs, ox, oy, columns, rows), ox, oy)


def edges_turned(around: Edges, quarter: int) -> Edges:
    """Edges turned about (0, 0) by quarter turns, exactly."""
    for _ in range(quarter):
        around = np.column_stack((-around[:, 1], around[:, 0], -around[:, 3], around[:, 2]))
    return around


class Contacts:
    """The maps of a pose set on one lattice, made when first asked for.

    ``made`` counts how often the forbidden shifts of a pair were worked out.
    """

    def __init__(self, poses: PoseSet, step: float) -> None:
        self.pose_set = poses
        self.step = step
        self.made = 0
        self._maps: dict[Key, ContactMap] = {}
        self._standing: dict[tuple[int, int], Side] = {}
        self._moving: dict[tuple[int, int], Side] = {}

    def map(self, key: Key) -> ContactMap:
        """The map of a pair of families."""
        if key not in self._maps:
            self.made += 1
            self._maps[key] = contact_map(*self._sides(key, 0), self.step)
        return self._maps[key]

    def _sides(self, key: Key, quarter: int) -> tuple[Side, Side]:
        """Both sides of a pair of families, turned together by quarter turns."""
        stands, moves = (key[0], quarter), (key[1], (key[2] + quarter) % 4)
        if stands not in self._standing:
            grown_edges = self.pose_set.families[key[0]].grown_edges
            self._standing[stands] = standing_side(edges_turned(grown_edges, quarter))
        if moves not in self._moving:
            self._moving[moves] = moving_side(edges_turned(self.pose_set.families[key[1]].edges, moves[1]))
        return self._standing[stands], self._moving[moves]

    def _runs_of(self, key: Key, quarter: int) -> RunRows:
        """The runs of a pair of families, both turned by quarter turns."""
        self.made += 1
        standing, moving = self._sides(key, quarter)
        first, _, columns, _ = window(standing, moving, self.step)
        return forbidden_runs(standing.rings, moving.rings, self.step, first, columns)

    def runs(self) -> Runs:
        """The runs of all ordered pose pairs."""
        poses = self.pose_set.poses
        first = np.empty((len(poses), len(poses)), np.int64)
        last = np.empty_like(first)
        chunks: list[RunRows] = []
        spans: dict[tuple[Key, int], tuple[int, int]] = {}
        known: dict[tuple[Key, int], RunRows] = {}
        total = 0
        for a, standing in enumerate(poses):
            for b, moving in enumerate(poses):
                key, quarter = key_of(standing, moving)
                if (key, quarter) not in spans:
                    base = key, quarter % 2
                    if base not in known:
                        known[base] = self._runs_of(*base)
                    chunk = half_turned(known[base]) if quarter >= 2 else known[base]
                    chunks.append(chunk)
                    spans[key, quarter] = (total, total + len(chunk))
                    total += len(chunk)
                first[a, b], last[a, b] = spans[key, quarter]
        return Runs(np.concatenate(chunks).astype(np.int16), first, last)


def map_cells(poses: PoseSet, step: float) -> float:
    """About how many cells the maps of all pairs of families have together."""
    boxes = np.array([family.solid.bounds for family in poses.families]).reshape(-1, 4)
    sides = (boxes[:, 2:] - boxes[:, :2] + poses.gap) / step
    quarters = len({pose.quarter for pose in poses.poses})
    pairs = np.prod(sides[:, None, :] + sides[None, :, :], axis=2)
    return float(quarters * (pairs.sum() + pairs.trace()) / 2.0)


def steps_within(low: float, high: float, step: float, slack: float) -> tuple[int, int]:
    """First and last lattice index whose position lies from ``low`` to ``high``, within ``slack``."""
    return math.ceil((low - slack) / step), math.floor((high + slack) / step)
