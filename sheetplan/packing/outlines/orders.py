"""Search over recipes: the same quick construction with many orders of parts.

An order that does better, or as well, becomes the one that is varied next (a random local search
over orders, common for bottom-left packers since Jakobs 1996, EJOR 88).
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.outlines.bottom_left import (
    LEFT_EDGE,
    MIDDLE,
    RIGHT_EDGE,
    RULES,
    TOP_EDGE,
    Recipe,
    Stage,
    construct,
)
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.laid import Laid, laid_of_rows, length_of, width_of
from sheetplan.packing.outlines.setup import Setup

MANY = 1 << 30
"""As many as there are."""

MOST_ENTRIES = 200
"""Entries that a plan may grow to by splitting."""

FIRST_RULES = (LEFT_EDGE, MIDDLE, RIGHT_EDGE, TOP_EDGE)
"""The rules in the order in which they tend to do best on shop parts."""


@dataclass(frozen=True, slots=True)
class Entry:
    """At most ``count`` of a unit."""

    unit: int
    count: int


@dataclass(frozen=True, slots=True)
class Order:
    """Entries in the order of placing, and the rule of place."""

    entries: tuple[Entry, ...]
    rule: int

    @property
    def recipe(self) -> Recipe:
        """The order in the form that kernels read."""
        rows = np.array([(entry.unit, entry.count) for entry in self.entries], np.int64).reshape(-1, 2)
        return Recipe(rows[:, 0].copy(), rows[:, 1].copy(), self.rule)


def starts(setup: Setup, orders_of_shapes: Iterable[Sequence[int]]) -> list[Order]:
    """Every order of shapes by every rule, with pairs before lone pieces and also without them."""
    given = list(orders_of_shapes)
    ways = (True, False) if any(unit.pieces > 1 for unit in setup.units) else (False,)
    return [
        Order(_entries(setup, shapes, pairs), rule)
        for rule in FIRST_RULES
        for shapes in given
        for pairs in ways
    ]


def _entries(setup: Setup, shapes: Sequence[int], pairs: bool) -> tuple[Entry, ...]:
    numbers = sorted(range(len(setup.units)), key=lambda k: -setup.units[k].pieces)
    return tuple(
        Entry(number, MANY)
        for shape in shapes
        for number in numbers
        if setup.units[number].shape == shape and (pairs or setup.units[number].pieces == 1)
    )


def spans(setup: Setup) -> list[tuple[float, float]]:
    """Longer and shorter side of each shape's box, mm."""
    sides = []
    for numbers in setup.pose_set.of_shape:
        left, bottom, right, top = setup.pose_set.poses[numbers[0]].box
        sides.append((max(right - left, top - bottom), min(right - left, top - bottom)))
    return sides


def varied(order: Order, chance: random.Random) -> Order:
    """The order with a few entries swapped, moved or put forward in part, or with another rule."""
    entries, rule = list(order.entries), order.rule
    for _ in range(chance.randint(1, 4)):
        kind = chance.random()
        i, j = chance.randrange(len(entries)), chance.randrange(len(entries))
        if kind < 0.3:
            entries[i], entries[j] = entries[j], entries[i]
        elif kind < 0.6:
            entries.insert(j, entries.pop(i))
        elif kind < 0.9 and len(entries) < MOST_ENTRIES:
            entries.insert(j, Entry(entries[i].unit, chance.randint(1, 8)))
        elif kind < 0.95 and entries[i].count < MANY:
            entries.pop(i)
        else:
            rule = chance.randrange(RULES)
    return Order(tuple(entries), rule)


@dataclass(frozen=True, slots=True)
class Trial:
    """An order and what came of it: the layout, its value, and the clear rectangle left beside it, mm2."""

    order: Order
    laid: Laid
    value: float
    left_over: float

    @property
    def rank(self) -> tuple[float, float]:
        """Greater is better: value first, then the larger useful rectangle left."""
        return self.value, self.left_over


class OrderSearch:
    """Fills one field over and over in varied orders and keeps the best trial."""

    def __init__(
        self,
        setup: Setup,
        field: Field,
        stage: Stage,
        available: Sequence[int],
        values: Sequence[float],
        seed: int,
    ) -> None:
        self._setup = setup
        self._field = field
        self._stage = stage
        self._available = np.array(available, np.int64)
        self._values: NDArray[np.float64] = np.array(values, np.float64)
        self._words = np.empty_like(self._stage.grid.words)
        self._rows = np.empty((int(self._available.sum()), 3), np.int64)
        self._random = random.Random(seed)
        self._starts = self._first_orders()
        self._tried = 0
        self._best: Trial | None = None

    def run(self, passes: int) -> Trial:
        """Spend so many constructions (one at least); returns the best trial so far."""
        best = self._best
        for _ in range(max(1, passes)):
            if best is None or self._tried < len(self._starts):
                order = self._starts[self._tried]
            else:
                order = varied(best.order, self._random)
            self._tried += 1
            trial = self._try(order)
            if best is None or trial.rank >= best.rank:
                best = trial
        assert best is not None
        self._best = best
        return best

    def _first_orders(self) -> list[Order]:
        """By value of metal, by value, by length: each with each rule."""
        wanted = [k for k in range(len(self._available)) if self._available[k] > 0]
        density = [round(float(v), 9) for v in self._values / self._setup.areas]
        sides = spans(self._setup)
        by_density = sorted(wanted, key=lambda k: (-density[k], -self._setup.areas[k], k))
        by_value = sorted(wanted, key=lambda k: (-self._values[k], k))
        by_span = sorted(wanted, key=lambda k: (-sides[k][0], k))
        return starts(self._setup, (by_density, by_value, by_span))

    def _try(self, order: Order) -> Trial:
        setup = self._setup
        count = construct(
            self._stage, order.recipe, self._available.copy(), setup.pose_shape, self._words, self._rows
        )
        laid = laid_of_rows(setup, self._rows[:count])
        value = float(self._values[setup.pose_shape[laid.pose]].sum())
        return Trial(order, laid, value, left_over(setup, self._field, laid))


def left_over(setup: Setup, field: Field, laid: Laid) -> float:
    """Area in mm2 of the larger clear strip, beyond the parts along the length or along the width."""
    along, across = length_of(setup, laid), width_of(setup, laid)
    return max((field.length - along) * field.width, (field.width - across) * field.length)
