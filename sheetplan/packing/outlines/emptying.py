"""Fewer sheets: pieces of the emptiest sheet are put into the others until it is gone.

A piece is added to a sheet that looks full (see `insertion`), the largest pieces first. When no
piece goes in anywhere any more, a large piece of the emptiest sheet changes places with a smaller
one of another, and the round begins again.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from sheetplan.packing.outlines.chance import new_chance
from sheetplan.packing.outlines.contacts import Ints
from sheetplan.packing.outlines.crowding import LooseMaps
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.insertion import Insertion
from sheetplan.packing.outlines.laid import Laid, counts_of
from sheetplan.packing.outlines.orders import OrderSearch
from sheetplan.packing.outlines.setup import Setup
from sheetplan.packing.outlines.sheets import Batch

TRIES = 2
"""A sheet is offered a shape so often before it is left alone with it."""

ADD_WORK = 60_000_000
"""Work that one try may take, in cells of maps read."""

FULLEST = 0.985
"""Share of a field that parts grown by half the gap can fill at best: more is not tried."""

TIDY_PASSES = 100
"""Constructions that look for the shortest layout of the emptiest sheet."""


@dataclass(frozen=True, slots=True)
class _Offer:
    """A shape offered to a batch."""

    batch: int
    shape: int


class Emptying:
    """Batches, one of which, the tail, is being emptied."""

    def __init__(
        self, setup: Setup, field: Field, maps: LooseMaps, batches: Sequence[Batch], seed: int
    ) -> None:
        self._setup = setup
        self._field = field
        self._stage = setup.stage(field)
        self._insertion = Insertion(maps, field)
        self._random = random.Random(seed)
        self._chance = new_chance(seed)
        self._batches = list(batches)
        self._tail: Laid | None = None
        self._failures: dict[tuple[Laid, int], int] = {}
        # What each piece needs at least: its metal and half the gap around it.
        gap = setup.pose_set.gap
        self._needs = np.array([shape.solid.buffer(gap / 2.0).area for shape in setup.pose_set.shapes])
        self._space = (field.length + gap) * (field.width + gap) - sum(
            solid.intersection(shapely.box(0.0, 0.0, field.length, field.width)).area
            for solid, _ in field.obstacles
        )
        self._next_tail()

    @property
    def batches(self) -> tuple[Batch, ...]:
        """All batches, the tail last."""
        tail = (Batch(self._tail, 1),) if self._tail is not None else ()
        return (*self._batches, *tail)

    def run(self, work: int, stop: Callable[[], bool]) -> tuple[Batch, ...]:
        """Spend so much work (cells of maps read) or until stopped; returns the batches, the tail last."""
        end = self._insertion.work + work
        while self._insertion.work < end and self._tail is not None and self._batches and not stop():
            offer = self._next_offer()
            if offer is not None:
                self._offer(offer)
            else:
                self._exchange()
        self._tidy()
        return self.batches

    def _next_tail(self) -> None:
        """Take the batch with the least metal (one sheet of it) as the tail."""
        if not self._batches:
            self._tail = None
            return
        k = min(range(len(self._batches)), key=lambda k: (self._used(self._batches[k].laid), k))
        batch = self._batches.pop(k)
        self._tail = batch.laid
        if batch.repeats > 1:
            self._batches.append(Batch(batch.laid, batch.repeats - 1))

    def _used(self, laid: Laid) -> float:
        return float(self._needs[self._setup.pose_shape[laid.pose]].sum())

    def _next_offer(self) -> _Offer | None:
        """The largest shape of the tail that a sheet has room for and did not refuse too often yet."""
        assert self._tail is not None
        shapes = sorted(
            set(self._setup.pose_shape[self._tail.pose].tolist()), key=lambda s: (-self._setup.areas[s], s)
        )
        order = sorted(range(len(self._batches)), key=lambda k: self._used(self._batches[k].laid))
        for tries in range(TRIES):
            for shape in shapes:
                for k in order:
                    laid = self._batches[k].laid
                    if self._failures.get((laid, shape), 0) == tries and self._has_room(laid, shape):
                        return _Offer(k, shape)
        return None

    def _has_room(self, laid: Laid, shape: int) -> bool:
        return bool(self._used(laid) + self._needs[shape] <= FULLEST * self._space)

    def _offer(self, offer: _Offer) -> None:
        """Try to add a piece of the shape to the batch, on as many of its sheets as the tail has pieces."""
        assert self._tail is not None
        batch = self._batches[offer.batch]
        fuller = self._insertion.add(batch.laid, offer.shape, self._chance, ADD_WORK)
        if fuller is None:
            key = (batch.laid, offer.shape)
            self._failures[key] = self._failures.get(key, 0) + 1
            return
        held = int(counts_of(self._setup, self._tail)[offer.shape])
        times = min(batch.repeats, held)
        self._replace(offer.batch, fuller, times)
        for _ in range(times):
            self._take_from_tail(offer.shape)
        if not len(self._tail.pose):
            self._next_tail()

    def _replace(self, k: int, laid: Laid, times: int) -> None:
        """Put another layout in the place of a batch, on so many of its sheets."""
        batch = self._batches[k]
        if times < batch.repeats:
            self._batches.insert(k + 1, Batch(batch.laid, batch.repeats - times))
        self._batches[k] = Batch(laid, times)

    def _take_from_tail(self, shape: int) -> None:
        assert self._tail is not None
        piece = int(np.flatnonzero(self._setup.pose_shape[self._tail.pose] == shape)[-1])
        self._tail = self._tail.without(piece)

    def _exchange(self) -> None:
        """Let a piece of the tail change places with a smaller one of another sheet."""
        assert self._tail is not None
        k = self._random.randrange(len(self._batches))
        batch = self._batches[k]
        out = self._random.randrange(len(batch.laid.pose))
        gone = int(self._setup.pose_shape[batch.laid.pose[out]])
        rest = batch.laid.without(out)
        held = sorted(set(self._setup.pose_shape[self._tail.pose].tolist()))
        larger = [s for s in held if self._needs[s] > self._needs[gone] and self._has_room(rest, s)]
        if not larger:
            self._insertion.work += ADD_WORK // 100
            return
        shape = self._random.choice(larger)
        fuller = self._insertion.add(rest, shape, self._chance, ADD_WORK)
        if fuller is None:
            return
        counts = counts_of(self._setup, self._tail)
        counts[shape] -= 1
        counts[gone] += 1
        tail = self._packed(counts, 4)
        if tail is not None:
            self._replace(k, fuller, 1)
            self._tail = tail

    def _packed(self, counts: Ints, passes: int) -> Laid | None:
        """So many pieces on one sheet, constructed; None where they do not fit."""
        values = self._setup.areas.tolist()
        search = OrderSearch(self._setup, self._field, self._stage, counts.tolist(), values, 0)
        trial = search.run(passes)
        return trial.laid if len(trial.laid.pose) == counts.sum() else None

    def _tidy(self) -> None:
        """Push what is left on the tail together, so that a useful rectangle remains."""
        if self._tail is not None and len(self._tail.pose):
            packed = self._packed(counts_of(self._setup, self._tail), TIDY_PASSES)
            self._tail = packed or self._tail
