"""A solution of one gauge: which cuts, and what they come to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from sheetplan.packing.kernel import Ints, Recipe, fill_sheet, new_desk
from sheetplan.packing.kernel_sequence import blank_of, box_areas
from sheetplan.planning.box_problem import BoxProblem, Cut

SAME_COST = 1e-9
"""Costs closer than this share of themselves are equal: sums of prices in another order."""


@dataclass(frozen=True, slots=True)
class Solution:
    """Cuts with their steering cost and the box area of must pieces that they leave out (nm2)."""

    cuts: tuple[Cut, ...]
    cost: float
    missing: float

    @property
    def sheets(self) -> int:
        """Sheets and remnants taken."""
        return sum(cut.repeats for cut in self.cuts)

    def beats(self, other: Solution | None) -> bool:
        """Whether this one is better, in the order of `Score.beats`."""
        if other is None:
            return True
        if not _same(self.missing, other.missing):
            return self.missing < other.missing
        if not _same(self.cost, other.cost):
            return self.cost < other.cost
        return (self.sheets, len(self.cuts)) < (other.sheets, len(other.cuts))


def _same(first: float, second: float) -> bool:
    return abs(first - second) <= SAME_COST * max(abs(first), abs(second))


def solution(problem: BoxProblem, cuts: Iterable[Cut]) -> Solution:
    """Add up cuts."""
    cuts = tuple(cuts)
    cost = sum(float(problem.supplies.costs[cut.supply]) * cut.repeats for cut in cuts)
    left = np.maximum(problem.wanted - made(problem, cuts), 0)
    return Solution(cuts, cost, float((left * box_areas(problem.types)).sum()))


def made(problem: BoxProblem, cuts: Iterable[Cut]) -> Ints:
    """Pieces of each type that cuts make."""
    total = np.zeros(len(problem.boxes), np.int64)
    for cut in cuts:
        total += cut.counts(len(problem.boxes)) * cut.repeats
    return total


def most_boxes(problem: BoxProblem, pieces: int) -> int:
    """A safe size for `Desk.boxes`: how many of the smallest box the largest supply could hold."""
    if not len(problem.boxes) or not len(problem.choices):
        return 1
    return max(1, min(pieces, int(problem.supplies.areas.max() / box_areas(problem.types).min()) + 1))


def replay(problem: BoxProblem, supply: int, available: Ints, recipe: Recipe) -> Cut:
    """The layout that a recipe gives on one supply."""
    desk = new_desk(len(problem.boxes), most_boxes(problem, int(available.sum())))
    placed = fill_sheet(blank_of(problem.supplies, supply), problem.types, available, recipe, desk)
    return Cut(supply, desk.boxes[:placed].copy())
