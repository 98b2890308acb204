"""From part outlines and sheets' edges to the polygons that the packer works on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import shapely

from sheetplan.model.job import Part
from sheetplan.model.outline import Loop, Outline
from sheetplan.model.turns import allowed_turns, same_turn
from sheetplan.packing.outlines.poses import Shape
from sheetplan.packing.outlines.simplifying import simpler
from sheetplan.shapes import Side, area, size, to_polygon
from sheetplan.trade.units import SAME_LENGTH_MM

FLATTEN_SHARE = 1 / 24
"""Arcs are flattened within this share of the lattice step, and corners taken away within it once more:
rounding costs far more."""


def part_shapes(parts: Sequence[Part], step: float, gap: float = 0.0) -> tuple[Shape, ...]:
    """The parts as shapes whose solids contain the true outlines.

    Holes that no part of them fits into, the gap (mm) all round it, are filled: lettering, bolt holes.
    """
    bound = step * FLATTEN_SHARE
    guests = {_Guest.of(part) for part in parts}
    solids: dict[Outline, shapely.Polygon] = {}
    for outline in (part.outline for part in parts):
        if outline not in solids:
            solids[outline] = _solid(outline, bound, guests, gap)
    return tuple(
        Shape(part.name, solids[part.outline], allowed_turns(part), part.may_mirror, 2.0 * bound)
        for part in parts
    )


@dataclass(frozen=True, slots=True)
class _Guest:
    """What a part asks of a hole that it is to lie in: so much area, and one of these boxes, mm."""

    area: float
    boxes: tuple[tuple[float, float], ...]

    @classmethod
    def of(cls, part: Part) -> _Guest:
        length, width = size(part.outline)
        turns = allowed_turns(part)
        boxes = {(width, length) if round(turn / 90.0) % 2 else (length, width) for turn in turns}
        if not all(same_turn(turn, 0.0, 90.0) for turn in turns):
            # The box at any other turn is not worked out; area alone speaks then.
            boxes = {(0.0, 0.0)}
        return cls(area(part.outline.outer), tuple(sorted(boxes)))


def _has_room(hole: Loop, guests: Iterable[_Guest], gap: float) -> bool:
    """Whether any of the guests may lie in a hole, as far as area and box go."""
    inside = area(hole)
    wide, tall = (side - 2.0 * gap + SAME_LENGTH_MM for side in size(hole))
    return any(
        guest.area <= inside and any(w <= wide and t <= tall for w, t in guest.boxes) for guest in guests
    )


def _solid(outline: Outline, bound: float, guests: Iterable[_Guest], gap: float) -> shapely.Polygon:
    holes = tuple(hole for hole in outline.holes if _has_room(hole, guests, gap))
    solid = to_polygon(Outline(outline.outer, holes), bound, Side.OUT)
    return simpler(max(shapely.get_parts(solid), key=lambda piece: piece.area), bound)


def edge_polygon(edge: Loop, bound: float) -> shapely.Polygon:
    """A sheet's edge as a polygon that lies within it."""
    inside = to_polygon(edge, bound, Side.IN)
    return max(shapely.get_parts(inside), key=lambda piece: piece.area)


def cut_polygon(cut: Loop, bound: float) -> shapely.Polygon:
    """An old cut as a polygon that contains it."""
    return max(shapely.get_parts(to_polygon(cut, bound, Side.OUT)), key=lambda piece: piece.area)
