"""Many equal sheets: a good sheet is repeated, and the emptiest sheets are emptied into the others.

Terms
-----
batch
    One layout and how many sheets are cut by it.
tail
    The batch with the least metal: the sheet that the search tries to get rid of.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.outlines.construct import Recipe, Stage, construct
from sheetplan.packing.outlines.contacts import Ints
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.laid import Laid, laid_of_rows, length_of
from sheetplan.packing.outlines.recipes import Order, spans, starts, varied
from sheetplan.packing.outlines.setup import Setup


@dataclass(frozen=True, slots=True)
class Batch:
    """A layout that is cut ``repeats`` times."""

    laid: Laid
    repeats: int


@dataclass(frozen=True, slots=True)
class Sheets:
    """Batches in the order of filling; ``score`` is whole sheets plus the share of the last that is used."""

    batches: tuple[Batch, ...]
    score: float


class SheetsFiller:
    """Puts all pieces on as few equal sheets as it can.

    Pieces that fit on no sheet are left out; ``left_out`` has their counts by shape.
    """

    def __init__(
        self, setup: Setup, field: Field, stage: Stage, counts: Sequence[int], seed: int
    ) -> None:
        self._setup = setup
        self._field = field
        self._stage = stage
        self._words = np.empty_like(self._stage.grid.words)
        fits = self._fitting()
        self._counts = np.where(fits, np.array(counts, np.int64), 0)
        self.left_out: Ints = np.array(counts, np.int64) - self._counts
        self._rows = np.empty((int(self._counts.sum()) + 1, 3), np.int64)
        self._random = random.Random(seed)
        self._starts = self._first_orders()
        self._tried = 0
        self._order = self._starts[0] if self._starts else Order((), 0)
        self._best: Sheets | None = None

    def _fitting(self) -> NDArray[np.bool_]:
        """Which shapes fit on an empty sheet."""
        fits = np.zeros(len(self._setup.areas), np.bool_)
        for number, unit in enumerate(self._setup.units):
            if unit.pieces == 1:
                available = np.zeros(len(fits), np.int64)
                available[unit.shape] = 1
                recipe = Recipe(np.array([number]), np.array([1]), 0)
                row = np.empty((1, 3), np.int64)
                pose_shape = self._setup.pose_shape
                fits[unit.shape] = construct(self._stage, recipe, available, pose_shape, self._words, row) > 0
        return fits

    def vary(self, passes: int, stop: Callable[[], bool]) -> Sheets:
        """Try so many orders (one at least) or until stopped; returns the best sheets so far."""
        best = self._best
        for _ in range(max(1, passes)):
            if best is not None and stop():
                break
            if best is None or self._tried < len(self._starts):
                order = self._starts[self._tried]
            else:
                order = varied(self._order, self._random)
            self._tried += 1
            sheets = self._built(order)
            if best is None or sheets.score <= best.score:
                best, self._order = sheets, order
        assert best is not None
        self._best = best
        return best

    def _built(self, order: Order) -> Sheets:
        """Sheet after sheet in one order; each layout as often as its pieces allow."""
        left = self._counts.copy()
        batches = []
        while left.any():
            taken = left.copy()
            count = construct(
                self._stage, order.recipe, taken, self._setup.pose_shape, self._words, self._rows
            )
            used = left - taken
            if not used.any():
                order = self._starts[0]
                continue
            repeats = int((left[used > 0] // used[used > 0]).min())
            batches.append(Batch(laid_of_rows(self._setup, self._rows[:count]), repeats))
            left -= repeats * used
        return scored(self._setup, self._field, batches)

    def _first_orders(self) -> list[Order]:
        """Large parts, large boxes and long parts first, each by each rule."""
        wanted = [k for k in range(len(self._counts)) if self._counts[k] > 0]
        sides = spans(self._setup)
        by_area = sorted(wanted, key=lambda k: (-self._setup.areas[k], k))
        by_box = sorted(wanted, key=lambda k: (-sides[k][0] * sides[k][1], k))
        by_span = sorted(wanted, key=lambda k: (-sides[k][0], k))
        return starts(self._setup, (by_area, by_box, by_span))


def scored(setup: Setup, field: Field, batches: Sequence[Batch]) -> Sheets:
    """Batches with their score."""
    whole = sum(batch.repeats for batch in batches)
    last = length_of(setup, batches[-1].laid) / field.length if batches else 1.0
    return Sheets(tuple(batches), whole - 1.0 + last)
