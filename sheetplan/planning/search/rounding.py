"""Whole plans out of the master's fractional answer, and repair of the worst sheets of the best plan.

A column that is cut 3.6 times is cut 3 or 4 times by chance; the pieces that are then still
missing are planned anew. Layouts that suit the fractional answer do not combine into exact
covers, so the repair matters more than the choice.

Repair is large-neighbourhood search (Shaw, "Using constraint programming and local search methods to solve
vehicle routing problems", 1998): the sheets that waste most are the likeliest to be taken out.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from sheetplan.packing.maxrects import Floats, Ints
from sheetplan.packing.rng import Chance, below, uniform
from sheetplan.planning.search.column_generation import column_generation, priced, strips_pay
from sheetplan.planning.search.state import Picks, Search, found_plan, plan_search

USEFUL = 0.97
"""A rounded column is repeated only while this share of its pieces' area is still wanted."""

DROP_SHARE = 0.1
"""How often a column is cut once less than its rounded number, to shake the answer."""

SEQUENCE_SHARE = 0.6
"""How often the rest is planned as a sequence of sheets; otherwise sheet by sheet, by value."""

REPAIR_LOOKS = 400_000
"""Least work of one repair by sequence."""

SHEET_LOOKS = 100_000
"""Work on one sheet and supply of a repair by value."""

FEWEST, MOST = 2, 6
"""How many sheets are taken out at once."""

BIAS = 3.0
"""How strongly the worst sheets are preferred: the best one is e^-3 times as likely as the worst."""


def rounding(search: Search, allowance: int, stop: Callable[[], bool]) -> None:
    """Round and repair again and again within an allowance of looks."""
    end = search.work + allowance
    while search.work < end and not search.done and not stop():
        search.offer(rounded_plan(search))


def rounded_plan(search: Search) -> Picks:
    """One rounding of the fractional answer, repaired."""
    chance = search.chance()
    picks, rest, limits = rounded(search, chance)
    if rest.any():
        child = search.child(rest, limits)
        by_sequence = uniform(chance) < SEQUENCE_SHARE
        repair = found_plan(child, REPAIR_LOOKS) if by_sequence else plan_by_value(child, SHEET_LOOKS)
        for number, repeats in search.adopt(child, repair).items():
            picks[number] = picks.get(number, 0) + repeats
    return picks


def rounded(search: Search, chance: Chance) -> tuple[dict[int, int], Ints, Ints]:
    """Columns cut whole times, what is then still wanted, and the sheets still to be had."""
    picks: dict[int, int] = {}
    rest = search.problem.wanted.copy()
    limits = search.problem.supplies.limits.copy()
    for number, value in sorted(search.values.items(), key=lambda item: (-item[1], item[0])):
        column = search.columns[number]
        repeats = int(value + uniform(chance))
        if repeats and uniform(chance) < DROP_SHARE:
            repeats -= 1
        repeats = min(repeats, int(limits[column.supply]))
        while repeats and not _useful(search, column.counts * repeats, rest):
            repeats -= 1
        if repeats:
            picks[number] = repeats
            rest = np.maximum(rest - column.counts * repeats, 0)
            limits[column.supply] -= repeats
    return picks, rest, limits


def _useful(search: Search, counts: Ints, rest: Ints) -> bool:
    """Whether nearly all of some pieces is still wanted."""
    wanted = float((np.minimum(counts, rest) * search.areas).sum())
    return wanted >= USEFUL * float((counts * search.areas).sum())


def plan_by_value(search: Search, looks: int) -> Picks:
    """Sheet after sheet, each the one whose pieces are worth most for its price.

    A layout is repeated as long as all of its pieces are wanted.
    """
    rest = search.problem.wanted.copy()
    limits = search.problem.supplies.limits.copy()
    values = np.maximum(search.duals, 1e-3 * search.areas * (search.duals.max() / search.areas.max()))
    picks: dict[int, int] = {}
    while rest.any():
        number = _best_value(search, rest, limits, values, looks)
        if number < 0:
            break
        column = search.columns[number]
        held = column.counts > 0
        repeats = max(1, min(int((rest[held] // column.counts[held]).min()), int(limits[column.supply])))
        picks[number] = picks.get(number, 0) + repeats
        rest = np.maximum(rest - repeats * column.counts, 0)
        limits[column.supply] -= repeats
    return picks


def _best_value(search: Search, rest: Ints, limits: Ints, values: Floats, looks: int) -> int:
    """Number of the column with the least cost per value; -1 where no supply takes any piece."""
    best, best_rate = -1, np.inf
    for s in np.flatnonzero(limits > 0):
        found = priced(search, int(s), rest, values, looks, keep=1)
        if found:
            value, column = found[0]
            rate = float(search.problem.supplies.costs[s]) / max(value, 1e-300)
            if rate < best_rate:
                best, best_rate = search.add(column), rate
    return best


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
    last = max(1, len(sheets) - 1)
    keys = [math.log(max(uniform(chance), 1e-300)) * math.exp(BIAS * r / last) for r in ranks]
    return set(np.argsort(-np.array(keys), kind="stable")[:count].tolist())


def _used(search: Search, picks: Picks) -> Ints:
    """Sheets of each supply that a plan takes."""
    used = np.zeros(len(search.problem.choices), np.int64)
    for number, repeats in picks.items():
        used[search.columns[number].supply] += repeats
    return used
