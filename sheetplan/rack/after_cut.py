"""What a cut does to a sheet: more past cuts, metal that falls out of holes, and whether the rest is kept."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from sheetplan.model.job import CuttingRule, Part, SheetSize
from sheetplan.model.outline import Loop, Outline, Stroke, rectangle
from sheetplan.model.plan import Layout
from sheetplan.model.settings import Corner, Settings
from sheetplan.rack.crop_cut import crop_cuts
from sheetplan.rack.insets import drawn_in
from sheetplan.rack.record import PastCut, Record, outermost
from sheetplan.rack.useful import is_useful, useful_rectangle
from sheetplan.shapes import Box, Side, area, box, move, perimeter, to_polygon
from sheetplan.shapes import place as placed_at

INSIDE_MM = 0.05
"""Flattening error when asking which part was cut out of which hole."""


@dataclass(frozen=True, slots=True)
class CutFacts:
    """What is written on every cut of a step."""

    step: int
    date: str
    plan: str
    heat: str = ""


@dataclass(frozen=True, slots=True)
class Kept:
    """A sheet that goes back to the rack; ``room`` is the largest rectangle free on it."""

    record: Record
    room: Box


@dataclass(frozen=True, slots=True)
class AfterCut:
    """One sheet after a layout was cut.

    ``sheet`` is the record with the new cuts, used up where nothing useful is left; ``room`` the
    largest rectangle then free on it, None where it is used up. ``place`` is that rectangle where it
    lies on the sheet that was cut, ``crop`` the lines that part it from the rest; no lines where the
    rest is kept as it is. ``drop_outs`` are pieces that fell out of holes and are worth keeping; they
    have no tag yet.
    """

    sheet: Record
    room: Box | None
    place: Box | None
    crop: tuple[Stroke, ...]
    drop_outs: tuple[Kept, ...]

    @property
    def rooms(self) -> tuple[Box, ...]:
        """The useful rectangle of each thing that goes back, the sheet's own first."""
        return (*((self.room,) if self.room else ()), *(kept.room for kept in self.drop_outs))


def new_sheet(sheet: SheetSize, datum: Corner) -> Record:
    """A full sheet from the rack as a record without cuts and without a tag."""
    edge = rectangle(sheet.length, sheet.width).outer
    return Record("", sheet.material, sheet.thickness, edge, (), datum, sheet.rack_place, origin=sheet.name)


def after_cut(
    base: Record, layout: Layout, rule: CuttingRule, parts: Mapping[str, Part], facts: CutFacts,
    settings: Settings,
) -> AfterCut:  # fmt: skip
    """Cut one sheet of a layout from ``base``.

    Parameters
    ----------
    base : Record
        The sheet as it lies: new, or partly used.
    layout : Layout
        What is cut.
    rule : CuttingRule
        Its gap and kerf decide what room is left.
    parts : Mapping[str, Part]
        Outlines as they were planned.
    facts : CutFacts
        Date and step that every cut carries.
    settings : Settings
        Least useful size, and whether the rest is cropped to a rectangle.
    """
    placed = [(p.part, placed_at(parts[p.part].outline, p)) for p in layout.placements]
    cuts = tuple(
        PastCut(outline.outer, facts.step, facts.date, facts.plan, layout.tag, name, area(outline))
        for name, outline in placed
    )
    sheet = replace(base, cuts=base.cuts + cuts, heat=base.heat or facts.heat)
    place = useful_rectangle(sheet.edge, [cut.loop for cut in outermost(sheet.cuts)], rule.gap, settings)
    drop_outs = tuple(_drop_outs(sheet, layout, placed, cuts, rule.kerf, rule.gap, settings))
    if place is None:
        return AfterCut(replace(sheet, used_up=True), None, None, (), drop_outs)
    if not settings.crop_remnants:
        return AfterCut(sheet, place, place, (), drop_outs)
    cropped, room = _cropped(sheet, place)
    return AfterCut(cropped, room, place, crop_cuts(sheet.edge, place, rule.kerf), drop_outs)


def metal_area(record: Record, kerf: float) -> float:
    """Metal of a record, mm2, less old cuts and the kerf around them."""
    gone = sum(area(cut.loop) + perimeter(cut.loop) * kerf for cut in outermost(record.cuts))
    return max(area(record.edge) - gone, 0.0)


def _cropped(sheet: Record, room: Box) -> tuple[Record, Box]:
    """The rectangle alone, in a frame of its own."""
    edge = rectangle(room.length, room.width).outer
    origin = f"cropped from {sheet.tag or sheet.origin}"
    return replace(sheet, edge=edge, cuts=(), origin=origin), Box(0.0, 0.0, room.length, room.width)


def _drop_outs(
    sheet: Record, layout: Layout, placed: list[tuple[str, Outline]], cuts: tuple[PastCut, ...],
    kerf: float, gap: float, settings: Settings,
) -> Iterator[Kept]:  # fmt: skip
    """Metal in holes that is worth keeping, less the parts that were cut from it."""
    for name, outline in placed:
        for hole in outline.holes:
            edge = drawn_in(hole, kerf)
            if edge is None or not _may_hold(edge, settings):
                continue
            inner = tuple(cut for cut in cuts if cut.loop is not outline.outer and _inside(cut.loop, hole))
            room = useful_rectangle(edge, [cut.loop for cut in inner], gap, settings)
            if room is None:
                continue
            around = box(edge)
            dx, dy = -around.left, -around.bottom
            moved = tuple(replace(cut, loop=move(cut.loop, dx, dy)) for cut in inner)
            record = Record(
                "", sheet.material, sheet.thickness, move(edge, dx, dy), moved, sheet.datum, "", sheet.heat,
                f"from a hole of {name}, layout {layout.tag}",
            )  # fmt: skip
            left, bottom, right, top = room
            yield Kept(record, Box(left + dx, bottom + dy, right + dx, top + dy))


def _may_hold(edge: Loop, settings: Settings) -> bool:
    """Whether a box as large as the loop's would be useful: the rest need not be looked at."""
    return is_useful(box(edge), settings)


def _inside(loop: Loop, hole: Loop) -> bool:
    point = to_polygon(loop, INSIDE_MM, Side.IN).representative_point()
    return bool(to_polygon(hole, INSIDE_MM, Side.ON).contains(point))
