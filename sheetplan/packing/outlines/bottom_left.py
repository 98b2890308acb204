"""The constructive packer: one sheet in milliseconds, piece after piece to the datum end.

Each pose has a grid of bits that says where it may still stand. A unit goes to the first free
column of the variant that suits the rule best; then the forbidden shifts of the placed pieces
are marked in the grids of every shape that is still wanted. Free positions only get fewer, so
the search for a variant's first free column never goes back, and a unit that found no place is
not tried again.

After the bottom-left idea of Baker, Coffman and Rivest 1980 (SIAM J. Comput. 9) with positions
on a lattice.

Terms
-----
unit
    What is placed in one go: one piece of a shape, or two that tuck into each other; its variants are the
    ways in which it may lie.
variant
    One or two poses, the second shifted by whole lattice steps against the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.outlines.field import Grid, Words
from sheetplan.packing.outlines.no_fit import Ints, Runs
from sheetplan.packing.outlines.poses import PoseSet

ALL = np.uint64(0xFFFFFFFFFFFFFFFF)
ONE = np.uint64(1)


@compiled
def lowest_bit(word: np.uint64) -> int:
    """Index of the lowest set bit; the word is not 0."""
    index = 0
    width = 32
    while width > 0:
        low = (ONE << np.uint64(width)) - ONE
        if (word & low) == np.uint64(0):
            word = word >> np.uint64(width)
            index += width
        width >>= 1
    return index


@compiled
def mark_run(column: Words, low: int, high: int) -> None:
    """Set the bits from ``low`` to ``high``, both inside the column."""
    first, last = low >> 6, high >> 6
    head = ALL << np.uint64(low & 63)
    tail = ALL >> np.uint64(63 - (high & 63))
    if first == last:
        column[first] |= head & tail
        return
    column[first] |= head
    for w in range(first + 1, last):
        column[w] = ALL
    column[last] |= tail


@compiled
def bits_from(column: Words, start: int) -> np.uint64:
    """The 64 bits from row ``start`` on (which may be negative); rows outside the column read as 1."""
    word, shift = start >> 6, np.uint64(start & 63)
    size = column.shape[0]
    here = column[word] if 0 <= word < size else ALL
    if shift == np.uint64(0):
        return here
    above = column[word + 1] if 0 <= word + 1 < size else ALL
    return (here >> shift) | (above << (np.uint64(64) - shift))


@dataclass(frozen=True, slots=True)
class Variant:
    """Poses that lie together: (pose, column shift, row shift) of each piece, the first unshifted."""

    members: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True, slots=True)
class Unit:
    """One or two pieces of ``shape`` and how they may lie."""

    shape: int
    variants: tuple[Variant, ...]

    @property
    def pieces(self) -> int:
        """Pieces that one of it uses."""
        return len(self.variants[0].members)


class Units(NamedTuple):
    """Units as columns.

    ``first`` has one more entry than there are units: unit u has the variants from ``first[u]`` up
    to ``first[u + 1]``. ``members`` has shape (variants, 2, 3); a lone piece has pose -1 in second place.
    """

    shape: Ints
    pieces: Ints
    first: Ints
    members: Ints


def single(poses: PoseSet, shape: int) -> Unit:
    """One piece of a shape by itself."""
    return Unit(shape, tuple(Variant(((pose, 0, 0),)) for pose in poses.of_shape[shape]))


def as_columns(units: Sequence[Unit]) -> Units:
    """The units in the form that kernels read."""
    rows = [[*variant.members, (-1, 0, 0)][:2] for unit in units for variant in unit.variants]
    sizes = [len(unit.variants) for unit in units]
    return Units(
        np.array([unit.shape for unit in units], np.int64),
        np.array([unit.pieces if unit.variants else 1 for unit in units], np.int64),
        np.concatenate(([0], np.cumsum(sizes))).astype(np.int64),
        np.array(rows, np.int64).reshape(-1, 2, 3),
    )


RIGHT_EDGE, LEFT_EDGE, MIDDLE, TOP_EDGE = range(4)
"""Rules of place: what is made least among the variants' first free positions."""

RULES = 4


class Stage(NamedTuple):
    """What a construction reads: the field's start grid, the contacts, the units.

    ``boxes`` has left, bottom, right, top of each pose about its reference, in steps.
    """

    grid: Grid
    runs: Runs
    units: Units
    boxes: NDArray[np.float64]


class Recipe(NamedTuple):
    """In which order units are placed, at most ``counts`` of each entry, and by which rule of place."""

    units: Ints
    counts: Ints
    rule: int


@compiled
def _first_free(
    words: Words, grid: Grid, members: Ints, start: int
) -> tuple[int, int]:
    """First free grid position (column, row) of a variant from a column on; column -1 where none is left."""
    pose = members[0, 0]
    other = members[1, 0]
    size = words.shape[2]
    for column in range(start, grid.columns[pose]):
        if other < 0:
            for w in range(size):
                free = words[pose, column, w] ^ ALL
                if free != np.uint64(0):
                    return column, w * 64 + lowest_bit(free)
            continue
        across = column + grid.first_x[pose] + members[1, 1] - grid.first_x[other]
        if not 0 <= across < grid.columns[other]:
            continue
        up = grid.first_y[pose] + members[1, 2] - grid.first_y[other]
        for w in range(size):
            free = (words[pose, column, w] | bits_from(words[other, across], w * 64 + up)) ^ ALL
            if free != np.uint64(0):
                return column, w * 64 + lowest_bit(free)
    return -1, 0


@compiled
def _from_column(runs: NDArray[np.int16], begin: int, end: int, column: int) -> int:
    """The first of some runs, columns ascending, that stands in a column or beyond it."""
    while begin < end:
        middle = (begin + end) // 2
        if runs[middle, 0] < column:
            begin = middle + 1
        else:
            end = middle
    return begin


@compiled
def mark_contacts(
    words: Words, grid: Grid, runs: Runs, standing: int, x: int, y: int, wanted: NDArray[np.bool_]
) -> None:
    """Forbid every wanted pose the positions that would meet a piece at lattice position (x, y)."""
    for pose in range(wanted.shape[0]):
        if not wanted[pose]:
            continue
        right, top = x - grid.first_x[pose], y - grid.first_y[pose]
        columns, rows = grid.columns[pose], grid.rows[pose]
        begin, end = runs.first[standing, pose], runs.last[standing, pose]
        if begin == end or right + runs.runs[end - 1, 0] < 0:
            continue
        for r in range(_from_column(runs.runs, begin, end, -right), end):
            column = right + runs.runs[r, 0]
            if column >= columns:
                break
            low, high = max(0, top + runs.runs[r, 1]), min(rows - 1, top + runs.runs[r, 2])
            if low <= high:
                mark_run(words[pose, column], low, high)


@compiled
def _score(
    grid: Grid, boxes: NDArray[np.float64], members: Ints, column: int, row: int, rule: int
) -> tuple[float, float]:
    """How well a variant suits at a grid position: least is best."""
    x0, y0 = column + grid.first_x[members[0, 0]], row + grid.first_y[members[0, 0]]
    left = right = top = 0.0
    for k in range(2):
        pose = members[k, 0]
        if pose < 0:
            continue
        x, y = x0 + members[k, 1], y0 + members[k, 2]
        left = x + boxes[pose, 0] if k == 0 else min(left, x + boxes[pose, 0])
        right = x + boxes[pose, 2] if k == 0 else max(right, x + boxes[pose, 2])
        top = y + boxes[pose, 3] if k == 0 else max(top, y + boxes[pose, 3])
    if rule == RIGHT_EDGE:
        return right, top
    if rule == LEFT_EDGE:
        return left, right
    if rule == MIDDLE:
        return left + right, top
    return right + 0.25 * top, left


@compiled
def best_variant(
    words: Words, stage: Stage, unit: int, pointers: Ints, rule: int
) -> tuple[int, int, int]:
    """The variant of a unit to place, and where (grid column and row); variant -1 where none fits."""
    grid, units = stage.grid, stage.units
    chosen, at_column, at_row = -1, 0, 0
    best, best_tie = np.inf, np.inf
    for v in range(units.first[unit], units.first[unit + 1]):
        if pointers[v] < 0:
            continue
        column, row = _first_free(words, grid, units.members[v], pointers[v])
        pointers[v] = column
        if column < 0:
            continue
        score, tie = _score(grid, stage.boxes, units.members[v], column, row, rule)
        if score < best or (score == best and tie < best_tie):
            best, best_tie = score, tie
            chosen, at_column, at_row = v, column, row
    return chosen, at_column, at_row


@compiled
def put_down(
    words: Words,
    stage: Stage,
    spot: tuple[int, int, int],
    wanted: NDArray[np.bool_],
    placed: Ints,
    count: int,
) -> int:
    """Put the pieces of a variant at its spot (variant, column, row); returns how many are placed now."""
    grid = stage.grid
    members = stage.units.members[spot[0]]
    x0, y0 = spot[1] + grid.first_x[members[0, 0]], spot[2] + grid.first_y[members[0, 0]]
    for k in range(2):
        pose = members[k, 0]
        if pose < 0:
            continue
        x, y = x0 + members[k, 1], y0 + members[k, 2]
        placed[count, 0], placed[count, 1], placed[count, 2] = pose, x, y
        count += 1
        mark_contacts(words, grid, stage.runs, pose, x, y, wanted)
    return count


@compiled
def construct(
    stage: Stage, recipe: Recipe, available: Ints, pose_shape: Ints, words: Words, placed: Ints
) -> int:
    """Fill one sheet by a recipe; returns how many pieces were placed.

    Parameters
    ----------
    stage, recipe
        What to place, where and in which order.
    available
        Pieces of each shape that may be used; used up as they are placed.
    pose_shape
        The shape of each pose.
    words
        Working memory of the shape of ``stage.grid.words``; left as the final grids.
    placed
        Takes a row (pose, x, y; lattice position of the reference) per piece.
    """
    units = stage.units
    words[:] = stage.grid.words
    pointers = np.zeros(units.members.shape[0], np.int64)
    wanted = available[pose_shape] > 0
    count = 0
    for entry in range(recipe.units.shape[0]):
        unit = recipe.units[entry]
        shape, pieces = units.shape[unit], units.pieces[unit]
        for _ in range(recipe.counts[entry]):
            if available[shape] < pieces or count + pieces > placed.shape[0]:
                break
            spot = best_variant(words, stage, unit, pointers, recipe.rule)
            if spot[0] < 0:
                break
            available[shape] -= pieces
            if available[shape] == 0:
                wanted &= pose_shape != shape
            count = put_down(words, stage, spot, wanted, placed, count)
    return count
