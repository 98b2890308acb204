"""Ruin and recreate on one sheet: some neighbouring pieces out, and their room filled anew in another order.

After Schrimpf, Schneider, Stamm-Wilbrandt and Dueck 2000 (Journal of Computational Physics 159), who take out
what lies near a spot. The room is filled by the construction of `construct`, on a window of the sheet's grid,
so that a round costs a fraction of a whole construction; what is worth no less is kept.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.outlines.bottom_left import RULES, Stage, best_variant, mark_contacts, put_down
from sheetplan.packing.outlines.field import Grid, Words
from sheetplan.packing.outlines.laid import Laid, laid_of_rows
from sheetplan.packing.outlines.no_fit import Ints
from sheetplan.packing.outlines.setup import Setup
from sheetplan.packing.rng import Chance, below, normal, uniform

MOST_OUT = 10
"""Pieces taken out in one round, at most."""

AROUND = 0.04
"""How far the window reaches beyond the pieces taken out, as a share of the sheet's length."""

NOISE, STEEPEST = 0.3, 0.4
"""How far the worth of pieces is disturbed in each round, and how far large ones are favoured at most."""

FEW_SHARE, FEW = 0.3, 3
"""How often only a few of a unit are put in before the next unit's turn, and how many at most."""

OFF_LATTICE = 1e-6
"""Pieces stand on the lattice but for rounding, in steps."""


class Wares(NamedTuple):
    """What may lie on the sheet: pieces of each shape, their values, areas in mm2; the shape of each pose."""

    available: Ints
    values: NDArray[np.float64]
    areas: NDArray[np.float64]
    pose_shape: Ints


class Spread(NamedTuple):
    """Working memory: rows (pose, x, y) as they are and as they are tried, and the grid's words."""

    rows: Ints
    tried: Ints
    words: Words


@compiled
def _ruin(stage: Stage, spread: Spread, count: int, chance: Chance) -> tuple[int, float, float]:
    """Copy all but some pieces about a random one into ``tried``.

    Returns how many stay and from where to where along the length the others lay, in steps.
    """
    rows, boxes = spread.rows, stage.boxes
    middle = np.empty((count, 2))
    for i in range(count):
        box = boxes[rows[i, 0]]
        middle[i, 0] = rows[i, 1] + 0.5 * (box[0] + box[2])
        middle[i, 1] = rows[i, 2] + 0.5 * (box[1] + box[3])
    spot = middle[below(chance, count)]
    away = np.hypot(middle[:, 0] - spot[0], middle[:, 1] - spot[1])
    limit = np.sort(away)[min(count, 1 + below(chance, MOST_OUT)) - 1]
    kept, left, right = 0, np.inf, -np.inf
    for i in range(count):
        if away[i] > limit:
            spread.tried[kept] = rows[i]
            kept += 1
        else:
            left = min(left, rows[i, 1] + boxes[rows[i, 0], 0])
            right = max(right, rows[i, 1] + boxes[rows[i, 0], 2])
    return kept, left, right


@compiled
def _window(stage: Stage, words: Words, left: float, right: float) -> Stage:
    """The stage cut down to poses that lie between two places along the length; its words are copied."""
    grid = stage.grid
    first, columns = grid.first_x.copy(), grid.columns.copy()
    for pose in range(first.shape[0]):
        begin = max(grid.first_x[pose], math.ceil(left - stage.boxes[pose, 0]))
        last = math.floor(right - stage.boxes[pose, 2])
        end = min(grid.first_x[pose] + grid.columns[pose] - 1, last)
        first[pose], columns[pose] = begin, max(0, end - begin + 1)
        at = begin - grid.first_x[pose]
        for column in range(columns[pose]):
            words[pose, column] = grid.words[pose, at + column]
    return Stage(
        Grid(grid.words, first, grid.first_y, columns, grid.rows), stage.runs, stage.units, stage.boxes
    )


@compiled
def _order(stage: Stage, wares: Wares, left: Ints, chance: Chance) -> tuple[Ints, int]:
    """The units that may be put in, what is worth most for its metal first, in a scale drawn anew."""
    units = stage.units
    keys = np.empty(units.shape.shape[0])
    slope, number = STEEPEST * uniform(chance), 0
    for unit in range(keys.shape[0]):
        shape = units.shape[unit]
        keys[unit] = np.inf
        if wares.values[shape] > 0.0 and left[shape] >= units.pieces[unit]:
            noise = normal(chance)
            worth = wares.values[shape] / wares.areas[shape] * wares.areas[shape] ** slope
            keys[unit] = -worth * math.exp(NOISE * noise)
            number += 1
    return np.argsort(keys), number


@compiled
def _recreate(stage: Stage, wares: Wares, spread: Spread, kept: int, chance: Chance) -> int:
    """Put pieces in beside the first ``kept`` of ``tried``; returns how many lie there then."""
    left = wares.available.copy()
    for i in range(kept):
        left[wares.pose_shape[spread.tried[i, 0]]] -= 1
    order, number = _order(stage, wares, left, chance)
    units, count, rule = stage.units, kept, below(chance, RULES)
    wanted = left[wares.pose_shape] > 0
    for i in range(kept):
        row = spread.tried[i]
        mark_contacts(spread.words, stage.grid, stage.runs, row[0], row[1], row[2], wanted)
    pointers = np.zeros(units.members.shape[0], np.int64)
    for turn in range(2 * number):
        unit = order[turn % number]
        shape, pieces = units.shape[unit], units.pieces[unit]
        most = left[shape]
        if turn < number and uniform(chance) < FEW_SHARE:
            most = pieces * (1 + below(chance, FEW))
        while most >= pieces and left[shape] >= pieces and count + pieces <= spread.tried.shape[0]:
            spot = best_variant(spread.words, stage, unit, pointers, rule)
            if spot[0] < 0:
                break
            most -= pieces
            left[shape] -= pieces
            if left[shape] == 0:
                wanted &= wares.pose_shape != shape
            count = put_down(spread.words, stage, spot, wanted, spread.tried, count)
    return count


@compiled
def ruin_and_recreate(
    stage: Stage, wares: Wares, spread: Spread, count: int, rounds: int, chance: Chance
) -> int:
    """So many rounds on the first ``count`` of ``rows``; returns how many pieces lie there then."""
    now = 0.0
    for i in range(count):
        now += wares.values[wares.pose_shape[spread.rows[i, 0]]]
    length = (stage.grid.first_x + stage.grid.columns).max()
    for _ in range(rounds):
        if count == 0 or count == wares.available.sum():
            break
        kept, left, right = _ruin(stage, spread, count, chance)
        around = AROUND * length
        window = _window(stage, spread.words, left - around, right + around)
        tried = _recreate(window, wares, spread, kept, chance)
        then = 0.0
        for i in range(tried):
            then += wares.values[wares.pose_shape[spread.tried[i, 0]]]
        if then >= now:
            spread.rows[:tried] = spread.tried[:tried]
            now, count = then, tried
    return count


def recreated(setup: Setup, stage: Stage, laid: Laid, wares: Wares, rounds: int, chance: Chance) -> Laid:
    """A layout on the lattice after so many rounds; others are left as they are."""
    rows = rows_on_lattice(setup, laid)
    if rows is None:
        return laid
    room = np.empty((int(wares.available.sum()), 3), np.int64)
    room[: len(rows)] = rows
    spread = Spread(room, np.empty_like(room), np.empty_like(stage.grid.words))
    count = ruin_and_recreate(stage, wares, spread, len(rows), rounds, chance)
    return laid_of_rows(setup, room[:count])


def wares_of(setup: Setup, available: Ints, values: NDArray[np.float64]) -> Wares:
    """What may lie on a sheet, by shape."""
    return Wares(available, values, setup.areas, setup.pose_shape)


def rows_on_lattice(setup: Setup, laid: Laid) -> Ints | None:
    """Rows (pose, x, y) of a layout, None where a piece stands off the lattice."""
    places = laid.at.reshape(-1, 2) / setup.step
    near = np.rint(places)
    if np.abs(places - near).max(initial=0.0) > OFF_LATTICE:
        return None
    return np.column_stack((laid.pose, near.astype(np.int64)))
