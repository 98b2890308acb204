"""The largest rectangle worth keeping that a filled sheet leaves: what of it goes back to the rack.

Pieces count with the boxes round them, so what is found is surely free; where true shapes leave more, the
rack's own measure (`rack/free_space.py`) finds that when the sheet is recorded.
"""

from __future__ import annotations

import numpy as np

from sheetplan.packing.kernel import FREE_LIMIT, Ints, Types, cut_free
from sheetplan.packing.kernel_sequence import blank_of
from sheetplan.planning.box_problem import BoxProblem, Cut


def useful_left(problem: BoxProblem, cut: Cut) -> float:
    """Area (nm2) of the largest free rectangle beside a cut's pieces; 0 where none is worth keeping.

    Only on metal that is one free rectangle; a remnant of an odd shape counts as used up.
    """
    blank = blank_of(problem.supplies, cut.supply)
    if len(blank) != 1:
        return 0.0
    around = around_of(problem, cut)
    short, long = (int(side) for side in np.sort(problem.least_left))
    if float(blank[0, 2]) * float(blank[0, 3]) < float(short) * float(long):
        return 0.0
    free, fresh = np.empty((FREE_LIMIT, 4), np.int64), np.empty((FREE_LIMIT, 4), np.int64)
    free[:1] = blank
    count = 1
    for x, y, length, width in around:
        count = cut_free(free, count, fresh, x, y, length, width, max(1, short))
    sides = np.sort(free[:count, 2:], axis=1)
    kept = (sides[:, 0] >= short) & (sides[:, 1] >= long)
    return float(np.prod(sides[kept].astype(np.float64), axis=1).max(initial=0.0))


def around_of(problem: BoxProblem, cut: Cut) -> Ints:
    """Boxes (left, bottom, length, width; nm) of the pieces of a cut, the gap at their far sides."""
    if cut.around is not None:
        return cut.around
    types, _, _, turned = cut.boxes.T
    lengths, widths = problem.types.lengths[types], problem.types.widths[types]
    return np.column_stack(
        (
            cut.boxes[:, 1],
            cut.boxes[:, 2],
            np.where(turned > 0, widths, lengths),
            np.where(turned > 0, lengths, widths),
        )
    )


def farthest(types: Types, boxes: Ints) -> tuple[float, float]:
    """How far boxes (rows of `Cut.boxes`) reach along x and along y."""
    turned = boxes[:, 3] > 0
    lengths, widths = types.lengths[boxes[:, 0]], types.widths[boxes[:, 0]]
    far_x = boxes[:, 1] + np.where(turned, widths, lengths)
    far_y = boxes[:, 2] + np.where(turned, lengths, widths)
    return float(far_x.max()), float(far_y.max())
