"""A partly used sheet: what it was, every cut made in it, and where it is measured from.

What has to hold of an outline that comes in from outside, by tape or from a drawing, is said here too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from itertools import combinations
from typing import Any

import numpy as np
import shapely

from sheetplan.model.job import Remnant, SheetSize
from sheetplan.model.outline import Loop, Outline, Stroke
from sheetplan.model.turns import Corner
from sheetplan.shapes import Box, Side, area, box, to_polygon
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import SAME_LENGTH_MM

# A partly used sheet: what it was, every cut made in it, and where it is measured from.
#
# Terms
# record
#     All that is known of one partly used sheet, found by its tag.
# past cut
#     The outer loop of something cut out of it: nothing may be cut there again.
# by hand
#     A cut that the tool did not record: drawn into the record by a person, or made before.
#
# Everything is in mm in the sheet's frame: length along x, width along y, lower left at (0, 0). Records are
# kept as JSON; Python writes the shortest text that gives the same double, so reading gives equal values.

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


def outermost(cuts: tuple[PastCut, ...], around: Sequence[Box] = ()) -> tuple[PastCut, ...]:
    """Cuts that do not lie inside another: parts cut from the metal in a hole are gone with the hole.

    ``around`` are their boxes, where they are known.
    """
    if len(cuts) < 2:
        return cuts
    boxes = np.array(around or [box(cut.loop) for cut in cuts])
    low, high = boxes[:, None, :2], boxes[:, None, 2:]
    held = np.asarray(((boxes[None, :, :2] <= low) & (high <= boxes[None, :, 2:])).all(axis=2))
    np.fill_diagonal(held, val=False)
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
        row.tag, row.material, row.thickness, row.edge, tuple(PastCut(loop) for loop in row.old_cuts),
        row.datum, row.rack_place, origin="from the page Remnants",
    )  # fmt: skip


Json = Mapping[str, Any]


def loop_json(chain: Loop | Stroke) -> list[list[float]]:
    """Vertices as ``[x, y, bulge]``."""
    return [list(vertex) for vertex in chain.vertices]


def loop_of(value: Any) -> Loop:
    """A loop from its vertices."""
    return Loop(_vertices(value))


def _vertices(value: Any) -> tuple[tuple[float, float, float], ...]:
    return tuple((float(x), float(y), float(bulge)) for x, y, bulge in value)


def outline_json(outline: Outline) -> dict[str, Any]:
    """An outline with its holes and marks."""
    return {
        "outer": loop_json(outline.outer),
        "holes": [loop_json(hole) for hole in outline.holes],
        "marks": [loop_json(mark) for mark in outline.marks],
    }


def outline_of(value: Json) -> Outline:
    """The outline that `outline_json` wrote."""
    return Outline(
        loop_of(value["outer"]),
        tuple(loop_of(hole) for hole in value["holes"]),
        tuple(Stroke(_vertices(mark)) for mark in value["marks"]),
    )


def thickness_json(thickness: Thickness) -> dict[str, Any]:
    """Millimetres and the text that it is shown as."""
    return {"mm": thickness.mm, "text": thickness.text}


def thickness_of(value: Json) -> Thickness:
    """The thickness that `thickness_json` wrote."""
    return Thickness(float(value["mm"]), str(value["text"]))


def sheet_json(sheet: SheetSize | Remnant) -> dict[str, Any]:
    """A full sheet or a remnant as it was planned on."""
    common = {
        "material": sheet.material,
        "thickness": thickness_json(sheet.thickness),
        "rack_place": sheet.rack_place,
    }
    if isinstance(sheet, SheetSize):
        return {
            "sheet": sheet.name, "length": sheet.length, "width": sheet.width, "price": sheet.price, **common,
        }  # fmt: skip
    return {
        "remnant": sheet.tag, "edge": loop_json(sheet.edge), "cuts": [loop_json(cut) for cut in sheet.cuts],
        "datum": sheet.datum.value, "value": sheet.value, "extra_gap": sheet.extra_gap,
        **({"hanging": sheet.hanging} if sheet.hanging else {}), **common,
    }  # fmt: skip


def sheet_of(value: Json) -> SheetSize | Remnant:
    """The sheet that `sheet_json` wrote; counts and buying limits are not kept."""
    material, thickness = str(value["material"]), thickness_of(value["thickness"])
    place = str(value["rack_place"])
    if "sheet" in value:
        return SheetSize(
            str(value["sheet"]), material, thickness, float(value["length"]), float(value["width"]),
            price=float(value["price"]), rack_place=place,
        )  # fmt: skip
    return Remnant(
        str(value["remnant"]), material, thickness, loop_of(value["edge"]),
        tuple(loop_of(cut) for cut in value["cuts"]), Corner(value["datum"]), place, float(value["value"]),
        float(value.get("extra_gap", 0.0)), hanging=int(value.get("hanging", 0)),
    )  # fmt: skip


def record_json(record: Record) -> dict[str, Any]:
    """A record with every cut."""
    return {
        "tag": record.tag,
        "material": record.material,
        "thickness": thickness_json(record.thickness),
        "edge": loop_json(record.edge),
        "cuts": [_cut_json(cut) for cut in record.cuts],
        "datum": record.datum.value,
        "rack_place": record.rack_place,
        "heat": record.heat,
        "origin": record.origin,
        "used_up": record.used_up,
    }


def record_of(value: Json) -> Record:
    """The record that `record_json` wrote."""
    return Record(
        str(value["tag"]), str(value["material"]), thickness_of(value["thickness"]), loop_of(value["edge"]),
        tuple(_cut_of(cut) for cut in value["cuts"]), Corner(value["datum"]), str(value["rack_place"]),
        str(value["heat"]), str(value["origin"]), bool(value["used_up"]),
    )  # fmt: skip


def _cut_json(cut: PastCut) -> dict[str, Any]:
    return {
        "loop": loop_json(cut.loop), "step": cut.step, "date": cut.date, "plan": cut.plan,
        "layout": cut.layout, "part": cut.part, "metal": cut.metal,
    }  # fmt: skip


def _cut_of(value: Json) -> PastCut:
    return PastCut(
        loop_of(value["loop"]), int(value["step"]), str(value["date"]), str(value["plan"]),
        str(value["layout"]), str(value["part"]), float(value["metal"]),
    )  # fmt: skip


# What has to hold of an outline that comes into the rack from outside: by tape, or from a drawing.
#
# The tool's own records keep it by themselves: openings lie within the edge and apart from one another, all
# that is left hangs together, and the datum corner is a corner of the metal.

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
