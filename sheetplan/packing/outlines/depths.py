"""How deep a shift lies in a forbidden region: the overlap of two pieces as one table lookup.

The depth is the chamfer distance (3 a step along, 4 across) to the nearest free shift, which
is close to the shortest way in which the two pieces can be moved apart. Depths are scaled to a
byte, so that the tables stay in the processor's cache.

Source of the distance: Borgefors 1986, "Distance transformations in digital images" (CVGIP 34).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.outlines.contacts import ContactMap, Contacts, Ints, Key, key_of
from sheetplan.packing.outlines.field import forbidden_on, obstacle_edges
from sheetplan.packing.outlines.growing import edges
from sheetplan.packing.outlines.poses import Pose, PoseSet
from sheetplan.packing.outlines.touching import Bytes

ALONG, ACROSS = 3, 4
DEEPEST = 255


class Depths(NamedTuple):
    """Depth tables of ordered pose pairs.

    ``where`` has shape (standing, moving, 7): offset of the zero shift in ``table``, step in the
    table per column and per row of shift (the latter 1 or -1), first column and row of the
    window, its columns and rows. Outside the window the depth is 0.
    """

    table: Bytes
    where: NDArray[np.int32]
    step: float
    """Depth of one lattice step."""


@compiled
def chamfer(marks: Bytes) -> NDArray[np.int32]:
    """Distance of each marked point to the nearest unmarked one; all around the window is unmarked."""
    columns, rows = marks.shape
    depth = np.zeros((columns + 2, rows + 2), np.int32)
    for i in range(1, columns + 1):
        for j in range(1, rows + 1):
            if marks[i - 1, j - 1]:
                straight = min(depth[i - 1, j], depth[i, j - 1]) + ALONG
                depth[i, j] = min(straight, min(depth[i - 1, j - 1], depth[i - 1, j + 1]) + ACROSS)
    for i in range(columns, 0, -1):
        for j in range(rows, 0, -1):
            if marks[i - 1, j - 1]:
                straight = min(depth[i + 1, j], depth[i, j + 1]) + ALONG
                aslant = min(depth[i + 1, j + 1], depth[i + 1, j - 1]) + ACROSS
                depth[i, j] = min(depth[i, j], straight, aslant)
    return depth[1:-1, 1:-1]


def _window(held: ContactMap, turned: int, offset: int) -> list[int]:
    """The row of `Depths.where` for a map stored at ``offset``, seen turned by quarter turns.

    The map is stored twice, by columns and after that by rows, so that neighbours in a column of
    shifts are neighbours in the table however it is turned.
    """
    columns, rows = held.marks.shape
    right, top = held.ox + columns - 1, held.oy + rows - 1
    other = offset + columns * rows
    if turned == 0:
        return [offset - held.ox * rows - held.oy, rows, 1, held.ox, held.oy, columns, rows]
    if turned == 2:
        return [offset - held.ox * rows - held.oy, -rows, -1, -right, -top, columns, rows]
    by_rows = other - held.oy * columns - held.ox
    if turned == 1:
        return [by_rows, -columns, 1, -top, held.ox, rows, columns]
    return [by_rows, columns, -1, held.oy, -right, rows, columns]


def depths_of(contacts: Contacts) -> Depths:
    """The depth tables of all ordered pose pairs of a pose set."""
    poses = contacts.pose_set.poses
    scale = min(1.0, DEEPEST / _deepest(poses, contacts.step))
    where = np.empty((len(poses), len(poses), 7), np.int32)
    offsets: dict[Key, int] = {}
    chunks: list[Bytes] = []
    total = 0
    for a, standing in enumerate(poses):
        for b, moving in enumerate(poses):
            key, quarter = key_of(standing, moving)
            held = contacts.map(key)
            if key not in offsets:
                depth = _as_bytes(chamfer(held.marks), scale)
                offsets[key] = total
                chunks += [depth.ravel(), depth.T.ravel()]
                total += 2 * depth.size
            where[a, b] = _window(held, quarter, offsets[key])
    return Depths(np.concatenate(chunks), where, ALONG * scale)


def _deepest(poses: Sequence[Pose], step: float) -> float:
    """More than the greatest depth: a map is at most as wide as two parts side by side."""
    sides = np.array([(p.box[2] - p.box[0], p.box[3] - p.box[1]) for p in poses]).reshape(-1, 2)
    widest = float(sides.min(axis=1).max(initial=step))
    return ALONG * (widest / step + 2.0)


def _as_bytes(depth: NDArray[np.int32], scale: float) -> Bytes:
    """Depths scaled and cut off at what a byte holds; what is forbidden stays above 0."""
    scaled = depth if scale >= 1.0 else np.ceil(depth * np.float32(scale)).astype(np.int32)
    return np.minimum(scaled, DEEPEST).astype(np.uint8)


def with_obstacles(
    depths: Depths,
    pose_set: PoseSet,
    obstacles: Sequence[tuple[shapely.Polygon, float]],
    room: tuple[Ints, ...],
    step: float,
    less: float,
) -> Depths:
    """The tables with one more standing pose, after the last: the obstacles, at the zero position.

    They are grown by their clearance less ``less`` mm. Windows reach over the room of each pose (first
    and last column, first and last row).
    """
    first_x, last_x, first_y, last_y = room
    standing = obstacle_edges(obstacles, less)
    rows = []
    chunks = [depths.table]
    total = depths.table.size
    for index, pose in enumerate(pose_set.poses):
        x, y = int(first_x[index]), int(first_y[index])
        wide, tall = max(0, int(last_x[index]) - x + 1), max(0, int(last_y[index]) - y + 1)
        marks = forbidden_on(standing, edges(pose.solid), x, y, wide, tall, step)
        chunks.append(_as_bytes(chamfer(marks), depths.step / ALONG).ravel())
        rows.append([total - x * tall - y, tall, 1, x, y, wide, tall])
        total += marks.size
    where = np.concatenate((depths.where, np.array([rows], np.int32)))
    return Depths(np.concatenate(chunks), where, depths.step)
