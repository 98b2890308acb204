"""From layouts to crowds of pieces that may overlap: what the separation works on.

Maps for the search are drawn in by a part of a lattice step. On the lattice alone two pieces that
fit together exactly would mostly stand up to a step apart; drawn in, they may lie a little too
near, and the press (see `compaction`) puts them right to the micrometre.

Obstacles are one more piece that stays, the first of the crowd, in a pose of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetplan.packing.outlines.contacts import Contacts, Ints, map_cells
from sheetplan.packing.outlines.depths import Depths, depths_of, with_obstacles
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.growing import Edges
from sheetplan.packing.outlines.laid import Laid
from sheetplan.packing.outlines.poses import PoseSet, make_poses, pose_boxes
from sheetplan.packing.outlines.room import Room, room_of
from sheetplan.packing.outlines.separation import UNIT, Crowd
from sheetplan.packing.outlines.setup import Setup

LOOSENESS = 0.4
"""Share of a step by which maps are drawn in (tried: 0.3 to 0.5 do alike, 0 does worse)."""

SPARE = LOOSENESS / 2.0
"""By how many steps rooms are drawn out: half as much, as an edge stands still."""


MOST_CELLS = 60_000_000
"""Cells of all maps together; where there would be more, the search takes a lattice some times as coarse."""


@dataclass(frozen=True, slots=True)
class LooseMaps:
    """Depth maps, drawn in, on the search's own lattice; ``boxes`` of the poses in mm."""

    pose_set: PoseSet
    pose_shape: Ints
    boxes: Edges
    step: float
    depths: Depths


def loose_maps(setup: Setup) -> LooseMaps:
    """The maps that a search over a setup's poses needs."""
    known = setup.pose_set
    times = 1
    while map_cells(known, setup.step * times) > MOST_CELLS:
        times += 1
    step = setup.step * times
    loose = make_poses(known.shapes, known.gap - LOOSENESS * step, known.view)
    return LooseMaps(known, setup.pose_shape, pose_boxes(known.poses), step, depths_of(Contacts(loose, step)))


class Crowding:
    """Pieces on one field, as crowds.

    ``room`` says where references may stand; it is drawn out by as much as maps are drawn in.
    """

    def __init__(self, maps: LooseMaps, field: Field) -> None:
        self._maps = maps
        self.room = room_of(maps.boxes, maps.step, field.length, field.width, SPARE)
        self.depths = maps.depths
        self._fixed = 1 if field.obstacles else 0
        if field.obstacles:
            less = LOOSENESS * maps.step
            self.depths = with_obstacles(
                maps.depths, maps.pose_set, field.obstacles, self.room, maps.step, less
            )
        self._first, self._choices = _choices(maps.pose_set)

    def crowd(self, laid: Laid) -> Crowd:
        """A crowd of movable pieces at the lattice positions nearest to a layout's, all weights at rest."""
        near = np.rint(laid.at / self._maps.step).astype(np.int64)
        pose = np.concatenate((np.full(self._fixed, len(self._maps.pose_set.poses)), laid.pose))
        count = len(pose)
        crowd = Crowd(
            pose.astype(np.int64),
            np.concatenate((np.zeros(self._fixed, np.int64), near[:, 0])),
            np.concatenate((np.zeros(self._fixed, np.int64), near[:, 1])),
            np.concatenate((np.full(self._fixed, -1), self._maps.pose_shape[laid.pose])).astype(np.int64),
            np.arange(count) >= self._fixed,
            self._first,
            self._choices,
            np.full((count, count), UNIT, np.int32),
            np.zeros((count, count), np.int32),
        )
        confine(crowd, self.room)
        return crowd

    def laid(self, crowd: Crowd) -> Laid:
        """The layout that a crowd stands for; pieces may overlap a little."""
        at = np.column_stack((crowd.x, crowd.y))[self._fixed :] * self._maps.step
        return Laid(crowd.pose[self._fixed :].copy(), np.asarray(at, np.float64))


def confine(crowd: Crowd, room: Room) -> None:
    """Move pieces that stick out of the room back into it."""
    moves = crowd.moves
    pose = crowd.pose[moves]
    crowd.x[moves] = np.clip(crowd.x[moves], room.first_x[pose], room.last_x[pose])
    crowd.y[moves] = np.clip(crowd.y[moves], room.first_y[pose], room.last_y[pose])


def _choices(pose_set: PoseSet) -> tuple[Ints, Ints]:
    first = np.cumsum([0, *(len(numbers) for numbers in pose_set.of_shape)]).astype(np.int64)
    return first, np.array([k for numbers in pose_set.of_shape for k in numbers], np.int64)

