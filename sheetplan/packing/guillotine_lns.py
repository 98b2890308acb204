"""Sheets of strips: strips taken out at random and their metal filled anew, until every piece lies.

A number of sheets is given, of any sizes; what counts is the area of the pieces that lie on none of them.
Each sheet is a pile of strips, all along x or all along y. A move takes a few strips, or a few columns of
strips, out of a few sheets, wasteful ones more often than others, puts their pieces with those left over, and
fills the metal strip by strip. A move that leaves more over is taken back, or kept with a small chance.

Large-neighbourhood search: Shaw, "Using constraint programming and local search methods to solve vehicle
routing problems", 1998; the small chance: Kirkpatrick, Gelatt and Vecchi, "Optimization by simulated
annealing", Science 220, 1983. Values that rise for types in wasteful strips: Belov, Scheithauer and
Mukhacheva, "One-dimensional heuristics adapted for two-dimensional rectangular strip packing", Journal of
the Operational Research Society 59, 2008. From memory.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sheetplan.packing.guillotine import (
    STEPS_PER_LOOK,
    StripView,
    column_values,
    fitting,
    lay_columns,
    next_strip,
    topped_up,
)
from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.maxrects import Desk, Flags, Floats, Ints
from sheetplan.packing.rng import Chance, below, normal, uniform

MOST_STRIPS = 48
"""Strips that one sheet may have; metal beyond them stays free."""

MOST_ROWS, MOST_TAKEN = 3, 2
"""A move takes from one to three sheets, of each one or two strips, or columns of one strip."""

FINE = 0.7
"""How often a move takes columns; it costs a tenth of one that takes strips."""

LEAST_WASTE = 0.003
"""Every sheet and strip is taken to waste this share of itself more, so that full ones have their turn."""

STEEPEST = 0.12
"""A piece is worth its area to the power of one to one and this: large ones are laid first."""

SHAKE = 0.06
"""Standard deviation of the factors that values are shaken by, at most."""

HEAT = 0.00015
"""Share of a sheet that a move may leave over more and be kept with one chance in e."""

SLOWEST = 0.3
"""A type's value moves at least this share of its way towards what it cost."""


class Rows(NamedTuple):
    """The sheets: length of strips, height of piles (cells), and 0 where strips lie along x, else 1."""

    long: Ints
    high: Ints
    lying: Ints


class Piles(NamedTuple):
    """What lies on the sheets.

    ``boxes[r, :sizes[r]]`` are (type, along, up, turned, strip) with places in the strip's own frame;
    ``heights[r, :strips[r]]`` are the strips from the bottom up.
    """

    boxes: Ints
    sizes: Ints
    heights: Ints
    strips: Ints


@compiled
def new_piles(rows: int, most_boxes: int) -> Piles:
    """Sheets with nothing on them."""
    return Piles(
        np.zeros((rows, most_boxes, 5), np.int64),
        np.zeros(rows, np.int64),
        np.zeros((rows, MOST_STRIPS), np.int64),
        np.zeros(rows, np.int64),
    )


@compiled
def _revalue(
    values: Floats, areas: Floats, power: float, pool: Ints, laid: Ints, filled: float, chance: Chance
) -> None:
    """Move the values of a strip's types towards what they cost in it; ``filled`` is its full share."""
    held = np.zeros(pool.shape[0], np.int64)
    for t in laid[:, 0]:
        held[t] += 1
    for t in range(pool.shape[0]):
        if held[t] > 0:
            pace = SLOWEST + (1.0 - SLOWEST) * uniform(chance)
            share = pace * min(1.0, held[t] / (2.0 * pool[t] + held[t]))
            values[t] += share * (areas[t] ** power / filled - values[t])


@compiled
def _put(piles: Piles, r: int, strip: int, laid: Ints) -> None:
    """Boxes onto a strip of a sheet."""
    size = piles.sizes[r]
    piles.boxes[r, size : size + laid.shape[0], :4] = laid
    piles.boxes[r, size : size + laid.shape[0], 4] = strip
    piles.sizes[r] += laid.shape[0]


@compiled
def fill_row(
    r: int, rows: Rows, piles: Piles, view: StripView, pool: Ints, values: Floats, areas: Floats,
    power: float, chance: Chance, desk: Desk,
) -> None:  # fmt: skip
    """Pile strips on a sheet until no piece fits; ``pool`` falls by what is laid."""
    laid = np.empty((piles.boxes.shape[1], 4), np.int64)
    free = rows.high[r] - piles.heights[r, : piles.strips[r]].sum()
    while free > 0 and piles.strips[r] < MOST_STRIPS:
        count, height = next_strip(view, pool, values, rows.long[r], free, desk, laid)
        count = min(count, piles.boxes.shape[1] - piles.sizes[r])
        if count == 0:
            return
        for t in laid[:count, 0]:
            pool[t] -= 1
        _put(piles, r, piles.strips[r], laid[:count])
        piles.heights[r, piles.strips[r]] = height
        piles.strips[r] += 1
        free -= height
        filled = areas[laid[:count, 0]].sum() / (float(height) * float(rows.long[r]))
        _revalue(values, areas, power, pool, laid[:count], filled, chance)


@compiled
def _keep(piles: Piles, r: int, gone: Flags, pool: Ints) -> None:
    """Drop boxes off a sheet; their pieces go to the pool."""
    kept = 0
    for b in range(piles.sizes[r]):
        if gone[b]:
            pool[piles.boxes[r, b, 0]] += 1
        else:
            piles.boxes[r, kept] = piles.boxes[r, b]
            kept += 1
    piles.sizes[r] = kept


@compiled
def _drawn(weights: Floats, chance: Chance) -> int:
    """A place, the heavier the more likely; one without weight only where there is no other."""
    at, last = uniform(chance) * weights.sum(), 0
    for k in range(weights.shape[0]):
        if weights[k] > 0.0:
            at -= weights[k]
            last = k
            if at < 0.0:
                break
    return last


@compiled
def _wastes(r: int, long: int, piles: Piles, areas: Floats) -> Floats:
    """Metal that each strip of a sheet wastes, and a little more, so that full ones have their turn."""
    wastes = np.zeros(piles.strips[r])
    for b in range(piles.sizes[r]):
        wastes[piles.boxes[r, b, 4]] -= areas[piles.boxes[r, b, 0]]
    for k in range(wastes.shape[0]):
        metal = float(piles.heights[r, k]) * long
        wastes[k] = max(0.0, wastes[k] + metal) + LEAST_WASTE * metal
    return wastes


@compiled
def _take_strips(r: int, long: int, piles: Piles, pool: Ints, areas: Floats, chance: Chance) -> None:
    """Take one or two strips off a sheet, wasteful ones more likely; the others move together."""
    out = np.zeros(piles.strips[r], np.bool_)
    wastes = _wastes(r, long, piles, areas)
    for _ in range(1 + below(chance, MOST_TAKEN)):
        out[_drawn(wastes, chance)] = True
    gone = np.zeros(piles.sizes[r], np.bool_)
    names = np.cumsum(~out) - 1
    for b in range(piles.sizes[r]):
        gone[b] = out[piles.boxes[r, b, 4]]
        piles.boxes[r, b, 4] = names[piles.boxes[r, b, 4]]
    _keep(piles, r, gone, pool)
    left = piles.heights[r, : piles.strips[r]][~out].copy()
    piles.heights[r, : left.shape[0]] = left
    piles.strips[r] = left.shape[0]


@compiled
def _in_columns(boxes: Ints, mine: Ints, view: StripView) -> Ints:
    """The column of each of a strip's boxes, which are sorted by place: parted where a cut goes through."""
    names = np.zeros(mine.shape[0], np.int64)
    far, name = 0, -1
    for k in range(mine.shape[0]):
        t, place, turned = boxes[mine[k], 0], boxes[mine[k], 1], boxes[mine[k], 3]
        if k == 0 or place >= far:
            name += 1
        names[k] = name
        far = max(far, place + (view.types.widths[t] if turned else view.types.lengths[t]))
    return names


@compiled
def _take_columns(r: int, strip: int, piles: Piles, view: StripView, pool: Ints, chance: Chance) -> int:
    """Take one or two columns out of a strip, move the others together; where free length begins."""
    boxes, size = piles.boxes[r], piles.sizes[r]
    mine = np.flatnonzero(boxes[:size, 4] == strip)
    if mine.shape[0] == 0:
        return 0
    mine = mine[np.argsort(boxes[mine, 1], kind="mergesort")]
    names = _in_columns(boxes, mine, view)
    out = np.zeros(names[-1] + 1, np.bool_)
    for _ in range(1 + below(chance, MOST_TAKEN)):
        out[below(chance, out.shape[0])] = True
    gone = np.zeros(size, np.bool_)
    place, begin, base, at = 0, 0, 0, -1
    for k in range(mine.shape[0]):
        b = mine[k]
        if out[names[k]]:
            gone[b] = True
            continue
        if names[k] != at:
            at, begin, base = names[k], boxes[b, 1], place
        t = boxes[b, 0]
        wide = view.types.widths[t] if boxes[b, 3] else view.types.lengths[t]
        boxes[b, 1] += base - begin
        place = max(place, boxes[b, 1] + wide)
    _keep(piles, r, gone, pool)
    return place


@compiled
def _refill_strip(
    r: int, strip: int, start: int, rows: Rows, piles: Piles, view: StripView, pool: Ints, values: Floats,
    desk: Desk,
) -> None:  # fmt: skip
    """Fill a strip from ``start`` on, and then what else is free in it; its height stays."""
    high, long = piles.heights[r, strip], rows.long[r] - start
    boxes = np.empty((piles.boxes.shape[1], 4), np.int64)
    mine = np.flatnonzero(piles.boxes[r, : piles.sizes[r], 4] == strip)
    count = old = mine.shape[0]
    for k in range(old):
        boxes[k] = piles.boxes[r, mine[k], :4]
    ways = view.ways
    use = fitting(ways, pool, long, high)
    if use.shape[0] > 0:
        widths = np.unique(ways.along[use])
        worth = values[ways.kinds[use]]
        _, tops = column_values(ways.along[use], ways.across[use], worth, widths, high)
        desk.work[0] += widths.shape[0] * high // STEPS_PER_LOOK
        room = boxes[count : count + piles.boxes.shape[1] - piles.sizes[r]]
        placed, _ = lay_columns(ways, use, tops, widths, high, long, pool, values, desk.work, room)
        for b in range(count, count + placed):
            boxes[b, 1] += start
            pool[boxes[b, 0]] -= 1
        count += placed
    most = old + piles.boxes.shape[1] - piles.sizes[r]
    count = topped_up(view, rows.long[r], high, pool, boxes[:most], count, desk)
    _put(piles, r, strip, boxes[old:count])


@compiled
def _copy_row(source: Piles, i: int, target: Piles, j: int) -> None:
    """What lies on one sheet."""
    size, strips = source.sizes[i], source.strips[i]
    target.boxes[j, :size] = source.boxes[i, :size]
    target.heights[j, :strips] = source.heights[i, :strips]
    target.sizes[j], target.strips[j] = size, strips


@compiled
def _picked_rows(rows: Rows, piles: Piles, areas: Floats, chance: Chance) -> Ints:
    """Sheets to take from, the wasteful ones more likely."""
    count = rows.long.shape[0]
    weights = np.zeros(count)
    for r in range(count):
        metal = float(rows.long[r]) * float(rows.high[r])
        waste = metal - areas[piles.boxes[r, : piles.sizes[r], 0]].sum()
        if piles.strips[r] > 0:
            weights[r] = max(0.0, waste) + LEAST_WASTE * metal
    picked = np.empty(min(count, 1 + below(chance, MOST_ROWS)), np.int64)
    for k in range(picked.shape[0]):
        picked[k] = _drawn(weights, chance)
        if weights[picked[k]] == 0.0:
            return picked[:k]
        weights[picked[k]] = 0.0
    return picked


@compiled
def _shaken(areas: Floats, power: float, shake: float, chance: Chance) -> Floats:
    """What pieces are taken to be worth for a while."""
    values = areas**power
    for t in range(values.shape[0]):
        values[t] *= max(0.5, 1.0 + shake * normal(chance))
    return values


@compiled
def _move(
    picked: Ints, rows: Rows, piles: Piles, views: tuple[StripView, StripView], pool: Ints, areas: Floats,
    chance: Chance, desk: Desk,
) -> None:  # fmt: skip
    """Take from the sheets picked and fill them anew."""
    fine = uniform(chance) < FINE
    strips, starts = np.zeros(picked.shape[0], np.int64), np.zeros(picked.shape[0], np.int64)
    for k, r in enumerate(picked):
        if fine:
            strips[k] = _drawn(_wastes(r, rows.long[r], piles, areas), chance)
            starts[k] = _take_columns(r, strips[k], piles, views[rows.lying[r]], pool, chance)
        else:
            _take_strips(r, rows.long[r], piles, pool, areas, chance)
    power = 1.0 + STEEPEST * uniform(chance)
    values = _shaken(areas, power, SHAKE * uniform(chance), chance)
    for k, r in enumerate(picked):
        view = views[rows.lying[r]]
        if fine:
            _refill_strip(r, strips[k], starts[k], rows, piles, view, pool, values, desk)
        else:
            fill_row(r, rows, piles, view, pool, values, areas, power, chance, desk)


@compiled
def move_strips(
    rows: Rows, piles: Piles, views: tuple[StripView, StripView], pool: Ints, areas: Floats, looks: int,
    chance: Chance, desk: Desk,
) -> int:  # fmt: skip
    """Move strips until nothing is left over or the allowance is spent; returns the number of moves.

    ``pool`` is what is left over, ``piles`` what lies; both are changed in place.
    """
    heat = HEAT * float(rows.long[0]) * float(rows.high[0])
    saved = new_piles(MOST_ROWS, piles.boxes.shape[1])
    over = (pool * areas).sum()
    moves, begun = 0, desk.work[0]
    while pool.sum() > 0 and desk.work[0] - begun < looks:
        moves += 1
        desk.work[0] += rows.long.shape[0]
        picked = _picked_rows(rows, piles, areas, chance)
        if picked.shape[0] == 0:
            break
        before = pool.copy()
        for k, r in enumerate(picked):
            _copy_row(piles, r, saved, k)
        _move(picked, rows, piles, views, pool, areas, chance, desk)
        now = (pool * areas).sum()
        if now <= over or uniform(chance) < math.exp((over - now) / heat):
            over = now
            continue
        pool[:] = before
        for k, r in enumerate(picked):
            _copy_row(saved, k, piles, r)
    return moves
