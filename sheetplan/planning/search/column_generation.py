"""Column generation: a linear master problem prices the pieces, the pricing problem finds what they buy.

Gilmore and Gomory, "A linear programming approach to the cutting-stock problem" I and II,
Operations Research 9 (1961) and 11 (1963), with layouts of rectangles in place of patterns.

Layouts of guillotine strips are priced by exact knapsacks. The kernel knows no limits to the pieces of a
type. A layout that takes too many has them taken out and what comes free filled with others; then it is
asked again with those types worth less, as a Lagrangian relaxation of the limits does.

Choices
-------
Strips are asked for where sheets hold more than `LEAST_PIECES` on average: there randomised MaxRects stalls
at 98 per cent full, and strips reach more than 99. Fewer pieces a sheet stay with MaxRects, which knows more
than strips.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import highspy
import numpy as np

from sheetplan.packing.guillotine import strip_layout
from sheetplan.packing.linear import (
    INFINITY,
    add_column,
    add_row,
    column_values,
    new_model,
    objective,
    row_duals,
)
from sheetplan.packing.maxrects import Floats, Ints, Recipe, supply_blank
from sheetplan.packing.maxrects_search import price_layouts
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.search.state import Column, Search
from sheetplan.planning.solution import with_boxes

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

KEEP = 8
"""Layouts kept of one pricing."""

WINS = 1e-7
"""A layout enters if its pieces are worth more than its sheet by this share."""

STALLED = 1e-5
"""A master that falls by less than this share has stalled; pricing then looks harder."""

QUICK_ROUNDS = 8
"""Rounds of quick trials before layouts of strips are asked for."""

HARDEST = 5
"""Pricing doubles its effort with each stalled round, at most so often."""

ROUND_LOOKS = 60_000
"""Least looks of one pricing."""

SOLVE_LOOKS = 200_000
"""What solving the master counts as work, besides its iterations."""

ITERATION_LOOKS = 4_000
"""What one simplex iteration counts as work."""


def strips_pay(search: Search) -> bool:
    """Whether sheets hold so many pieces that strips fill them well."""
    sheets = max(1, sum(search.picks.values()))
    return int(search.problem.wanted.sum()) > LEAST_PIECES * sheets


def is_plain(problem: BoxProblem, s: int) -> bool:
    """Whether a supply is one free rectangle, which strips need."""
    return len(supply_blank(problem.supplies, s)) == 1


class StripPricing:
    """Pricing by strips for one search; remembers how far types beyond their limits fell in value."""

    def __init__(self, search: Search) -> None:
        self.search = search
        self._factors: dict[tuple[int, bool], Floats] = {}

    def columns(
        self, s: int, available: Ints, values: Floats, *, upright: bool, tries: int = TRIES
    ) -> list[tuple[float, Column]]:
        """Layouts with what their pieces are worth, best first, each within what is available.

        ``upright`` says whether the strips lie along x.
        """
        if not is_plain(self.search.problem, s):
            return []
        found: dict[bytes, tuple[float, Column]] = {}
        for cut in self._layouts(s, available, values, upright=upright, tries=tries):
            counts = cut.counts(len(available))
            if counts.any():
                worth = float((counts * values).sum())
                found.setdefault(counts.tobytes(), (worth, Column(s, counts, made=cut)))
        return sorted(found.values(), key=lambda pair: -pair[0])

    def _layouts(
        self, s: int, available: Ints, values: Floats, *, upright: bool, tries: int
    ) -> Iterator[Cut]:
        """Layouts in one direction, each asked for with the values that the one before it led to."""
        problem = self.search.problem
        strips = Strips(problem, s, available, values, upright=upright)
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

    def __init__(
        self, problem: BoxProblem, s: int, available: Ints, values: Floats, *, upright: bool
    ) -> None:
        self.corner = supply_blank(problem.supplies, s)[0, :2]
        length, width = (int(v) for v in supply_blank(problem.supplies, s)[0, 2:])
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


class Master:
    """The linear master problem: cover what is wanted with the columns of a search, at least cost."""

    def __init__(self, search: Search) -> None:
        self.search = search
        problem = search.problem
        self.types = len(problem.wanted)
        self.model: highspy.Highs = new_model()
        self.inside = 0
        for wanted in problem.wanted:
            add_row(self.model, float(wanted), INFINITY, (), ())
        for limit in problem.supplies.limits:
            add_row(self.model, -INFINITY, float(limit), (), ())
        for t, area in enumerate(search.areas):
            add_column(self.model, float(search.penalty * area), INFINITY, [t], [1.0])

    def solve(self) -> tuple[Floats, Floats]:
        """Bring in new columns and solve; prices of the pieces and of the supplies."""
        for column, cost in zip(
            self.search.columns[self.inside :], self.search.costs[self.inside :], strict=True
        ):
            held = np.flatnonzero(column.counts)
            rows = [*held.tolist(), self.types + column.supply]
            add_column(self.model, cost, INFINITY, rows, [*column.counts[held], 1.0])
        self.inside = len(self.search.columns)
        self.model.run()
        self.search.spend(SOLVE_LOOKS + ITERATION_LOOKS * int(self.model.getInfo().simplex_iteration_count))
        duals = row_duals(self.model)
        return np.maximum(duals[: self.types], 0.0), duals[self.types :]

    def admit(self, s: int, counts: Ints) -> None:
        """Let the master use contents that may not be a layout: for bounds, never for plans."""
        held = np.flatnonzero(counts)
        rows = [*held.tolist(), self.types + s]
        cost = float(self.search.problem.supplies.costs[s])
        add_column(self.model, cost, INFINITY, rows, [*counts[held], 1.0])

    def values(self) -> dict[int, float]:
        """How often each column is cut in the last answer, fractions as they are."""
        found = column_values(self.model)[self.types :]
        return {int(n): float(found[n]) for n in np.flatnonzero(found > 1e-9)}


def column_generation(
    search: Search, allowance: int, stop: Callable[[], bool], *, strips: bool = False
) -> bool:
    """Improve the master until it stalls or the allowance is spent; True if it stalled.

    Leaves the prices of the pieces and the fractional answer in the search. With ``strips``, layouts of
    strips are asked for once the quick trials stall.
    """
    master = Master(search)
    pricing = StripPricing(search) if strips else None
    asked = Asked(len(search.problem.choices))
    end = search.work + allowance
    stalled, last = 0, np.inf
    quick_rounds = 0 if search.values else QUICK_ROUNDS
    finished = False
    while search.work < end and not stop():
        pieces, supplies = master.solve()
        now = objective(master.model)
        stalled = stalled + 1 if now > last * (1.0 - STALLED) else 0
        last = now
        quick_rounds -= 1
        if pricing and (stalled or quick_rounds < 0 or asked.times):
            _price_strips(search, pricing, asked, pieces, supplies, end)
            if asked.in_vain:
                finished = not _price_all(search, pieces, supplies, ROUND_LOOKS << HARDEST, end)
                asked.fruitless = 0
        elif not _price_all(search, pieces, supplies, ROUND_LOOKS << min(stalled, HARDEST), end):
            finished = stalled > HARDEST + 3
        if finished:
            break
    search.duals, _ = master.solve()
    search.values = master.values()
    return finished


@dataclass(slots=True)
class Asked:
    """Which supplies are worth asking for strips: one that gains nothing rests until all others rest too."""

    supplies: int
    resting: set[int] = field(default_factory=set)
    times: int = 0
    gained: bool = True
    fruitless: int = 0

    @property
    def in_vain(self) -> bool:
        """Whether all supplies were asked in both directions without gain."""
        return self.fruitless > 1

    def turn(self) -> tuple[list[int], bool]:
        """The supplies to ask now, and whether their strips lie along x."""
        if len(self.resting) == self.supplies:
            self.fruitless = 0 if self.gained else self.fruitless + 1
            self.gained = False
            self.resting.clear()
        self.times += 1
        return [s for s in range(self.supplies) if s not in self.resting], self.times % 2 == 0


def _price_strips(
    search: Search, pricing: StripPricing, asked: Asked, pieces: Floats, supplies: Floats, end: int
) -> None:
    """Ask for layouts of strips on the supplies whose turn it is."""
    now, upright = asked.turn()
    for s in now:
        if search.work >= end:
            return
        known, cost = len(search.columns), float(search.problem.supplies.costs[s])
        for value, column in pricing.columns(s, search.problem.wanted, pieces, upright=upright):
            if value > cost - supplies[s] + WINS * abs(cost):
                search.add(column)
        if len(search.columns) > known:
            asked.gained = True
        else:
            asked.resting.add(s)


def _price_all(search: Search, pieces: Floats, supplies: Floats, looks: int, end: int) -> bool:
    """Price every supply; True if any layout entered."""
    known = len(search.columns)
    for s, cost in enumerate(search.problem.supplies.costs):
        if search.work >= end:
            break
        threshold = float(cost - supplies[s])
        for value, column in priced(search, s, search.problem.wanted, pieces, looks):
            if value > threshold + WINS * abs(float(cost)):
                search.add(column)
    return len(search.columns) > known


def priced(
    search: Search, s: int, available: Ints, values: Floats, looks: int, keep: int = KEEP
) -> list[tuple[float, Column]]:
    """The most valuable layouts found for one supply, best first."""
    kept = price_layouts(
        supply_blank(search.problem.supplies, s), search.problem.types, available, values, keep, looks,
        search.chance(), search.desk,
    )  # fmt: skip
    found = []
    for k in np.argsort(-kept.values, kind="stable"):
        counts = kept.counts[k].copy()
        if kept.values[k] >= 0.0 and counts.any():
            recipe = Recipe(kept.orders[k], kept.caps[k], int(kept.rules[k]), kept.least)
            found.append((float(kept.values[k]), Column(s, counts, recipe, kept.usable)))
    return found
