"""Whole plans out of the master's fractional answer.

A column that is cut 3.6 times is cut 3 or 4 times by chance; the pieces that are then still
missing are planned anew. Layouts that suit the fractional answer do not combine into exact
covers, so the repair matters more than the choice.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sheetplan.packing.kernel import Ints
from sheetplan.packing.kernel_chance import Chance, unit
from sheetplan.packing.kernel_sequence import Floats
from sheetplan.planning.column_generation import priced
from sheetplan.planning.plan_search import found_plan
from sheetplan.planning.search import Picks, Search

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
        by_sequence = unit(chance) < SEQUENCE_SHARE
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
        repeats = int(value + unit(chance))
        if repeats and unit(chance) < DROP_SHARE:
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
