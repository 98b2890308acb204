"""Strips on sheets: nothing overlaps, and the value is that of a search over all strips in strips."""

from functools import cache

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.packing.guillotine import strip_layout

Piece = tuple[int, int, int]
"""Length, width, value."""

pieces = st.lists(st.tuples(st.integers(1, 9), st.integers(1, 9), st.integers(1, 30)), min_size=1, max_size=4)


def layout(types: list[Piece], long: int, high: int) -> np.ndarray:
    along, across, values = (np.array(column, np.int64) for column in zip(*types, strict=True))
    boxes, work = np.zeros((long * high, 3), np.int64), np.zeros(1, np.int64)
    count = strip_layout(
        along, across, values.astype(np.float64), long, high, along * 10, across * 10, boxes, work
    )  # fmt: skip
    assert work[0] >= 0
    return boxes[:count]


def best_value(types: list[Piece], long: int, high: int) -> int:
    """The same three cuts by plain recursion: strips across, columns within, boxes one on another."""

    @cache
    def column(width: int, height: int) -> int:
        fits = [(w, v) for length, w, v in types if length <= width and w <= height]
        return max((column(width, height - w) + v for w, v in fits), default=0)

    @cache
    def strip(length: int, height: int) -> int:
        widths = {t[0] for t in types if t[0] <= length}
        return max((strip(length - w, height) + column(w, height) for w in widths), default=0)

    @cache
    def sheet(height: int) -> int:
        return max((sheet(height - h) + strip(long, h) for h in range(1, height + 1)), default=0)

    return sheet(high)


@settings(max_examples=60, deadline=None)
@given(pieces, st.integers(1, 20), st.integers(1, 16))
def test_the_value_is_the_greatest_and_nothing_overlaps(types: list[Piece], long: int, high: int) -> None:
    usable = [t for t in types if t[0] <= long and t[1] <= high]
    if not usable:
        return
    boxes = layout(usable, long, high)
    taken = np.zeros((long * 10, high * 10), np.int64)
    for piece, x, y in boxes:
        length, width, _ = usable[piece]
        assert x + length * 10 <= long * 10
        assert y + width * 10 <= high * 10
        taken[x : x + length * 10, y : y + width * 10] += 1
    assert taken.max(initial=0) <= 1
    assert sum(usable[piece][2] for piece in boxes[:, 0]) == best_value(usable, long, high)
