"""Randomised MaxRects: recipes drawn and changed, for whole plans and for the most valuable layouts.

Plans: each trial draws or changes a recipe and a sequence of supplies and fills sheet after sheet with
them. A trial that scores no worse than the current one takes its place; after a while without
gain the search starts afresh.

Layouts of pieces that have a price each: recipes are drawn by value and size, then the best one is changed
step by step; the best few layouts of different value are kept.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.maxrects import (
    MEASURES,
    RULES,
    Desk,
    Floats,
    Ints,
    Recipe,
    Run,
    Supplies,
    Types,
    fill_in_sequence,
    fill_sheet,
    least_side,
)
from sheetplan.packing.rng import Chance, below, normal, shift, swap, uniform

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
    noise = 0.0 if uniform(chance) < 0.4 else 0.3 * uniform(chance)
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
            keys[s] = uniform(chance)
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
    if uniform(chance) < 0.5 and count > 1:
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
        draw = uniform(chance)
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


FRESH_LAYOUTS = 8
"""Trials drawn afresh before the best is changed."""

FRESH_SHARE = 0.3
"""Share of later trials that are drawn afresh all the same."""

WORTHLESS = 1e-9
"""Below this value per area a piece only fills what is left over."""


class Priced(NamedTuple):
    """Layouts with their values: recipes as rows of ``orders`` and ``caps``; value -1 marks an unused row.

    ``usable`` has the pieces of each type that were on offer to all of them.
    """

    orders: Ints
    caps: Ints
    rules: Ints
    least: int
    usable: Ints
    counts: Ints
    values: Floats


@compiled
def _draw_order(chance: Chance, types: Types, values: Floats, order: Ints, trial: int) -> None:
    """Sort by value per area times a power of the area; the first trials are not disturbed."""
    power = 0.25 * trial if trial < 5 else 1.2 * uniform(chance)
    noise = 0.0
    if trial >= 5:
        draw = uniform(chance)
        noise = 0.05 if draw < 0.25 else 0.25 if draw < 0.6 else 0.7 if draw < 0.85 else 2.0
    keys = np.empty(order.shape[0])
    for i, t in enumerate(order):
        area = float(types.lengths[t]) * float(types.widths[t])
        if values[t] <= WORTHLESS * area:
            key = -50.0 + 0.01 * math.log(area)
        else:
            key = math.log(values[t] / area) + power * math.log(area)
        keys[i] = -(key + noise * normal(chance))
    order[:] = order[np.argsort(keys, kind="mergesort")]


@compiled
def _draw_caps(chance: Chance, available: Ints, caps: Ints) -> None:
    """No caps, or caps that lean towards few pieces of each type."""
    if uniform(chance) < 0.4:
        caps[:] = available
        return
    for t in range(caps.shape[0]):
        draw = uniform(chance)
        cap = int(available[t] * draw * draw * 1.2)
        if cap < 1 and uniform(chance) < 0.7:
            cap = 1
        caps[t] = min(cap, available[t])


@compiled
def _change_recipe(chance: Chance, available: Ints, order: Ints, caps: Ints, rule: int) -> int:
    """Change order, caps or rule in one to three places; returns the rule."""
    types = order.shape[0]
    for _ in range(1 + below(chance, 3)):
        draw = uniform(chance)
        if draw < 0.3:
            swap(order, below(chance, types), below(chance, types))
        elif draw < 0.55:
            shift(order, below(chance, types), below(chance, types))
        elif draw < 0.9:
            t = order[below(chance, types)]
            step = uniform(chance)
            if step < 0.3:
                caps[t] = min(available[t], caps[t] + 1)
            elif step < 0.6:
                caps[t] = max(0, caps[t] - 1)
            else:
                caps[t] = below(chance, available[t] + 1)
        else:
            rule = below(chance, MEASURES)
    return rule


@compiled
def _usable(blank: Ints, types: Types, available: Ints) -> Ints:
    """Pieces of each type that one sheet could take at most."""
    usable = np.zeros(available.shape[0], np.int64)
    area = 0.0
    for i in range(blank.shape[0]):
        area += float(blank[i, 2]) * float(blank[i, 3])
    for t in range(available.shape[0]):
        length, width = types.lengths[t], types.widths[t]
        for i in range(blank.shape[0]):
            upright = length <= blank[i, 2] and width <= blank[i, 3]
            across = types.turnable[t] and width <= blank[i, 2] and length <= blank[i, 3]
            if upright or across:
                usable[t] = min(available[t], int(area / (float(length) * float(width))))
                break
    return usable


@compiled
def _keep(kept: Priced, value: float, recipe: Recipe, counts: Ints) -> None:
    """Put a layout in place of the least valuable one kept, unless its value is already there."""
    worst = 0
    for k in range(kept.values.shape[0]):
        if abs(kept.values[k] - value) <= 1e-9 * abs(value):
            return
        if kept.values[k] < kept.values[worst]:
            worst = k
    if value > kept.values[worst]:
        kept.orders[worst, :] = recipe.order
        kept.caps[worst, :] = recipe.caps
        kept.rules[worst] = recipe.rule
        kept.counts[worst, :] = counts
        kept.values[worst] = value


@compiled
def price_layouts(
    blank: Ints,
    types: Types,
    available: Ints,
    values: Floats,
    keep: int,
    allowance: int,
    chance: Chance,
    desk: Desk,
) -> Priced:
    """Up to ``keep`` layouts of great value on one blank, within an allowance of looks."""
    usable = _usable(blank, types, available)
    order = np.flatnonzero(usable)
    least = least_side(types, usable)
    kept = Priced(
        np.zeros((keep, order.shape[0]), np.int64),
        np.zeros((keep, usable.shape[0]), np.int64),
        np.zeros(keep, np.int64),
        least,
        usable,
        np.zeros((keep, usable.shape[0]), np.int64),
        np.full(keep, -1.0),
    )
    caps, rule = usable.copy(), 0
    best_order, best_caps, best_rule, best = order.copy(), caps.copy(), 0, -1.0
    end = desk.work[0] + allowance
    trial = 0
    while order.shape[0] > 0 and (trial == 0 or desk.work[0] < end):
        if trial < FRESH_LAYOUTS or uniform(chance) < FRESH_SHARE:
            _draw_order(chance, types, values, order, trial)
            _draw_caps(chance, usable, caps)
            rule = trial % MEASURES if trial < MEASURES else below(chance, MEASURES)
        else:
            order[:] = best_order
            caps[:] = best_caps
            rule = _change_recipe(chance, usable, order, caps, best_rule)
        fill_sheet(blank, types, usable, Recipe(order, caps, rule, least), desk)
        desk.work[0] += 100
        trial += 1
        value = (desk.counts * values).sum()
        if value >= best:
            best, best_rule = value, rule
            best_order[:] = order
            best_caps[:] = caps
        _keep(kept, value, Recipe(order, caps, rule, least), desk.counts)
    return kept
