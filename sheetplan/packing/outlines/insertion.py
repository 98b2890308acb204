"""One more piece on a sheet that looks full: put it in anyhow, and move the pieces apart."""

from __future__ import annotations

import numpy as np

from sheetplan.packing.outlines.chance import Chance, below
from sheetplan.packing.outlines.compaction import Press
from sheetplan.packing.outlines.contacts import Ints
from sheetplan.packing.outlines.crowding import Crowding, LooseMaps
from sheetplan.packing.outlines.field import FIT_SLACK_MM, Field
from sheetplan.packing.outlines.laid import Laid
from sheetplan.packing.outlines.separation import Manner, separate

MANNER = Manner(stride=16, patience=80, fade=100)

NEARLY = 6.0
"""Overlap, in lattice steps of all pairs together, that the press is tried on."""

REACH_STEPS = 2.0


class Insertion:
    """Adds pieces to layouts on one field."""

    def __init__(self, maps: LooseMaps, field: Field) -> None:
        self._maps = maps
        self._field = field
        self._crowding = Crowding(maps, field)
        solids = [pose.solid for pose in maps.pose_set.poses]
        self._press = Press(solids, maps.pose_set.gap, field.width, field.obstacles)
        self.work = 0
        """Work done so far, in cells of maps read."""

    def fits(self, shape: int) -> bool:
        """Whether a piece of a shape could stand on the empty sheet, obstacles aside."""
        return bool(len(self._standing(shape)))

    def add(self, laid: Laid, shape: int, chance: Chance, work: int) -> Laid | None:
        """The layout with one piece of a shape more, or None where that was not found with so much work."""
        poses = self._standing(shape)
        if not len(poses):
            return None
        room = self._crowding.room
        pose = int(poses[below(chance, len(poses))])
        x = int(room.first_x[pose]) + below(chance, int(room.last_x[pose] - room.first_x[pose]) + 1)
        y = int(room.first_y[pose]) + below(chance, int(room.last_y[pose] - room.first_y[pose]) + 1)
        spot = np.array([[x, y]]) * self._maps.step
        return self.settle(Laid(np.append(laid.pose, pose), np.vstack((laid.at, spot))), chance, work)

    def settle(self, laid: Laid, chance: Chance, work: int) -> Laid | None:
        """The same pieces moved apart, exactly; None where that was not found with so much work."""
        crowd = self._crowding.crowd(laid)
        depths = self._crowding.depths
        overlap, done = separate(depths, crowd, self._crowding.room, chance, MANNER, work)
        self.work += done
        if overlap > NEARLY * depths.step:
            return None
        near = self._crowding.laid(crowd)
        limit = self._field.length + FIT_SLACK_MM
        pressed = self._press.press(near.pose, near.at, REACH_STEPS * self._maps.step, limit)
        if pressed is None or pressed.length > limit:
            return None
        return Laid(near.pose, pressed.at)

    def _standing(self, shape: int) -> Ints:
        """The poses of a shape that fit into the field."""
        poses, room = np.array(self._maps.pose_set.of_shape[shape], np.int64), self._crowding.room
        wide = room.last_x[poses] >= room.first_x[poses]
        tall = room.last_y[poses] >= room.first_y[poses]
        return poses[wide & tall]
