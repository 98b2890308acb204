"""Held directions between convex pieces: what keeps two parts apart, linear in their positions.

Between two convex pieces of different parts that are near each other, the direction is held in
which they are farthest apart. As long as the shift of one against the other reaches far enough
along it, the two cannot come closer than the gap, wherever else they go.

Source: Li and Milenkovic 1995, "Compaction and separation algorithms for non-convex polygons and
their applications" (EJOR 84).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.outlines.contacts import Ints
from sheetplan.packing.outlines.convex import convex_pieces

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
