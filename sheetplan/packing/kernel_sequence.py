"""Fill a whole order sheet after sheet with one recipe: what a plan costs that is made in one go."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.kernel import Desk, Ints, Recipe, Types, fill_sheet
from sheetplan.packing.kernel_compiled import compiled

Floats = NDArray[np.float64]

LAST_SHEET_SHARE = 0.6
"""How much of the last sheet's unused part is taken off the score of a run.

Two runs of equal cost differ in how much the last sheet holds; the emptier one is nearer to
saving it. Less than 1, so that a cheaper run always scores better than a dearer one.
"""


class Supplies(NamedTuple):
    """Sheets to choose from, as columns; ``blanks[first[s]:first[s + 1]]`` are the free rectangles of s."""

    blanks: Ints
    first: Ints
    areas: Floats
    costs: Floats
    limits: Ints


class Run(NamedTuple):
    """What one filling came to: money, score (least is best), sheets used, area of pieces left over."""

    cost: float
    score: float
    sheets: int
    missing: float


@compiled
def box_areas(types: Types) -> Floats:
    """Area of a box of each type."""
    return types.lengths.astype(np.float64) * types.widths.astype(np.float64)


@compiled
def blank_of(supplies: Supplies, s: int) -> Ints:
    """The free rectangles of one supply."""
    return supplies.blanks[supplies.first[s] : supplies.first[s + 1]]


@compiled
def by_price(supplies: Supplies) -> Ints:
    """Supplies from the least cost per area up."""
    return np.argsort(supplies.costs / supplies.areas, kind="mergesort")


@compiled
def _finisher(
    supplies: Supplies, types: Types, rest: Ints, pieces: int, area: float, recipe: Recipe, stock: Ints,
    dearest: float, desk: Desk,
) -> int:  # fmt: skip
    """The cheapest sheet, no dearer than ``dearest``, that takes all that is left; -1 where none does."""
    found = -1
    cost = np.inf
    for s in range(stock.shape[0]):
        price = supplies.costs[s]
        if stock[s] < 1 or supplies.areas[s] < area or price > dearest or price >= cost:
            continue
        if fill_sheet(blank_of(supplies, s), types, rest, recipe, desk) == pieces:
            found, cost = s, price
    return found


@compiled
def _next_supply(sequence: Ints, at: int, stock: Ints, fallback: Ints) -> tuple[int, int]:
    """The supply to open (-1 where the stock is used up) and how far the sequence has been read."""
    while at < sequence.shape[0]:
        s = sequence[at]
        at += 1
        if stock[s] > 0:
            return s, at
    for s in fallback:
        if stock[s] > 0:
            return s, at
    return -1, at


@compiled
def fill_in_sequence(
    supplies: Supplies,
    types: Types,
    wanted: Ints,
    recipe: Recipe,
    sequence: Ints,
    penalty: float,
    ceiling: float,
    desk: Desk,
    used: Ints,
) -> Run:
    """Open sheets in sequence and fill each with one recipe until nothing is left.

    Parameters
    ----------
    supplies, types, wanted
        The sheets, the box types and the pieces of each type that are asked for.
    recipe
        How each sheet is filled; its caps hold on every sheet.
    sequence
        Supplies in the order in which they are opened; when it ends, the cheapest per area.
        Before each, the cheapest single sheet that takes all the rest is looked for.
    penalty
        Cost of a square unit of pieces that no stock is left for.
    ceiling
        A run is given up (infinite cost) once it costs more.
    desk, used
        Working memory; ``used[:run.sheets]`` receives the supplies in the order opened.
    """
    areas = box_areas(types)
    rest = wanted.copy()
    stock = supplies.limits.copy()
    fallback = by_price(supplies)
    pieces = rest.sum()
    area = (rest * areas).sum()
    cost, sheets, at = 0.0, 0, 0
    while pieces > 0:
        s, at = _next_supply(sequence, at, stock, fallback)
        if s < 0 or sheets >= used.shape[0]:
            return Run(cost + penalty * area, cost + penalty * area, sheets, area)
        last = _finisher(supplies, types, rest, pieces, area, recipe, stock, supplies.costs[s], desk)
        if last >= 0:
            used[sheets] = last
            cost += supplies.costs[last]
            empty = 1.0 - area / supplies.areas[last]
            return Run(cost, cost - LAST_SHEET_SHARE * supplies.costs[last] * empty, sheets + 1, 0.0)
        if fill_sheet(blank_of(supplies, s), types, rest, recipe, desk) == 0:
            stock[s] = 0
            continue
        for t in recipe.order:
            rest[t] -= desk.counts[t]
            area -= desk.counts[t] * areas[t]
            pieces -= desk.counts[t]
        used[sheets] = s
        sheets += 1
        stock[s] -= 1
        cost += supplies.costs[s]
        if cost > ceiling:
            return Run(np.inf, np.inf, sheets, area)
    return Run(cost, cost, sheets, 0.0)
