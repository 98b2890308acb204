"""Large-neighbourhood repair: take the worst few sheets out of the best plan and plan their pieces anew.

Source of the idea: Shaw, "Using constraint programming and local search methods to solve vehicle
routing problems", 1998; the sheets that waste most are the likeliest to go.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from sheetplan.packing.kernel import Ints
from sheetplan.packing.kernel_chance import Chance, below, unit
from sheetplan.planning.column_generation import column_generation
from sheetplan.planning.plan_search import plan_search
from sheetplan.planning.rounding import rounded, rounding
from sheetplan.planning.search import Picks, Search
from sheetplan.planning.strip_pricing import strips_pay

FEWEST, MOST = 2, 6
"""How many sheets are taken out at once."""

BIAS = 3.0
"""How strongly the worst sheets are preferred: the best one is e^-3 times as likely as the worst."""


def repair(search: Search, allowance: int, slice_looks: int, stop: Callable[[], bool]) -> None:
    """Take out and plan anew within an allowance of looks, ``slice_looks`` each time."""
    end = search.work + allowance
    while search.work < end and not search.done and not stop():
        repair_once(search, min(slice_looks, max(1, end - search.work)), stop)


def repair_once(search: Search, looks: int, stop: Callable[[], bool]) -> bool:
    """One attempt; True if the plan became better."""
    sheets = [number for number, repeats in search.picks.items() for _ in range(repeats)]
    chance = search.chance()
    out = _picked(search, sheets, chance)
    kept: dict[int, int] = {}
    for place, number in enumerate(sheets):
        if place not in out:
            kept[number] = kept.get(number, 0) + 1
    rest = np.maximum(search.problem.wanted - search.covered(kept), 0)
    child = search.child(rest, search.problem.supplies.limits - _used(search, kept))
    search.spend(1000)
    if not rest.any():
        return search.offer(kept)
    return _planned_anew(search, child, kept, looks, stop)


def round_deeply(search: Search, looks: int, stop: Callable[[], bool]) -> bool:
    """Round the fractional answer and plan what is left as an order of its own; True if it became better."""
    kept, rest, limits = rounded(search, search.chance())
    if not rest.any():
        return search.offer(kept)
    return _planned_anew(search, search.child(rest, limits), kept, looks, stop)


def _planned_anew(search: Search, child: Search, kept: Picks, looks: int, stop: Callable[[], bool]) -> bool:
    """Offer what is kept with a child's plan of the rest."""
    _solve(child, looks, stop)
    plan = dict(kept)
    for number, repeats in search.adopt(child, child.picks).items():
        plan[number] = plan.get(number, 0) + repeats
    return search.offer(plan)


def _solve(child: Search, looks: int, stop: Callable[[], bool]) -> None:
    """A small search of its own."""
    plan_search(child, looks // 3)
    column_generation(child, looks // 3, stop, strips=strips_pay(child))
    rounding(child, looks // 3, stop)


def _picked(search: Search, sheets: list[int], chance: Chance) -> set[int]:
    """Places of the sheets to take out, the wasteful ones more likely."""
    costs = search.problem.supplies.costs
    columns = [search.columns[number] for number in sheets]
    use = [float((c.counts * search.areas).sum()) / max(float(costs[c.supply]), 1e-300) for c in columns]
    ranks = np.argsort(np.argsort(use, kind="stable"), kind="stable")
    count = min(len(sheets), FEWEST + below(chance, MOST - FEWEST + 1))
    keys = [math.log(max(unit(chance), 1e-300)) * math.exp(BIAS * r / max(1, len(sheets) - 1)) for r in ranks]
    return set(np.argsort(-np.array(keys), kind="stable")[:count].tolist())


def _used(search: Search, picks: Picks) -> Ints:
    """Sheets of each supply that a plan takes."""
    used = np.zeros(len(search.problem.choices), np.int64)
    for number, repeats in picks.items():
        used[search.columns[number].supply] += repeats
    return used
