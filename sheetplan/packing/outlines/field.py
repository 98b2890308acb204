"""The sheet as a lattice: where each pose may stand before anything is placed.

Terms
-----
field
    What of a blank may be used, seen from its datum corner: a box shrunk by the margin, whose
    lower left corner is the view's origin, and obstacles.
obstacle
    A polygon that parts keep clear of: an old cut, a part that stays, the outside of an odd edge.
grid
    One bit per lattice position of a pose, 1 where it must not stand; columns run along the
    sheet's length, 64 positions to a word.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity

from sheetplan.packing.outlines.no_fit import (
    Ints,
    forbidden_runs,
    moving_side,
    painted,
    standing_side,
    steps_within,
    window,
)
from sheetplan.packing.outlines.poses import Edges, PoseSet, View, edges, grown

Words = NDArray[np.uint64]

FIT_SLACK_MM = 1e-6
"""A part that fits a sheet but for rounding fits it."""

OUTSIDE_MM = 1000.0
"""How far the outside of an odd edge is drawn; parts cannot reach farther past it."""


@dataclass(frozen=True, slots=True)
class Field:
    """Usable ``length`` and ``width`` in mm from the view's origin, and obstacles with their clearance.

    ``corner`` is the datum corner of the usable box in the sheet frame.
    """

    length: float
    width: float
    corner: tuple[float, float]
    view: View
    obstacles: tuple[tuple[shapely.Polygon, float], ...] = ()


class Grid(NamedTuple):
    """Start state of a field: ``words`` (poses, columns, words), origin and size per pose in steps."""

    words: Words
    first_x: Ints
    first_y: Ints
    columns: Ints
    rows: Ints


def to_view(shape: shapely.Geometry, view: View, corner: tuple[float, float]) -> shapely.Geometry:
    """A shape of the sheet frame as seen from the datum corner of the usable box."""
    sx, sy = (-1.0 if view.flip_x else 1.0), (-1.0 if view.flip_y else 1.0)
    return affinity.affine_transform(shape, (sx, 0.0, 0.0, sy, -sx * corner[0], -sy * corner[1]))


def make_field(
    edge: shapely.Polygon, margin: float, view: View, obstacles: Sequence[tuple[shapely.Geometry, float]]
) -> Field:
    """The field of a sheet whose edge (it lies within the true edge) and obstacles are in the sheet frame."""
    left, bottom, right, top = edge.bounds
    corner = (
        right - margin if view.flip_x else left + margin,
        top - margin if view.flip_y else bottom + margin,
    )
    box = shapely.box(left, bottom, right, top)
    kept = [(part, room) for shape, room in obstacles for part in shapely.get_parts(shape)]
    missing = box.difference(edge)
    if missing.area > FIT_SLACK_MM * box.length:
        around = shapely.box(left - OUTSIDE_MM, bottom - OUTSIDE_MM, right + OUTSIDE_MM, top + OUTSIDE_MM)
        kept += [(part, margin) for part in shapely.get_parts(around.difference(edge))]
    seen = tuple((to_view(part, view, corner), room) for part, room in kept)
    return Field(right - left - 2.0 * margin, top - bottom - 2.0 * margin, corner, view, seen)


def start_grid(field: Field, pose_set: PoseSet, step: float) -> Grid:
    """Where each pose may stand on the empty field."""
    spans = np.array([_span(field, pose.box, step) for pose in pose_set.poses], np.int64).reshape(-1, 4)
    columns, rows = spans[:, 2].copy(), spans[:, 3].copy()
    shape = (len(spans), max(1, int(columns.max(initial=0))), max(1, -(-int(rows.max(initial=0)) // 64)))
    words = np.full(shape, ~np.uint64(0), dtype=np.uint64)
    standing = obstacle_edges(field.obstacles, 0.0)
    for index, pose in enumerate(pose_set.poses):
        x, y, wide, tall = (int(v) for v in spans[index])
        moving = edges(pose.solid) if standing else np.empty((0, 4))
        marks = forbidden_on(standing, moving, x, y, wide, tall, step)
        words[index, : columns[index]] = packed(marks, shape[2])
    return Grid(words, spans[:, 0].copy(), spans[:, 1].copy(), columns, rows)


def obstacle_edges(obstacles: Sequence[tuple[shapely.Polygon, float]], less: float) -> list[Edges]:
    """The edges of obstacles grown by their clearance less ``less`` mm."""
    around = [grown(solid, clearance - less) for solid, clearance in obstacles]
    return [edges(part) for one in around for part in shapely.get_parts(one)]


def forbidden_on(
    standing: Sequence[Edges], moving: Edges, first_x: int, first_y: int, columns: int, rows: int, step: float
) -> NDArray[np.uint8]:
    """Marks of a window (columns, rows) where a pose would meet any of the standing polygons."""
    marks = np.zeros((columns, rows), np.uint8)
    if not standing:
        return marks
    moves = moving_side(moving)
    for around in standing:
        stands = standing_side(around)
        x, _, wide, _ = window(stands, moves, step)
        left, right = max(x, first_x), min(x + wide, first_x + columns)
        if left < right:
            runs = forbidden_runs(stands.rings, moves.rings, step, left, right - left)
            marks |= painted(runs, first_x, first_y, columns, rows)
    return marks


def _span(field: Field, box: tuple[float, float, float, float], step: float) -> tuple[int, int, int, int]:
    """First column, first row, columns and rows where a pose's box stays in the field; no size if none."""
    left, bottom, right, top = box
    first_x, last_x = steps_within(-left, field.length - right, step, FIT_SLACK_MM)
    first_y, last_y = steps_within(-bottom, field.width - top, step, FIT_SLACK_MM)
    if last_x < first_x or last_y < first_y:
        return first_x, first_y, 0, 0
    return first_x, first_y, last_x - first_x + 1, last_y - first_y + 1


def packed(marks: NDArray[np.uint8], words: int) -> Words:
    """Marks (columns, rows) as bits, lowest row in the lowest bit; rows beyond the last are marked."""
    full = np.ones((marks.shape[0], words * 64), np.uint8)
    full[:, : marks.shape[1]] = marks
    return np.packbits(full, axis=1, bitorder="little").view("<u8").astype(np.uint64)
