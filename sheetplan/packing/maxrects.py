"""The compiled heart of the box packer: one sheet, or a whole order sheet after sheet, by one recipe.

The method keeps the maximal free rectangles of the sheet (Jukka Jylänki, "A Thousand Ways to
Pack the Bin", 2010): a box goes into the corner of the free rectangle that suits a rule best,
and every free rectangle that it meets is cut into at most four. A type that fails once on a
sheet is not tried again, since free metal only shrinks.

Terms
-----
box
    What a piece takes up: its own box grown by the gap at the far sides. Lengths are whole
    nanometres; areas are floats, since those of large sheets overflow 64 bits.
type
    Pieces with the same box; ``turnable`` types may also lie a quarter turned.
recipe
    Order of types, caps and rule. The same recipe on the same blank gives the same layout, so a
    search keeps recipes and replays the few layouts that it needs.
supply
    Sheets of one kind to choose from: their free rectangles, area, cost and number.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

FREE_LIMIT = 400
"""Most free rectangles kept; beyond it new ones are dropped, which loses metal and never a rule."""

SHORT_SIDE, AREA, BOTTOM, LEFT, LONG_SIDE = range(5)
"""Measures of a place: what is made least (the leftover side or area, or the box's top or right side)."""

MEASURES = 5

WINDOWS = np.array([1, 2, 4, 1000], np.int64)
"""How many types at the front of the order compete for the next place."""

RULES = 20
"""A rule is a window and a measure: ``window * MEASURES + measure``; the first five look at one type."""

SPLIT_LOOKS = 40
"""Looks that cutting a box out of the free rectangles is worth, besides one for each of them."""


class Types(NamedTuple):
    """Box types as columns, each of shape (types,)."""

    lengths: Ints
    widths: Ints
    turnable: Flags


class Recipe(NamedTuple):
    """How a sheet is filled: types in ``order``, first up to ``caps``, then as many as there are.

    ``rule`` names a measure and a window (see `MEASURES` and `WINDOWS`). Free rectangles narrower
    than ``least`` are forgotten, so it may not exceed the narrowest side of any type that is to be
    placed (see `least_side`).
    """

    order: Ints
    caps: Ints
    rule: int
    least: int


class Desk(NamedTuple):
    """Working memory of `fill_sheet`, and what it leaves behind.

    ``boxes`` has a row (type, x, y, turned) per placed box; ``counts`` has the pieces per type.
    ``work[0]`` counts looks at free rectangles: a clock that shows the same on every machine.
    """

    free: Ints
    fresh: Ints
    counts: Ints
    spent: Flags
    boxes: Ints
    work: Ints


def new_desk(types: int, most_boxes: int) -> Desk:
    """Working memory for so many types and at most so many boxes on one sheet."""
    return Desk(
        np.empty((FREE_LIMIT, 4), np.int64),
        np.empty((FREE_LIMIT, 4), np.int64),
        np.zeros(types, np.int64),
        np.zeros(types, np.bool_),
        np.empty((most_boxes, 4), np.int64),
        np.zeros(1, np.int64),
    )


@compiled
def _score(rule: int, free: Ints, length: int, width: int) -> tuple[float, float]:
    """How well a box suits one free rectangle (x, y, length, width): least is best."""
    over_length = float(free[2] - length)
    over_width = float(free[3] - width)
    if rule == SHORT_SIDE:
        return min(over_length, over_width), max(over_length, over_width)
    if rule == AREA:
        waste = float(free[2]) * float(free[3]) - float(length) * float(width)
        return waste, min(over_length, over_width)
    if rule == BOTTOM:
        return float(free[1] + width), float(free[0])
    if rule == LEFT:
        return float(free[0] + length), float(free[1])
    return max(over_length, over_width), min(over_length, over_width)


@compiled
def _best_spot(
    free: Ints, frees: int, length: int, width: int, turnable: bool, rule: int
) -> tuple[int, bool, float, float]:
    """The free rectangle to use (-1 where none holds the box), whether to turn the box, and the score."""
    spot = -1
    turned = False
    best, best_tie = np.inf, np.inf
    ways = 2 if turnable and length != width else 1
    for i in range(frees):
        for way in range(ways):
            across = length if way == 0 else width
            along = width if way == 0 else length
            if across <= free[i, 2] and along <= free[i, 3]:
                score, tie = _score(rule, free[i], across, along)
                if score < best or (score == best and tie < best_tie):
                    best, best_tie = score, tie
                    spot, turned = i, way == 1
    return spot, turned, best, best_tie


@compiled
def _inside(rows: Ints, i: int, others: Ints, j: int) -> bool:
    """Whether rectangle ``rows[i]`` lies within ``others[j]``."""
    return bool(
        rows[i, 0] >= others[j, 0]
        and rows[i, 1] >= others[j, 1]
        and rows[i, 0] + rows[i, 2] <= others[j, 0] + others[j, 2]
        and rows[i, 1] + rows[i, 3] <= others[j, 1] + others[j, 3]
    )


@compiled
def _is_kept(fresh: Ints, i: int, count: int, free: Ints, frees: int) -> bool:
    """Whether a new free rectangle lies in no old one and no other new one (of twins the first stays)."""
    for j in range(frees):
        if _inside(fresh, i, free, j):
            return False
    for j in range(count):
        if j != i and _inside(fresh, i, fresh, j) and (j < i or not _inside(fresh, j, fresh, i)):
            return False
    return True


@compiled
def _add(fresh: Ints, count: int, x: int, y: int, length: int, width: int, least: int) -> int:
    """Note a new free rectangle unless it is too narrow for every type."""
    if length < least or width < least or count >= FREE_LIMIT:
        return count
    fresh[count, 0], fresh[count, 1], fresh[count, 2], fresh[count, 3] = x, y, length, width
    return count + 1


@compiled
def cut_free(free: Ints, frees: int, fresh: Ints, x: int, y: int, length: int, width: int, least: int) -> int:
    """Take a box out of the free rectangles; returns how many there are now."""
    right, top = x + length, y + width
    count = 0
    kept = 0
    for i in range(frees):
        far, high = free[i, 0] + free[i, 2], free[i, 1] + free[i, 3]
        if x >= far or right <= free[i, 0] or y >= high or top <= free[i, 1]:
            if kept != i:
                free[kept] = free[i]
            kept += 1
            continue
        left, low, tall, wide = free[i, 0], free[i, 1], free[i, 3], free[i, 2]
        count = _add(fresh, count, left, low, x - left, tall, least)
        count = _add(fresh, count, right, low, far - right, tall, least)
        count = _add(fresh, count, left, low, wide, y - low, least)
        count = _add(fresh, count, left, top, wide, high - top, least)
    frees = kept
    for i in range(count):
        if frees < FREE_LIMIT and _is_kept(fresh, i, count, free, kept):
            free[frees] = fresh[i]
            frees += 1
    return frees


@compiled
def least_side(types: Types, available: Ints) -> int:
    """The narrowest side of any type that is still wanted: free metal below it is of no use."""
    least = np.iinfo(np.int64).max
    for t in range(available.shape[0]):
        if available[t] > 0:
            least = min(least, types.lengths[t], types.widths[t])
    return least


@compiled
def _next_box(
    types: Types, available: Ints, recipe: Recipe, sweep: int, head: int, desk: Desk, frees: int
) -> tuple[int, int, int, bool]:
    """Where in the order the next box is sought, its type, its free rectangle (-1: none) and its turn."""
    order = recipe.order
    chosen, chosen_spot, chosen_turned = 0, -1, False
    best, best_tie = np.inf, np.inf
    seen = 0
    for place in range(head, order.shape[0]):
        t = order[place]
        most = min(available[t], recipe.caps[t]) if sweep == 0 else available[t]
        spot = -1
        turned = False
        score, tie = np.inf, np.inf
        if desk.counts[t] < most and not desk.spent[t]:
            desk.work[0] += frees
            spot, turned, score, tie = _best_spot(
                desk.free, frees, types.lengths[t], types.widths[t], types.turnable[t], recipe.rule % MEASURES
            )
            desk.spent[t] = spot < 0
        if spot < 0:
            head += place == head
            continue
        if score < best or (score == best and tie < best_tie):
            best, best_tie = score, tie
            chosen, chosen_spot, chosen_turned = t, spot, turned
        seen += 1
        if seen >= WINDOWS[recipe.rule // MEASURES]:
            break
    return head, chosen, chosen_spot, chosen_turned


@compiled
def fill_sheet(blank: Ints, types: Types, available: Ints, recipe: Recipe, desk: Desk) -> int:
    """Fill one blank; returns how many boxes were placed (see `Desk` for where they are).

    ``blank`` has a row (x, y, length, width) per maximal free rectangle at the start: one for a
    full sheet, several for a remnant. ``available`` has the pieces that may be used of each type.
    """
    free, fresh, counts, spent, boxes, work = desk
    frees = blank.shape[0]
    free[:frees] = blank
    counts[:] = 0
    spent[:] = False
    placed = 0
    for sweep in range(2):
        head = 0
        while placed < boxes.shape[0]:
            head, t, spot, turned = _next_box(types, available, recipe, sweep, head, desk, frees)
            if spot < 0:
                break
            length, width = types.lengths[t], types.widths[t]
            if turned:
                length, width = width, length
            x, y = free[spot, 0], free[spot, 1]
            boxes[placed, 0], boxes[placed, 1], boxes[placed, 2], boxes[placed, 3] = t, x, y, turned
            counts[t] += 1
            placed += 1
            work[0] += frees + SPLIT_LOOKS
            frees = cut_free(free, frees, fresh, x, y, length, width, recipe.least)
    return placed


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
def supply_blank(supplies: Supplies, s: int) -> Ints:
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
        if fill_sheet(supply_blank(supplies, s), types, rest, recipe, desk) == pieces:
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
        if fill_sheet(supply_blank(supplies, s), types, rest, recipe, desk) == 0:
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
