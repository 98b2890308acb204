"""Layouts of strips: strips across a sheet, columns in a strip, boxes stacked in a column.

The most valuable layout takes three knapsacks, one within another, each solved exactly by dynamic
programming over whole cells: what a column of some width holds up to each height, what a strip of each
height holds, what the sheet holds (Gilmore and Gomory, "Multistage cutting stock problems of two and more
dimensions", Operations Research 13, 1965; from memory). The number of pieces of a type is not limited in
there; see `sheetplan.planning.search.column_generation`.

Where pieces run short, the knapsacks only say which heights are worth trying. A strip is then laid of whole
columns, one for each way of lying, by a knapsack over the length that keeps what its best fillings have
used up.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.maxrects import (
    Desk,
    Flags,
    Floats,
    Ints,
    Recipe,
    Types,
    cut_free,
    fill_sheet,
    least_side,
)

NEARLY = 1e-12
"""Values closer than this are equal; a sheet's pieces are worth about its price."""

STEPS_PER_LOOK = 16
"""Steps of the innermost loops that take as long as one look of the other kernels."""


@compiled
def column_values(along: Ints, across: Ints, values: Floats, widths: Ints, high: int) -> tuple[Floats, Ints]:
    """What a column of each width holds up to each height, and the box on top (-1: as one cell lower).

    Boxes measure ``along`` the strip and ``across`` it; arrays of shape (widths, high + 1).
    """
    held = np.zeros((widths.shape[0], high + 1))
    tops = np.full((widths.shape[0], high + 1), -1, np.int64)
    for j in range(widths.shape[0]):
        if j > 0:
            held[j], tops[j] = held[j - 1], tops[j - 1]
        for i in range(along.shape[0]):
            if along[i] != widths[j]:
                continue
            for h in range(across[i], high + 1):
                value = held[j, h - across[i]] + values[i]
                if value > held[j, h] + NEARLY:
                    held[j, h], tops[j, h] = value, i
    return held, tops


@compiled
def _fill_strip(widths: Ints, held: Floats, long: int, best: Floats, last: Ints) -> None:
    """What columns are worth side by side up to each length, and the column that ends there."""
    best[0], last[0] = 0.0, -1
    for x in range(1, long + 1):
        most, column = best[x - 1], -1
        for j in range(widths.shape[0]):
            if widths[j] > x:
                break
            value = best[x - widths[j]] + held[j]
            if value > most + NEARLY:
                most, column = value, j
        best[x], last[x] = most, column


@compiled
def _useful(widths: Ints, held: Floats, h: int, kept_widths: Ints, kept_values: Floats) -> int:
    """The columns of a height that hold more than every narrower one; returns how many there are."""
    count = 0
    most = 0.0
    for j in range(widths.shape[0]):
        if held[j, h] > most + NEARLY:
            most = held[j, h]
            kept_widths[count], kept_values[count] = widths[j], most
            count += 1
    return count


@compiled
def _strip_value(widths: Ints, values: Floats, columns: int, long: int, best: Floats) -> tuple[float, int]:
    """What so many columns are worth side by side on a length, and how many of them needed a look.

    The densest column comes first. One that could not better what is there even if the rest of the strip
    were as dense as that is left out. In runs of a width, that need no look back.
    """
    best[: long + 1] = 0.0
    first, densest, looked_at = 0, 0.0, 0
    for j in range(columns):
        if values[j] > densest * widths[j]:
            first, densest = j, values[j] / widths[j]
    for k in range(columns):
        j = first if k == 0 else k - (k <= first)
        width, value = widths[j], values[j]
        if value + densest * (long - width) <= best[long] + NEARLY:
            continue
        looked_at += 1
        for start in range(width, long + 1, width):
            before = best[start - width : start]
            here = best[start : min(start + width, long + 1)]
            for x in range(here.shape[0]):
                here[x] = max(here[x], before[x] + value)
    return float(best[long]), looked_at


@compiled
def strip_values(widths: Ints, held: Floats, long: int, asked: Flags) -> tuple[Floats, int]:
    """What a strip of each height holds, and the columns that were looked at in all.

    A height that is not ``asked`` for holds what the next lower one does; shape (high + 1,).
    """
    high = held.shape[1] - 1
    strips = np.zeros(high + 1)
    best = np.zeros(long + 1)
    kept_widths, kept_values = np.zeros(widths.shape[0], np.int64), np.zeros(widths.shape[0])
    looked_at, lower = 0, 0
    for h in range(1, high + 1):
        same = True
        for j in range(widths.shape[0] if asked[h] else 0):
            if held[j, h] != held[j, lower]:
                same = False
                break
        strips[h] = strips[h - 1]
        if not same:
            lower = h
            columns = _useful(widths, held, h, kept_widths, kept_values)
            strips[h], looks = _strip_value(kept_widths, kept_values, columns, long, best)
            looked_at += looks
    return strips, looked_at


@compiled
def sheet_values(strips: Floats) -> tuple[Floats, Ints]:
    """What strips on top of one another hold up to each height, and the height of the last (-1: none)."""
    high = strips.shape[0] - 1
    best, last = np.zeros(high + 1), np.full(high + 1, -1, np.int64)
    for y in range(1, high + 1):
        best[y] = best[y - 1]
        for h in range(1, y + 1):
            if strips[h] > strips[h - 1]:
                value = best[y - h] + strips[h]
                if value > best[y] + NEARLY:
                    best[y], last[y] = value, h
    return best, last


@compiled
def strip_layout(
    along: Ints, across: Ints, values: Floats, long: int, high: int, real_along: Ints, real_across: Ints,
    boxes: Ints, work: Ints,
) -> int:  # fmt: skip
    """The most valuable layout; returns how many boxes it has.

    Sizes are in cells, ``real_along`` and ``real_across`` in whole nanometres, no larger than the cells they
    stand for. ``boxes`` receives a row (box, place along the strip, place across) for each, in nanometres.
    ``work[0]`` grows by the looks that the work is worth.
    """
    widths = np.unique(along)
    held, tops = column_values(along, across, values, widths, high)
    strips, columns = strip_values(widths, held, long, np.ones(high + 1, np.bool_))
    _, heights = sheet_values(strips)
    steps = (widths.shape[0] + along.shape[0]) * high + columns * long + high * high // 2
    work[0] += steps // STEPS_PER_LOOK
    best, last = np.zeros(long + 1), np.zeros(long + 1, np.int64)
    placed, bottom, y = 0, 0, high
    while y > 0:
        h = heights[y]
        if h < 0:
            y -= 1
            continue
        _fill_strip(widths, held[:, h].copy(), long, best, last)
        left, thick, x = 0, 0, long
        while x > 0:
            column = last[x]
            if column < 0:
                x -= 1
                continue
            up, wide, rest = bottom, 0, h
            while rest > 0:
                i = tops[column, rest]
                if i < 0:
                    rest -= 1
                    continue
                if placed < boxes.shape[0]:
                    boxes[placed, 0], boxes[placed, 1], boxes[placed, 2] = i, left, up
                    placed += 1
                up += real_across[i]
                wide = max(wide, real_along[i])
                rest -= across[i]
            thick = max(thick, up - bottom)
            left += wide
            x -= widths[column]
        bottom += thick
        y -= h
    return placed


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


class StripView(NamedTuple):
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
def topped_up(view: StripView, long: int, high: int, left: Ints, boxes: Ints, count: int, desk: Desk) -> int:
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
    view: StripView, pool: Ints, values: Floats, long: int, high: int, desk: Desk, laid: Ints
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
