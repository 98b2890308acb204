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
    The unit of work (see `sheetplan.packing.maxrects.Desk`). Budgets are counted in looks and never
    in seconds, so that the same job and seed give the same plan on every machine.

`plan_search` is the move that every other one builds on: whole plans made in one go, the best order of boxes
and sequence of sheets (see the kernel).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from sheetplan.packing.guillotine import StripView
from sheetplan.packing.guillotine_lns import Piles, Rows
from sheetplan.packing.maxrects import Desk, Ints, Recipe, box_areas, fill_sheet, new_desk, supply_blank
from sheetplan.packing.maxrects_search import search_plans
from sheetplan.packing.rng import Chance, chance_of
from sheetplan.planning.box_problem import BoxProblem, Cut, useful_left
from sheetplan.planning.solution import SAME_COST, missing_penalty, most_boxes

SEED_STEP = 1_000_003
"""Keeps the seeds of child searches apart: a prime beyond the draws of any one search."""

Picks = Mapping[int, int]
"""Column number to repeats."""

MOST_SHEETS = 3000
"""Sheets in one plan at most: far beyond any month's orders in one gauge."""


@dataclass(slots=True)
class Attempt:
    """One target under way: its sheets, what lies on them, what is left over."""

    supplies: Ints
    rows: Rows
    piles: Piles
    over: Ints
    chance: Chance


@dataclass(slots=True)
class Moving:
    """All targets of a search, cheapest last; the one under way may last until a share of the whole work.

    Of its attempts the one under way has taken ``spent`` looks, the best has left ``least`` of a sheet over.
    """

    kept: Mapping[int, int]
    views: tuple[StripView, StripView]
    cell: int
    desk: Desk
    targets: list[Ints]
    at: int = 0
    until: float = 0.0
    attempt: Attempt | None = None
    spent: int = 0
    best: Attempt | None = None
    least: float = math.inf


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
    """What a search weighs besides the cost of its sheets: the steering cost of every different layout."""

    charge: float = 0.0


@dataclass(frozen=True, slots=True)
class Score:
    """What a plan comes to: box area of must pieces left out (nm2), steering cost, sheets, layouts.

    The cost has charges added and what goes back to the rack taken off.
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
        self.twins = _twins(problem)
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
        """The number of a column, new or known (same supply, same pieces).

        A layout for sheets on hand is one for those of the same size that can be bought as well.
        """
        number = self._add(column)
        if self.twins[column.supply] >= 0:
            self._add(replace(column, supply=self.twins[column.supply]))
        return number

    def _add(self, column: Column) -> int:
        key = column.supply, column.counts.tobytes()
        number = self.numbers.setdefault(key, len(self.columns))
        if number == len(self.columns):
            self.columns.append(column)
            self.costs.append(self._cost_of(number))
        return number

    def _from_the_rack(self, picks: Picks) -> Picks:
        """The same layouts, on sheets on hand as far as there are any."""
        left = self.problem.supplies.limits.copy()
        for number, repeats in picks.items():
            left[self.columns[number].supply] -= repeats
        own = dict(picks)
        for number, repeats in picks.items():
            column = self.columns[number]
            twin = self.twins[column.supply]
            if twin >= 0 and not self.problem.choices[column.supply].on_hand:
                times = min(repeats, int(left[twin]))
                if times > 0:
                    left[twin] -= times
                    there = self._add(replace(column, supply=twin))
                    own[there] = own.get(there, 0) + times
                    own[number] -= times
        return {number: repeats for number, repeats in own.items() if repeats}

    def _cost_of(self, number: int) -> float:
        """Steering cost of a sheet cut by a column, less what goes back to the rack."""
        supplies, column = self.problem.supplies, self.columns[number]
        cost, rate = float(supplies.costs[column.supply]), float(self.problem.kept_rates[column.supply])
        least = float(self.problem.least_left[0]) * float(self.problem.least_left[1])
        if rate == 0.0 or (column.made is None and self._free(column) < least):
            return cost
        return cost - rate * useful_left(self.problem, self.cut(number, 1))

    def _free(self, column: Column) -> float:
        """Area that the boxes of a column leave free."""
        return float(self.problem.supplies.areas[column.supply] - (column.counts * self.areas).sum())

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
        picks = self._from_the_rack(picks)
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
            fill_sheet(supply_blank(self.problem.supplies, s), self.problem.types, rest, recipe, self.desk)
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
        blank = supply_blank(self.problem.supplies, column.supply)
        placed = fill_sheet(blank, self.problem.types, column.offered, column.recipe, self.desk)
        return Cut(column.supply, self.desk.boxes[:placed].copy(), repeats)

    def take_in(self, cuts: Iterable[Cut]) -> Picks:
        """Layouts from elsewhere as columns."""
        picks: dict[int, int] = {}
        for cut in cuts:
            number = self.add(Column(cut.supply, cut.counts(len(self.areas)), made=cut))
            picks[number] = picks.get(number, 0) + cut.repeats
        return picks


def _twins(problem: BoxProblem) -> tuple[int, ...]:
    """For each supply the other one of the same sheet size, -1 where there is none."""
    found = [-1] * len(problem.choices)
    known: dict[int, int] = {}
    for s, choice in enumerate(problem.choices):
        other = known.setdefault(id(choice.sheet), s)
        if other != s:
            found[s], found[other] = other, s
    return tuple(found)


def least_rate(problem: BoxProblem) -> float:
    """The least steering cost of an area of metal (1 where there is no supply)."""
    rates = problem.supplies.costs / problem.supplies.areas
    return float(rates.min(initial=np.inf)) if len(rates) and rates.min() > 0.0 else 1.0


def reduced(problem: BoxProblem, wanted: Ints, limits: Ints) -> BoxProblem:
    """The same gauge with fewer pieces to make or fewer sheets to be had."""
    return replace(problem, wanted=wanted, supplies=problem.supplies._replace(limits=limits))


def plan_search(search: Search, allowance: int) -> None:
    """Look for a better whole plan within an allowance of looks."""
    search.offer(found_plan(search, allowance))


def found_plan(search: Search, allowance: int) -> Picks:
    """The best plan of one search, whether or not it beats the best known."""
    problem = search.problem
    found = search_plans(
        problem.supplies, problem.types, problem.wanted, np.asarray(search.duals, np.float64), search.penalty,
        most_sheets(search), allowance, search.chance(), search.desk,
    )  # fmt: skip
    return search.replay(found.used, found.recipe)


def most_sheets(search: Search) -> int:
    """Room for the sheets of a plan: every piece on a sheet of its own, within reason."""
    return int(min(MOST_SHEETS, search.problem.wanted.sum(), search.problem.supplies.limits.sum())) + 1
