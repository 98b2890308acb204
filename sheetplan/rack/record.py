"""A partly used sheet: what it was, every cut made in it, and where it is measured from.

Terms
-----
record
    All that is known of one partly used sheet, found by its tag.
past cut
    The outer loop of something cut out of it: nothing may be cut there again.
by hand
    A cut that the tool did not record: drawn into the record by a person, or made before.

Everything is in mm in the sheet's frame: length along x, width along y, lower left at (0, 0).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sheetplan.model.job import Remnant
from sheetplan.model.outline import Loop
from sheetplan.model.settings import Corner
from sheetplan.shapes import Box, Side, area, box, to_polygon
from sheetplan.trade.thickness import Thickness

BY_HAND = 0
"""The step of a cut that no step recorded."""


@dataclass(frozen=True, slots=True)
class PastCut:
    """One cut: its outer loop, when and from which layout, and the metal of the part itself (mm2).

    ``metal`` is less than the loop's area where the part has holes; 0 where nobody knows.
    """

    loop: Loop
    step: int = BY_HAND
    date: str = ""
    plan: str = ""
    layout: str = ""
    part: str = ""
    metal: float = 0.0


@dataclass(frozen=True, slots=True)
class Record:
    """One partly used sheet. ``origin`` says in words what it was when it came to the rack."""

    tag: str
    material: str
    thickness: Thickness
    edge: Loop
    cuts: tuple[PastCut, ...] = ()
    datum: Corner = Corner.LOWER_LEFT
    rack_place: str = ""
    heat: str = ""
    origin: str = ""
    used_up: bool = False

    @property
    def metal_whole(self) -> float:
        """Area of the whole sheet, mm2."""
        return area(self.edge)

    @property
    def metal_left(self) -> float:
        """Area that is still metal, mm2: the sheet less every loop cut from it (kerf not counted)."""
        return area(self.edge) - sum(area(cut.loop) for cut in outermost(self.cuts))

    @property
    def life_yield(self) -> float:
        """Share of the sheet that has become parts so far."""
        return sum(cut.metal for cut in self.cuts) / area(self.edge)


def outermost(cuts: tuple[PastCut, ...], around: Sequence[Box] = ()) -> tuple[PastCut, ...]:
    """Cuts that do not lie inside another: parts cut from the metal in a hole are gone with the hole.

    ``around`` are their boxes, where they are known.
    """
    if len(cuts) < 2:
        return cuts
    boxes = np.array(around or [box(cut.loop) for cut in cuts])
    low, high = boxes[:, None, :2], boxes[:, None, 2:]
    held = np.asarray(((boxes[None, :, :2] <= low) & (high <= boxes[None, :, 2:])).all(axis=2))
    np.fill_diagonal(held, False)
    return tuple(
        cut for cut, outer in zip(cuts, held, strict=True)
        if not any(_lies_in(cut.loop, cuts[other].loop) for other in np.flatnonzero(outer))
    )  # fmt: skip


def _lies_in(inner: Loop, outer: Loop) -> bool:
    if area(inner) >= area(outer):
        return False
    point = to_polygon(inner, COARSE_MM, Side.IN).representative_point()
    return bool(to_polygon(outer, COARSE_MM, Side.ON).contains(point))


COARSE_MM = 0.1
"""Flattening error that is good enough to tell what lies inside what."""


def as_remnant(record: Record, row: Remnant) -> Remnant:
    """The row of the book as a remnant with the record's true shape; price and place are the row's."""
    return replace(
        row, edge=record.edge, cuts=tuple(cut.loop for cut in outermost(record.cuts)), datum=record.datum
    )


def from_row(row: Remnant) -> Record:
    """A record for a remnant that has none yet: what the row of the book says."""
    return Record(
        row.tag, row.material, row.thickness, row.edge,
        tuple(PastCut(loop) for loop in row.cuts), row.datum, row.rack_place, origin="from the page Remnants",
    )  # fmt: skip
