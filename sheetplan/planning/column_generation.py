"""Layouts that fit together: a linear master problem prices the pieces, the kernel finds what they buy.

Gilmore and Gomory, "A linear programming approach to the cutting-stock problem" I and II,
Operations Research 9 (1961) and 11 (1963), with layouts of rectangles in place of patterns.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import highspy
import numpy as np

from sheetplan.packing.kernel import Ints, Recipe
from sheetplan.packing.kernel_pricing import price_layouts
from sheetplan.packing.kernel_sequence import Floats, blank_of
from sheetplan.packing.linear import (
    INFINITY,
    add_column,
    add_row,
    column_values,
    new_model,
    objective,
    row_duals,
)
from sheetplan.planning.search import Column, Search
from sheetplan.planning.strip_pricing import StripPricing

KEEP = 8
"""Layouts kept of one pricing."""

WINS = 1e-7
"""A layout enters if its pieces are worth more than its sheet by this share."""

STALLED = 1e-5
"""A master that falls by less than this share has stalled; pricing then looks harder."""

QUICK_ROUNDS = 8
"""Rounds of quick trials before layouts of strips are asked for."""

HARDEST = 5
"""Pricing doubles its effort with each stalled round, at most so often."""

ROUND_LOOKS = 60_000
"""Least looks of one pricing."""

SOLVE_LOOKS = 200_000
"""What solving the master counts as work, besides its iterations."""

ITERATION_LOOKS = 4_000
"""What one simplex iteration counts as work."""


class Master:
    """The linear master problem: cover what is wanted with the columns of a search, at least cost."""

    def __init__(self, search: Search) -> None:
        self.search = search
        problem = search.problem
        self.types = len(problem.wanted)
        self.model: highspy.Highs = new_model()
        self.inside = 0
        for wanted in problem.wanted:
            add_row(self.model, float(wanted), INFINITY, (), ())
        for limit in problem.supplies.limits:
            add_row(self.model, -INFINITY, float(limit), (), ())
        for t, area in enumerate(search.areas):
            add_column(self.model, float(search.penalty * area), INFINITY, [t], [1.0])

    def solve(self) -> tuple[Floats, Floats]:
        """Bring in new columns and solve; prices of the pieces and of the supplies."""
        for column, cost in zip(
            self.search.columns[self.inside :], self.search.costs[self.inside :], strict=True
        ):
            held = np.flatnonzero(column.counts)
            rows = [*held.tolist(), self.types + column.supply]
            add_column(self.model, cost, INFINITY, rows, [*column.counts[held], 1.0])
        self.inside = len(self.search.columns)
        self.model.run()
        self.search.spend(SOLVE_LOOKS + ITERATION_LOOKS * int(self.model.getInfo().simplex_iteration_count))
        duals = row_duals(self.model)
        return np.maximum(duals[: self.types], 0.0), duals[self.types :]

    def admit(self, s: int, counts: Ints) -> None:
        """Let the master use contents that may not be a layout: for bounds, never for plans."""
        held = np.flatnonzero(counts)
        rows = [*held.tolist(), self.types + s]
        cost = float(self.search.problem.supplies.costs[s])
        add_column(self.model, cost, INFINITY, rows, [*counts[held], 1.0])

    def values(self) -> dict[int, float]:
        """How often each column is cut in the last answer, fractions as they are."""
        found = column_values(self.model)[self.types :]
        return {int(n): float(found[n]) for n in np.flatnonzero(found > 1e-9)}


def column_generation(search: Search, allowance: int, stop: Callable[[], bool], strips: bool = False) -> bool:
    """Improve the master until it stalls or the allowance is spent; True if it stalled.

    Leaves the prices of the pieces and the fractional answer in the search. With ``strips``, layouts of
    strips are asked for once the quick trials stall.
    """
    master = Master(search)
    pricing = StripPricing(search) if strips else None
    asked = Asked(len(search.problem.choices))
    end = search.work + allowance
    stalled, last = 0, np.inf
    quick_rounds = 0 if search.values else QUICK_ROUNDS
    finished = False
    while search.work < end and not stop():
        pieces, supplies = master.solve()
        now = objective(master.model)
        stalled = stalled + 1 if now > last * (1.0 - STALLED) else 0
        last = now
        quick_rounds -= 1
        if pricing and (stalled or quick_rounds < 0 or asked.times):
            _price_strips(search, pricing, asked, pieces, supplies, end)
            if asked.in_vain:
                finished = not _price_all(search, pieces, supplies, ROUND_LOOKS << HARDEST, end)
                asked.fruitless = 0
        elif not _price_all(search, pieces, supplies, ROUND_LOOKS << min(stalled, HARDEST), end):
            finished = stalled > HARDEST + 3
        if finished:
            break
    search.duals, _ = master.solve()
    search.values = master.values()
    return finished


@dataclass(slots=True)
class Asked:
    """Which supplies are worth asking for strips: one that gains nothing rests until all others rest too."""

    supplies: int
    resting: set[int] = field(default_factory=set)
    times: int = 0
    gained: bool = True
    fruitless: int = 0

    @property
    def in_vain(self) -> bool:
        """Whether all supplies were asked in both directions without gain."""
        return self.fruitless > 1

    def turn(self) -> tuple[list[int], bool]:
        """The supplies to ask now, and whether their strips lie along x."""
        if len(self.resting) == self.supplies:
            self.fruitless = 0 if self.gained else self.fruitless + 1
            self.gained = False
            self.resting.clear()
        self.times += 1
        return [s for s in range(self.supplies) if s not in self.resting], self.times % 2 == 0


def _price_strips(
    search: Search, pricing: StripPricing, asked: Asked, pieces: Floats, supplies: Floats, end: int
) -> None:
    """Ask for layouts of strips on the supplies whose turn it is."""
    now, upright = asked.turn()
    for s in now:
        if search.work >= end:
            return
        known, cost = len(search.columns), float(search.problem.supplies.costs[s])
        for value, column in pricing.columns(s, search.problem.wanted, pieces, upright):
            if value > cost - supplies[s] + WINS * abs(cost):
                search.add(column)
        if len(search.columns) > known:
            asked.gained = True
        else:
            asked.resting.add(s)


def _price_all(search: Search, pieces: Floats, supplies: Floats, looks: int, end: int) -> bool:
    """Price every supply; True if any layout entered."""
    known = len(search.columns)
    for s, cost in enumerate(search.problem.supplies.costs):
        if search.work >= end:
            break
        threshold = float(cost - supplies[s])
        for value, column in priced(search, s, search.problem.wanted, pieces, looks):
            if value > threshold + WINS * abs(float(cost)):
                search.add(column)
    return len(search.columns) > known


def priced(
    search: Search, s: int, available: Ints, values: Floats, looks: int, keep: int = KEEP
) -> list[tuple[float, Column]]:
    """The most valuable layouts found for one supply, best first."""
    kept = price_layouts(
        blank_of(search.problem.supplies, s), search.problem.types, available, values, keep, looks,
        search.chance(), search.desk,
    )  # fmt: skip
    found = []
    for k in np.argsort(-kept.values, kind="stable"):
        counts = kept.counts[k].copy()
        if kept.values[k] >= 0.0 and counts.any():
            recipe = Recipe(kept.orders[k], kept.caps[k], int(kept.rules[k]), kept.least)
            found.append((float(kept.values[k]), Column(s, counts, recipe, kept.usable)))
    return found
