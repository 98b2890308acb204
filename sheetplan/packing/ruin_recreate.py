"""Take a few sheets out of a plan and fill them anew, again and again.

Ruin and recreate (Schrimpf, Schneider, Stamm-Wilbrandt and Dueck, "Record breaking optimization
results using the ruin and recreate principle", Journal of Computational Physics 159, 2000) under
simulated annealing: a change for the worse is kept now and then, less often as time goes by.

Pieces may be left over on the way. They count a little more than they are worth, so a plan on too
few sheets is worked on until the last piece is in.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.maxrects import (
    RULES,
    Desk,
    Flags,
    Floats,
    Ints,
    Recipe,
    Supplies,
    Types,
    fill_sheet,
    supply_blank,
)
from sheetplan.packing.maxrects_search import draw_order, draw_ranking
from sheetplan.packing.rng import Chance, below, uniform

MOST_OUT = 3
"""Sheets taken out at once, at most."""

LEFT_RATE = 1.5
"""What a piece left over counts, in times of its worth."""

UNEVEN = 0.05
"""Credit for a full sheet as a share of its cost: of two plans the one with an emptier sheet is nearer
to saving it."""

HOT, COLD = 0.06, 0.001
"""Temperatures at the start and the end, as shares of the mean cost of a sheet."""

TRIAL_LOOKS = 150
"""What a trial counts as work besides its looks."""

NEXT_TO_NOTHING = 1e-30
"""Keeps a temperature above zero where no sheet costs anything."""

SCORE, COST = 0, 1
"""Places in `Table.sums`."""


class Sheets(NamedTuple):
    """The sheets of a plan as rows.

    ``origins`` has the number that a sheet came in with, or -1 for one filled here, whose recipe
    (``orders``, ``rules``) and pieces on offer (``offers``) stand in the same row.
    """

    supplies: Ints
    counts: Ints
    origins: Ints
    orders: Ints
    rules: Ints
    offers: Ints


class Market(NamedTuple):
    """What does not change: supplies, types, worth and area of a piece of each, the narrowest side."""

    supplies: Supplies
    types: Types
    worth: Floats
    areas: Floats
    least: int


class Table(NamedTuple):
    """The plan at hand: its sheets, how full each is, which are out, pieces left over, stock left, sums."""

    sheets: Sheets
    fills: Floats
    out: Flags
    rest: Ints
    stock: Ints
    sums: Floats


class Change(NamedTuple):
    """A trial: sheets filled anew, what is then left over, and what it does to score and cost."""

    sheets: Sheets
    left: Ints
    sums: Floats


def new_sheets(rows: int, types: int, wanted_types: int) -> Sheets:
    """Room for so many sheets."""
    return Sheets(
        np.zeros(rows, np.int64),
        np.zeros((rows, types), np.int64),
        np.full(rows, -1, np.int64),
        np.zeros((rows, wanted_types), np.int64),
        np.zeros(rows, np.int64),
        np.zeros((rows, types), np.int64),
    )


@compiled
def _copy_row(source: Sheets, i: int, target: Sheets, j: int) -> None:
    target.supplies[j] = source.supplies[i]
    target.counts[j] = source.counts[i]
    target.origins[j] = source.origins[i]
    target.orders[j] = source.orders[i]
    target.rules[j] = source.rules[i]
    target.offers[j] = source.offers[i]


@compiled
def _fill_of(market: Market, s: int, counts: Ints) -> float:
    return float((counts * market.areas).sum() / market.supplies.areas[s])


@compiled
def _price_of(market: Market, s: int, fill: float) -> float:
    """What a sheet adds to the score: its cost less the credit for being full."""
    return float(market.supplies.costs[s] * (1.0 - UNEVEN * fill * fill))


@compiled
def _take_out(chance: Chance, table: Table, number: int, market: Market, taken: Ints, change: Change) -> int:
    """Mark sheets to take out, mostly the emptier of two; their pieces go on offer. Returns how many."""
    table.out[:number] = False
    change.left[:] = table.rest
    change.sums[:] = 0.0
    count = 0
    for _ in range(min(number, 1 + below(chance, MOST_OUT))):
        a, b = below(chance, number), below(chance, number)
        pick = a if table.fills[a] <= table.fills[b] or uniform(chance) < 0.3 else b
        if table.out[pick]:
            continue
        s = table.sheets.supplies[pick]
        table.out[pick] = True
        taken[count] = s
        count += 1
        table.stock[s] += 1
        change.left[:] += table.sheets.counts[pick]
        change.sums[SCORE] -= _price_of(market, s, table.fills[pick])
        change.sums[COST] -= market.supplies.costs[s]
    return count


@compiled
def _draw_supplies(chance: Chance, supplies: Supplies, taken: Ints, count: int, sequence: Ints) -> int:
    """Which supplies to fill: those taken out, shuffled, some exchanged, one more or one fewer."""
    for i in range(count):
        j = i + below(chance, count - i)
        taken[i], taken[j] = taken[j], taken[i]
        sequence[i] = taken[i]
    if count and uniform(chance) < 0.4:
        return count
    ranking = draw_ranking(chance, supplies)
    for i in range(count):
        if uniform(chance) < 0.5:
            sequence[i] = ranking[below(chance, 1 + below(chance, ranking.shape[0]))]
    if count and uniform(chance) < 0.3:
        return count - 1
    if not count or uniform(chance) < 0.3:
        sequence[count] = ranking[0]
        return count + 1
    return count


@compiled
def _fill_anew(
    chance: Chance, market: Market, table: Table, room: int, sequence: Ints, order: Ints, change: Change,
    desk: Desk,
) -> int:  # fmt: skip
    """Fill supplies one after the other with what is on offer; returns how many sheets came of it."""
    draw_order(chance, market.types, market.worth, order)
    rule = below(chance, RULES)
    filled = 0
    for s in sequence:
        if table.stock[s] < 1 or filled >= room or change.left.sum() == 0:
            continue
        if uniform(chance) < 0.2:
            rule = below(chance, RULES)
        recipe = Recipe(order, change.left, rule, market.least)
        if fill_sheet(supply_blank(market.supplies, s), market.types, change.left, recipe, desk) == 0:
            continue
        new = change.sheets
        new.supplies[filled] = s
        new.counts[filled] = desk.counts
        new.origins[filled] = -1
        new.orders[filled] = order
        new.rules[filled] = rule
        new.offers[filled] = change.left
        change.left[:] -= desk.counts
        table.stock[s] -= 1
        change.sums[COST] += market.supplies.costs[s]
        change.sums[SCORE] += _price_of(market, s, _fill_of(market, s, desk.counts))
        filled += 1
    change.sums[SCORE] += LEFT_RATE * ((change.left - table.rest) * market.worth).sum()
    return filled


@compiled
def _accept(table: Table, number: int, change: Change, filled: int, market: Market) -> int:
    """Put the trial's sheets in place of those taken out; returns how many sheets there are."""
    kept = 0
    for i in range(number):
        if not table.out[i]:
            if kept != i:
                _copy_row(table.sheets, i, table.sheets, kept)
                table.fills[kept] = table.fills[i]
            kept += 1
    for i in range(filled):
        _copy_row(change.sheets, i, table.sheets, kept + i)
        table.fills[kept + i] = _fill_of(market, change.sheets.supplies[i], change.sheets.counts[i])
    table.rest[:] = change.left
    table.sums[:] += change.sums
    return kept + filled


@compiled
def _undo(table: Table, number: int, change: Change, filled: int) -> None:
    """Give the stock back what the trial took, and the other way round."""
    for i in range(filled):
        table.stock[change.sheets.supplies[i]] += 1
    for i in range(number):
        if table.out[i]:
            table.stock[table.sheets.supplies[i]] -= 1


@compiled
def _lay(table: Table, number: int, market: Market) -> None:
    """Work out fills, stock, rest and sums of the sheets that a plan begins with."""
    for i in range(number):
        s = table.sheets.supplies[i]
        table.stock[s] -= 1
        table.rest[:] -= table.sheets.counts[i]
        table.fills[i] = _fill_of(market, s, table.sheets.counts[i])
        table.sums[SCORE] += _price_of(market, s, table.fills[i])
        table.sums[COST] += market.supplies.costs[s]
    table.sums[SCORE] += LEFT_RATE * (table.rest * market.worth).sum()


@compiled
def refill(
    market: Market, wanted: Ints, start: Sheets, best: Sheets, trial: Sheets, number: int, ceiling: float,
    allowance: int, chance: Chance, desk: Desk,
) -> tuple[int, float]:  # fmt: skip
    """Improve a plan within an allowance of looks.

    ``start`` has the plan's ``number`` sheets, holding together no more than is wanted, and room for
    some more; it is worked on in place. The best complete plan that costs less than ``ceiling`` is
    left in ``best``; its number of sheets (0: none) and its cost are returned. ``trial`` is working
    memory for a few sheets.
    """
    rows = start.supplies.shape[0]
    stock = market.supplies.limits.copy()
    table = Table(start, np.zeros(rows), np.zeros(rows, np.bool_), wanted.copy(), stock, np.zeros(2))
    _lay(table, number, market)
    change = Change(trial, wanted.copy(), np.zeros(2))
    taken, sequence = np.zeros(MOST_OUT + 1, np.int64), np.zeros(MOST_OUT + 1, np.int64)
    order = np.flatnonzero(wanted)
    scale = table.sums[COST] / max(1, number)
    if scale <= 0.0:  # remnants that cost nothing
        scale = market.supplies.costs.max() + NEXT_TO_NOTHING
    best_number, best_cost = 0, ceiling
    begin = desk.work[0]
    while desk.work[0] < begin + allowance:
        desk.work[0] += TRIAL_LOOKS
        heat = scale * HOT * (COLD / HOT) ** ((desk.work[0] - begin) / allowance)
        count = _take_out(chance, table, number, market, taken, change)
        drawn = _draw_supplies(chance, market.supplies, taken, count, sequence)
        room = rows - (number - count)
        filled = _fill_anew(chance, market, table, room, sequence[:drawn], order, change, desk)
        if change.sums[SCORE] > 0.0 and uniform(chance) >= math.exp(-change.sums[SCORE] / heat):
            _undo(table, number, change, filled)
            continue
        number = _accept(table, number, change, filled, market)
        if table.rest.sum() == 0 and table.sums[COST] < best_cost * (1.0 - 1e-12):
            best_number, best_cost = number, table.sums[COST]
            for i in range(number):
                _copy_row(table.sheets, i, best, i)
    return best_number, best_cost
