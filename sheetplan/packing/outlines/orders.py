"""Search over recipes: the same quick construction with many orders of parts.

A recipe that is better, or as good, becomes the one that is varied next (a random local search
over orders, as common for bottom-left packers since Jakobs 1996, EJOR 88).
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.outlines.construct import LEFT_EDGE, RULES, Recipe, Stage, construct
from sheetplan.packing.outlines.contacts import Ints
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.setup import Setup

MANY = 1 << 30

MOST_ENTRIES = 200
"""Entries that a recipe may grow to by splitting."""

FIRST_RULES = (LEFT_EDGE, 2, 0, 3)
"""The rules in the order in which they tend to do best on shop parts."""


@dataclass(frozen=True, slots=True)
class Entry:
    """At most ``count`` of a unit."""

    unit: int
    count: int


@dataclass(frozen=True, slots=True)
class Trial:
    """A recipe and what came of it: rows (pose, x, y), their value, and the free rectangle left in mm2."""

    entries: tuple[Entry, ...]
    rule: int
    placed: Ints
    value: float
    left_over: float

    @property
    def rank(self) -> tuple[float, float]:
        """Greater is better: value first, then the larger useful rectangle left."""
        return self.value, self.left_over


class OrderSearch:
    """Fills one field over and over with varied recipes and keeps the best trial."""

    def __init__(
        self, setup: Setup, field: Field, available: Sequence[int], values: Sequence[float], seed: int
    ) -> None:
        self._setup = setup
        self._field = field
        self._stage: Stage = setup.stage(field)
        self._available = np.array(available, np.int64)
        self._values: NDArray[np.float64] = np.array(values, np.float64)
        self._words = np.empty_like(self._stage.grid.words)
        self._rows = np.empty((int(self._available.sum()), 3), np.int64)
        self._random = random.Random(seed)
        self.best: Trial | None = None

    def run(self, passes: int) -> Trial:
        """Spend so many constructions; returns the best trial so far."""
        starts = self._starts()
        for k in range(passes):
            if k < len(starts):
                trial = self._try(*starts[k])
            else:
                assert self.best is not None
                trial = self._try(*self._varied(self.best))
            if self.best is None or trial.rank >= self.best.rank:
                self.best = trial
        assert self.best is not None
        return self.best

    def _starts(self) -> list[tuple[tuple[Entry, ...], int]]:
        """Orders worth trying first: by value of metal, by value, by box; each with each rule."""
        wanted = [k for k in range(len(self._available)) if self._available[k] > 0]
        density = self._values / self._setup.areas
        by_density = sorted(wanted, key=lambda k: (-round(float(density[k]), 9), -self._setup.areas[k], k))
        by_value = sorted(wanted, key=lambda k: (-self._values[k], k))
        spans = [max(b[2] - b[0], b[3] - b[1]) for b in self._shape_boxes()]
        by_span = sorted(wanted, key=lambda k: (-spans[k], k))
        orders = [by_density, by_value, by_span]
        return [(self._entries(order), rule) for rule in FIRST_RULES for order in orders]

    def _shape_boxes(self) -> list[tuple[float, float, float, float]]:
        poses = self._setup.pose_set.poses
        return [poses[numbers[0]].box for numbers in self._setup.pose_set.of_shape]

    def _entries(self, shapes: Sequence[int]) -> tuple[Entry, ...]:
        return tuple(
            Entry(number, MANY)
            for shape in shapes
            for number, unit in sorted(enumerate(self._setup.units), key=lambda u: -u[1].pieces)
            if unit.shape == shape
        )

    def _varied(self, trial: Trial) -> tuple[tuple[Entry, ...], int]:
        """A small change of a recipe: entries swapped, moved or split, or another rule."""
        entries = list(trial.entries)
        rule = trial.rule
        for _ in range(self._random.randint(1, 3)):
            kind = self._random.random()
            i, j = self._random.randrange(len(entries)), self._random.randrange(len(entries))
            if kind < 0.35:
                entries[i], entries[j] = entries[j], entries[i]
            elif kind < 0.65:
                entries.insert(j, entries.pop(i))
            elif kind < 0.93 and len(entries) < MOST_ENTRIES:
                entries.insert(j, Entry(entries[i].unit, self._random.randint(1, 4)))
            else:
                rule = self._random.randrange(RULES)
        return tuple(entries), rule

    def _try(self, entries: tuple[Entry, ...], rule: int) -> Trial:
        rows = np.array([(e.unit, e.count) for e in entries], np.int64)
        recipe = Recipe(rows[:, 0].copy(), rows[:, 1].copy(), rule)
        setup = self._setup
        count = construct(
            self._stage, recipe, self._available.copy(), setup.pose_shape, self._words, self._rows
        )
        placed = self._rows[:count].copy()
        value = float(self._values[setup.pose_shape[placed[:, 0]]].sum())
        return Trial(entries, rule, placed, value, self._left_over(placed))

    def _left_over(self, placed: Ints) -> float:
        """Area of the larger clear strip, beyond the parts along the length or along the width."""
        if not len(placed):
            return self._field.length * self._field.width
        boxes = self._setup.boxes[placed[:, 0]]
        right = float((placed[:, 1] + boxes[:, 2]).max()) * self._setup.step
        top = float((placed[:, 2] + boxes[:, 3]).max()) * self._setup.step
        return max(
            (self._field.length - right) * self._field.width, (self._field.width - top) * self._field.length
        )
