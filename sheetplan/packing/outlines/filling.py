"""Sheets filled tight: a construction, then pieces put in one by one where none seems to fit any more.

One sheet takes as much value as it can; several given sheets take all of some pieces, if that can be
done: filled one after the other, and what is left over changes places with smaller pieces until nothing is
left (a local search with ejection chains, as Glover 1996, Discrete Applied Mathematics 65, calls them).
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.outlines.bottom_left import Stage
from sheetplan.packing.outlines.crowding import Crowding
from sheetplan.packing.outlines.laid import Laid, counts_of
from sheetplan.packing.outlines.no_fit import Ints
from sheetplan.packing.outlines.orders import OrderSearch
from sheetplan.packing.outlines.recreating import recreated, wares_of
from sheetplan.packing.outlines.setup import Setup
from sheetplan.packing.rng import Chance, new_chance

Halt = Callable[[], bool]

TRIES = 1
"""A shape is offered so often in vain before it is left alone.

Attempts in vain are told from others early, and the time for more of them is better spent on other shapes,
other sheets, another attempt: with three the first success at two sets of sheets took 1.6 and 1.1 times as
long.
"""

ADD_WORK = 200_000_000
"""Work that one try may take, in cells of maps read."""

PASSES, STARTED_PASSES = 12, 4
"""Constructions of a sheet that is then filled tight, and of one among all sheets at once."""


STARTS = 6
"""Constructions of all sheets before they are filled tight: often one is all that is asked."""

QUICK_ENOUGH, QUICK_SHARE = 0.03, 0.5
"""A construction that left less of the area over may be gone on with, and how often it is."""

SWEEPS, ROUNDS = 6, 40
"""How often each sheet of the best start is refilled in part, and in how many rounds of ruin and recreate."""

NOISE, SLOPE = 0.3, 0.15
"""How far the worth of pieces is disturbed in each attempt, and how far large ones are favoured."""

NEAR_ENOUGH, FEW_LEFT = 0.04, 2
"""Share of the pieces' area left over, or pieces, up to which exchanging is worth while."""

PATIENCE = 5
"""Exchanges in vain, for each sheet and shape left over, after which an attempt is given up."""

MOST_OUT = 3
"""Pieces taken out for one that goes in, at most."""


@dataclass(frozen=True, slots=True)
class Ground:
    """One sheet to fill: for constructions, and for the search on overlap."""

    setup: Setup
    stage: Stage
    crowding: Crowding


def filled_up(
    ground: Ground,
    laid: Laid,
    available: Ints,
    values: NDArray[np.float64],
    chance: Chance,
    work: int,
    halt: Halt,
) -> Laid:
    """A layout with pieces added within so much work, the most worth for their metal first."""
    setup, crowding = ground.setup, ground.crowding
    left = available - counts_of(setup, laid)
    density = values / setup.areas
    order = sorted((k for k in range(len(left)) if values[k] > 0.0), key=lambda k: (-density[k], k))
    tries = [0] * len(left)
    end = crowding.work + work
    while crowding.work < end and not halt():
        open_ = [k for k in order if left[k] > 0 and tries[k] < TRIES]
        if not open_:
            break
        shape = min(open_, key=lambda k: tries[k])
        more = crowding.insert(laid, shape, chance, min(ADD_WORK, end - crowding.work))
        if more is None:
            tries[shape] += 1
        else:
            laid = more
            left[shape] -= 1
    return laid


@dataclass(frozen=True, slots=True)
class Attempt:
    """What lies on each of the sheets, what of each shape is left over, and its share of the area."""

    laids: tuple[Laid, ...]
    left: Ints
    share: float


class FixedBins:
    """Tries to lay all of some pieces on given sheets.

    ``areas`` is what a piece of each shape takes at least (with half the gap round it), mm2.
    """

    def __init__(
        self, grounds: Sequence[Ground], wanted: Ints, areas: NDArray[np.float64], seed: int
    ) -> None:
        self._grounds = tuple(grounds)
        self._setup = grounds[0].setup
        self._wanted, self._areas = wanted, areas
        self._chance, self._random = new_chance(seed), random.Random(seed)
        self._needed = float((wanted * areas).sum())
        self._beside = 0

    @property
    def work(self) -> int:
        """Work done on these sheets so far, in cells of maps read (also by others that share them)."""
        return sum({id(g): g.crowding.work for g in self._grounds}.values()) + self._beside

    def attempt(self, work: int, halt: Halt, start: Sequence[Laid] = ()) -> Attempt:
        """One attempt within about so much work, gone on with from ``start`` where layouts are given."""
        end = self.work + work
        attempt = self._attempt(start) if start else self._begun(end, halt)
        near = attempt.share < NEAR_ENOUGH or attempt.left.sum() <= FEW_LEFT
        return self._exchanged(attempt, end, halt) if near else attempt

    def _attempt(self, laids: Sequence[Laid]) -> Attempt:
        left = self._wanted - np.sum([counts_of(self._setup, laid) for laid in laids], axis=0)
        return Attempt(tuple(laids), left, float((left * self._areas).sum()) / self._needed)

    def _begun(self, end: int, halt: Halt) -> Attempt:
        """Where an attempt starts: quick constructions where they come near, else sheets filled tight."""
        starts = [self._in_sequence(end, halt, STARTED_PASSES) for _ in range(STARTS)]
        attempt = min(starts, key=lambda one: one.share)
        if attempt.share == 0.0 or (attempt.share < QUICK_ENOUGH and self._random.random() < QUICK_SHARE):
            return self._filled(self._recreated(attempt, end, halt), end, halt)
        return self._in_sequence(end, halt, PASSES, tight=True)

    def _recreated(self, attempt: Attempt, end: int, halt: Halt) -> Attempt:
        """Sheets refilled in part from what lies on them and what is left over, in random order."""
        for _ in range(SWEEPS):
            before = attempt.share
            for k in self._random.sample(range(len(self._grounds)), len(self._grounds)):
                if attempt.share == 0.0 or self.work >= end or halt():
                    return attempt
                laids = list(attempt.laids)
                held = counts_of(self._setup, laids[k])
                wares = wares_of(self._setup, held + attempt.left, self._areas)
                laids[k] = recreated(
                    self._setup, self._grounds[k].stage, laids[k], wares, ROUNDS, self._chance
                )
                self._beside += self._setup.work_of(int(held.sum()), rounds=ROUNDS)
                attempt = self._attempt(laids)
            if attempt.share >= before:
                break
        return attempt

    def _in_sequence(self, end: int, halt: Halt, passes: int, tight: bool = False) -> Attempt:
        """One sheet after the other, each with what is worth most in a scale drawn anew."""
        slope = 1.0 + SLOPE * self._random.random()
        noise = np.array([self._random.gauss(0.0, NOISE) for _ in self._areas])
        values = self._areas**slope * np.exp(noise)
        order = list(range(len(self._grounds)))
        order.sort(key=lambda k: self._grounds[k].crowding.field.length, reverse=self._random.random() < 0.5)
        left = self._wanted.copy()
        laids = [Laid(np.empty(0, np.int64), np.empty((0, 2))) for _ in order]
        for place, k in enumerate(order):
            if not left.any():
                break
            ground = self._grounds[k]
            seed = self._random.randrange(1 << 30)
            search = OrderSearch(
                self._setup, ground.crowding.field, ground.stage, left.tolist(), values.tolist(), seed
            )
            laid = search.run(passes).laid
            self._beside += self._setup.work_of(len(laid.pose), constructions=passes)
            allowed = max(0, end - self.work) // (len(order) - place)
            if tight and not (counts_of(self._setup, laid) == left).all():
                laid = filled_up(ground, laid, left, values, self._chance, allowed, halt)
            laids[k] = laid
            left = left - counts_of(self._setup, laid)
        return self._attempt(laids)

    def _filled(self, attempt: Attempt, end: int, halt: Halt) -> Attempt:
        """Pieces left over put in wherever they fit, the sheets in random order."""
        laids = list(attempt.laids)
        for place in self._random.sample(range(len(laids)), len(laids)):
            if not attempt.left.any() or self.work >= end or halt():
                break
            ground, held = self._grounds[place], counts_of(self._setup, laids[place])
            laids[place] = filled_up(
                ground, laids[place], held + attempt.left, self._areas, self._chance, ADD_WORK, halt
            )
            attempt = self._attempt(laids)
        return attempt

    def _exchanged(self, attempt: Attempt, end: int, halt: Halt) -> Attempt:
        """Pieces left over change places with smaller ones until none is left, or the work is done."""
        failures, most = 0, PATIENCE * len(self._grounds) * int((attempt.left > 0).sum() + 1)
        while attempt.share > 0.0 and self.work < end and failures < most and not halt():
            after = self._exchange(attempt, end, halt)
            if after is not None and after.share < attempt.share:
                attempt, failures = after, 0
            else:
                failures += 1
        return attempt

    def _exchange(self, attempt: Attempt, end: int, halt: Halt) -> Attempt | None:
        """Some smaller pieces out for one that is left over, then in wherever they fit."""
        shape = self._random.choice(np.flatnonzero(attempt.left).tolist())
        k = self._random.randrange(len(self._grounds))
        laid, shapes = attempt.laids[k], self._setup.pose_shape[attempt.laids[k].pose]
        smaller = np.flatnonzero(self._areas[shapes] < self._areas[shape]).tolist()
        out = self._random.sample(smaller, min(len(smaller), self._random.randint(1, MOST_OUT)))
        if self._areas[shapes[out]].sum() >= self._areas[shape] + (attempt.left * self._areas).sum():
            return None
        rest = Laid(np.delete(laid.pose, out), np.delete(laid.at, out, axis=0))
        fuller = self._grounds[k].crowding.insert(rest, shape, self._chance, ADD_WORK)
        if fuller is None:
            return None
        laids = list(attempt.laids)
        laids[k] = fuller
        return self._filled(self._attempt(laids), end, halt)
