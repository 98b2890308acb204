"""From part outlines and sheets' edges to the polygons that the packer works on."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from sheetplan.model.job import Part
from sheetplan.model.outline import Loop
from sheetplan.model.turns import allowed_turns
from sheetplan.packing.outlines.poses import Shape
from sheetplan.packing.outlines.simplifying import simpler, without_holes_below
from sheetplan.shapes import Side, area, to_polygon

FLATTEN_SHARE = 1 / 24
"""Arcs and corners are simplified within this share of the lattice step: rounding costs far more."""


def part_shapes(parts: Sequence[Part], step: float) -> tuple[Shape, ...]:
    """The parts as shapes whose solids contain the true outlines."""
    least = min(area(part.outline) for part in parts)
    return tuple(_shape(part, step * FLATTEN_SHARE, least) for part in parts)


def _shape(part: Part, bound: float, least_area: float) -> Shape:
    solid = to_polygon(part.outline, bound, Side.OUT)
    whole = max(shapely.get_parts(solid), key=lambda piece: piece.area)
    simple = simpler(without_holes_below(whole, least_area), bound)
    return Shape(part.name, simple, allowed_turns(part), part.may_mirror)


def edge_polygon(edge: Loop, bound: float) -> shapely.Polygon:
    """A sheet's edge as a polygon that lies within it."""
    inside = to_polygon(edge, bound, Side.IN)
    return max(shapely.get_parts(inside), key=lambda piece: piece.area)


def cut_polygon(cut: Loop, bound: float) -> shapely.Polygon:
    """An old cut as a polygon that contains it."""
    return max(shapely.get_parts(to_polygon(cut, bound, Side.OUT)), key=lambda piece: piece.area)
