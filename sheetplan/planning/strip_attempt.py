"""A first filling of chosen sheets with strips, in cells, and back from cells to boxes."""

from __future__ import annotations

import numpy as np

from sheetplan.packing.kernel import Desk, Flags, Ints, Types
from sheetplan.packing.kernel_chance import Chance
from sheetplan.packing.kernel_sequence import Floats, blank_of
from sheetplan.packing.kernel_strip_laying import View, Ways
from sheetplan.packing.kernel_strip_moves import Piles, Rows, fill_row, new_piles
from sheetplan.planning.box_problem import BoxProblem
from sheetplan.planning.search import Search
from sheetplan.planning.strip_state import Attempt, Moving

MOST_CELLS = 3200
"""Cells along the longest sheet; a finer measure is rounded up to them."""

POWERS = (1.0, 1.02, 1.04, 1.06, 1.08)
"""Fillings to begin with: a piece is worth its area to such a power. The best of them is moved on."""

CROWDED = 8
"""So many times the pieces of an average sheet are provided for on each."""


def new_attempt(search: Search, moving: Moving) -> Attempt:
    """Begin with the fullest of some fillings, strips along the longer side of each sheet."""
    problem = search.problem
    supplies = np.repeat(np.arange(len(problem.choices)), moving.targets[moving.at])
    sizes = np.array([blank_of(problem.supplies, int(s))[0, 2:] for s in supplies], np.int64) // moving.cell
    lying = (sizes[:, 1] > sizes[:, 0]).astype(np.int64)
    rows = Rows(sizes.max(axis=1), sizes.min(axis=1), lying)
    wanted = np.maximum(problem.wanted - search.covered(moving.kept), 0)
    areas = cell_areas(moving)
    most = _most_boxes(sizes, areas, wanted)
    best: Attempt | None = None
    before = int(moving.desk.work[0])
    for power in POWERS:
        piles, over, chance = new_piles(len(supplies), most), wanted.copy(), search.chance()
        fill_rows(rows, piles, moving.views, over, areas, power, chance, moving.desk)
        if best is None or (over * areas).sum() < (best.over * areas).sum():
            best = Attempt(supplies, rows, piles, over, chance)
    search.spend(int(moving.desk.work[0]) - before)
    assert best is not None
    return best


def _most_boxes(sizes: Ints, areas: Floats, wanted: Ints) -> int:
    """More boxes than any of the sheets is likely to hold; beyond them metal stays free."""
    metal, pieces = float(sizes.prod(axis=1).max()), int(wanted.sum())
    likely = CROWDED * -(-pieces // len(sizes))
    return min(pieces, likely, int(metal / areas[wanted > 0].min()) + 1)


def boxes_of(moving: Moving, problem: BoxProblem, attempt: Attempt, row: int) -> Ints:
    """What lies on one sheet, as boxes (type, x, y, turned)."""
    piles = attempt.piles
    boxes = piles.boxes[row, : piles.sizes[row]]
    bottoms = np.concatenate(([0], np.cumsum(piles.heights[row])))
    along, up = boxes[:, 1] * moving.cell, (boxes[:, 2] + bottoms[boxes[:, 4]]) * moving.cell
    x, y = (up, along) if attempt.rows.lying[row] else (along, up)
    corner = blank_of(problem.supplies, int(attempt.supplies[row]))[0, :2]
    return np.stack((boxes[:, 0], x + corner[0], y + corner[1], boxes[:, 3]), axis=1)


def cell_of(problem: BoxProblem, plain: Flags) -> int:
    """The largest length that all sides of boxes are whole numbers of, or the smallest that is affordable."""
    sides = np.concatenate((problem.types.lengths, problem.types.widths))
    blanks = [blank_of(problem.supplies, int(s)) for s in np.flatnonzero(plain)]
    longest = max((int(blank[0, 2:].max()) for blank in blanks), default=1)
    return max(int(np.gcd.reduce(sides)), -(-longest // MOST_CELLS))


def cell_areas(moving: Moving) -> Floats:
    """Area of a box of each type, in cells."""
    types = moving.views[0].types
    return types.lengths.astype(np.float64) * types.widths.astype(np.float64)


def view_of(types: Types, cell: int, lying: int) -> View:
    """Pieces in strips along x (0) or along y (1), sides rounded up to cells.

    ``turned`` of a way is that of the box on the sheet, whichever way the strips lie.
    """
    lengths, widths = -(-types.lengths // cell), -(-types.widths // cell)
    every = np.arange(len(lengths), dtype=np.int64)
    across = every[types.turnable & (types.lengths != types.widths)]
    kinds = np.concatenate((every, across))
    turned = np.repeat((0, 1), (len(every), len(across))).astype(np.int64)
    x_sides = np.concatenate((lengths, widths[across]))
    y_sides = np.concatenate((widths, lengths[across]))
    along, over = (y_sides, x_sides) if lying else (x_sides, y_sides)
    order = np.argsort(along, kind="stable")
    seen = Types(widths, lengths, types.turnable) if lying else Types(lengths, widths, types.turnable)
    largest = np.argsort(-(lengths * widths), kind="stable").astype(np.int64)
    return View(Ways(along[order], over[order], kinds[order], turned[order]), seen, largest)


def fill_rows(
    rows: Rows, piles: Piles, views: tuple[View, View], pool: Ints, areas: Floats, power: float,
    chance: Chance, desk: Desk,
) -> None:  # fmt: skip
    """Fill the free heights of all sheets, one after the other; ``pool`` falls by what is laid.

    ``areas`` are in cells; a piece is worth its area to the power of ``power``. A layout is cut again as
    long as there are the pieces for it.
    """
    values = areas**power
    for r in range(len(rows.long)):
        if not _is_repeated(r, rows, piles, pool):
            fill_row(r, rows, piles, views[rows.lying[r]], pool, values, areas, power, chance, desk)


def _is_repeated(r: int, rows: Rows, piles: Piles, pool: Ints) -> bool:
    """Lay on an empty sheet what lies on the one before, if that is alike and there are the pieces for it."""
    before = r - 1
    if r == 0 or piles.sizes[r] or any(column[r] != column[before] for column in rows):
        return False
    held = np.bincount(piles.boxes[before, : piles.sizes[before], 0], minlength=len(pool))
    if not held.any() or (held > pool).any():
        return False
    for column in piles:
        column[r] = column[before]
    pool -= held
    return True
