"""The shortest piece of a strip that holds given pieces: the patient search.

Again and again the layout is squeezed to a shorter length, which makes pieces overlap; then they
are separated, and what comes out is pressed together exactly. A length that cannot be reached is
tried again from a disturbed layout, two large pieces having changed places, and with smaller and
smaller squeezes.

On a sheet the same search shortens what a layout uses, so that a larger useful rectangle is left.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from sheetplan.packing.outlines.chance import new_chance
from sheetplan.packing.outlines.compaction import Press
from sheetplan.packing.outlines.contacts import Ints
from sheetplan.packing.outlines.crowding import Crowding, confine
from sheetplan.packing.outlines.directions import Floats
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.orders import OrderSearch
from sheetplan.packing.outlines.separation import UNIT, Crowd, Manner, Room, separate
from sheetplan.packing.outlines.setup import Setup

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


@dataclass(frozen=True, slots=True)
class StripLayout:
    """Poses and the positions of their references in mm, and the length that they use."""

    pose: Ints
    at: Floats
    length: float


class StripSearch:
    """Shortens a layout in a strip of fixed width, as long as it is told to."""

    def __init__(self, setup: Setup, start: StripLayout, width: float, seed: int) -> None:
        self._setup = setup
        self._width = width
        self._crowding = Crowding(setup)
        self._press = Press([pose.solid for pose in setup.pose_set.poses], setup.pose_set.gap, width)
        self._chance = new_chance(seed)
        self._random = random.Random(seed)
        self.best = start
        self._squeeze = SQUEEZE
        self._failures = 0
        self._crowd = self._crowd_of(start)
        self._large = self._large_pieces()

    def run(self, work: int, stop: Callable[[], bool]) -> StripLayout:
        """Spend so much work (cells of maps read) or until stopped; returns the best layout so far."""
        pressed = self._pressed(self._crowd)
        if pressed is not None:
            self._take(pressed)
        while work > 0 and not stop():
            room = self._crowding.room(self.best.length * (1.0 - self._squeeze), self._width)
            confine(self._crowd, room)
            self._crowd.weights[:] = UNIT
            overlap, done = separate(self._crowding.depths, self._crowd, room, self._chance, MANNER, work)
            work -= max(done, 1)
            near = overlap <= NEARLY * self._crowding.depths.step
            pressed = self._pressed(self._crowd) if near else None
            if pressed is not None and pressed.length < self.best.length:
                self._take(pressed)
            else:
                self._disturb(room)
        return self.best

    def _crowd_of(self, layout: StripLayout) -> Crowd:
        return self._crowding.crowd(layout.pose, *self._crowding.positions(layout.at))

    def _large_pieces(self) -> list[int]:
        """The larger half of the pieces, by area."""
        areas = self._setup.areas[self._crowd.shape]
        order = sorted(range(len(areas)), key=lambda k: (-areas[k], k))
        return order[: max(2, len(order) // 2)]

    def _pressed(self, crowd: Crowd) -> StripLayout | None:
        at = np.column_stack((crowd.x, crowd.y)) * self._setup.step
        reach = REACH_STEPS * self._setup.step
        found = self._press.press(crowd.pose, at, reach, self.best.length * CLOSE)
        return StripLayout(crowd.pose.copy(), found.at, found.length) if found else None

    def _take(self, layout: StripLayout) -> None:
        """Go on from a better layout, asking for more."""
        self.best = layout
        self._crowd = self._crowd_of(layout)
        self._failures = 0
        self._squeeze = min(SQUEEZE, 1.5 * self._squeeze)

    def _disturb(self, room: Room) -> None:
        """After a failure: ask for less, and let two large pieces change places."""
        self._failures += 1
        if self._failures % TRIES_FROM_ONE == 0:
            self._crowd = self._crowd_of(self.best)
            self._squeeze = max(LEAST_SQUEEZE, 0.8 * self._squeeze)
        crowd = self._crowd
        one = self._random.choice(self._large)
        others = [k for k in self._large if crowd.shape[k] != crowd.shape[one]] or self._large
        other = self._random.choice(others)
        for row in (crowd.x, crowd.y):
            row[one], row[other] = row[other], row[one]
        confine(crowd, room)


def layout_of(setup: Setup, placed: Ints) -> StripLayout:
    """The layout that rows (pose, x, y) of a construction stand for."""
    at = placed[:, 1:] * setup.step
    rights = setup.boxes[placed[:, 0], 2] * setup.step
    return StripLayout(placed[:, 0].copy(), at, float((at[:, 0] + rights).max()))


def first_layout(setup: Setup, counts: Sequence[int], width: float) -> StripLayout:
    """The best of a few constructions on a strip long enough for everything."""
    longest = max(max(pose.box[2] - pose.box[0] for pose in setup.pose_set.poses), width)
    area = float((setup.areas * np.array(counts)).sum())
    length = 1.5 * area / width + 2.0 * longest
    while True:
        field = Field(length, width, (0.0, 0.0), setup.pose_set.view)
        trial = OrderSearch(setup, field, counts, [1.0] * len(counts), 0).run(12)
        if len(trial.placed) == sum(counts):
            return layout_of(setup, trial.placed)
        length *= 1.5
