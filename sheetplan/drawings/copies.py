"""Outlines that are one and the same part, however they lie in the drawing: turned, or turned over."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from sheetplan.model.outline import Outline
from sheetplan.shapes import area, flatten, perimeter

FLAT_MM = 0.002

SAME_MM = 0.01
"""Copies nowhere further apart than this are one part: a turned copy of a curve gets turned arcs."""

MOST_TRIED = 200
"""Ways to lay one outline on another that are tried: more has only what is as good as round."""


@dataclass(frozen=True, slots=True)
class Laid:
    """An outline as points round its middle, for laying it on others."""

    rings: tuple[np.ndarray, ...]
    area: float
    length: float

    @staticmethod
    def of(outline: Outline) -> Laid:
        """Flattened, its box's area centre in the middle."""
        rings = [np.asarray(flatten(loop, FLAT_MM)) for loop in (outline.outer, *outline.holes)]
        middle = np.array(shapely.Polygon(rings[0]).centroid.coords[0])
        return Laid(
            tuple(ring - middle for ring in rings),
            area(outline),
            sum(perimeter(loop) for loop in (outline.outer, *outline.holes)),
        )

    def like(self, other: Laid) -> bool:
        """Whether both may be one part, by what no turning changes."""
        slack = SAME_MM * max(self.length, other.length)
        return (
            len(self.rings) == len(other.rings)
            and abs(self.area - other.area) <= slack
            and abs(self.length - other.length) <= 0.01 * self.length + SAME_MM
        )

    @property
    def line(self) -> shapely.Geometry:
        """All its rings."""
        return shapely.MultiLineString([np.vstack([ring, ring[:1]]) for ring in self.rings])

    @property
    def mirrored(self) -> Laid:
        """The outline turned over."""
        return Laid(tuple(ring * (-1.0, 1.0) for ring in self.rings), self.area, self.length)


def same_part(first: Outline, second: Outline) -> str | None:
    """How the second is the first: `turned` (or as it is), `mirrored`, or None where it is another part."""
    return "turned" if first == second else _how(Laid.of(first), Laid.of(second))


def _how(one: Laid, other: Laid) -> str | None:
    if not one.like(other):
        return None
    if _lies_on(one, other):
        return "turned"
    return "mirrored" if _lies_on(one, other.mirrored) else None


def _lies_on(one: Laid, other: Laid) -> bool:
    """Whether one is the other, turned about its middle."""
    line = one.line
    for ring in range(len(one.rings)):
        own = np.hypot(*one.rings[ring].T)
        at = int(own.argmax())
        if own[at] - own.min() <= SAME_MM and ring < len(one.rings) - 1:
            continue  # round about the middle: any turn fits, so another ring has to say which
        return any(_near(line, other, turn) for turn in _turns(one.rings[ring][at], other))
    return False


def _turns(point: np.ndarray, other: Laid) -> list[float]:
    """Angles that bring a point of the other, as far from the middle, onto the point."""
    radius, angle = math.hypot(*point), math.atan2(point[1], point[0])
    points = np.vstack(other.rings)
    near = points[np.abs(np.hypot(*points.T) - radius) <= SAME_MM]
    turns: list[float] = []
    for x, y in near.tolist():
        turn = (angle - math.atan2(y, x)) % (2.0 * math.pi)
        if all(abs(turn - known) * radius > SAME_MM / 4.0 for known in turns):
            turns.append(turn)
        if len(turns) >= MOST_TRIED:
            break
    return turns


def _near(line: shapely.Geometry, other: Laid, turn: float) -> bool:
    cos, sin = math.cos(turn), math.sin(turn)
    matrix = np.array([[cos, sin], [-sin, cos]])
    turned = shapely.MultiLineString([np.vstack([ring, ring[:1]]) @ matrix for ring in other.rings])
    if shapely.distance(shapely.points(turned.geoms[0].coords[0]), line) > SAME_MM:
        return False
    return bool(shapely.hausdorff_distance(line, turned) <= SAME_MM)


@dataclass(frozen=True, slots=True)
class Copies:
    """Outlines that are one part, by index: the first, those as it is or turned, those mirrored."""

    first: int
    turned: tuple[int, ...]
    mirrored: tuple[int, ...]

    @property
    def all(self) -> tuple[int, ...]:
        """All of them, in order."""
        return tuple(sorted((self.first, *self.turned, *self.mirrored)))


def copies(outlines: Sequence[Outline], kinds: Sequence[object]) -> tuple[Copies, ...]:
    """Group outlines of one kind (metal and thickness) that are one part."""
    found: list[tuple[int, Laid, object, list[int], list[int]]] = []
    for i, (outline, kind) in enumerate(zip(outlines, kinds, strict=True)):
        own = Laid.of(outline)
        for first, laid, known, turned, mirrored in found:
            if known != kind or not laid.like(own):
                continue
            how = "turned" if outlines[first] == outline else _how(laid, own)
            if how is not None:
                (turned if how == "turned" else mirrored).append(i)
                break
        else:
            found.append((i, own, kind, [], []))
    return tuple(Copies(first, tuple(turned), tuple(mirrored)) for first, _, _, turned, mirrored in found)
