"""Recipes to start from and small changes of them: the part of the order searches that is chance."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from sheetplan.packing.outlines.construct import LEFT_EDGE, MIDDLE, RIGHT_EDGE, RULES, TOP_EDGE, Recipe
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
