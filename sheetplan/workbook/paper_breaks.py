"""Where a page of several tables begins a new sheet of paper, so that no table is torn or stands headless.

Terms
-----
block
    A table with its caption above and its chart below.
room
    Height that one sheet of paper takes, in points of the page itself.

Rows count from 0. A page has one row of headings that is repeated: it comes on the sheets of paper after its
own, so it is that of the last table, which alone may be torn without losing them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sheetplan.workbook.print_setup import ROW_POINTS

SURE = 0.94
"""Of the room: programs differ a little in the heights of rows."""

ROWS_WITH_HEADINGS = 4
"""Rows of a long table that its headings take along where it begins low on the paper."""


@dataclass(frozen=True, slots=True)
class Block:
    """Its first row (the caption's, if there is one), the row of its headings, and its last row."""

    first: int
    head: int
    last: int


@dataclass(frozen=True, slots=True)
class Breaks:
    """Rows at which a new sheet of paper begins, and whether the last block is torn all the same."""

    rows: tuple[int, ...]
    last_is_torn: bool


def breaks(blocks: Sequence[Block], heights: Mapping[int, float], room: float) -> Breaks:
    """Where a new sheet of paper begins.

    A block that would be torn goes to the next sheet whole. One that is longer than a sheet begins where it
    stands, if its first rows fit there, and is torn then.

    Parameters
    ----------
    blocks : sequence of Block
        In the order of the page.
    heights : mapping
        Height in points of each row that is not of the usual one.
    room : float
        Height of one sheet of paper, in points.
    """
    room *= SURE

    def height(first: int, last: int) -> float:
        return sum(heights.get(row, ROW_POINTS) for row in range(first, last + 1))

    found: list[int] = []
    used, row, torn = 0.0, 0, False
    for block in blocks:
        used += height(row, block.first - 1)
        whole = height(block.first, block.last)
        least = whole if whole <= room else height(block.first, block.head + ROWS_WITH_HEADINGS)
        if used % room + least > room:
            found.append(block.first)
            used = 0.0
        torn = used % room + whole > room
        used += whole
        row = block.last + 1
    return Breaks(tuple(found), torn)
