"""More boxes on a sheet of boxes, beside those that lie there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetplan.packing.kernel import FREE_LIMIT, Ints, Recipe, cut_free, fill_sheet, least_side, new_desk
from sheetplan.packing.kernel_sequence import Floats, blank_of, box_areas
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.solution import most_boxes


def with_boxes(problem: BoxProblem, cut: Cut, available: Ints, values: Floats | None = None) -> Cut:
    """A sheet with what fits of so many more boxes, the largest first or the most valuable for their area."""
    if not available.any():
        return cut
    free = free_beside(problem, cut)
    desk = new_desk(len(available), most_boxes(problem, int(available.sum())))
    areas = box_areas(problem.types)
    order = np.argsort(-(areas if values is None else values / areas), kind="stable").astype(np.int64)
    recipe = Recipe(order, available, 0, least_side(problem.types, available))
    placed = fill_sheet(free, problem.types, available, recipe, desk)
    return replace(cut, boxes=np.concatenate((cut.boxes, desk.boxes[:placed])))


def free_beside(problem: BoxProblem, cut: Cut) -> Ints:
    """Maximal free rectangles that the boxes of a cut leave on its blank."""
    blank = blank_of(problem.supplies, cut.supply)
    free, fresh = np.empty((FREE_LIMIT, 4), np.int64), np.empty((FREE_LIMIT, 4), np.int64)
    free[: len(blank)] = blank
    count = len(blank)
    least = int(min(problem.types.lengths.min(), problem.types.widths.min()))
    for t, x, y, turned in cut.boxes:
        length, width = problem.types.lengths[t], problem.types.widths[t]
        if turned:
            length, width = width, length
        count = cut_free(free, count, fresh, x, y, length, width, least)
    return free[:count].copy()
