"""Guided local search on overlap: pieces on a sheet may overlap, and move until they do not.

Every pair of pieces has a weight that grows while the pair overlaps and fades while it does not. A sweep
takes the overlapping pieces in random order and moves each to the place where its weighted overlap is
least. That place is sought along lines: on one column of lattice positions the overlaps with all other
pieces are added up, so that the least of a whole column is known at the cost of a few reads; columns are
first taken some steps apart, then the neighbours of the best one (of the best three: as many pieces find
their place, a third more slowly).

How deep a shift lies in a forbidden region is one table lookup: its chamfer distance (3 a step along, 4
across) to the nearest free shift, close to the shortest way in which two pieces can be moved apart. Depths
are scaled to a byte, so that the tables stay in the processor's cache.

Sources: Egeblad, Nielsen and Odgaard 2007 (EJOR 183) for the search along a line; Umetani et al. 2009 (ITOR
16) for the guided weights; Borgefors 1986, "Distance transformations in digital images" (CVGIP 34).

Terms
-----
crowd
    The pieces of a sheet, wherever they lie, with the weights of their pairs.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.outlines.field import forbidden_on, obstacle_edges
from sheetplan.packing.outlines.no_fit import Bytes, ContactMap, Contacts, Ints, Key, key_of
from sheetplan.packing.outlines.poses import Pose, PoseSet, edges
from sheetplan.packing.rng import Chance, below, shuffle

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
    most: NDArray[np.int32]
    """Greatest depth of each pair, shape (standing, moving)."""


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
    most = np.empty((len(poses), len(poses)), np.int32)
    stored: dict[Key, tuple[int, int]] = {}
    chunks: list[Bytes] = []
    total = 0
    for a, standing in enumerate(poses):
        for b, moving in enumerate(poses):
            key, quarter = key_of(standing, moving)
            held = contacts.map(key)
            if key not in stored:
                depth = _as_bytes(chamfer(held.marks), scale)
                stored[key] = total, int(depth.max(initial=0))
                chunks += [depth.ravel(), depth.T.ravel()]
                total += 2 * depth.size
            offset, most[a, b] = stored[key]
            where[a, b] = _window(held, quarter, offset)
    return Depths(np.concatenate(chunks), where, ALONG * scale, most)


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
    rows, most = [], []
    chunks = [depths.table]
    total = depths.table.size
    for index, pose in enumerate(pose_set.poses):
        x, y = int(first_x[index]), int(first_y[index])
        wide, tall = max(0, int(last_x[index]) - x + 1), max(0, int(last_y[index]) - y + 1)
        marks = forbidden_on(standing, edges(pose.solid), x, y, wide, tall, step)
        depth = _as_bytes(chamfer(marks), depths.step / ALONG)
        chunks.append(depth.ravel())
        most.append(int(depth.max(initial=0)))
        rows.append([total - x * tall - y, tall, 1, x, y, wide, tall])
        total += marks.size
    where = np.concatenate((depths.where, np.array([rows], np.int32)))
    most_of_all = np.concatenate((depths.most, np.array([most], np.int32)))
    return Depths(np.concatenate(chunks), where, depths.step, most_of_all)


Weights = NDArray[np.int32]

UNIT = 64
"""A pair's weight at rest."""

HEAVIEST = 1 << 16
"""Greatest weight: a few hundred overlaps of the greatest depth still add up within 32 bits."""

BETTER = 0.98
"""Only an overlap below this share of the least so far renews the patience."""

RUN_WORK = 24
"""Work of reading a run of cells, apart from the cells: measured on the bench, in cells."""

NOWHERE = 1 << 40
"""More than any overlap."""

NEAR_ROWS = 24
"""Rows on either side of the best place of a column that are looked at on its neighbours."""


class Manner(NamedTuple):
    """How a search goes about it.

    ``stride`` columns lie between the columns looked at first; after ``patience`` sweeps without
    a better arrangement it gives up; weights fade by one part in ``fade`` a sweep.
    """

    stride: int
    patience: int
    fade: int


Bars = NDArray[np.float64]
"""Shape (n, 2): after so many sweeps a search whose least overlap is still above so much gives up."""

NO_BARS: Bars = np.empty((0, 2))


class Room(NamedTuple):
    """First and last lattice position of each pose's reference; empty where last < first."""

    first_x: Ints
    last_x: Ints
    first_y: Ints
    last_y: Ints


class Crowd(NamedTuple):
    """The pieces: their ``pose`` and lattice position, whether each may move, and their choice of poses.

    ``choices`` are pose numbers by shape: those of shape s from ``first[s]`` up to ``first[s + 1]``.
    ``weights`` and ``pairs``, the depths as last measured, have shape (pieces, pieces), symmetric.
    """

    pose: Ints
    x: Ints
    y: Ints
    shape: Ints
    moves: NDArray[np.bool_]
    first: Ints
    choices: Ints
    weights: Weights
    pairs: Weights


@compiled
def pair_depth(depths: Depths, standing: int, moving: int, dx: int, dy: int) -> int:
    """Depth of a shift between two poses."""
    where = depths.where[standing, moving]
    column, row = dx - where[3], dy - where[4]
    if column < 0 or row < 0 or column >= where[5] or row >= where[6]:
        return 0
    return int(depths.table[where[0] + dx * where[1] + dy * where[2]])


@compiled
def _measure(depths: Depths, crowd: Crowd, piece: int) -> int:
    """Bring the depths of a piece's pairs up to date; returns by how much their sum changed."""
    pose, x, y = crowd.pose[piece], crowd.x[piece], crowd.y[piece]
    change = 0
    for j in range(crowd.pose.shape[0]):
        depth = 0
        if j != piece:
            depth = pair_depth(depths, crowd.pose[j], pose, x - crowd.x[j], y - crowd.y[j])
        change += depth - crowd.pairs[piece, j]
        crowd.pairs[piece, j] = depth
        crowd.pairs[j, piece] = depth
    return change


@compiled
def total_overlap(depths: Depths, crowd: Crowd) -> int:
    """Measure all pairs; the sum of their depths."""
    crowd.pairs[:] = 0
    total = 0
    for piece in range(crowd.pose.shape[0]):
        total += _measure(depths, crowd, piece)
    return total


@compiled
def weighted_overlap(crowd: Crowd, piece: int) -> int:
    """The weighted overlap of one piece with all others, as last measured."""
    total = np.int64(0)
    for j in range(crowd.pose.shape[0]):
        total += np.int64(crowd.pairs[piece, j]) * np.int64(crowd.weights[piece, j])
    return int(total)


@compiled
def _survey(
    sheet: Weights,
    depths: Depths,
    crowd: Crowd,
    piece: int,
    pose: int,
    columns: tuple[int, int, int],
    low: int,
    high: int,
) -> int:
    """Weighted overlap of a pose of a piece on some columns, at every row from ``low`` to ``high``.

    ``columns`` are the first column, the step to the next and their number. Fills ``sheet`` and
    returns the work done.
    """
    x0, stride, number = columns
    sheet[:number, : high - low + 1] = 0
    cells = 0
    for j in range(crowd.pose.shape[0]):
        if j == piece:
            continue
        where = depths.where[crowd.pose[j], pose]
        left, bottom = crowd.x[j] + where[3] - x0, crowd.y[j] + where[4]
        right = left + where[5] - 1
        first, last = max(low, bottom), min(high, bottom + where[6] - 1)
        # Most pieces are out of reach: they are told before anything is divided.
        if right < 0 or left > (number - 1) * stride or first > last:
            continue
        begin, end = max(0, -((-left) // stride)), min(number - 1, right // stride)
        weight = crowd.weights[piece, j]
        start = where[0] + (x0 + begin * stride - crowd.x[j]) * where[1] + (first - crowd.y[j]) * where[2]
        count, here = np.uint64(last - first + 1), np.uint64(first - low)
        for k in range(np.uint64(begin), np.uint64(end + 1)):
            cell = np.uint64(start)
            if where[2] == 1:
                for r in range(count):
                    sheet[k, here + r] += weight * np.int32(depths.table[cell + r])
            else:
                for r in range(count):
                    sheet[k, here + r] += weight * np.int32(depths.table[cell - r])
            start += stride * where[1]
        cells += (last - first + 1 + RUN_WORK) * max(0, end - begin + 1)
    return cells


@compiled
def _better_on(sheet: Weights, number: int, rows: int, best: int) -> tuple[int, int, int]:
    """The least value on some columns of a survey if it is below ``best``, with its column and row.

    Column -1 where none is. A row is sought only where its column holds something better.
    """
    at, up = -1, 0
    for column in range(number):
        least = sheet[column, 0]
        for k in range(np.uint64(1), np.uint64(rows)):
            least = min(least, sheet[column, k])
        if least < best:
            best, at, up = least, column, 0
            while sheet[column, up] != least:
                up += 1
    return best, at, up


@compiled
def _best_place(
    depths: Depths, crowd: Crowd, room: Room, piece: int, stride: int, chance: Chance, sheet: Weights
) -> tuple[int, int, int, int, int]:
    """The place of least weighted overlap for a piece: its overlap, pose, x, y; and the work done.

    Every ``stride``-th column is looked at in each pose, then the neighbours of the best one.
    """
    shape = crowd.shape[piece]
    best, way, x, y = NOWHERE, crowd.pose[piece], crowd.x[piece], crowd.y[piece]
    cells = 0
    for c in range(crowd.first[shape], crowd.first[shape + 1]):
        pose = crowd.choices[c]
        low, high = room.first_y[pose], room.last_y[pose]
        wide = room.last_x[pose] - room.first_x[pose] + 1
        if high < low or wide < 1:
            continue
        x0 = room.first_x[pose] + below(chance, min(stride, wide))
        number = (room.last_x[pose] - x0) // stride + 1
        cells += _survey(sheet, depths, crowd, piece, pose, (x0, stride, number), low, high)
        best, at, up = _better_on(sheet, number, high - low + 1, best)
        if at >= 0:
            way, x, y = pose, x0 + at * stride, low + up
    if best == NOWHERE:
        return best, way, x, y, cells
    low, high = max(room.first_y[way], y - NEAR_ROWS), min(room.last_y[way], y + NEAR_ROWS)
    x0 = max(room.first_x[way], x - stride + 1)
    number = min(room.last_x[way], x + stride - 1) - x0 + 1
    cells += _survey(sheet, depths, crowd, piece, way, (x0, 1, number), low, high)
    best, at, up = _better_on(sheet, number, high - low + 1, best)
    if at >= 0:
        x, y = x0 + at, low + up
    return best, way, x, y, cells


@compiled
def _update_weights(crowd: Crowd, fade: int) -> None:
    """Make pairs that overlap heavier, the deeper the more; let the others fade."""
    n = crowd.pose.shape[0]
    deepest = max(np.int32(1), crowd.pairs.max())
    for i in range(n):
        for j in range(i):
            depth = crowd.pairs[i, j]
            weight = crowd.weights[i, j]
            if depth > 0:
                weight = min(weight + weight * (deepest + 3 * depth) // (4 * deepest), HEAVIEST)
            elif weight > UNIT:
                weight = max(UNIT, weight - max(1, weight // fade))
            else:
                continue
            crowd.weights[i, j] = weight
            crowd.weights[j, i] = weight


@compiled
def _sweep(
    depths: Depths, crowd: Crowd, room: Room, chance: Chance, stride: int, order: Ints, sheet: Weights
) -> tuple[int, int]:
    """Move every overlapping piece once, in random order, to its best place.

    Returns by how much the overlap changed, and the work done.
    """
    shuffle(chance, order)
    work = change = 0
    for piece in order:
        if not crowd.moves[piece]:
            continue
        here = weighted_overlap(crowd, piece)
        if here == 0:
            continue
        value, pose, x, y, read = _best_place(depths, crowd, room, piece, stride, chance, sheet)
        work += read
        if value < here:
            crowd.pose[piece], crowd.x[piece], crowd.y[piece] = pose, x, y
            change += _measure(depths, crowd, piece)
    return change, work


@compiled
def separate(
    depths: Depths, crowd: Crowd, room: Room, chance: Chance, manner: Manner, bars: Bars, work: int
) -> tuple[int, int]:
    """Move pieces until none overlap, patience runs out, a bar is missed or so much ``work`` is done.

    Leaves the arrangement with the least overlap in ``crowd``.

    Returns
    -------
    tuple
        Its overlap (0 when all are apart) and the work done.
    """
    best = now = total_overlap(depths, crowd)
    best_pose, best_x, best_y = crowd.pose.copy(), crowd.x.copy(), crowd.y.copy()
    order = np.arange(crowd.pose.shape[0])
    columns = 2 * manner.stride + 1 + (room.last_x - room.first_x).max()
    sheet = np.empty((columns, 1 + (room.last_y - room.first_y).max()), np.int32)
    stalled = sweeps = bar = 0
    done = 0
    while best > 0 and stalled < manner.patience and done < work:
        change, read = _sweep(depths, crowd, room, chance, manner.stride, order, sheet)
        now += change
        done += read + crowd.pairs.size
        _update_weights(crowd, manner.fade)
        sweeps += 1
        stalled = 0 if now < BETTER * best else stalled + 1
        if now < best:
            best = now
            best_pose[:], best_x[:], best_y[:] = crowd.pose, crowd.x, crowd.y
        if bar < bars.shape[0] and sweeps >= bars[bar, 0]:
            if best > bars[bar, 1]:
                break
            bar += 1
    crowd.pose[:], crowd.x[:], crowd.y[:] = best_pose, best_x, best_y
    return best, done
