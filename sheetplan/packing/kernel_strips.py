"""The most valuable layout of strips: strips across a sheet, columns in a strip, boxes stacked in a column.

Three knapsacks, one within another, each solved exactly by dynamic programming over whole cells: what a
column of some width holds up to each height, what a strip of each height holds, what the sheet holds
(Gilmore and Gomory, "Multistage cutting stock problems of two and more dimensions", Operations Research
13, 1965; from memory). The number of pieces of a type is not limited in here; see
`sheetplan.planning.strip_pricing`.
"""

from __future__ import annotations

import numpy as np

from sheetplan.packing.kernel import Flags, Ints
from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.kernel_sequence import Floats

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
