"""The state of a search on one gauge: layouts known so far, and the best plan made of them.

Terms
-----
column
    A layout that may be part of a plan: its supply, its pieces per type, and how to make it again.
pool
    All columns met so far; plans name them by number.
pick
    A column and how often it is cut; a plan is a set of picks that covers what is wanted.
look
    The unit of work (see `sheetplan.packing.kernel.Desk`). Budgets are counted in looks and never
    in seconds, so that the same job and seed give the same plan on every machine.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from sheetplan.packing.kernel import Desk, Ints, Recipe, Types, fill_sheet, new_desk
from sheetplan.packing.kernel_chance import Chance, chance_of
from sheetplan.packing.kernel_sequence import blank_of, box_areas
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.first_plan import missing_penalty
from sheetplan.planning.solution import SAME_COST, most_boxes
from sheetplan.planning.strip_state import Moving

SEED_STEP = 1_000_003
"""Keeps the seeds of child searches apart: a prime beyond the draws of any one search."""

Picks = Mapping[int, int]
"""Column number to repeats."""


@dataclass(frozen=True, slots=True)
class Column:
    """A layout by its recipe and the pieces on offer to it, or as it is where it came from elsewhere."""

    supply: int
    counts: Ints
    recipe: Recipe | None = None
    offered: Ints | None = None
    made: Cut | None = None


@dataclass(frozen=True, slots=True)
class Favour:
    """What a search weighs besides the cost of its sheets.

    ``charge`` is the steering cost of every different layout; ``credit`` the share of its cost
    that a sheet gets back for the share of its area that stays useful (see `settling.strip_left`).
    """

    charge: float = 0.0
    credit: float = 0.0


@dataclass(frozen=True, slots=True)
class Score:
    """What a plan comes to: box area of must pieces left out (nm2), steering cost, sheets, layouts.

    The cost has charges added and credits taken off.
    """

    missing: float
    cost: float
    layouts: int
    sheets: int = 0

    def beats(self, other: Score) -> bool:
        """Fewer pieces left out, then cheaper, then fewer sheets and remnants, then fewer layouts."""
        for mine, theirs in ((self.missing, other.missing), (self.cost, other.cost)):
            if not math.isclose(mine, theirs, rel_tol=SAME_COST):
                return mine < theirs
        return (self.sheets, self.layouts) < (other.sheets, other.layouts)


PLAIN = Favour()
"""Nothing but the cost of the sheets."""


class Search:
    """One gauge under search. ``bound`` is a proven least cost; the search is done once it is met."""

    def __init__(
        self, problem: BoxProblem, seed: int, favour: Favour = PLAIN, desk: Desk | None = None
    ) -> None:
        self.problem = problem
        self.seed = seed
        self.favour = favour
        self.bound = 0.0
        self.bound_is_final = False
        self.contents_are_bound = False
        self.columns_finished = False
        self.moving: Moving | None = None
        self.areas = box_areas(problem.types)
        self.penalty = missing_penalty(problem)
        self.columns: list[Column] = []
        self.costs: list[float] = []
        self.numbers: dict[tuple[int, bytes], int] = {}
        self.picks: Picks = {}
        self.score = Score(np.inf, np.inf, 0)
        self.duals = self.areas * least_rate(problem)
        self.values: Mapping[int, float] = {}
        self.draws = 0
        self.desk = desk or new_desk(len(problem.boxes), most_boxes(problem, int(problem.wanted.sum())))

    @property
    def work(self) -> int:
        """Looks spent so far."""
        return int(self.desk.work[0])

    def spend(self, looks: int) -> None:
        """Count work that was done outside the kernels."""
        self.desk.work[0] += looks

    @property
    def done(self) -> bool:
        """Whether nothing can be better than the best plan."""
        return self.score.missing == 0.0 and self.score.cost <= self.bound * (1.0 + SAME_COST)

    def chance(self) -> Chance:
        """A fresh generator, another one at each call."""
        self.draws += 1
        return chance_of(self.seed, self.draws)

    def child(self, wanted: Ints, limits: Ints) -> Search:
        """A search on part of the gauge; its work counts as work of this one."""
        self.draws += 1
        problem = reduced(self.problem, wanted, limits)
        small = Search(problem, self.seed * SEED_STEP + self.draws, self.favour, self.desk)
        small.duals = self.duals
        return small

    def adopt(self, child: Search, picks: Picks) -> Picks:
        """A child's plan in this search's own numbers."""
        own: dict[int, int] = {}
        for number, repeats in picks.items():
            mine = self.add(child.columns[number])
            own[mine] = own.get(mine, 0) + repeats
        return own

    def add(self, column: Column) -> int:
        """The number of a column, new or known (same supply, same pieces)."""
        key = column.supply, column.counts.tobytes()
        number = self.numbers.setdefault(key, len(self.columns))
        if number == len(self.columns):
            self.columns.append(column)
            self.costs.append(self._cost_of(number))
        return number

    def _cost_of(self, number: int) -> float:
        """Steering cost of a sheet cut by a column, credit taken off."""
        supplies, column = self.problem.supplies, self.columns[number]
        cost = float(supplies.costs[column.supply])
        area = float(supplies.areas[column.supply])
        free = 1.0 - float((column.counts * self.areas).sum()) / area
        if not self.favour.credit or free * area < float(self.problem.least_left.prod()):
            return cost
        blank = blank_of(supplies, column.supply)
        cut = self.cut(number, 1)
        left = useful_left(self.problem, cut.boxes, blank) if len(blank) == 1 and not cut.is_shaped else 0.0
        return cost * (1.0 - self.favour.credit * left / area)

    def covered(self, picks: Picks) -> Ints:
        """Pieces of each type that a plan makes."""
        total = np.zeros(len(self.areas), np.int64)
        for number, repeats in picks.items():
            total += self.columns[number].counts * repeats
        return total

    def score_of(self, picks: Picks) -> Score:
        """What a plan comes to."""
        left = np.maximum(self.problem.wanted - self.covered(picks), 0)
        cost = sum(self.costs[number] * repeats for number, repeats in picks.items())
        cost += self.favour.charge * len(picks)
        return Score(float((left * self.areas).sum()), cost, len(picks), sum(picks.values()))

    def offer(self, picks: Picks) -> bool:
        """Take a plan if it beats the best; True if it did."""
        score = self.score_of(picks)
        if not score.beats(self.score):
            return False
        self.picks, self.score = dict(picks), score
        return True

    def replay(self, used: Ints, recipe: Recipe) -> Picks:
        """The plan that comes of filling supplies one after the other with one recipe."""
        rest = self.problem.wanted.copy()
        picks: dict[int, int] = {}
        for s in used:
            fill_sheet(blank_of(self.problem.supplies, s), self.problem.types, rest, recipe, self.desk)
            counts = self.desk.counts.copy()
            number = self.add(Column(int(s), counts, recipe, rest.copy()))
            rest -= counts
            picks[number] = picks.get(number, 0) + 1
        return picks

    def cuts(self) -> tuple[Cut, ...]:
        """The best plan as boxes."""
        return tuple(self.cut(number, repeats) for number, repeats in self.picks.items())

    def cut(self, number: int, repeats: int) -> Cut:
        """One column as boxes."""
        column = self.columns[number]
        if column.made is not None:
            return replace(column.made, supply=column.supply, repeats=repeats)
        assert column.recipe is not None
        assert column.offered is not None
        blank = blank_of(self.problem.supplies, column.supply)
        placed = fill_sheet(blank, self.problem.types, column.offered, column.recipe, self.desk)
        return Cut(column.supply, self.desk.boxes[:placed].copy(), repeats)

    def take_in(self, cuts: Iterable[Cut]) -> Picks:
        """Layouts from elsewhere as columns."""
        picks: dict[int, int] = {}
        for cut in cuts:
            number = self.add(Column(cut.supply, cut.counts(len(self.areas)), made=cut))
            picks[number] = picks.get(number, 0) + cut.repeats
        return picks


def least_rate(problem: BoxProblem) -> float:
    """The least steering cost of an area of metal (1 where there is no supply)."""
    rates = problem.supplies.costs / problem.supplies.areas
    return float(rates.min(initial=np.inf)) if len(rates) and rates.min() > 0.0 else 1.0


def useful_left(problem: BoxProblem, boxes: Ints, blank: Ints) -> float:
    """Area of the strip that boxes leave free, 0 where it is too small to keep."""
    _, _, length, width = (float(v) for v in blank[0])
    far_x, far_y = farthest(problem.types, boxes)
    short, long = (float(v) for v in np.sort(problem.least_left))
    sizes = ((blank[0, 0] + length - far_x, width), (length, blank[0, 1] + width - far_y))
    return max((a * b for a, b in sizes if min(a, b) >= short and max(a, b) >= long), default=0.0)


def farthest(types: Types, boxes: Ints) -> tuple[float, float]:
    """How far boxes reach along x and along y."""
    turned = boxes[:, 3] > 0
    lengths, widths = types.lengths[boxes[:, 0]], types.widths[boxes[:, 0]]
    far_x = boxes[:, 1] + np.where(turned, widths, lengths)
    far_y = boxes[:, 2] + np.where(turned, lengths, widths)
    return float(far_x.max()), float(far_y.max())


def reduced(problem: BoxProblem, wanted: Ints, limits: Ints) -> BoxProblem:
    """The same gauge with fewer pieces to make or fewer sheets to be had."""
    return replace(problem, wanted=wanted, supplies=problem.supplies._replace(limits=limits))
