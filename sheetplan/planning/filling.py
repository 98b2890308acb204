"""Pieces that are cut only if they fit: they fill metal that is taken anyway and never open a sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from sheetplan.packing.kernel import FREE_LIMIT, Ints, Recipe, cut_free, fill_sheet, least_side, new_desk
from sheetplan.packing.kernel_sequence import Floats, blank_of, box_areas
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.solution import most_boxes

Filler = Callable[[Cut, Ints], Cut]
"""Adds to one sheet what fits of so many pieces of each type."""


def fill_up(cuts: Sequence[Cut], available: Ints, fill: Filler, may_split: bool) -> tuple[Cut, ...]:
    """Add pieces to what cuts leave free.

    A cut that is repeated takes as many pieces as there are for every repeat; what remains may
    go on one sheet of it, which makes a layout of its own (``may_split``).
    """
    left = available.copy()
    filled = []
    for cut in cuts:
        full = fill(cut, left // cut.repeats)
        left -= (full.counts(len(left)) - cut.counts(len(left))) * cut.repeats
        one = fill(full, left) if may_split and full.repeats > 1 else full
        if len(one.boxes) > len(full.boxes):
            left -= one.counts(len(left)) - full.counts(len(left))
            filled.append(replace(one, repeats=1))
            full = replace(full, repeats=full.repeats - 1)
        filled.append(full)
    return tuple(filled)


def with_boxes(problem: BoxProblem, cut: Cut, available: Ints, values: Floats | None = None) -> Cut:
    """The `Filler` for sheets of boxes: the largest first, or the most valuable for their area."""
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
