"""Search over recipes: the same quick construction with many orders of parts.

An order that does better, or as well, becomes the one that is varied next (a random local search
over orders, common for bottom-left packers since Jakobs 1996, EJOR 88).
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.outlines.construct import Stage, construct
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.laid import Laid, laid_of_rows, length_of, width_of
from sheetplan.packing.outlines.recipes import Order, spans, starts, varied
from sheetplan.packing.outlines.setup import Setup


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
