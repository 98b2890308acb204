"""The largest rectangle that can still be cut from a partly used sheet.

Exact for the boxes of old cuts: they cut the sheet into a grid of their own edges, in which the
largest block of free cells is found row by row (a stack of rising heights, a standard method for
the largest rectangle under a staircase). Round and odd cuts leave room within their boxes: a finer
grid is tried as well, of which a cell counts only if it keeps the gap to the true outlines. On an
odd edge a cell counts only if it lies on the metal whole. So the answer is never too large.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sheetplan.model.outline import Loop
from sheetplan.model.settings import Settings
from sheetplan.shapes import Box, Side, box, flatten, is_rectangle, to_polygon
from sheetplan.trade.units import SAME_LENGTH_MM

EDGE_MM = 0.01
"""How far an odd edge may be flattened inwards."""

MOST_LINES = 400
"""Lines of the grid in each direction; beyond, cuts are thinned out, which can only lose room."""


def free_rectangle(edge: Loop, cuts: Sequence[Loop], gap: float) -> Box | None:
    """The largest upright rectangle on a sheet that keeps ``gap`` to every old cut, or None.

    Parameters
    ----------
    edge
        The sheet's outer edge.
    cuts
        Outer loops of what was cut from it.
    gap
        Clear metal kept to each of them, mm.
    """
    beside = free_beside(edge, [box(cut) for cut in cuts], gap)
    if all(is_rectangle(cut) for cut in cuts):
        return beside
    among = _free_among(edge, cuts, gap)
    return max((rest for rest in (beside, among) if rest), key=_size, default=None)


def _free_among(edge: Loop, cuts: Sequence[Loop], gap: float) -> Box | None:
    """The largest rectangle on a finer grid, which may reach into the boxes of odd cuts."""
    import shapely

    round_up = gap / math.cos(math.pi / (4 * ARC_STEPS))  # buffers inscribe their arcs
    metal_gone = shapely.union_all([to_polygon(cut, EDGE_MM, Side.OUT) for cut in cuts])
    grown = metal_gone.buffer(round_up, ARC_STEPS)
    gone = grown.buffer(-SAME_LENGTH_MM)
    around = box(edge)
    corners = np.array([shapely.bounds(piece) for piece in shapely.get_parts(grown)])
    even = np.linspace(0.0, 1.0, EVEN_LINES)
    xs = np.concatenate((corners[:, [0, 2]].ravel(), around.left + even * around.length))
    ys = np.concatenate((corners[:, [1, 3]].ravel(), around.bottom + even * around.width))
    xs, ys = _lines(xs, around.left, around.right), _lines(ys, around.bottom, around.top)
    free = _free_cells(edge, (), xs, ys)
    shapely.prepare(gone)
    rows, columns = np.nonzero(free)
    cells = shapely.box(xs[columns], ys[rows], xs[columns + 1], ys[rows + 1])
    free[rows, columns] = ~shapely.intersects(gone, cells)
    return _largest_block(free, xs, ys)


ARC_STEPS = 16
"""Pieces to a quarter turn when cuts are grown by the gap."""

EVEN_LINES = 97
"""Even lines of the finer grid in each direction: an inch apart on a 96 in sheet."""


def useful_rectangle(edge: Loop, cuts: Sequence[Loop], gap: float, settings: Settings) -> Box | None:
    """The rectangle that makes a sheet worth keeping, or None.

    Beside the boxes of all cuts where that is useful, which is what a plan promises; else between
    odd cuts.
    """
    beside = free_beside(edge, [box(cut) for cut in cuts], gap)
    if is_useful(beside, settings):
        return beside
    if all(is_rectangle(cut) for cut in cuts) or not room_for_a_disc(edge, cuts, gap, settings):
        return None
    rest = free_rectangle(edge, cuts, gap)
    return rest if is_useful(rest, settings) else None


def room_for_a_disc(edge: Loop, cuts: Sequence[Loop], gap: float, settings: Settings) -> bool:
    """Whether a disc as wide as the least useful rectangle may lie between the cuts; False is certain.

    Quick, since all curves are taken coarsely and to the side of more room.
    """
    import shapely

    radius = min(settings.least_remnant_length, settings.least_remnant_width) / 2.0 - SAME_LENGTH_MM
    if radius <= COARSE_MM or not cuts:
        return True
    gone = shapely.buffer([to_polygon(cut, COARSE_MM, Side.IN) for cut in cuts], radius + gap, quad_segs=4)
    middles = to_polygon(edge, COARSE_MM, Side.OUT).buffer(-radius, quad_segs=4)
    return not bool(middles.difference(shapely.union_all(gone)).is_empty)


COARSE_MM = 1.0
"""Flattening error where only certain misses are sought."""


def free_beside(edge: Loop, taken: Sequence[Box], gap: float) -> Box | None:
    """`free_rectangle` from the boxes of what is cut."""
    around = box(edge)
    blocked = [Box(b.left - gap, b.bottom - gap, b.right + gap, b.top + gap) for b in taken]
    corners = np.array([[around.left, around.bottom, around.right, around.top]])
    if not is_rectangle(edge):
        points = flatten(edge, EDGE_MM, Side.IN)
        corners = np.concatenate((corners, np.column_stack((points, points))))
    if blocked:
        corners = np.concatenate((corners, np.array(blocked)))
    xs = _lines(corners[:, [0, 2]], around.left, around.right)
    ys = _lines(corners[:, [1, 3]], around.bottom, around.top)
    free = _free_cells(edge, blocked, xs, ys)
    return _largest_block(free, xs, ys)


def is_useful(rest: Box | None, settings: Settings) -> bool:
    """Whether a rectangle is worth keeping by the book's least sizes, whichever way round it lies."""
    if rest is None:
        return False
    short, long = sorted((rest.length, rest.width))
    least_short, least_long = sorted((settings.least_remnant_length, settings.least_remnant_width))
    return short >= max(least_short, SAME_LENGTH_MM) - SAME_LENGTH_MM and long >= least_long - SAME_LENGTH_MM


def _lines(values: NDArray[np.float64], low: float, high: float) -> NDArray[np.float64]:
    lines = np.unique(np.clip(values.ravel(), low, high))
    if len(lines) > MOST_LINES:
        lines = np.unique(np.concatenate((lines[:: len(lines) // MOST_LINES + 1], [low, high])))
    return lines


def _free_cells(
    edge: Loop, blocked: Sequence[Box], xs: NDArray[np.float64], ys: NDArray[np.float64]
) -> NDArray[np.bool_]:
    free = np.ones((len(ys) - 1, len(xs) - 1), np.bool_)
    for b in blocked:
        within_x = (xs[:-1] < b.right - SAME_LENGTH_MM) & (xs[1:] > b.left + SAME_LENGTH_MM)
        within_y = (ys[:-1] < b.top - SAME_LENGTH_MM) & (ys[1:] > b.bottom + SAME_LENGTH_MM)
        free[np.ix_(within_y, within_x)] = False
    if not is_rectangle(edge):
        import shapely

        metal = to_polygon(edge, EDGE_MM, Side.IN).buffer(SAME_LENGTH_MM)
        shapely.prepare(metal)
        rows, columns = np.nonzero(free)
        cells = shapely.box(xs[columns], ys[rows], xs[columns + 1], ys[rows + 1])
        free[rows, columns] = shapely.covers(metal, cells)
    return free


def _largest_block(free: NDArray[np.bool_], xs: NDArray[np.float64], ys: NDArray[np.float64]) -> Box | None:
    best: Box | None = None
    floors = np.zeros(free.shape[1])
    going = np.zeros(free.shape[1], np.bool_)
    for row in range(free.shape[0]):
        floors = np.where(free[row], np.where(going, floors, ys[row]), ys[row + 1])
        going = free[row]
        best = _best_under(floors.tolist(), xs.tolist(), float(ys[row + 1]), best)
    return best


def _best_under(floors: list[float], xs: list[float], top: float, best: Box | None) -> Box | None:
    """The largest block that reaches up to ``top``, or ``best`` where that is not smaller."""
    stack: list[tuple[float, float]] = []
    for left, floor in zip(xs, [*floors, top], strict=True):
        start = left
        while stack and stack[-1][1] < floor:
            start, bottom = stack.pop()
            block = Box(start, bottom, left, top)
            if best is None or _size(block) > _size(best) + SAME_LENGTH_MM:
                best = block
        if floor < top and (not stack or stack[-1][1] > floor):
            stack.append((start, floor))
    return best


def _size(block: Box) -> float:
    return block.length * block.width
