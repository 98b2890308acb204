"""Fixed combinations of sheets: which cheaper sets of sheets might hold some pieces.

Between what is proven and the plan in hand lie few combinations of sheets. Each that has the area is a
*target*; with a strip kept free on one of its sheets it is one more, since what goes back to the rack counts.
The target that promises most, its gain times the chance that it can be packed, gets the next slice of work.
Chances are judged by how full it would have to be against how full earlier attempts have packed sheets of
this gauge, those at the same target above all; a logistic distribution stands for how they differ.

Where a plan has more sheets than can be listed, a few of them at a time are taken out and their pieces laid
on cheaper combinations (large-neighbourhood search, Shaw 1998).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from sheetplan.model.plan import Placement
from sheetplan.packing.maxrects import Floats, Ints
from sheetplan.planning.box_problem import BoxProblem

MOST_SHEETS = 10
"""Sheets of a combination, at most.

A gauge of seven sheets and one of nine cost 4 and 2 per cent less after as much work as with six; one of 14,
all of whose sheets were taken together, 3 per cent more than by column generation.
"""

MOST_NODES = 20_000
"""Nodes of the enumeration, at most: with a full rack there are more combinations than anybody packs."""

MOST_TARGETS = 400

FULLEST = 0.985
"""Share of a sheet that pieces grown by half the gap can fill at best: fuller is not tried."""

HOPED, SPREAD, PRIOR = 0.02, 0.03, 2.0
"""Before any attempt sheets are thought to be packed fuller than in the plan by the first, give or take the
second; that counts as so many attempts as the third.
"""

LEAST_SPREAD = 0.008
"""Attempts at one combination differ by as much even where all others came out alike."""

LOGISTIC = math.sqrt(3.0) / math.pi
"""The scale of a logistic distribution whose standard deviation is 1."""

OTHERS, CHANCE_FALLS = 3.0, 0.93
"""So many tries of a target weigh as much as all others, and how its chance falls with each in vain."""

LEAST_GAIN = 5e-4
"""Share of the cost that a target has to save: less is not worth a search."""

LEAST_PROMISE = 2e-5
"""Targets that promise a smaller share of the cost are left alone."""

FREER = (0.0, 0.02, 0.04)
"""How much fuller than expected sheets are asked to be when a strip is kept free."""


@dataclass(slots=True)
class Reach:
    """How full attempts in vain have packed sheets of a gauge: their number, sums of shares, of squares."""

    number: int = 0
    total: float = 0.0
    squares: float = 0.0

    def note(self, filled: float) -> None:
        """Take note of an attempt that filled so large a share of its sheets."""
        self.number += 1
        self.total += filled
        self.squares += filled * filled

    def expected(self, reached: float) -> tuple[float, float]:
        """How full an attempt is likely to pack its sheets, and give or take how much.

        ``reached`` is how full those of the plan are.
        """
        hoped, number = reached + HOPED, self.number + PRIOR
        mean = (PRIOR * hoped + self.total) / number
        squares = (PRIOR * (hoped * hoped + SPREAD * SPREAD) + self.squares) / number
        return mean, max(LEAST_SPREAD, math.sqrt(max(0.0, squares - mean * mean)))


@dataclass(slots=True)
class Target:
    """Sheets (supply, mm kept free at the far end), what they count, and how full they would have to be."""

    sheets: tuple[tuple[int, float], ...]
    cost: float
    fill: float
    tries: int = 0
    left: float = 1.0
    """Share of the pieces' area that the best attempt left over."""
    laid: tuple[tuple[Placement, ...], ...] = ()
    """What the best attempt laid on each of the sheets."""

    def promise(self, best: float, expected: tuple[float, float]) -> float:
        """What it may be expected to save against a plan of cost ``best``."""
        mean, spread = expected
        if self.tries:
            mean += (self.fill * (1.0 - self.left) - mean) * self.tries / (self.tries + OTHERS)
        chance = CHANCE_FALLS**self.tries / (1.0 + math.exp((self.fill - mean) / (LOGISTIC * spread)))
        return (best - self.cost) * chance


@dataclass(slots=True)
class Targets:
    """All targets for some pieces on the supplies of a gauge."""

    wanted: Ints
    known: dict[tuple[tuple[int, float], ...], Target] = field(default_factory=dict)
    below: float = math.inf
    """The cost that was to be bettered when targets were last listed."""

    def listed(
        self, problem: BoxProblem, limits: Ints, areas: Floats, below: float, expected: tuple[float, float]
    ) -> list[Target]:
        """Targets that cost less than ``below``, the most promising first."""
        if below != self.below:
            for target in targets(problem, limits, float((self.wanted * areas).sum()), below, expected):
                self.known.setdefault(target.sheets, target)
            self.below = below
        open_ = [t for t in self.known.values() if t.cost < below * (1.0 - LEAST_GAIN)]
        promises = {t.sheets: t.promise(below, expected) for t in open_}
        open_.sort(key=lambda t: (-promises[t.sheets], t.sheets))
        return [t for t in open_ if promises[t.sheets] > LEAST_PROMISE * below]


def targets(
    problem: BoxProblem, limits: Ints, needed: float, below: float, expected: tuple[float, float]
) -> list[Target]:
    """Every combination with so much area (nm2) that counts less than ``below``, with a strip free or not."""
    found: list[Target] = []
    for sheets in combinations(problem, limits, needed / FULLEST, below):
        cost, area = _cost_and_area(problem, sheets)
        if cost < below * (1.0 - LEAST_GAIN):
            found.append(Target(tuple((s, 0.0) for s in sheets), cost, needed / area))
        found += _with_strips(problem, sheets, needed, below, expected[0])
    found.sort(key=lambda t: (-t.promise(below, expected), t.sheets))
    return found[:MOST_TARGETS]


def _cost_and_area(problem: BoxProblem, sheets: tuple[int, ...]) -> tuple[float, float]:
    chosen = list(sheets)
    return float(problem.supplies.costs[chosen].sum()), float(problem.supplies.areas[chosen].sum())


def _with_strips(
    problem: BoxProblem, sheets: tuple[int, ...], needed: float, below: float, likely: float
) -> list[Target]:
    """The combination with a strip kept free on the sheet whose metal counts most when it goes back."""
    s = max(sheets, key=lambda s: (float(problem.kept_rates[s]), float(problem.supplies.areas[s])))
    blank = problem.choices[s].free
    if problem.kept_rates[s] <= 0.0 or len(blank) != 1:
        return []
    cost, area = _cost_and_area(problem, sheets)
    length, width = float(blank[0, 2]), float(blank[0, 3])
    short, long = (float(side) for side in np.sort(problem.least_left))
    found = []
    for more in FREER:
        fill = min(likely + more, FULLEST)
        strip = min((area - needed / fill) / width, length)
        useful = min(strip, width) >= short and max(strip, width) >= long
        counts = cost - float(problem.kept_rates[s]) * strip * width
        if useful and strip < length and counts < below * (1.0 - LEAST_GAIN):
            free = ((s, strip / 1e6),)
            rest = list(sheets)
            rest.remove(s)
            found.append(Target((*((r, 0.0) for r in rest), *free), counts, fill))
    return found


def combinations(problem: BoxProblem, limits: Ints, area: float, below: float) -> list[tuple[int, ...]]:
    """Sets of supplies, with repetition, of so much area whose cost less all that may go back is below.

    Depth first over supplies from the least cost per area up; sheets are bought only where those of their
    size on hand are all taken, which are cheaper.
    """
    supplies = problem.supplies
    order = [int(s) for s in np.argsort(supplies.costs / supplies.areas, kind="stable") if limits[s] > 0]
    spare = {s: float(problem.kept_rates[s]) for s in order}
    best_spare = max(spare.values(), default=0.0)
    found: list[tuple[int, ...]] = []
    nodes = 0

    def least(cost: float, over: float) -> float:
        """What a combination counts at best: all metal beyond the pieces' area goes back."""
        return cost - best_spare * max(0.0, over + area * (1.0 - FULLEST))

    def extend(place: int, taken: list[int], cost: float, missing: float) -> None:
        nonlocal nodes
        nodes += 1
        if missing <= 0.0:
            found.append(tuple(sorted(taken)))
        if nodes > MOST_NODES or len(taken) >= MOST_SHEETS:
            return
        for at in range(place, len(order)):
            s = order[at]
            price, metal = float(supplies.costs[s]), float(supplies.areas[s])
            # Supplies come by rising rate, so what is missing costs at least this rate.
            if cost + max(0.0, missing) * price / metal >= below:
                break
            if taken.count(s) >= limits[s] or not _rack_first(problem, limits, taken, s):
                continue
            if least(cost + price, metal - missing) < below:  # otherwise whatever is added costs too much
                extend(at, [*taken, s], cost + price, missing - metal)

    extend(0, [], 0.0, area)
    return sorted(set(found))


def _rack_first(problem: BoxProblem, limits: Ints, taken: Sequence[int], s: int) -> bool:
    """Whether all sheets on hand of a supply's size are taken already, where it is one to be bought."""
    if problem.choices[s].on_hand:
        return True
    sheet = problem.choices[s].sheet
    return all(
        taken.count(o) >= limits[o]
        for o, other in enumerate(problem.choices)
        if other.on_hand and other.sheet is sheet
    )
