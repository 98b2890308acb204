"""From layouts to crowds of pieces that may overlap, and back: what the separation works on.

Maps for the search are drawn in by a part of a lattice step. On the lattice alone two pieces that
fit together exactly would mostly stand up to a step apart; drawn in, they may lie a little too
near, and the press (see `compaction`) puts them right to the micrometre.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sheetplan.packing.outlines.contacts import Contacts, Ints
from sheetplan.packing.outlines.depths import Depths, depths_of
from sheetplan.packing.outlines.directions import Floats
from sheetplan.packing.outlines.poses import PoseSet, make_poses
from sheetplan.packing.outlines.separation import UNIT, Crowd, Room
from sheetplan.packing.outlines.setup import Setup

LOOSENESS = 0.4
"""Share of a step by which maps are drawn in (tried: 0.3 to 0.5 do alike, 0 does worse)."""


class Crowding:
    """Poses of a setup with loose maps, and the limits of an upright box to keep them in."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        loose = make_poses(setup.pose_set.shapes, setup.pose_set.gap - LOOSENESS * setup.step, setup.pose_set.view)
        self.depths: Depths = depths_of(Contacts(loose, setup.step))
        self._first, self._choices = _choices(setup.pose_set)

    def crowd(self, pose: Ints, x: Ints, y: Ints) -> Crowd:
        """A crowd of movable pieces at lattice positions, all weights at rest."""
        count = len(pose)
        return Crowd(
            pose.copy(),
            x.copy(),
            y.copy(),
            self.setup.pose_shape[pose],
            np.ones(count, np.bool_),
            self._first,
            self._choices,
            np.full((count, count), UNIT, np.int32),
            np.zeros((count, count), np.int32),
        )

    def room(self, length: float, width: float) -> Room:
        """Where references may stand in a box of this size in mm, drawn out by as much as maps are drawn in."""
        boxes, step = self.setup.boxes, self.setup.step
        spare = LOOSENESS / 2.0
        first = np.ceil(-boxes[:, :2] - spare).astype(np.int64)
        last = np.floor(np.array([length, width]) / step - boxes[:, 2:] + spare).astype(np.int64)
        last = np.where((boxes[:, 2:] - boxes[:, :2]) * step <= np.array([length, width]), np.maximum(first, last), last)
        return Room(first[:, 0].copy(), last[:, 0].copy(), first[:, 1].copy(), last[:, 1].copy())

    def positions(self, at: Floats) -> tuple[Ints, Ints]:
        """The lattice positions nearest to positions in mm."""
        near = np.rint(at / self.setup.step).astype(np.int64)
        return near[:, 0].copy(), near[:, 1].copy()


def _choices(pose_set: PoseSet) -> tuple[Ints, Ints]:
    first = np.cumsum([0, *(len(numbers) for numbers in pose_set.of_shape)]).astype(np.int64)
    return first, np.array([k for numbers in pose_set.of_shape for k in numbers], np.int64)


def confine(crowd: Crowd, room: Room) -> None:
    """Move pieces that stick out of the room back into it."""
    crowd.x[:] = np.clip(crowd.x, room.first_x[crowd.pose], room.last_x[crowd.pose])
    crowd.y[:] = np.clip(crowd.y, room.first_y[crowd.pose], room.last_y[crowd.pose])


def repeated(counts: Sequence[int]) -> Ints:
    """Shape numbers, each as often as its count."""
    return np.repeat(np.arange(len(counts)), np.array(counts)).astype(np.int64)
