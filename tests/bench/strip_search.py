"""The shortest piece of a strip that holds given pieces: the patient search.

Again and again the layout is squeezed to a shorter length, which makes pieces overlap; then they
are separated, and what comes out is pressed together exactly. A length that cannot be reached is
tried again from a disturbed layout, two large pieces having changed places, and with smaller and
smaller squeezes. When that brings nothing for long, the search begins anew from the best layout
with a tenth of its pieces changed about on a slightly longer strip.

On a sheet the same search shortens what a layout uses, so that a larger useful rectangle is left.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from sheetplan.packing.outlines.crowding import Crowding, confine, loose_maps, room_of
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.laid import Laid, length_of
from sheetplan.packing.outlines.orders import OrderSearch
from sheetplan.packing.outlines.overlap_search import NO_BARS, UNIT, Manner, separate
from sheetplan.packing.outlines.setup import Setup
from sheetplan.packing.rng import new_chance

SQUEEZE, LEAST_SQUEEZE = 0.01, 0.001
"""Share of the length that is asked for at first, and in the end."""

MANNER = Manner(stride=8, patience=60, fade=100)

NEARLY = 12.0
"""Overlap, in lattice steps of all pairs together, that the press is tried on."""

CLOSE = 1.006
"""A first press that ends longer than this share of the best is given up."""

REACH_STEPS = 3.0
"""How far the press may move a part in one step, in lattice steps."""

TRIES_FROM_ONE = 3
"""Disturbed again so often before the best layout is taken up anew."""

FIRST_PASSES = 12
"""Constructions for the layout to begin with."""

PATIENCE = 25
"""Failures in a row after which the search begins anew."""

ANEW_SHARE, ANEW_LONGER, ANEW_TRIES = 0.1, 1.01, 6
"""Beginning anew: share of the pieces that change places, and by how much the strip grows at each try."""


@dataclass(frozen=True, slots=True)
class Strip:
    """A layout and the length that it uses, mm."""

    laid: Laid
    length: float


class StripSearch:
    """Shortens a layout in a strip of fixed width, as long as it is told to.

    ``best`` is the shortest layout so far; the search itself works on a base, which is the best
    layout or one that it has begun anew from.
    """

    def __init__(self, setup: Setup, start: Laid, width: float, seed: int) -> None:
        self._setup = setup
        self._width = width
        self.best = Strip(start, length_of(setup, start))
        self._base = self.best
        field = Field(self.best.length, width, (0.0, 0.0), setup.pose_set.view)
        self._maps = loose_maps(setup)
        self._crowding = Crowding(lambda: self._maps, field)
        self._chance = new_chance(seed)
        self._random = random.Random(seed)
        self._squeeze = SQUEEZE
        self._overlap = 0
        self._failures = 0
        self._crowd = self._crowding.crowd(start)
        self._large = self._large_pieces()

    def run(self, work: int, stop: Callable[[], bool]) -> Strip:
        """Spend so much work (cells of maps read) or until stopped; returns the best layout so far."""
        while work > 0 and not stop():
            pressed = self._pressed(self._base.length * CLOSE)
            if pressed is not None and pressed.length < self._base.length:
                self._take(pressed)
            elif self._failures < PATIENCE:
                self._disturb()
            else:
                work -= self._begin_anew(work)
            work -= self._separate(self._base.length * (1.0 - self._squeeze), work)
        return self.best

    def _separate(self, length: float, work: int) -> int:
        """Move the pieces apart on a strip of this length; returns the work done."""
        room = room_of(self._maps, length, self._width)
        confine(self._crowd, room)
        self._crowd.weights[:] = UNIT
        depths = self._crowding.depths
        self._overlap, done = separate(depths, self._crowd, room, self._chance, MANNER, NO_BARS, work)
        return max(done, 1)

    def _pressed(self, good: float) -> Strip | None:
        """What the press makes of the crowd, if it hardly overlaps."""
        if self._overlap > NEARLY * self._crowding.depths.step:
            return None
        laid, reach = self._crowding.laid(self._crowd), REACH_STEPS * self._maps.step
        found = self._crowding.press.press(laid.pose, laid.at, reach, good)
        return Strip(Laid(laid.pose, found.at), found.length) if found else None

    def _take(self, base: Strip) -> None:
        """Go on from a better layout, asking for more."""
        self._base = base
        if base.length < self.best.length:
            self.best = base
        self._crowd = self._crowding.crowd(base.laid)
        self._failures = 0
        self._squeeze = min(SQUEEZE, 1.5 * self._squeeze)

    def _disturb(self) -> None:
        """After a failure: ask for less, and let two large pieces change places."""
        self._failures += 1
        if self._failures % TRIES_FROM_ONE == 0:
            self._crowd = self._crowding.crowd(self._base.laid)
            self._squeeze = max(LEAST_SQUEEZE, 0.8 * self._squeeze)
        shape = self._crowd.shape
        one = self._random.choice(self._large)
        others = [k for k in self._large if shape[k] != shape[one]] or self._large
        self._swap(one, self._random.choice(others))

    def _begin_anew(self, work: int) -> int:
        """Take a layout near the best one, a little longer, as the base; returns the work done."""
        self._squeeze, self._failures = SQUEEZE, 0
        self._crowd = self._crowding.crowd(self.best.laid)
        pieces = range(len(self._crowd.pose))
        for _ in range(max(1, round(ANEW_SHARE * len(pieces)))):
            self._swap(self._random.choice(pieces), self._random.choice(pieces))
        length, done = self.best.length, 0
        for _ in range(ANEW_TRIES):
            length *= ANEW_LONGER
            done += self._separate(length, max(1, work - done))
            pressed = self._pressed(math.inf)
            if pressed is not None:
                self._take(pressed)
                return done
        self._take(self.best)
        return done

    def _swap(self, one: int, other: int) -> None:
        for row in (self._crowd.x, self._crowd.y):
            row[one], row[other] = row[other], row[one]

    def _large_pieces(self) -> list[int]:
        """The larger half of the pieces, by area."""
        areas = self._setup.areas[self._crowd.shape]
        order = sorted(range(len(areas)), key=lambda k: (-areas[k], k))
        return order[: max(2, len(order) // 2)]


def first_strip(setup: Setup, counts: Sequence[int], width: float) -> Laid:
    """The best of a few constructions on a strip long enough for everything."""
    longest = max(max(pose.box[2] - pose.box[0] for pose in setup.pose_set.poses), width)
    area = float((setup.areas * np.array(counts)).sum())
    length = 1.5 * area / width + 2.0 * longest
    while True:
        field = Field(length, width, (0.0, 0.0), setup.pose_set.view)
        search = OrderSearch(setup, field, setup.stage(field), counts, [1.0] * len(counts), 0)
        trial = search.run(FIRST_PASSES)
        if len(trial.laid.pose) == sum(counts):
            return trial.laid
        length *= 1.5
