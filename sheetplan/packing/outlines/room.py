"""Where the references of poses may stand in an upright box."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sheetplan.packing.outlines.contacts import Ints
from sheetplan.packing.outlines.growing import Edges


class Room(NamedTuple):
    """First and last lattice position of each pose's reference; empty where last < first."""

    first_x: Ints
    last_x: Ints
    first_y: Ints
    last_y: Ints


def room_of(boxes: Edges, step: float, length: float, width: float, spare: float) -> Room:
    """The room in a box of this size in mm, drawn out by ``spare`` steps on every side.

    ``boxes`` has left, bottom, right, top of each pose about its reference, mm.
    """
    box = np.array([length, width])
    first = np.ceil(-boxes[:, :2] / step - spare).astype(np.int64)
    last = np.floor((box - boxes[:, 2:]) / step + spare).astype(np.int64)
    fits = boxes[:, 2:] - boxes[:, :2] <= box
    last = np.where(fits, np.maximum(first, last), np.minimum(first - 1, last))
    return Room(first[:, 0].copy(), last[:, 0].copy(), first[:, 1].copy(), last[:, 1].copy())
