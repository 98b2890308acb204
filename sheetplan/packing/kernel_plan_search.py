"""Search over whole plans: which order of boxes and which sequence of sheets fills an order best.

Each trial draws or changes a recipe and a sequence of supplies and fills sheet after sheet with
them. A trial that scores no worse than the current one takes its place; after a while without
gain the search starts afresh.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sheetplan.packing.kernel import RULES, Desk, Ints, Recipe, Types, least_side
from sheetplan.packing.kernel_chance import Chance, below, normal, shift, swap, unit
from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.kernel_sequence import Floats, Run, Supplies, fill_in_sequence

FRESH_TRIALS = 30
"""Trials that are drawn afresh before the best of them is changed step by step."""

PATIENCE = 150
"""Changes without gain after which the search starts afresh."""

CEILING = 1.08
"""A changed plan is given up once it costs this many times the best: few such turn out well."""

KEYS = 5
"""Ways to sort boxes from large to small; see `_draw_order`."""


class Found(NamedTuple):
    """The best plan of a search: what it came to, its recipe, and the supplies in the order opened."""

    run: Run
    recipe: Recipe
    used: Ints


@compiled
def draw_order(chance: Chance, types: Types, worth: Floats, order: Ints) -> None:
    """Sort the types from large to small by a drawn measure, more or less disturbed."""
    key = below(chance, KEYS)
    noise = 0.0 if unit(chance) < 0.4 else 0.3 * unit(chance)
    sizes = np.empty(order.shape[0])
    for i, t in enumerate(order):
        long = float(max(types.lengths[t], types.widths[t]))
        short = float(min(types.lengths[t], types.widths[t]))
        if key == 0:
            size = math.log(long * short)
        elif key == 1:
            size = math.log(long) + 1e-3 * math.log(short)
        elif key == 2:
            size = math.log(short) + 1e-3 * math.log(long)
        elif key == 3:
            size = math.log(long + short)
        else:
            size = math.log(max(worth[t], 1e-9 * long * short))
        sizes[i] = -(size + noise * normal(chance))
    order[:] = order[np.argsort(sizes, kind="mergesort")]


@compiled
def draw_ranking(chance: Chance, supplies: Supplies) -> Ints:
    """Supplies ranked by price per area, by chance, by size, or by price disturbed."""
    way = below(chance, 4)
    rates = supplies.costs / supplies.areas
    keys = np.empty(rates.shape[0])
    for s in range(rates.shape[0]):
        if way == 0:
            keys[s] = rates[s]
        elif way == 1:
            keys[s] = unit(chance)
        elif way == 2:
            keys[s] = -supplies.areas[s]
        else:
            keys[s] = rates[s] * math.exp(0.3 * normal(chance))
    return np.argsort(keys, kind="mergesort")


@compiled
def _draw_sequence(chance: Chance, supplies: Supplies, sequence: Ints) -> None:
    """Supplies in the order of a ranking, as many as there are, or short runs of the well ranked."""
    ranking = draw_ranking(chance, supplies)
    count = ranking.shape[0]
    most = sequence.shape[0]
    at = 0
    if unit(chance) < 0.5 and count > 1:
        while at < most:
            s = ranking[min(count - 1, int(abs(normal(chance)) * 1.2))]
            end = min(most, at + 1 + below(chance, 4))
            sequence[at:end] = s
            at = end
        return
    for s in ranking:
        end = min(most, at + supplies.limits[s])
        sequence[at:end] = s
        at = end
    sequence[at:] = ranking[0]


@compiled
def _change(chance: Chance, order: Ints, sequence: Ints, rule: int, sheets: int, supplies: int) -> int:
    """Change order, rule or sequence in one or two places; returns the rule."""
    types = order.shape[0]
    reach = min(sequence.shape[0], sheets + 2)
    for _ in range(1 + below(chance, 2)):
        draw = unit(chance)
        if draw < 0.45:
            shift(order, below(chance, types), below(chance, types))
        elif draw < 0.6:
            swap(order, below(chance, types), below(chance, types))
        elif draw < 0.65 or supplies == 1:
            rule = below(chance, RULES)
        elif draw < 0.85:
            sequence[below(chance, reach)] = below(chance, supplies)
        else:
            swap(sequence, below(chance, reach), below(chance, reach))
    return rule


@compiled
def search_plans(
    supplies: Supplies,
    types: Types,
    wanted: Ints,
    worth: Floats,
    penalty: float,
    most_sheets: int,
    allowance: int,
    chance: Chance,
    desk: Desk,
) -> Found:
    """The best plan found within an allowance of looks (see `Desk.work`).

    ``worth`` is a value per piece of each type, area or a price from a relaxation, by which boxes
    may be sorted; ``penalty`` the cost of a square unit of pieces left out.
    """
    wanted_types = np.flatnonzero(wanted)
    least = least_side(types, wanted)
    order, sequence, rule = wanted_types.copy(), np.zeros(most_sheets, np.int64), 0
    now_order, now_sequence, now_rule, now_score, now_sheets = order.copy(), sequence.copy(), 0, np.inf, 0
    best_order, best_rule, best = order.copy(), 0, Run(np.inf, np.inf, 0, np.inf)
    used, best_used = np.empty(most_sheets, np.int64), np.empty(most_sheets, np.int64)
    idle, trial = 0, 0
    end = desk.work[0] + allowance
    while trial == 0 or desk.work[0] < end:
        fresh = trial < FRESH_TRIALS or idle > PATIENCE or now_score == np.inf
        if fresh:
            if trial >= FRESH_TRIALS:
                now_score, idle = np.inf, 0
            draw_order(chance, types, worth, order)
            _draw_sequence(chance, supplies, sequence)
            rule = below(chance, RULES)
        else:
            order[:] = now_order
            sequence[:] = now_sequence
            rule = _change(chance, order, sequence, now_rule, now_sheets, supplies.costs.shape[0])
        ceiling = np.inf if fresh else best.cost * CEILING
        recipe = Recipe(order, wanted, rule, least)
        run = fill_in_sequence(supplies, types, wanted, recipe, sequence, penalty, ceiling, desk, used)
        desk.work[0] += 100
        trial += 1
        if run.cost < best.cost:
            best, best_rule = run, rule
            best_order[:] = order
            best_used[: run.sheets] = used[: run.sheets]
        if run.score <= now_score and run.score < np.inf:
            idle = 0 if run.score < now_score else idle + 1
            now_score, now_rule, now_sheets = run.score, rule, run.sheets
            now_order[:] = order
            now_sequence[:] = sequence
            now_sequence[: run.sheets] = used[: run.sheets]
        else:
            idle += 1
    return Found(best, Recipe(best_order, wanted, best_rule, least), best_used[: best.sheets].copy())
