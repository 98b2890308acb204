"""Where a sheet stands in a drawing, and the marks that lie on it: edge, old cuts, hatch, parts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from sheetplan.model import Job, Layout, Loop, Placement, Remnant
from sheetplan.model.job import edge_of
from sheetplan.model.settings import Corner
from sheetplan.pages import palette
from sheetplan.pages.marks import Area, Line, Mark, Point, Ring
from sheetplan.pages.marks import box as ring_of
from sheetplan.pages.numbering import Spot, spot_for
from sheetplan.shapes import Box, flatten, flatten_stroke, place
from sheetplan.shapes.flattening import Points

FLATNESS = 0.1
"""Points that a drawn arc may stray: less than the width of its edge."""

HATCH_STEP = 5.0
"""Points between hatch lines, measured along the sheet's length."""


@dataclass(frozen=True, slots=True)
class Stand:
    """Scale and place of a sheet in a drawing of a width and height in points."""

    width: float
    height: float
    scale: float
    """Points to the millimetre."""
    origin: Point
    """Where the sheet's (0, 0) lies."""
    sheet: Box
    """The box of the sheet in its own frame, mm."""
    datum: Corner

    def at(self, x: float, y: float) -> Point:
        """A point of the sheet (mm) in the drawing."""
        return self.origin[0] + x * self.scale, self.origin[1] + y * self.scale

    def ring(self, loop: Loop) -> Ring:
        """A loop of the sheet (mm) in the drawing."""
        points = flatten(loop, FLATNESS / self.scale) * self.scale + np.array(self.origin)
        return ring_of_points(points)

    @property
    def corners(self) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of the sheet in the drawing."""
        return (*self.at(self.sheet.left, self.sheet.bottom), *self.at(self.sheet.right, self.sheet.top))


@dataclass(frozen=True, slots=True)
class PartShape:
    """A part as it lies at one turn: rings, scribed marks and metal in points about its own origin."""

    rings: tuple[Ring, ...]
    scribed: tuple[Ring, ...]
    metal: shapely.Polygon


Lie = tuple[str, float, bool]
"""A part's name, its turn, and whether it is mirrored."""


def lie_of(placement: Placement) -> Lie:
    """How a placement's part lies, wherever that is."""
    return placement.part, placement.turn, placement.mirrored


class PartShapes:
    """Shapes worked out so far at one scale, so that equal parts are flattened once, and numbered once."""

    def __init__(self, job: Job, scale: float) -> None:
        self.job, self.scale = job, scale
        self._made: dict[Lie, PartShape] = {}
        self._spots: dict[tuple[Lie, str, str, bool], Spot | None] = {}

    def spot(
        self, placement: Placement, text: str, letter: str = "", *, may_break: bool = False
    ) -> Spot | None:
        """Where a text stands on a placement's part, about its own origin."""
        asked = lie_of(placement), text, letter, may_break
        if asked not in self._spots:
            metal = self.of(placement).metal
            self._spots[asked] = spot_for(text, metal, may_break=may_break, letter=letter)
        return self._spots[asked]

    def of(self, placement: Placement) -> PartShape:
        """The shape of a placement's part as it lies."""
        lie = lie_of(placement)
        if lie not in self._made:
            self._made[lie] = self._make(placement)
        return self._made[lie]

    def _make(self, placement: Placement) -> PartShape:
        at_origin = Placement(placement.part, 0.0, 0.0, placement.turn, placement.mirrored)
        outline = place(self.job.parts[placement.part].outline, at_origin)
        bound = FLATNESS / self.scale
        rings = [flatten(loop, bound) * self.scale for loop in (outline.outer, *outline.holes)]
        scribed = [flatten_stroke(mark, bound) * self.scale for mark in outline.marks]
        return PartShape(
            tuple(map(ring_of_points, rings)),
            tuple(map(ring_of_points, scribed)),
            shapely.Polygon(rings[0], rings[1:]),
        )


def datum_of(layout: Layout, job: Job) -> Corner:
    """The corner that a layout's sheet is measured from."""
    return layout.sheet.datum if isinstance(layout.sheet, Remnant) else job.settings.datum


def sheet_marks(layout: Layout, stand: Stand) -> Iterator[Mark]:
    """The sheet and, on a remnant, what was cut from it before."""
    yield Area((stand.ring(edge_of(layout.sheet)),), palette.SHEET, palette.SHEET_EDGE, 1.2)
    if isinstance(layout.sheet, Remnant):
        for loop in layout.sheet.old_cuts:
            yield Area((stand.ring(loop),), palette.OLD_CUT, palette.OLD_CUT_EDGE, 0.7, (2.5, 1.5))
        for loop in layout.sheet.cuts[len(layout.sheet.old_cuts) :]:
            # Metal that is there and not used has an edge only.
            yield Area((stand.ring(loop),), None, palette.OLD_CUT_EDGE, 0.5, (1.0, 2.5))


def part_marks(
    layout: Layout, stand: Stand, shapes: PartShapes, colours: palette.PartColours
) -> Iterator[Mark]:
    """All parts with their holes and scribed marks."""
    for placement in layout.placements:
        shape = shapes.of(placement)
        x, y = stand.at(placement.x, placement.y)
        yield Area(
            tuple(moved(ring, x, y) for ring in shape.rings), colours.fill(placement.part), palette.EDGE, 0.8
        )
        for chain in shape.scribed:
            yield Line(moved(chain, x, y), palette.QUIET_INK, 0.5)


def kept_ring(keep: Box, stand: Stand) -> Ring:
    """The corners of what goes back to the rack."""
    return ring_of(*stand.at(keep.left, keep.bottom), *stand.at(keep.right, keep.top))


def kept_marks(keep: Box, stand: Stand) -> Iterator[Mark]:
    """Hatch over what goes back to the rack."""
    ring = kept_ring(keep, stand)
    for chain in _hatch(shapely.Polygon(ring)):
        yield Line(chain, palette.KEEP_LINE, 0.5)
    yield Area((ring,), None, palette.KEEP_LINE, 0.8, (4.0, 2.0))


def datum_angle(stand: Stand) -> Line:
    """A heavy angle round the datum corner; its middle point is the corner."""
    left, bottom, right, top = stand.corners
    x, inward = (right + 2.0, -1.0) if stand.datum.is_right else (left - 2.0, 1.0)
    y, upward = (top + 2.0, -1.0) if stand.datum.is_upper else (bottom - 2.0, 1.0)
    leg = min(18.0, 0.4 * (right - left), 0.4 * (top - bottom))
    return Line(((x + inward * leg, y), (x, y), (x, y + upward * leg)), palette.DATUM, 2.6)


def moved(ring: Ring, dx: float, dy: float) -> Ring:
    """A ring or chain moved."""
    return tuple((x + dx, y + dy) for x, y in ring)


def translated(metal: shapely.Polygon, dx: float, dy: float) -> shapely.Polygon:
    """A polygon moved."""
    return shapely.transform(metal, lambda points: points + np.array((dx, dy)))


def ring_of_points(points: Points) -> Ring:
    """Points of shape (n, 2) as plain pairs."""
    return tuple((x, y) for x, y in points.tolist())


def _hatch(region: shapely.Polygon) -> Iterator[Ring]:
    """Lines at 45 degrees within a region, equally spaced from the drawing's origin."""
    left, bottom, right, top = region.bounds
    first = math.ceil((left - top) / HATCH_STEP)
    last = math.floor((right - bottom) / HATCH_STEP)
    lines = [
        shapely.LineString(((n * HATCH_STEP + bottom, bottom), (n * HATCH_STEP + top, top)))
        for n in range(first, last + 1)
    ]
    for piece in shapely.get_parts(shapely.intersection(lines, region)):
        for chain in shapely.get_parts(piece):
            if isinstance(chain, shapely.LineString) and chain.length > 0.0:
                yield tuple((x, y) for x, y in chain.coords)
