"""The same metal with fewer different layouts: one cut seven times is worth more to a shop than seven.

The best plan is rebuilt in part, again and again: some of its layouts are taken out and their
pieces planned anew from layouts that can be repeated, the most repeats first. A rebuilt plan is
taken if it costs no more and has fewer layouts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from sheetplan.packing.kernel import Flags, Ints
from sheetplan.packing.kernel_chance import Chance, below, unit
from sheetplan.planning.column_generation import priced
from sheetplan.planning.plan_search import found_plan
from sheetplan.planning.search import Picks, Search

MOST_REPEATS = 24
"""Repeats tried first at most."""

FEWEST_OUT, MOST_OUT = 2, 6
"""How many layouts are taken out at once."""

GREATEST_SLACK = 0.1
"""A repeated layout may be this much poorer than the average, by chance; the last ones make up for it."""

SHEET_LOOKS = 60_000
"""Work on one sheet and supply."""

REST_LOOKS = 300_000
"""Work on what is left when no layout can be repeated."""

TINY_COST = 1e-300
"""Stands for a cost of nothing where a cost divides."""

BIAS = 2.0
"""How strongly layouts with few repeats are preferred for taking out."""


def fewer_layouts(search: Search, allowance: int, halt: Callable[[], bool]) -> None:
    """Rebuild parts of the best plan within an allowance of looks."""
    end = search.work + allowance
    while search.work < end and len(search.picks) > 1 and not halt():
        rebuild_once(search)
        search.spend(2000)


def rebuild_once(search: Search) -> bool:
    """One attempt; True if the plan became better."""
    chance = search.chance()
    out = _drawn(search.picks, chance)
    kept = {number: repeats for number, repeats in search.picks.items() if number not in out}
    rest = np.maximum(search.problem.wanted - search.covered(kept), 0)
    if not rest.any():
        return search.offer(kept)
    limits = search.problem.supplies.limits.copy()
    for number, repeats in kept.items():
        limits[search.columns[number].supply] -= repeats
    child = search.child(rest, limits)
    plan = dict(kept)
    use = float((search.problem.wanted * search.areas).sum()) / max(search.score.cost, TINY_COST)
    least_use = use * (1.0 - GREATEST_SLACK * unit(chance) ** 2)
    _add(plan, search.adopt(child, plan_by_repeats(child, least_use, len(out))))
    return search.offer(plan)


def _drawn(picks: Picks, chance: Chance) -> set[int]:
    """Layouts to take out, those with few repeats more likely."""
    count = min(len(picks), FEWEST_OUT + below(chance, MOST_OUT - FEWEST_OUT + 1))
    bias = BIAS * unit(chance)
    keys = {number: unit(chance) / picks[number] ** bias for number in sorted(picks)}
    return set(sorted(keys, key=lambda number: -keys[number])[:count])


def plan_by_repeats(search: Search, least_use: float, most_layouts: int) -> Picks:
    """Layouts that can be repeated, then whatever is left in one go.

    ``least_use`` is the area of pieces per cost that a repeated layout has to reach. Given up (as
    it is, with pieces missing) once it has as many layouts as it was to save.
    """
    rest = search.problem.wanted.copy()
    limits = search.problem.supplies.limits.copy()
    picks: dict[int, int] = {}
    repeats = min(MOST_REPEATS, int(rest.max()))
    while rest.any() and repeats > 1 and len(picks) < most_layouts:
        number = _repeatable(search, rest // repeats, limits >= repeats, least_use)
        if number < 0:
            repeats -= 1
            continue
        counts = search.columns[number].counts
        held = counts > 0
        times = min(int((rest[held] // counts[held]).min()), int(limits[search.columns[number].supply]))
        picks[number] = picks.get(number, 0) + times
        rest -= times * counts
        limits[search.columns[number].supply] -= times
    if rest.any() and len(picks) < most_layouts:
        child = search.child(rest, limits)
        _add(picks, search.adopt(child, found_plan(child, REST_LOOKS)))
    return picks


def _add(picks: dict[int, int], more: Mapping[int, int]) -> None:
    for number, repeats in more.items():
        picks[number] = picks.get(number, 0) + repeats


def _repeatable(search: Search, available: Ints, usable: Flags, least_use: float) -> int:
    """The layout of the best use of metal from so many pieces; -1 where none reaches the least use."""
    best, best_use = -1, least_use
    costs = search.problem.supplies.costs
    on_hand = float((available * search.areas).sum())
    for s in np.flatnonzero(usable):
        cost = max(float(costs[s]), TINY_COST)
        if on_hand < best_use * cost:
            continue
        for value, column in priced(search, int(s), available, search.areas, SHEET_LOOKS, keep=1):
            if value >= best_use * cost:
                best, best_use = search.add(column), value / cost
    return best
