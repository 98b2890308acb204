"""Every pair of poses' forbidden shifts, stored once per pair of families and relative quarter turn.

Of two ordered poses the shift is that of the moving reference against the standing one. Swapping
the two turns the map by half; turning both by a quarter turns it by a quarter. So one map serves
up to eight ordered pairs of poses, as long as references are fixed points of the parts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.outlines.growing import Edges
from sheetplan.packing.outlines.poses import Pose, PoseSet
from sheetplan.packing.outlines.touching import (
    Bytes,
    Rings,
    RunRows,
    forbidden_runs,
    half_turned,
    painted,
    rings_of,
)

Ints = NDArray[np.int64]


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
