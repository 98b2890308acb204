"""A layout as the searches pass it on: poses and exact positions in the view."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetplan.packing.outlines.contacts import Ints
from sheetplan.packing.outlines.directions import Floats
from sheetplan.packing.outlines.setup import Setup


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """Poses and the positions of their references in mm, shape (n, 2). Two are equal if they are one."""

    pose: Ints
    at: Floats

    def without(self, piece: int) -> Laid:
        """The layout with one piece taken away."""
        return Laid(np.delete(self.pose, piece), np.delete(self.at, piece, axis=0))


def laid_of_rows(setup: Setup, placed: Ints) -> Laid:
    """The layout that rows (pose, x, y; lattice positions) of a construction stand for."""
    return Laid(placed[:, 0].copy(), np.asarray(placed[:, 1:] * setup.step, np.float64))


def length_of(setup: Setup, laid: Laid) -> float:
    """How much of the length a layout uses, mm."""
    return float((laid.at[:, 0] + setup.boxes[laid.pose, 2] * setup.step).max(initial=0.0))


def width_of(setup: Setup, laid: Laid) -> float:
    """How much of the width a layout uses, mm."""
    return float((laid.at[:, 1] + setup.boxes[laid.pose, 3] * setup.step).max(initial=0.0))


def counts_of(setup: Setup, laid: Laid) -> Ints:
    """Pieces of each shape in a layout."""
    return np.bincount(setup.pose_shape[laid.pose], minlength=len(setup.areas)).astype(np.int64)
