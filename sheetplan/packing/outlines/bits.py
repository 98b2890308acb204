"""Grids of bits: mark vertical runs, find the first free position."""

from __future__ import annotations

import numpy as np

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.outlines.field import Words

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
