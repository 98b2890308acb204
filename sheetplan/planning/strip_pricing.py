"""Layouts of strips for pieces that have a price each: exact knapsacks instead of trial and error.

The kernel knows no limits to the pieces of a type. A layout that takes too many has them taken out and
what comes free filled with others; then it is asked again with those types worth less, as a Lagrangian
relaxation of the limits does.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sheetplan.packing.kernel import Ints
from sheetplan.packing.kernel_sequence import Floats, blank_of
from sheetplan.packing.kernel_strips import strip_layout
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.filling import with_boxes
from sheetplan.planning.search import Column, Search

MOST_CELLS = 2000
"""Cells along a sheet's longer side; a finer measure is rounded up to them."""

TRIES = 5
"""Layouts asked for in each direction while types are taken beyond their limits."""

LEAST_PIECES = 14
"""Pieces on a sheet on average from which layouts of strips are asked for."""

CHEAPER, DEARER = 0.5, 1.2
"""How far a type beyond its limit falls in value at once, and how it recovers once it is within."""

LEAST_FACTOR = 1e-3
"""A type's value falls to no less than this share of itself."""

FILL_LOOKS = 20_000
"""What filling a layout up counts as work."""


def strips_pay(search: Search) -> bool:
    """Whether sheets hold so many pieces that strips fill them well."""
    sheets = max(1, sum(search.picks.values()))
    return int(search.problem.wanted.sum()) > LEAST_PIECES * sheets


def is_plain(problem: BoxProblem, s: int) -> bool:
    """Whether a supply is one free rectangle, which strips need."""
    return len(blank_of(problem.supplies, s)) == 1


class StripPricing:
    """Pricing by strips for one search; remembers how far types beyond their limits fell in value."""

    def __init__(self, search: Search) -> None:
        self.search = search
        self._factors: dict[tuple[int, bool], Floats] = {}

    def columns(
        self, s: int, available: Ints, values: Floats, upright: bool, tries: int = TRIES
    ) -> list[tuple[float, Column]]:
        """Layouts with what their pieces are worth, best first, each within what is available.

        ``upright`` says whether the strips lie along x.
        """
        if not is_plain(self.search.problem, s):
            return []
        found: dict[bytes, tuple[float, Column]] = {}
        for cut in self._layouts(s, available, values, upright, tries):
            counts = cut.counts(len(available))
            if counts.any():
                worth = float((counts * values).sum())
                found.setdefault(counts.tobytes(), (worth, Column(s, counts, made=cut)))
        return sorted(found.values(), key=lambda pair: -pair[0])

    def _layouts(self, s: int, available: Ints, values: Floats, upright: bool, tries: int) -> Iterator[Cut]:
        """Layouts in one direction, each asked for with the values that the one before it led to."""
        problem = self.search.problem
        strips = Strips(problem, s, available, values, upright)
        factors = self._factors.get((s, upright), np.ones(len(values)))
        for _ in range(tries if len(strips.types) else 0):
            boxes = strips.layout(values * factors, self.search)
            counts = np.bincount(boxes[:, 0], minlength=len(values))
            over = counts > available
            cut = Cut(s, boxes[_within(boxes, available)] if over.any() else boxes)
            self.search.spend(FILL_LOOKS)
            yield with_boxes(problem, cut, available - cut.counts(len(values)), values)
            fallen = np.maximum(CHEAPER, np.sqrt(available / np.maximum(counts, 1)))
            factors = np.where(over, factors * fallen, np.minimum(1.0, factors * DEARER))
            factors = np.maximum(factors, LEAST_FACTOR)
            self._factors[s, upright] = factors
            if not over.any():
                return


class Strips:
    """One supply in one direction: boxes in cells, each way of lying one by itself."""

    def __init__(self, problem: BoxProblem, s: int, available: Ints, values: Floats, upright: bool) -> None:
        self.corner = blank_of(problem.supplies, s)[0, :2]
        length, width = (int(v) for v in blank_of(problem.supplies, s)[0, 2:])
        self.upright = upright
        self.long, self.high = (length, width) if upright else (width, length)
        lengths, widths, turnable = problem.types
        types = np.flatnonzero((available > 0) & (values > 0.0))
        across = types[turnable[types] & (lengths[types] != widths[types])]
        self.types = np.concatenate((types, across))
        self.turned = np.repeat((0, 1), (len(types), len(across))).astype(np.int64)
        x_sides = np.concatenate((lengths[types], widths[across]))
        y_sides = np.concatenate((widths[types], lengths[across]))
        self.along, self.across = (x_sides, y_sides) if upright else (y_sides, x_sides)
        fits = (self.along <= self.long) & (self.across <= self.high)
        self.types, self.turned = self.types[fits], self.turned[fits]
        self.along, self.across = self.along[fits], self.across[fits]

    def layout(self, values: Floats, search: Search) -> Ints:
        """Boxes (type, x, y, turned) of the most valuable layout."""
        cell = self._cell()
        placed = np.empty((self._most(), 3), np.int64)
        count = strip_layout(
            -(-self.along // cell), -(-self.across // cell), values[self.types], self.long // cell,
            self.high // cell, self.along, self.across, placed, search.desk.work,
        )  # fmt: skip
        box, along, across = placed[:count].T
        x, y = (along, across) if self.upright else (across, along)
        return np.stack((self.types[box], x + self.corner[0], y + self.corner[1], self.turned[box]), axis=1)

    def _cell(self) -> int:
        """The largest cell of which all sides are whole numbers, or the smallest that is affordable."""
        common = int(np.gcd.reduce(np.concatenate((self.along, self.across))))
        return max(common, -(-max(self.long, self.high) // MOST_CELLS))

    def _most(self) -> int:
        least = float((self.along.astype(float) * self.across.astype(float)).min())
        return int(float(self.long) * float(self.high) / least) + 1


def _within(boxes: Ints, available: Ints) -> list[bool]:
    """Which boxes to keep so that no type is taken beyond what is available."""
    left = available.copy()
    kept = []
    for t in boxes[:, 0]:
        left[t] -= 1
        kept.append(bool(left[t] >= 0))
    return kept
