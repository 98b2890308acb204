"""Where a part's name fits on its metal, and how large.

A line of text is about `WIDE` capital heights wide for each letter. Squeezing the metal
sideways by the text's shape turns the search for a place for a long flat text into one for a
square, which stands well inside the largest circle that fits: a standard problem.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import shapely
from shapely import affinity

from sheetplan.model.outline import Outline
from sheetplan.model.plan import Placement
from sheetplan.shapes import Side, box, to_polygon
from sheetplan.shapes.transforms import cos_sin

WIDE = 1.0
"""Advance of a letter over the height of a capital; drawing programs' plain faces stay below it."""

TALLEST_MM = 25.4
"""Taller letters read no better on a screen or a print."""

CLEAR_SHARE = 0.85
"""How much of the free square the text takes, so that it keeps off the lines."""

CLEAR_GAIN = 1.2
"""How much larger turned text must be than level text to be worth turning the head."""

COARSE_SHARE = 0.004
"""Error allowed in flattening for this purpose, over the part's size."""


@dataclass(frozen=True, slots=True)
class Lettering:
    """A place for text: its middle, the height of its capitals (mm), its turn in degrees."""

    x: float
    y: float
    height: float
    turn: float


def letter_room(outline: Outline, text: str) -> Lettering:
    """The place on an outline's metal where ``text`` can stand largest.

    Level text is tried, upright text, and text along the part where the part lies askew.
    """
    around = box(outline)
    coarse = max(around.length, around.width) * COARSE_SHARE
    metal = to_polygon(outline, coarse, Side.IN)
    best = Lettering(*_largest(metal, text, coarse), 0.0)
    for degrees in (90.0, _lie(metal)):
        x, y, height = _largest(affinity.rotate(metal, -degrees, origin=(0.0, 0.0)), text, coarse)
        # Level text reads more easily, so turned text must bring a clear gain.
        if best.height < TALLEST_MM and height > CLEAR_GAIN * best.height:
            cos, sin = cos_sin(degrees)
            best = Lettering(cos * x - sin * y, sin * x + cos * y, height, degrees)
    return Lettering(best.x, best.y, min(best.height, TALLEST_MM), best.turn)


def letter_turn(own: float, placement: Placement) -> float:
    """The turn of text that lies at ``own`` degrees in its part, never upside down: above -90, up to 90."""
    turned = (-own if placement.mirrored else own) + placement.turn
    return 90.0 - (90.0 - turned) % 180.0


def _lie(metal: shapely.Geometry) -> float:
    """Direction of the longer side of the least box around the metal, in degrees."""
    corners = list(shapely.oriented_envelope(metal).exterior.coords)
    sides = [(bx - ax, by - ay) for (ax, ay), (bx, by) in itertools.pairwise(corners[:3])]
    dx, dy = max(sides, key=lambda side: math.hypot(*side))
    return math.degrees(math.atan2(dy, dx)) % 180.0


def _largest(metal: shapely.Geometry, text: str, tolerance: float) -> tuple[float, float, float]:
    """Middle and height of the largest level text on the metal."""
    squeeze = max(1.0, WIDE * len(text))
    squeezed = affinity.scale(metal, 1.0 / squeeze, 1.0, origin=(0.0, 0.0))
    spoke = shapely.maximum_inscribed_circle(squeezed, tolerance / squeeze)
    x, y = spoke.coords[0]
    return x * squeeze, y, spoke.length * math.sqrt(2.0) * CLEAR_SHARE
