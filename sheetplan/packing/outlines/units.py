"""What the constructive packer places in one go: a piece, or two pieces that tuck into each other.

Terms
-----
unit
    One or two pieces of a shape; its variants are the ways in which it may lie.
variant
    One or two poses, the second shifted by whole lattice steps against the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from sheetplan.packing.outlines.contacts import Ints
from sheetplan.packing.outlines.poses import PoseSet


@dataclass(frozen=True, slots=True)
class Variant:
    """Poses that lie together: (pose, column shift, row shift) of each piece, the first unshifted."""

    members: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True, slots=True)
class Unit:
    """One or two pieces of ``shape`` and how they may lie."""

    shape: int
    variants: tuple[Variant, ...]

    @property
    def pieces(self) -> int:
        """Pieces that one of it uses."""
        return len(self.variants[0].members)


class Units(NamedTuple):
    """Units as columns.

    ``first`` has one more entry than there are units: unit u has the variants from ``first[u]`` up
    to ``first[u + 1]``. ``members`` has shape (variants, 2, 3); a lone piece has pose -1 in second place.
    """

    shape: Ints
    pieces: Ints
    first: Ints
    members: Ints


def single(poses: PoseSet, shape: int) -> Unit:
    """One piece of a shape by itself."""
    return Unit(shape, tuple(Variant(((pose, 0, 0),)) for pose in poses.of_shape[shape]))


def as_columns(units: Sequence[Unit]) -> Units:
    """The units in the form that kernels read."""
    rows = [[*variant.members, (-1, 0, 0)][:2] for unit in units for variant in unit.variants]
    sizes = [len(unit.variants) for unit in units]
    return Units(
        np.array([unit.shape for unit in units], np.int64),
        np.array([unit.pieces if unit.variants else 1 for unit in units], np.int64),
        np.concatenate(([0], np.cumsum(sizes))).astype(np.int64),
        np.array(rows, np.int64).reshape(-1, 2, 3),
    )
