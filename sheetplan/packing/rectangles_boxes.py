"""Parts as boxes on a lattice of nanometres.

A sixty-fourth of an inch and a hundredth of a millimetre are both whole numbers of nanometres,
so sums of gaps and sides are exact and a sheet that five strips fill to the edge takes five.

Terms
-----
upright box
    What a part takes up at its base turn, grown by the gap at the far sides.
mate
    The turn a quarter from the base turn, where the part allows it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetplan.model.job import Part
from sheetplan.model.turns import allowed_turns, same_turn
from sheetplan.shapes import box, turn

NM_PER_MM = 1_000_000

ROUNDING_NM = 0.05
"""Lengths this close to a whole nanometre are that nanometre: the dust of converted inches."""


def nm_up(length_mm: float) -> int:
    """Whole nanometres that are not less than a length (for parts and gaps).

    >>> nm_up(25.4 / 64)
    396875
    """
    return math.ceil(length_mm * NM_PER_MM - ROUNDING_NM)


def nm_down(length_mm: float) -> int:
    """Whole nanometres that are not more than a length (for sheets)."""
    return math.floor(length_mm * NM_PER_MM + ROUNDING_NM)


@dataclass(frozen=True, slots=True)
class Posture:
    """A part at one turn: the turn, and where its box lies when its origin is at (0, 0); mm."""

    turn: float
    left: float
    bottom: float
    length: float
    width: float


@dataclass(frozen=True, slots=True)
class PartBox:
    """A part as a box: its base posture, its mate, and the grown sides of the base in nanometres."""

    part: Part
    base: Posture
    mate: Posture | None
    length: int
    width: int

    def posture(self, turned: bool) -> Posture:
        """How the part lies when the box lies as is or a quarter turned."""
        return self.mate if turned and self.mate else self.base


def _posture(part: Part, degrees: float) -> Posture:
    around = box(turn(part.outline.outer, degrees))
    return Posture(degrees, around.left, around.bottom, around.length, around.width)


def box_of(part: Part, gap: float) -> PartBox | None:
    """The least box that the part's turns allow, or None where grain and turns leave no turn at all."""
    postures = [_posture(part, degrees) for degrees in allowed_turns(part)]
    if not postures:
        return None
    base = min(postures, key=lambda p: (round(p.length * p.width, 3), p.turn))
    mate = next((p for p in postures if same_turn(p.turn - base.turn, 90.0, 180.0)), None)
    return PartBox(part, base, mate, nm_up(base.length + gap), nm_up(base.width + gap))
