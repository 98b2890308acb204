"""True-shape layouts for a gauge, and whether they pay.

The steps are those of the box search over other layouts: sheets filled one after the other, a
master problem that prices pieces, rounding with repair. Kits repeat, so a good sheet is cut as
often as its pieces allow before the next is sought. Layouts of boxes stay in the pool; the plan
may mix both.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from sheetplan.packing.kernel import Ints
from sheetplan.packing.kernel_chance import Chance, below, normal, unit
from sheetplan.packing.kernel_sequence import Floats
from sheetplan.planning.bound import area_bound
from sheetplan.planning.column_generation import Master
from sheetplan.planning.rounding import rounded
from sheetplan.planning.search import Picks, Search
from sheetplan.planning.shape_filling import ShapeFiller

Halt = Callable[[], bool]

TRIAL_GAIN = 1.02
"""A trial sheet has to hold this much more than the box plan's sheets do on average."""

TRIAL_EFFORT = 4
SEQUENCE_EFFORTS = (1, 2, 4, 8)
PRICING_EFFORT = 6

MASTER_ROUNDS = 6
"""Rounds of pricing in a row, before plans are made of what there is."""

PLANS_A_ROUND = 6
"""Plans made between two times of pricing."""

MOST_SEED = 2**31

NOISE = 0.3
"""How much the values of pieces are disturbed from one plan to the next."""

OUT_SHARE = 0.5
"""How often a plan is made by taking sheets out of the best one and filling them anew."""


def shaped_search(search: Search, filler: ShapeFiller) -> Search:
    """A search for true shapes beside one for boxes, with its plan to begin with.

    The bound for boxes does not hold here; what holds is that the pieces need their area.
    """
    shaped = Search(search.problem, search.seed)
    shaped.offer(shaped.adopt(search, search.picks))
    shaped.bound = area_bound(search.problem, filler.areas)
    shaped.bound_is_final = True
    for column in filler.of_discs():
        shaped.add(column)
    return shaped


def trial_pays(search: Search, filler: ShapeFiller) -> bool:
    """Whether a quick true-shape sheet of the cheapest size holds more than a sheet of the box plan."""
    supplies, wanted = search.problem.supplies, search.problem.wanted
    s = int(np.argmin(supplies.costs / supplies.areas))
    column = filler.column(s, wanted, filler.areas, search.seed, TRIAL_EFFORT)
    if column is None:
        return False
    rate = float((column.counts * filler.areas).sum()) / max(float(supplies.costs[s]), 1e-300)
    average = float((wanted * filler.areas).sum()) / max(search.score.cost, 1e-300)
    whole_order = bool((column.counts >= wanted).all())
    return rate > TRIAL_GAIN * average or whole_order


def shape_search(search: Search, filler: ShapeFiller, looks: int, halt: Halt) -> None:
    """Look for a cheaper plan with true shapes within an allowance of looks."""
    end = filler.looks + looks
    for s in np.argsort(search.problem.supplies.costs / search.problem.supplies.areas, kind="stable"):
        if filler.looks < end and not halt():
            search.offer(plan_by_sequence(search, filler, int(s)))
    while filler.looks < end and not search.done and not halt():
        _price(search, filler, end, halt)
        for _ in range(PLANS_A_ROUND):
            if filler.looks >= end or search.done or halt():
                return
            chance = search.chance()
            anew = unit(chance) < OUT_SHARE
            search.offer(_refilled(search, filler, chance) if anew else _rounded_plan(search, filler, chance))


def _price(search: Search, filler: ShapeFiller, end: int, halt: Halt) -> None:
    """Let the master price the pieces, and look for layouts that are worth more than their sheet."""
    master = Master(search)
    for _ in range(MASTER_ROUNDS):
        pieces, supplies = master.solve()
        known = len(search.columns)
        for s, cost in enumerate(search.problem.supplies.costs):
            if filler.looks >= end or halt():
                break
            seed = below(search.chance(), MOST_SEED)
            column = filler.column(s, search.problem.wanted, pieces, seed, PRICING_EFFORT)
            if column is not None and float((column.counts * pieces).sum()) > float(cost - supplies[s]):
                search.add(column)
        if len(search.columns) == known:
            break
    search.duals, _ = master.solve()
    search.values = master.values()


def plan_by_sequence(search: Search, filler: ShapeFiller, first: int | None = None) -> Picks:
    """Fill sheet after sheet, each layout as often as its pieces allow.

    ``first`` is the supply that is taken as long as it lasts; None draws one for every sheet,
    the cheap ones more likely.
    """
    chance = search.chance()
    values = _disturbed(filler.areas, chance) if first is None else filler.areas
    wanted, limits = search.problem.wanted.copy(), search.problem.supplies.limits.copy()
    return _filled(search, filler, wanted, limits, values, chance, first)


def _filled(
    search: Search, filler: ShapeFiller, rest: Ints, limits: Ints, values: Floats, chance: Chance,
    first: int | None,
) -> dict[int, int]:  # fmt: skip
    """Picks that make what is left of an order on what is left of the stock."""
    picks: dict[int, int] = {}
    effort = SEQUENCE_EFFORTS[below(chance, len(SEQUENCE_EFFORTS))]
    while rest.any() and limits.any():
        number = _finisher(search, filler, rest, limits, values, chance)
        if number < 0:
            s = first if first is not None and limits[first] else _drawn_supply(search, limits, chance)
            column = filler.column(s, rest, values, below(chance, MOST_SEED), effort)
            if column is None:
                limits[s] = 0
                continue
            number = search.add(column)
        counts, s = search.columns[number].counts, search.columns[number].supply
        held = counts > 0
        times = max(1, min(int((rest[held] // counts[held]).min()), int(limits[s])))
        picks[number] = picks.get(number, 0) + times
        rest -= times * counts
        limits[s] -= times
    return picks


def _finisher(
    search: Search, filler: ShapeFiller, rest: Ints, limits: Ints, values: Floats, chance: Chance
) -> int:
    """A sheet that takes all that is left, the cheapest first; -1 where none does."""
    supplies = search.problem.supplies
    area = float((rest * filler.areas).sum())
    usable = [int(s) for s in np.flatnonzero((limits > 0) & (supplies.areas >= area))]
    dearest = float(supplies.costs[limits > 0].max())
    for s in sorted(usable, key=lambda s: float(supplies.costs[s])):
        if float(supplies.costs[s]) > dearest:
            break
        column = filler.column(s, rest, values, below(chance, MOST_SEED), SEQUENCE_EFFORTS[-1])
        if column is not None and (column.counts == rest).all():
            return search.add(column)
    return -1


def _drawn_supply(search: Search, limits: Ints, chance: Chance) -> int:
    """A supply with sheets left, the cheap per area more likely."""
    supplies = search.problem.supplies
    usable = np.flatnonzero(limits)
    ranked = usable[np.argsort((supplies.costs / supplies.areas)[usable], kind="stable")]
    return int(ranked[min(len(ranked) - 1, int(abs(normal(chance)) * 1.2))])


def _rounded_plan(search: Search, filler: ShapeFiller, chance: Chance) -> Picks:
    """The master's answer rounded, the rest filled with true shapes."""
    picks, rest, limits = rounded(search, chance)
    values = np.maximum(search.duals, 0.0) + 1e-3 * search.duals.max() * filler.areas / filler.areas.max()
    _merge(picks, _filled(search, filler, rest, limits, _disturbed(values, chance), chance, None))
    return picks


def _refilled(search: Search, filler: ShapeFiller, chance: Chance) -> Picks:
    """The best plan with a few sheets, the emptier more likely, filled anew."""
    sheets = [number for number, repeats in search.picks.items() for _ in range(repeats)]
    use = [float((search.columns[n].counts * filler.areas).sum()) / search.costs[n] for n in sheets]
    keys = np.array(use) * np.array([math.exp(0.3 * normal(chance)) for _ in use])
    out = set(np.argsort(keys, kind="stable")[: 1 + below(chance, min(4, len(sheets)))].tolist())
    kept: dict[int, int] = {}
    limits = search.problem.supplies.limits.copy()
    for place, number in enumerate(sheets):
        if place not in out:
            kept[number] = kept.get(number, 0) + 1
            limits[search.columns[number].supply] -= 1
    rest = np.maximum(search.problem.wanted - search.covered(kept), 0)
    _merge(kept, _filled(search, filler, rest, limits, _disturbed(filler.areas, chance), chance, None))
    return kept


def _merge(picks: dict[int, int], more: Picks) -> None:
    for number, repeats in more.items():
        picks[number] = picks.get(number, 0) + repeats


def _disturbed(values: Floats, chance: Chance) -> Floats:
    """Values multiplied by chance, so that other pieces come first."""
    factors = np.array([math.exp(NOISE * normal(chance)) for _ in values], np.float64)
    return np.asarray(values * factors, np.float64)
