"""Fixed combinations of sheets: which cheaper sets of sheets might hold some pieces.

Between what is proven and the plan in hand lie few combinations of sheets. Each that has the area is a
*target*; with a strip kept free on one of its sheets it is one more, since what goes back to the rack counts.
The target that promises most, its gain times the chance that it can be packed, gets the next slice of work.
Chances are judged by how full it would have to be against how full sheets of these pieces have been packed,
and by what earlier attempts left over.

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

MOST_SHEETS = 6
"""Sheets of a combination, at most."""

MOST_NODES = 20_000
"""Nodes of the enumeration, at most: with a full rack there are more combinations than anybody packs."""

MOST_TARGETS = 400

FULLEST = 0.985
"""Share of a sheet that pieces grown by half the gap can fill at best: fuller is not tried."""

SLACK = 0.03
"""Fill above what has been reached by so much divides the chance of a target by e."""

LEFT_SHARE = 0.04
"""So much of the area left over by the best attempt divides the chance by e."""

FIRST_CHANCE, FEW_TRIES, CHANCE_FALLS = 0.6, 2, 0.93
"""Chance of a target no fuller than what has been reached, and how it falls with attempts in vain.

Attempts at one target differ by some per cent of the area, and of those that can be packed one in four or so
succeeds: a few that fail say little, so that the chance is halved by the first ``FEW_TRIES`` alone.
"""

LEAST_GAIN = 5e-4
"""Share of the cost that a target has to save: less is not worth a search."""

HOPELESS = 2e-5
"""Targets that promise a smaller share of the cost are left alone."""

FREER = (0.0, 0.02, 0.04)
"""How much fuller than reached so far sheets are asked to be when a strip is kept free."""


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

    def promise(self, best: float, reached: float) -> float:
        """What it may be expected to save against a plan of cost ``best``."""
        chance = FIRST_CHANCE * math.exp(-max(0.0, self.fill - reached) / SLACK)
        told = self.tries / (FEW_TRIES + self.tries)
        chance *= (1.0 - told) * math.exp(-told * self.left / LEFT_SHARE) * CHANCE_FALLS**self.tries
        return (best - self.cost) * chance


@dataclass(slots=True)
class Targets:
    """All targets for some pieces on the supplies of a gauge."""

    wanted: Ints
    known: dict[tuple[tuple[int, float], ...], Target] = field(default_factory=dict)
    below: float = math.inf
    """The cost that was to be bettered when targets were last listed."""

    def listed(
        self, problem: BoxProblem, limits: Ints, areas: Floats, below: float, reached: float
    ) -> list[Target]:
        """Targets that cost less than ``below``, the most promising first."""
        if below != self.below:
            for target in targets(problem, limits, float((self.wanted * areas).sum()), below, reached):
                self.known.setdefault(target.sheets, target)
            self.below = below
        open_ = [t for t in self.known.values() if t.cost < below * (1.0 - LEAST_GAIN)]
        open_.sort(key=lambda t: (-t.promise(below, reached), t.sheets))
        return [t for t in open_ if t.promise(below, reached) > HOPELESS * below]


def targets(problem: BoxProblem, limits: Ints, needed: float, below: float, reached: float) -> list[Target]:
    """Every combination with so much area (nm2) that counts less than ``below``, with a strip free or not."""
    found: list[Target] = []
    for sheets in combinations(problem, limits, needed / FULLEST, below):
        cost, area = _cost_and_area(problem, sheets)
        if cost < below * (1.0 - LEAST_GAIN):
            found.append(Target(tuple((s, 0.0) for s in sheets), cost, needed / area))
        found += _with_strips(problem, sheets, needed, below, reached)
    found.sort(key=lambda t: (-t.promise(below, reached), t.sheets))
    return found[:MOST_TARGETS]


def _cost_and_area(problem: BoxProblem, sheets: tuple[int, ...]) -> tuple[float, float]:
    chosen = list(sheets)
    return float(problem.supplies.costs[chosen].sum()), float(problem.supplies.areas[chosen].sum())


def _with_strips(
    problem: BoxProblem, sheets: tuple[int, ...], needed: float, below: float, reached: float
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
        fill = min(reached + more, FULLEST)
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
