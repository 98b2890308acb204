"""One strip after another from the pieces that there are: knapsacks that never run short.

The knapsacks of `kernel_strips` take every type to be without limit and only say which heights are worth
trying. A strip is then laid of whole columns, one for each way of lying, by a knapsack over the length that
keeps what its best fillings have used up.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sheetplan.packing.kernel import Desk, Ints, Recipe, Types, cut_free, fill_sheet, least_side
from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.kernel_sequence import Floats
from sheetplan.packing.kernel_strips import (
    NEARLY,
    STEPS_PER_LOOK,
    column_values,
    sheet_values,
    strip_values,
)

MOST_STACKED = 24
"""Boxes on top of one another in a column, at most."""

MOST_LAID = 2
"""Heights that are tried for one strip, those that promise most for their height."""

QUICK_STEPS_PER_LOOK = 32
"""Steps of the knapsacks without limits that take as long as one look."""

TOP_LOOKS = 20
"""What taking a box out of a strip's free metal counts as work."""


class Ways(NamedTuple):
    """Ways of lying, in whole cells, narrowest along first: sides along and across a strip, type, turned."""

    along: Ints
    across: Ints
    kinds: Ints
    turned: Ints


class View(NamedTuple):
    """Pieces as they lie in strips of one direction; ``order`` has the types, largest first.

    ``types`` has cells along a strip as lengths and cells across it as widths.
    """

    ways: Ways
    types: Types
    order: Ints


class Columns(NamedTuple):
    """Columns of one height: ways of lying from the bottom up, pieces of each type, what they are worth."""

    stacks: Ints
    sizes: Ints
    held: Ints
    worth: Floats


@compiled
def fitting(ways: Ways, pool: Ints, long: int, high: int) -> Ints:
    """The ways of lying of pieces that are there and fit."""
    found = np.empty(ways.along.shape[0], np.int64)
    count = 0
    for i in range(ways.along.shape[0]):
        if pool[ways.kinds[i]] > 0 and ways.along[i] <= long and ways.across[i] <= high:
            found[count] = i
            count += 1
    return found[:count]


@compiled
def _stack(
    ways: Ways, use: Ints, tops: Ints, h: int, first: int, pool: Ints, values: Floats, c: int, into: Columns
) -> None:
    """One column: a box at the bottom, on it what fills its width best, as far as there are pieces."""
    into.held[c], into.worth[c], into.sizes[c] = 0, 0.0, 0
    rest, i = h, first
    while i >= 0:
        t = ways.kinds[use[i]]
        if into.held[c, t] < pool[t] and into.sizes[c] < MOST_STACKED:
            into.held[c, t] += 1
            into.worth[c] += values[t]
            into.stacks[c, into.sizes[c]] = use[i]
            into.sizes[c] += 1
        rest -= ways.across[use[i]]
        i = -1
        while rest > 0 and i < 0:
            i = tops[rest]
            rest -= i < 0


@compiled
def _columns(
    ways: Ways, use: Ints, tops: Ints, widths: Ints, h: int, pool: Ints, values: Floats
) -> tuple[int, Columns]:
    """A column of a height for each way of lying that it can hold."""
    into = Columns(
        np.zeros((use.shape[0], MOST_STACKED), np.int64),
        np.zeros(use.shape[0], np.int64),
        np.zeros((use.shape[0], pool.shape[0]), np.int64),
        np.zeros(use.shape[0]),
    )
    count = 0
    for i in range(use.shape[0]):
        if ways.across[use[i]] <= h:
            place = np.searchsorted(widths, ways.along[use[i]])
            _stack(ways, use, tops[place], h, i, pool, values, count, into)
            count += 1
    return count, into


@compiled
def _is_there(spent: Ints, columns: Columns, c: int, ways: Ways, pool: Ints) -> bool:
    """Whether a column's pieces are still there."""
    for k in range(columns.sizes[c]):
        t = ways.kinds[columns.stacks[c, k]]
        if spent[t] + columns.held[c, t] > pool[t]:
            return False
    return True


@compiled
def _chosen(ways: Ways, long: int, pool: Ints, count: int, columns: Columns, work: Ints) -> Ints:
    """The columns to put side by side: ``last[x]`` ends at x (-1: none does).

    A knapsack over the length in which each length keeps the pieces of its best filling: exact where no
    type runs short, nearly so elsewhere.
    """
    best, last = np.zeros(long + 1), np.full(long + 1, -1, np.int64)
    spent = np.zeros((long + 1, pool.shape[0]), np.int32)
    wide, worth = ways.along[columns.stacks[:count, 0]], columns.worth
    steps, fitting = 0, 0
    for x in range(1, long + 1):
        most = best[x - 1]
        while fitting < count and wide[fitting] <= x:
            fitting += 1
        for c in range(fitting):
            before = x - wide[c]
            value = best[before] + worth[c]
            if value <= most + NEARLY or (before > 0 and last[before] < 0):
                continue
            if _is_there(spent[before], columns, c, ways, pool):
                most, last[x] = value, c
        steps += fitting
        best[x] = most
        if last[x] >= 0:
            spent[x] = spent[x - wide[last[x]]]
            for k in range(columns.sizes[last[x]]):
                spent[x, ways.kinds[columns.stacks[last[x], k]]] += 1
    work[0] += (2 * steps + long * pool.shape[0]) // STEPS_PER_LOOK
    return last


@compiled
def lay_columns(
    ways: Ways, use: Ints, tops: Ints, widths: Ints, h: int, long: int, pool: Ints, values: Floats,
    work: Ints, laid: Ints,
) -> tuple[int, int]:  # fmt: skip
    """Fill a length at a height: how many boxes (type, along, up, turned), and how high they stand."""
    columns, built = _columns(ways, use, tops, widths, h, pool, values)
    last = _chosen(ways, long, pool, columns, built, work)
    count, high, x, place = 0, 0, long, 0
    while x > 0:
        c = last[x]
        if c < 0:
            x -= 1
            continue
        up = 0
        for k in range(built.sizes[c]):
            way = built.stacks[c, k]
            if count < laid.shape[0]:
                laid[count, 0], laid[count, 1], laid[count, 2] = ways.kinds[way], place, up
                laid[count, 3] = ways.turned[way]
                count += 1
                up += ways.across[way]
        high = max(high, up)
        wide = ways.along[built.stacks[c, 0]]
        place += wide
        x -= wide
    return count, high


@compiled
def topped_up(view: View, long: int, high: int, left: Ints, boxes: Ints, count: int, desk: Desk) -> int:
    """Lay more pieces into what a strip leaves free, the largest first; returns how many boxes it has then.

    ``left`` falls by what is laid.
    """
    types = view.types
    least = least_side(types, left)
    if least > high:
        return count
    free, fresh = desk.free, desk.fresh
    free[0, 0], free[0, 1], free[0, 2], free[0, 3] = 0, 0, long, high
    frees = 1
    for b in range(count):
        length, width = types.lengths[boxes[b, 0]], types.widths[boxes[b, 0]]
        if boxes[b, 3]:
            length, width = width, length
        frees = cut_free(free, frees, fresh, boxes[b, 1], boxes[b, 2], length, width, least)
    desk.work[0] += count * TOP_LOOKS
    if frees == 0:
        return count
    placed = fill_sheet(free[:frees].copy(), types, left, Recipe(view.order, left, 0, least), desk)
    for b in range(min(placed, boxes.shape[0] - count)):
        boxes[count, :4] = desk.boxes[b]
        left[desk.boxes[b, 0]] -= 1
        count += 1
    return count


@compiled
def _promising(
    ways: Ways, use: Ints, worth: Floats, widths: Ints, long: int, high: int, work: Ints
) -> tuple[Floats, Ints]:
    """What a cell of height holds in the strips that fill a height best (0: in no strip), and column tops."""
    across = ways.across[use]
    asked = np.zeros(high + 1, np.bool_)
    asked[high] = True
    asked[across] = True
    held, tops = column_values(ways.along[use], across, worth, widths, high)
    strips, columns = strip_values(widths, held, long, asked)
    _, heights = sheet_values(strips)
    work[0] += (columns * long + widths.shape[0] * high + high * high // 4) // QUICK_STEPS_PER_LOOK
    promise = np.zeros(high + 1)
    y = high
    while y > 0:
        h = heights[y]
        if h > 0:
            promise[h] = strips[h] / h
        y -= max(1, h)
    return promise, tops


@compiled
def next_strip(
    view: View, pool: Ints, values: Floats, long: int, high: int, desk: Desk, laid: Ints
) -> tuple[int, int]:
    """The strip that holds most for its height: how many boxes, and its height (0: no piece fits)."""
    use = fitting(view.ways, pool, long, high)
    if use.shape[0] == 0:
        return 0, 0
    widths = np.unique(view.ways.along[use])
    promise, tops = _promising(view.ways, use, values[view.ways.kinds[use]], widths, long, high, desk.work)
    boxes = np.empty_like(laid)
    most, count, height = 0.0, 0, 0
    for _ in range(MOST_LAID):
        h = int(np.argmax(promise))
        if promise[h] <= 0.0:
            break
        promise[h] = 0.0
        placed, tall = lay_columns(view.ways, use, tops, widths, h, long, pool, values, desk.work, boxes)
        left = pool.copy()
        for b in range(placed):
            left[boxes[b, 0]] -= 1
        placed = topped_up(view, long, tall, left, boxes, placed, desk)
        value = values[boxes[:placed, 0]].sum()
        if tall > 0 and value > most * tall:
            most, count, height = value / tall, placed, tall
            laid[:placed] = boxes[:placed]
    return count, height
