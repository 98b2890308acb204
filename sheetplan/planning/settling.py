"""Parts pushed to the datum corner, so that what is left of a sheet is one rectangle worth keeping.

A layout is packed anew in many orders with the rules that keep low or keep left; of all that
hold every piece, the one that leaves the largest strip across the sheet is taken.
"""

from __future__ import annotations

import numpy as np

from sheetplan.packing.kernel import BOTTOM, LEFT, Ints, Recipe, Types, fill_sheet, least_side, new_desk
from sheetplan.packing.kernel_chance import Chance, chance_of, normal
from sheetplan.packing.kernel_sequence import blank_of, box_areas
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.useful_left import farthest

TRIALS = 120
"""Orders tried for one layout, half of them for each rule."""

FULL = 0.93
"""A sheet filled beyond this share has no strip to leave and stays as it is."""

PLAIN_TRIALS = 4
"""Orders that are tried without any disturbance: by area, long side, across and along."""


def settle(problem: BoxProblem, cut: Cut, seed: int) -> Cut:
    """The same pieces on the same sheet, nearer to the datum corner where that leaves a larger strip.

    Remnants and other blanks of more than one free rectangle stay as they are.
    """
    blank = blank_of(problem.supplies, cut.supply)
    counts = cut.counts(len(problem.boxes))
    filled = float((counts * box_areas(problem.types)).sum()) / float(problem.supplies.areas[cut.supply])
    if len(blank) != 1 or not len(cut.boxes) or filled > FULL or cut.is_shaped:
        return cut
    desk = new_desk(len(counts), len(cut.boxes))
    chance = chance_of(seed, len(cut.boxes), int(counts.max()))
    best, most = cut, strip_left(problem.types, cut.boxes, blank[0])
    for trial in range(TRIALS):
        order = _order(problem.types, counts, trial // 2, chance)
        recipe = Recipe(order, counts, (LEFT, BOTTOM)[trial % 2], least_side(problem.types, counts))
        if fill_sheet(blank, problem.types, counts, recipe, desk) == len(cut.boxes):
            left = strip_left(problem.types, desk.boxes, blank[0])
            if left > most:
                best, most = Cut(cut.supply, desk.boxes.copy(), cut.repeats), left
    return best


def _order(types: Types, counts: Ints, trial: int, chance: Chance) -> Ints:
    """Types from large to small by one of four measures, disturbed after the first few trials."""
    held = np.flatnonzero(counts)
    lengths, widths = types.lengths[held].astype(float), types.widths[held].astype(float)
    measures = (lengths * widths, np.maximum(lengths, widths), lengths, widths)
    sizes = np.log(measures[trial % len(measures)])
    if trial >= PLAIN_TRIALS:
        sizes += np.array([0.4 * normal(chance) for _ in held])
    return held[np.argsort(-sizes, kind="stable")]


def strip_left(types: Types, boxes: Ints, blank: Ints) -> float:
    """Area of the larger of the two strips that stay free: beyond the last box along x, or along y."""
    x, y, length, width = (float(v) for v in blank)
    far_x, far_y = farthest(types, boxes)
    return max((x + length - far_x) * width, (y + width - far_y) * length)
