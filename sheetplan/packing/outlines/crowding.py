"""From layouts to crowds of pieces that may overlap, and back; one more piece on a sheet that looks full.

Maps for the search are drawn in by a part of a lattice step. On the lattice alone two pieces that
fit together exactly would mostly stand up to a step apart; drawn in, they may lie a little too
near, and the press (see `compaction`) puts them right to the micrometre.

Obstacles of a sheet are one more piece that stays, the first of the crowd, in a pose of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from sheetplan.packing.outlines.compaction import Convexes, Press, convexes_of
from sheetplan.packing.outlines.field import FIT_SLACK_MM, Field
from sheetplan.packing.outlines.laid import Laid
from sheetplan.packing.outlines.no_fit import Contacts, Ints, map_cells
from sheetplan.packing.outlines.overlap_search import (
    UNIT,
    Bars,
    Crowd,
    Depths,
    Manner,
    Room,
    depths_of,
    separate,
    with_obstacles,
)
from sheetplan.packing.outlines.poses import Edges, PoseSet, make_poses, pose_boxes
from sheetplan.packing.outlines.setup import Setup
from sheetplan.packing.rng import Chance, below

LOOSENESS = 0.4
"""Share of a step by which maps are drawn in (tried: 0.3 to 0.5 do alike, 0 does worse)."""

SPARE = LOOSENESS / 2.0
"""By how many steps rooms are drawn out: half as much, as an edge stands still."""

MOST_CELLS = 60_000_000
"""Cells of all maps together; where there would be more, the search takes a lattice some times as coarse."""

MANNER = Manner(stride=24, patience=100, fade=20)

INSERTING_WORK = 1_000_000
"""Work of an insertion beside the search on overlap, in cells of maps read: a fifth of a millisecond."""

BARS = np.array([(5, 0.75), (10, 0.55), (20, 0.38), (40, 0.25), (80, 0.15), (160, 0.1)])
"""Sweeps after which a search gives up, where its least overlap is above this share of how deep the piece
that is put in can lie in another one, on average of those there.

Five in six of the pieces that find a place are below at each bar, most of those that never would are not:
their searches ran to the end of their patience, for eight tenths of all the work. Measured on 3,600
insertions into sheets of the demo and of a messy kit, and by the time to the first success at two sets of
sheets that can be packed: bars a third higher take longer at both, a quarter lower at one of them.
"""

NEARLY = 2.0
"""Overlap, in lattice steps of all pairs together, that the press is tried on."""

REACH_STEPS = 2.0
"""How far the press may move a piece in one step, in lattice steps."""

NOBODY = -1
"""The shape of an obstacle."""


@dataclass(frozen=True)
class LooseMaps:
    """Depth maps, drawn in, on the search's own lattice; ``boxes`` of the poses in mm."""

    pose_set: PoseSet
    pose_shape: Ints
    boxes: Edges
    step: float
    depths: Depths
    choices: tuple[Ints, Ints] = field(repr=False)
    """Pose numbers by shape, as `overlap_search.Crowd` has them."""

    @cached_property
    def convexes(self) -> Convexes:
        """The convex pieces of every pose's solid, which the press works on."""
        return convexes_of([pose.solid for pose in self.pose_set.poses])


def loose_maps(setup: Setup) -> LooseMaps:
    """The maps that a search over a setup's poses needs."""
    known = setup.pose_set
    times = 1
    while map_cells(known, setup.step * times) > MOST_CELLS:
        times += 1
    step = setup.step * times
    loose = make_poses(known.shapes, known.gap - LOOSENESS * step, known.view)
    depths = depths_of(Contacts(loose, step))
    return LooseMaps(known, setup.pose_shape, pose_boxes(known.poses), step, depths, _choices(known))


def room_of(maps: LooseMaps, length: float, width: float) -> Room:
    """Where references of poses may stand in an upright box of this size in mm, drawn out a little."""
    boxes, step = maps.boxes, maps.step
    box = np.array([length, width])
    first = np.ceil(-boxes[:, :2] / step - SPARE).astype(np.int64)
    last = np.floor((box - boxes[:, 2:]) / step + SPARE).astype(np.int64)
    fits = boxes[:, 2:] - boxes[:, :2] <= box + FIT_SLACK_MM
    last = np.where(fits, np.maximum(first, last), np.minimum(first - 1, last))
    return Room(first[:, 0].copy(), last[:, 0].copy(), first[:, 1].copy(), last[:, 1].copy())


class Crowding:
    """One field as the search sees it: where pieces may stand, what they keep clear of, how they are pressed.

    ``work`` counts what has been done on it, in cells of maps read.
    """

    def __init__(self, maps: Callable[[], LooseMaps], field: Field) -> None:
        self._maps_of, self.field = maps, field
        self.work = 0
        self._fixed = 1 if field.obstacles else 0

    @cached_property
    def maps(self) -> LooseMaps:
        """The maps, made when first needed: a sheet that is only constructed on needs none."""
        return self._maps_of()

    @cached_property
    def room(self) -> Room:
        """Where references may stand."""
        return room_of(self.maps, self.field.length, self.field.width)

    @cached_property
    def depths(self) -> Depths:
        """The depth tables, those of the obstacles included."""
        maps, obstacles = self.maps, self.field.obstacles
        if not obstacles:
            return maps.depths
        return with_obstacles(
            maps.depths, maps.pose_set, obstacles, self.room, maps.step, LOOSENESS * maps.step
        )

    @cached_property
    def press(self) -> Press:
        """What presses layouts together."""
        maps, field = self.maps, self.field
        return Press(maps.convexes, maps.boxes, maps.pose_set.gap, field.width, field.obstacles)

    def crowd(self, laid: Laid) -> Crowd:
        """A crowd of movable pieces at the lattice positions nearest to a layout's, all weights at rest."""
        near = np.rint(laid.at.reshape(-1, 2) / self.maps.step).astype(np.int64)
        fixed = self._fixed
        pose = np.concatenate((np.full(fixed, len(self.maps.pose_set.poses)), laid.pose))
        count = len(pose)
        crowd = Crowd(
            pose.astype(np.int64),
            np.concatenate((np.zeros(fixed, np.int64), near[:, 0])),
            np.concatenate((np.zeros(fixed, np.int64), near[:, 1])),
            np.concatenate((np.full(fixed, NOBODY), self.maps.pose_shape[laid.pose])).astype(np.int64),
            np.arange(count) >= fixed,
            *self.maps.choices,
            np.full((count, count), UNIT, np.int32),
            np.zeros((count, count), np.int32),
        )
        confine(crowd, self.room)
        return crowd

    def laid(self, crowd: Crowd) -> Laid:
        """The layout that a crowd stands for; pieces may overlap a little."""
        at = np.column_stack((crowd.x, crowd.y))[self._fixed :] * self.maps.step
        return Laid(crowd.pose[self._fixed :].copy(), np.asarray(at, np.float64))

    def standing(self, shape: int) -> Ints:
        """The poses of a shape that fit into the field, obstacles aside."""
        poses, room = np.array(self.maps.pose_set.of_shape[shape], np.int64), self.room
        fits = (room.last_x[poses] >= room.first_x[poses]) & (room.last_y[poses] >= room.first_y[poses])
        return poses[fits]

    def insert(self, laid: Laid, shape: int, chance: Chance, work: int) -> Laid | None:
        """The layout with one piece of a shape more, or None where that was not found with so much work."""
        poses = self.standing(shape)
        if not len(poses):
            return None
        room = self.room
        pose = int(poses[below(chance, len(poses))])
        x = int(room.first_x[pose]) + below(chance, int(room.last_x[pose] - room.first_x[pose]) + 1)
        y = int(room.first_y[pose]) + below(chance, int(room.last_y[pose] - room.first_y[pose]) + 1)
        spot = np.array([[x, y]]) * self.maps.step
        more = Laid(np.append(laid.pose, pose), np.vstack((laid.at.reshape(-1, 2), spot)))
        return self._settled(more, self._bars(laid, pose), chance, work)

    def _bars(self, laid: Laid, pose: int) -> Bars:
        """When to give up putting a piece in some pose among those of a layout."""
        others = laid.pose if len(laid.pose) else np.array([pose])
        return np.asarray(BARS * (1.0, float(self.maps.depths.most[others, pose].mean())))

    def _settled(self, laid: Laid, bars: Bars, chance: Chance, work: int) -> Laid | None:
        """The same pieces moved apart, exactly; None where that was not found with so much work."""
        crowd = self.crowd(laid)
        overlap, done = separate(self.depths, crowd, self.room, chance, MANNER, bars, work)
        self.work += INSERTING_WORK + done
        if overlap > NEARLY * self.depths.step:
            return None
        near, limit = self.laid(crowd), self.field.length + FIT_SLACK_MM
        before = self.press.work
        pressed = self.press.press(near.pose, near.at, REACH_STEPS * self.maps.step, limit, enough=limit)
        self.work += self.press.work - before
        if pressed is None or pressed.length > limit:
            return None
        return Laid(near.pose, pressed.at)


def confine(crowd: Crowd, room: Room) -> None:
    """Move pieces that stick out of the room back into it."""
    moves = crowd.moves
    pose = crowd.pose[moves]
    crowd.x[moves] = np.clip(crowd.x[moves], room.first_x[pose], room.last_x[pose])
    crowd.y[moves] = np.clip(crowd.y[moves], room.first_y[pose], room.last_y[pose])


def _choices(pose_set: PoseSet) -> tuple[Ints, Ints]:
    first = np.cumsum([0, *(len(numbers) for numbers in pose_set.of_shape)]).astype(np.int64)
    return first, np.array([k for numbers in pose_set.of_shape for k in numbers], np.int64)
