"""Compaction: parts pushed together by linear programming, off the lattice and to the micrometre.

What keeps two parts apart is made linear in their positions (separating constraints): outlines are cut into
convex pieces, and between two pieces of different parts that are near each other the direction is held in
which they are farthest apart. As long as the shift of one against the other reaches far enough along it, the
two cannot come closer than the gap, wherever else they go.

The shortest layout that keeps all held directions is a linear programme. Its answer keeps every
gap, whatever the parts' starting positions were; from there other directions may serve better, so
the step is repeated until little more is won.

Sources: Li and Milenkovic 1995, "Compaction and separation algorithms for non-convex polygons and their
applications" (EJOR 84); in strip packing Gomes and Oliveira 2006 (EJOR 171). Convex pieces are triangles of
a constrained Delaunay triangulation, joined across a shared side as long as the union stays convex (Hertel
and Mehlhorn 1983, "Fast triangulation of simple polygons": at most four times as many as the least
possible).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import highspy
import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.linear import new_model
from sheetplan.packing.outlines.no_fit import Ints

Points = NDArray[np.float64]

Corner = tuple[float, float]


def _turn(a: Corner, b: Corner, c: Corner) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _joined(first: list[Corner], second: list[Corner], side: tuple[Corner, Corner]) -> list[Corner] | None:
    """The union of two convex pieces across a side that runs a to b in the first, if it is convex."""
    a, b = side
    i, j, many, more = first.index(a), second.index(b), len(first), len(second)
    # Only where the side ends may the union be hollow: from the first on to the second, and back.
    if _turn(first[i - 1], a, second[(j + 2) % more]) < 0.0:
        return None
    if _turn(second[j - 1], b, first[(i + 2) % many]) < 0.0:
        return None
    # From b round the first piece to a, then on round the second piece back to b.
    return [*first[i + 1 :], *first[: i + 1], *[*second[j:], *second[:j]][2:]]


def _triangles(solid: shapely.Polygon) -> list[list[Corner]]:
    """Triangles that make up a polygon, corners counter-clockwise."""
    found = shapely.get_parts(shapely.constrained_delaunay_triangles(solid))
    corners = shapely.get_coordinates(found).reshape(-1, 4, 2)[:, :3]
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    clockwise = first[:, 0] * second[:, 1] < first[:, 1] * second[:, 0]
    corners[clockwise] = corners[clockwise, ::-1]
    return [[(x, y) for x, y in triangle] for triangle in corners.tolist()]


def convex_pieces(solid: shapely.Polygon) -> list[Points]:
    """Convex pieces of a polygon, counter-clockwise corners, each of shape (n, 2)."""
    pieces = dict(enumerate(_triangles(solid)))
    owner: dict[tuple[Corner, Corner], int] = {}
    for number, corners in pieces.items():
        for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
            owner[a, b] = number
    joined_to = list(range(len(pieces)))

    def now(number: int) -> int:
        """The piece that a triangle is part of by now."""
        while joined_to[number] != number:
            joined_to[number] = number = joined_to[joined_to[number]]
        return number

    for side in sorted(owner, key=lambda s: (-math.dist(*s), s)):
        back = (side[1], side[0])
        if back not in owner:
            continue
        kept, gone = now(owner[side]), now(owner[back])
        if kept == gone:
            continue
        whole = _joined(pieces[kept], pieces[gone], side)
        if whole is not None:
            pieces[kept] = whole
            del pieces[gone]
            joined_to[gone] = kept
    return [np.array(corners) for corners in pieces.values()]


Floats = NDArray[np.float64]

FARTHEST = 2.9
"""Parts that move by at most the reach along each axis come nearer by at most 2 sqrt(2) times it."""


class Convexes(NamedTuple):
    """Convex pieces of solids: corners of piece c are ``corners[first[c]:first[c + 1]]``.

    The pieces of solid s are ``of_solid[s]`` up to ``of_solid[s + 1]``; ``boxes`` has left, bottom,
    right, top of each piece about the solid's reference, mm.
    """

    corners: Floats
    first: Ints
    of_solid: Ints
    boxes: Floats


def convexes_of(solids: Sequence[shapely.Polygon]) -> Convexes:
    """The convex pieces of solids."""
    pieces = [convex_pieces(solid) for solid in solids]
    flat = [piece for of_one in pieces for piece in of_one]
    return Convexes(
        np.concatenate(flat),
        np.cumsum([0, *(len(piece) for piece in flat)]).astype(np.int64),
        np.cumsum([0, *(len(of_one) for of_one in pieces)]).astype(np.int64),
        np.array([(*piece.min(axis=0), *piece.max(axis=0)) for piece in flat]),
    )


def joined(first: Convexes, second: Convexes) -> Convexes:
    """The pieces of more solids, numbered on from the first ones."""
    return Convexes(
        np.concatenate((first.corners, second.corners)),
        np.concatenate((first.first, second.first[1:] + first.first[-1])),
        np.concatenate((first.of_solid, second.of_solid[1:] + first.of_solid[-1])),
        np.concatenate((first.boxes, second.boxes)),
    )


@compiled
def _reach(corners: Floats, first: int, last: int, nx: float, ny: float) -> tuple[float, float]:
    """Least and greatest extent of a convex piece along a direction."""
    low, high = np.inf, -np.inf
    for k in range(first, last):
        along = corners[k, 0] * nx + corners[k, 1] * ny
        low, high = min(low, along), max(high, along)
    return low, high


@compiled
def _best_of_sides(
    convexes: Convexes, a: int, b: int, dx: float, dy: float, sign: float, best: Floats
) -> None:
    """Try the outward normals of the sides of piece ``a`` (or, with ``sign`` -1, of ``b``) as directions.

    ``best`` has the clearance, the direction (from a to b), and the least that the shift of b
    against a must reach along it.
    """
    corners, first = convexes.corners, convexes.first
    of = a if sign > 0.0 else b
    count = first[of + 1] - first[of]
    for k in range(count):
        p, q = first[of] + k, first[of] + (k + 1) % count
        nx, ny = corners[q, 1] - corners[p, 1], corners[p, 0] - corners[q, 0]
        length = np.hypot(nx, ny)
        if length <= 0.0:
            continue
        nx, ny = sign * nx / length, sign * ny / length
        _, high = _reach(corners, first[a], first[a + 1], nx, ny)
        low, _ = _reach(corners, first[b], first[b + 1], nx, ny)
        clear = dx * nx + dy * ny + low - high
        if clear > best[0]:
            best[0], best[1], best[2], best[3] = clear, nx, ny, high - low


@compiled
def _best_between_corners(convexes: Convexes, a: int, b: int, dx: float, dy: float, best: Floats) -> None:
    """Try the direction between the two nearest corners, which is best where corners face each other."""
    corners, first = convexes.corners, convexes.first
    least, nx, ny = np.inf, 0.0, 0.0
    for p in range(first[a], first[a + 1]):
        for q in range(first[b], first[b + 1]):
            ux, uy = corners[q, 0] + dx - corners[p, 0], corners[q, 1] + dy - corners[p, 1]
            if ux * ux + uy * uy < least:
                least, nx, ny = ux * ux + uy * uy, ux, uy
    length = np.sqrt(least)
    if length <= 0.0:
        return
    nx, ny = nx / length, ny / length
    _, high = _reach(corners, first[a], first[a + 1], nx, ny)
    low, _ = _reach(corners, first[b], first[b + 1], nx, ny)
    clear = dx * nx + dy * ny + low - high
    if clear > best[0]:
        best[0], best[1], best[2], best[3] = clear, nx, ny, high - low


@compiled
def _apart(convexes: Convexes, a: int, b: int, dx: float, dy: float, room: float) -> bool:
    """Whether the boxes of two pieces are farther apart than ``room``."""
    box_a, box_b = convexes.boxes[a], convexes.boxes[b]
    return bool(
        box_b[0] + dx > box_a[2] + room
        or box_a[0] > box_b[2] + dx + room
        or box_b[1] + dy > box_a[3] + room
        or box_a[1] > box_b[3] + dy + room
    )


@compiled
def _hold(convexes: Convexes, a: int, b: int, dx: float, dy: float, gap: float, best: Floats) -> None:
    """The direction in which two convex pieces are farthest apart, into ``best``."""
    best[0] = -np.inf
    _best_of_sides(convexes, a, b, dx, dy, 1.0, best)
    _best_of_sides(convexes, a, b, dx, dy, -1.0, best)
    if gap > 0.0 and best[0] > 0.0:
        _best_between_corners(convexes, a, b, dx, dy, best)


@compiled
def held_directions(
    convexes: Convexes, solid: Ints, at: Floats, gaps: Floats, movable: int, reach: float, out: Floats
) -> tuple[int, float]:
    """The held direction of every pair of convex pieces that may come too near.

    Parameters
    ----------
    convexes, solid, at
        The pieces; the solid of each part and its reference's position, mm.
    gaps
        Clearance that each part asks for; of two parts the greater counts.
    movable
        So many parts, the first ones, may move; what stays keeps no gap to what stays.
    reach
        How far any part may move, along each axis.
    out
        Takes rows (part i, part j, nx, ny, least): ``n . (at[j] - at[i]) >= least``.

    Returns
    -------
    tuple
        How many rows there are (more than ``out`` holds means that the rest is missing), and the
        least of clearance minus gap: what is 0 or more keeps every gap.
    """
    count = 0
    worst = np.inf
    best = np.empty(4)
    for i in range(solid.shape[0]):
        for j in range(min(i, movable)):
            dx, dy = at[i, 0] - at[j, 0], at[i, 1] - at[j, 1]
            gap = max(gaps[i], gaps[j])
            for a in range(convexes.of_solid[solid[j]], convexes.of_solid[solid[j] + 1]):
                for b in range(convexes.of_solid[solid[i]], convexes.of_solid[solid[i] + 1]):
                    if _apart(convexes, a, b, dx, dy, 2.0 * reach + gap):
                        continue
                    _hold(convexes, a, b, dx, dy, gap, best)
                    worst = min(worst, best[0] - gap)
                    if best[0] <= gap + FARTHEST * reach:
                        if count < out.shape[0]:
                            out[count, 0], out[count, 1] = j, i
                            out[count, 2], out[count, 3], out[count, 4] = best[1], best[2], best[3] + gap
                        count += 1
    return count, worst


SOLVER_SLACK_MM = 1e-5
"""What the solver may leave a row short by, with room to spare: a hundredth of `SAME_LENGTH_MM`."""

GAINED_ENOUGH = 2e-4
"""A step that shortens the layout by a smaller share is the last."""

MOST_STEPS = 12

ROW_WORK, PART_WORK = 20_000, 100_000
"""What a held direction and a part of a programme count as, in cells of maps read: measured on the bench."""

PULL = 1e-3
"""Weight of the mean of all x against the length: parts lean to the datum end where it costs nothing."""


@dataclass(frozen=True, slots=True)
class Pressed:
    """Positions of the parts' references in mm, shape (n, 2), and the length that they use."""

    at: Floats
    length: float


class Press:
    """Presses layouts of some poses together, clear of obstacles that stay.

    Parameters
    ----------
    convexes, boxes, gap
        The convex pieces and the box of each pose, and the gap between parts, mm.
    width
        The parts lie between y = 0 and this, and right of x = 0.
    obstacles
        Solids that parts keep clear of, and by how much.
    """

    def __init__(
        self,
        convexes: Convexes,
        boxes: Floats,
        gap: float,
        width: float,
        obstacles: Sequence[tuple[shapely.Polygon, float]] = (),
    ) -> None:
        poses = len(boxes)
        self._convexes = (
            joined(convexes, convexes_of([solid for solid, _ in obstacles])) if obstacles else convexes
        )
        self._boxes = boxes
        self._gap = gap
        self._width = width
        self._fixed = np.arange(poses, poses + len(obstacles))
        self._fixed_gaps = np.array([clearance for _, clearance in obstacles], np.float64)
        self._rows = np.empty((4096, 5))
        self.work = 0
        """Work done so far, in cells of maps read."""

    def press(self, pose: Ints, at: Floats, reach: float, good: float, enough: float = 0.0) -> Pressed | None:
        """Press a layout, which may overlap a little.

        Parameters
        ----------
        pose, at
            The pose of each part and where its reference lies, mm.
        reach
            How far a part may move in one step, along each axis.
        good
            A first step that ends longer than this is not followed by others.
        enough
            A step that ends no longer than this is the last.

        Returns
        -------
        Pressed or None
            A layout that keeps all gaps, or None where the parts cannot be moved apart within reach.
        """
        best: Pressed | None = None
        for _ in range(MOST_STEPS):
            found = self._step(pose, at, reach)
            if found is None or (best is not None and found.length > best.length):
                break
            gained = best is None or found.length < best.length * (1.0 - GAINED_ENOUGH)
            best, at = found, found.at
            if not gained or found.length > good or found.length <= enough:
                break
        return best

    def shortfall(self, pose: Ints, at: Floats) -> float:
        """By how much the worst pair misses its gap, mm; 0 where every gap is kept."""
        _, worst = self._held(pose, at, 0.0)
        return max(0.0, -worst)

    def _held(self, pose: Ints, at: Floats, reach: float) -> tuple[Floats, float]:
        """Rows of held directions, and the least of clearance minus gap."""
        solid = np.concatenate((pose, self._fixed)).astype(np.int64)
        where = np.concatenate((at, np.zeros((len(self._fixed), 2))))
        gaps = np.concatenate((np.full(len(pose), self._gap), self._fixed_gaps))
        told = (self._convexes, solid, where, gaps, len(pose), reach)
        count, worst = held_directions(*told, self._rows)
        if count > len(self._rows):
            self._rows = np.empty((2 * count, 5))
            count, worst = held_directions(*told, self._rows)
        return self._rows[:count], worst

    def _step(self, pose: Ints, at: Floats, reach: float) -> Pressed | None:
        rows, _ = self._held(pose, at, reach)
        self.work += ROW_WORK * len(rows) + PART_WORK * len(pose)
        model = self._programme(pose, at, reach, rows)
        solver = new_model()
        solver.passModel(model)
        solver.run()
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        values = np.array(solver.getSolution().col_value)
        moved = values[:-1].reshape(-1, 2)
        if self.shortfall(pose, moved) > SOLVER_SLACK_MM:
            return None
        return Pressed(moved, float((moved[:, 0] + self._boxes[pose, 2]).max()))

    def _programme(self, pose: Ints, at: Floats, reach: float, rows: Floats) -> highspy.HighsLp:
        """Least length subject to the held directions; columns x0, y0, x1, y1, ... and the length."""
        parts, held = len(pose), len(rows)
        boxes = self._boxes[pose]
        low, high = at - reach, at + reach
        low = np.maximum(low, -boxes[:, :2])
        high[:, 1] = np.minimum(high[:, 1], self._width - boxes[:, 3])
        model = highspy.HighsLp()
        model.num_col_, model.num_row_ = 2 * parts + 1, held + parts
        cost = np.zeros(2 * parts + 1)
        cost[0:-1:2] = PULL / parts
        cost[-1] = 1.0
        model.col_cost_ = cost
        model.col_lower_ = np.append(np.minimum(low, np.maximum(low, high)).ravel(), 0.0)
        model.col_upper_ = np.append(np.maximum(low, high).ravel(), highspy.kHighsInf)
        starts, columns, values, least = _matrix(parts, rows, boxes[:, 2])
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.start_, model.a_matrix_.index_, model.a_matrix_.value_ = starts, columns, values
        model.row_lower_ = least
        model.row_upper_ = np.full(held + parts, highspy.kHighsInf)
        return model


def _matrix(parts: int, rows: Floats, rights: Floats) -> tuple[Ints, Ints, Floats, Floats]:
    """Rows of the programme: held directions, then the length beyond every part.

    Fixed parts have no column: they stay at the zero position.
    """
    first, second = rows[:, 0].astype(np.int64), rows[:, 1].astype(np.int64)
    columns = np.column_stack((2 * first, 2 * first + 1, 2 * second, 2 * second + 1))
    values = np.column_stack((-rows[:, 2], -rows[:, 3], rows[:, 2], rows[:, 3]))
    moving = columns < 2 * parts
    numbers = np.arange(parts)
    ends = np.column_stack((np.full(parts, 2 * parts), 2 * numbers))
    counts = np.concatenate((moving.sum(axis=1), np.full(parts, 2)))
    return (
        np.concatenate(([0], np.cumsum(counts))).astype(np.int32),
        np.concatenate((columns[moving], ends.ravel())).astype(np.int32),
        np.concatenate((values[moving], np.tile((1.0, -1.0), parts))),
        np.concatenate((rows[:, 4], rights)),
    )
