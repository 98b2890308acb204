"""The most valuable layouts of one sheet, for pieces that have a price each.

Draws recipes by value and size, then changes the best one step by step; keeps the best few
layouts of different value.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sheetplan.packing.kernel import MEASURES, Desk, Ints, Recipe, Types, fill_sheet, least_side
from sheetplan.packing.kernel_chance import Chance, below, normal, shift, swap, unit
from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.kernel_sequence import Floats

FRESH_TRIALS = 8
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
    power = 0.25 * trial if trial < 5 else 1.2 * unit(chance)
    noise = 0.0
    if trial >= 5:
        draw = unit(chance)
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
    if unit(chance) < 0.4:
        caps[:] = available
        return
    for t in range(caps.shape[0]):
        draw = unit(chance)
        cap = int(available[t] * draw * draw * 1.2)
        if cap < 1 and unit(chance) < 0.7:
            cap = 1
        caps[t] = min(cap, available[t])


@compiled
def _change(chance: Chance, available: Ints, order: Ints, caps: Ints, rule: int) -> int:
    """Change order, caps or rule in one to three places; returns the rule."""
    types = order.shape[0]
    for _ in range(1 + below(chance, 3)):
        draw = unit(chance)
        if draw < 0.3:
            swap(order, below(chance, types), below(chance, types))
        elif draw < 0.55:
            shift(order, below(chance, types), below(chance, types))
        elif draw < 0.9:
            t = order[below(chance, types)]
            step = unit(chance)
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
        if trial < FRESH_TRIALS or unit(chance) < FRESH_SHARE:
            _draw_order(chance, types, values, order, trial)
            _draw_caps(chance, usable, caps)
            rule = trial % MEASURES if trial < MEASURES else below(chance, MEASURES)
        else:
            order[:] = best_order
            caps[:] = best_caps
            rule = _change(chance, usable, order, caps, best_rule)
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
