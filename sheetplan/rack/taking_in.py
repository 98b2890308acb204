"""What has to hold of an outline that comes into the rack from outside: by tape, or from a drawing.

The tool's own records keep it by themselves: openings lie within the edge and apart from one another, all
that is left hangs together, and the datum corner is a corner of the metal.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import combinations

import shapely

from sheetplan.model.outline import Loop
from sheetplan.shapes import to_polygon
from sheetplan.trade.units import SAME_LENGTH_MM

FINE_MM = 0.01
"""Flattening error where loops are held against one another."""

TOUCH_MM = 0.05
"""Openings that come as near as this to the edge or to one another touch."""

AGREE_MM = 0.5
"""How far an outline may stray from the size that the book says: what a tape is read to."""


class Unsound(Enum):
    """What cannot be so of a sheet that is one piece."""

    NOT_WITHIN = "an opening is not within the edge"
    OVER_ANOTHER = "an opening lies over another"
    IN_PIECES = "the openings part it"


@dataclass(frozen=True, slots=True)
class Flaw:
    """One finding: the opening it is about, the other one or how many pieces there are."""

    kind: Unsound
    opening: int = 0
    other: int = 0


def flaws(edge: Loop, openings: Sequence[Loop]) -> Iterator[Flaw]:
    """Everything that cannot be so of an edge with its openings; whether they part it, if nothing else is."""
    sheet = to_polygon(edge, FINE_MM)
    holes = [to_polygon(loop, FINE_MM) for loop in openings]
    around, sound = sheet.buffer(TOUCH_MM), True
    for number, hole in enumerate(holes):
        if not hole.within(around):
            sound = False
            yield Flaw(Unsound.NOT_WITHIN, number)
    for (first, one), (second, other) in combinations(enumerate(holes), 2):
        if one.intersects(other) and one.intersection(other).area > TOUCH_MM**2:
            sound = False
            yield Flaw(Unsound.OVER_ANOTHER, second, first)
    if not sound or not holes:
        return
    rest = sheet.difference(shapely.union_all([hole.buffer(TOUCH_MM) for hole in holes]))
    parts = [one for one in shapely.get_parts(rest) if not one.buffer(-TOUCH_MM).is_empty]
    if len(parts) != 1:
        yield Flaw(Unsound.IN_PIECES, other=len(parts))


def has_corner(edge: Loop, x: float, y: float, within: float = SAME_LENGTH_MM) -> bool:
    """Whether a corner of the edge lies at a point."""
    return any(math.hypot(vx - x, vy - y) <= within for vx, vy, _ in edge.vertices)
