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
    Events,
    Rings,
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


def window(standing: Edges, moving: Edges, step: float) -> tuple[int, int, int, int]:
    """The lattice window (first column, first row, columns, rows) that holds all shifts that touch."""
    low_a, high_a = standing.reshape(-1, 2).min(axis=0), standing.reshape(-1, 2).max(axis=0)
    low_b, high_b = moving.reshape(-1, 2).min(axis=0), moving.reshape(-1, 2).max(axis=0)
    first = np.floor((low_a - high_b) / step).astype(int)
    last = np.ceil((high_a - low_b) / step).astype(int)
    return int(first[0]), int(first[1]), int(last[0] - first[0] + 1), int(last[1] - first[1] + 1)


def contact_map(standing: Edges, moving: Edges, step: float) -> ContactMap:
    """The forbidden shifts of one polygon against a standing one."""
    return _map_of(standing, moving, rings_of(standing, 1.0), rings_of(moving, -1.0), step)


def _map_of(standing: Edges, moving: Edges, rings: Rings, mirrored: Rings, step: float) -> ContactMap:
    ox, oy, columns, rows = window(standing, moving, step)
    runs = forbidden_runs(rings, mirrored, step, ox, ox + columns - 1)
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
        self._turned: dict[tuple[int, int, bool], tuple[Edges, Rings]] = {}

    def map(self, key: Key) -> ContactMap:
        """The map of a pair of families."""
        if key not in self._maps:
            self.made += 1
            standing, rings = self._standing(key[0], 0)
            moving, mirrored = self._moving(key[1], key[2])
            self._maps[key] = _map_of(standing, moving, rings, mirrored, self.step)
        return self._maps[key]

    def _standing(self, family: int, quarter: int) -> tuple[Edges, Rings]:
        """A family's grown edges, turned, and their rings."""
        asked = family, quarter, True
        if asked not in self._turned:
            turned = edges_turned(self.pose_set.families[family].grown_edges, quarter)
            self._turned[asked] = turned, rings_of(turned, 1.0)
        return self._turned[asked]

    def _moving(self, family: int, quarter: int) -> tuple[Edges, Rings]:
        """A family's edges, turned, and their rings mirrored."""
        asked = family, quarter, False
        if asked not in self._turned:
            turned = edges_turned(self.pose_set.families[family].edges, quarter)
            self._turned[asked] = turned, rings_of(turned, -1.0)
        return self._turned[asked]

    def _runs_of(self, key: Key, quarter: int) -> Events:
        """The runs of a pair of families, both turned by none or one quarter turn."""
        self.made += 1
        standing, rings = self._standing(key[0], quarter)
        moving, mirrored = self._moving(key[1], (key[2] + quarter) % 4)
        first, _, columns, _ = window(standing, moving, self.step)
        return forbidden_runs(rings, mirrored, self.step, first, first + columns - 1)

    def runs(self) -> Runs:
        """The runs of all ordered pose pairs."""
        poses = self.pose_set.poses
        first = np.empty((len(poses), len(poses)), np.int64)
        last = np.empty_like(first)
        chunks: list[Events] = []
        spans: dict[tuple[Key, int], tuple[int, int]] = {}
        known: dict[tuple[Key, int], Events] = {}
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
