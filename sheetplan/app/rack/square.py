"""Write a layout's drawing for the sheet as it lies on the table."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.app.making.folders import output_folder, plan_folders
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut_asked import CutAsked, plan_of, read_code
from sheetplan.app.rack.folder import file_stem
from sheetplan.app.rack.opened import For, OpenRack, open_rack
from sheetplan.drawings.writing.scene import corner_point
from sheetplan.model import Layout, Problem, Remnant, SheetSize
from sheetplan.rack.cut import left_over
from sheetplan.rack.kept_plan import KeptPlan, PlannedLayout
from sheetplan.rack.record import as_remnant
from sheetplan.rack.squaring import (
    Lie,
    Point,
    check_scene,
    laid,
    lie_from_angle,
    lie_from_edge,
    lie_from_points,
)
from sheetplan.shapes import reverse
from sheetplan.trade.units import SAME_LENGTH_MM, Units


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured at the table, in the book's lengths and degrees.

    ``corner`` is where the datum corner lies; with it one of ``far`` (the other end of the long edge
    from it), ``along`` (any point of that edge) or ``angle``. Or ``pairs``: points of the sheet,
    measured from the datum corner, and where each of them was found.
    """

    corner: Point | None = None
    far: Point | None = None
    along: Point | None = None
    angle: float | None = None
    pairs: tuple[tuple[Point, Point], ...] = ()


@dataclass(frozen=True, slots=True)
class Squared:
    """How the sheet lies, and the drawings written: the layout, and old cuts alone to compare first."""

    lie: Lie
    drawing: Path
    check: Path
    units: Units = Units.MM


def square(book: Path, tag: str, measured: Measured, *, plan: str | None = None, on: str = "") -> Squared:
    """Turn and shift a layout onto the sheet as it lies, and write it beside the plan's drawings.

    Raises ``Refused`` where the points do not fit a sheet of this size by more than the margin to its
    edge, or the gap to old cuts, allows; nothing is then written.
    """
    from sheetplan.drawings.writing.dxf import scene_drawing
    from sheetplan.drawings.writing.scene import layout_scene
    from sheetplan.workbook.package.saving import put_file

    with open_rack(book, For.READING) as rack:
        kept, planned = plan_of(rack, read_code(CutAsked(tag, plan=plan, on=on)))
        layout = _on_record(rack, planned, on)
        _refuse_changed(rack, layout, kept)
        settings = rack.job.settings
        crop = left_over(layout, planned.group, kept.parts, settings).crop
        scene = layout_scene(layout, kept.parts, settings, crop)
        lie = _lie(measured, layout, settings.units.length_mm, backwards=scene.datum.is_right)
        _refuse_error(lie, planned, layout, settings.units.length_mm, settings.units.value)
        turned = laid(scene, lie)
        folder = output_folder(rack.book, settings.output_folder)
        assert not isinstance(folder, Problem), "the plan was found in it"
        at_hand, aside = plan_folders(folder, kept.mark)
        folder = at_hand if at_hand.is_dir() else aside
        stem = f"{layout.of_plan or kept.mark}-{file_stem(layout.tag)}"
        drawing, check = folder / f"{stem}_as_it_lies.dxf", folder / f"{stem}_compare_first.dxf"
        put_file(drawing, scene_drawing(turned, settings))
        put_file(check, scene_drawing(check_scene(turned), settings))
        return Squared(lie, drawing, check, settings.units)


def _refuse_changed(rack: OpenRack, layout: Layout, kept: KeptPlan) -> None:
    """A part whose drawing is another one now is not cut by the old one without a word."""
    from sheetplan.app.making.drawings import known_outlines
    from sheetplan.drawings.known import OTHER_READER_MM, difference
    from sheetplan.workbook.reading.grid import normal

    known, _ = known_outlines(rack.book)
    now = {name: part.outline for name, part in rack.job.parts.items() if normal(name) in known}
    names = sorted({placement.part for placement in layout.placements} & now.keys())
    changed = [
        name for name in names
        if normal(name) in rack.changed
        or difference(now[name], kept.parts[name].outline) > OTHER_READER_MM
    ]  # fmt: skip
    if changed:
        raise Refused(
            f"The drawing of {', '.join(changed)} is gone or another one than {layout.tag} was planned with.",
            "Accept the drawing and plan again, or put the old drawing back.",
        )


def _on_record(rack: OpenRack, planned: PlannedLayout, on: str) -> Layout:
    """The layout on the sheet as its record now is."""
    sheet = planned.layout.sheet
    tag = on or (sheet.tag if isinstance(sheet, Remnant) else "")
    if not tag:
        return replace(planned.layout, repeats=1)
    row, record = rack.row(tag), rack.record(tag)
    if row is None or record is None:
        raise Refused(f"There is no remnant {tag} in the rack.", "Check the tag on the sheet.")
    return replace(planned.layout, sheet=as_remnant(record, row), repeats=1)


def _lie(measured: Measured, layout: Layout, unit: float, *, backwards: bool) -> Lie:
    def mm(point: Point) -> Point:
        return point[0] * unit, point[1] * unit

    try:
        if measured.pairs:
            nominal, found = zip(*measured.pairs, strict=True)
            return lie_from_points([mm(p) for p in nominal], [mm(p) for p in found])
        if measured.corner is None:
            raise ValueError("the place of the datum corner is missing")
        if measured.far is not None:
            length = long_edge(layout.sheet) * (-1.0 if backwards else 1.0)
            return lie_from_points([(0.0, 0.0), (length, 0.0)], [mm(measured.corner), mm(measured.far)])
        if measured.along is not None and long_edge(layout.sheet):
            return lie_from_edge(mm(measured.corner), mm(measured.along), backwards=backwards)
        if measured.angle is not None:
            return lie_from_angle(mm(measured.corner), measured.angle)
        raise ValueError("one corner alone does not tell how the sheet is turned")
    except ValueError as error:
        raise Refused(
            f"The sheet's place cannot be worked out: {error}.",
            "Give --corner X,Y and one of --far X,Y, --along X,Y, --angle DEGREES; or --point twice or more.",
        ) from error


def long_edge(sheet: SheetSize | Remnant) -> float:
    """How far the edge runs along the length from the datum corner, mm; of an odd sheet less than its box.

    Raises ``ValueError`` where none runs along it there.
    """
    if not isinstance(sheet, Remnant):
        return sheet.length
    x, y = corner_point(sheet.edge, sheet.datum)
    corners = sheet.edge.vertices
    reach = 0.0
    for way in (corners, reverse(sheet.edge).vertices):
        start = next((i for i, at in enumerate(way) if math.dist(at[:2], (x, y)) <= SAME_LENGTH_MM), None)
        if start is None:
            continue
        for i in range(start, start + len(way) - 1):
            ahead = way[(i + 1) % len(way)]
            if way[i % len(way)][2] != 0.0 or abs(ahead[1] - y) > SAME_LENGTH_MM:
                break
            reach = max(reach, abs(ahead[0] - x))
    if reach <= SAME_LENGTH_MM:
        raise ValueError("at its datum corner no edge runs along its length; give points of it by --point")
    return reach


def _refuse_error(lie: Lie, planned: PlannedLayout, layout: Layout, unit: float, name: str) -> None:
    rule = planned.group.rule
    old = isinstance(layout.sheet, Remnant) and layout.sheet.cuts
    extra = layout.sheet.extra_gap if isinstance(layout.sheet, Remnant) else 0.0
    allowed = min(rule.margin, rule.gap + extra) if old else rule.margin
    if lie.worst > allowed:
        what = "margin to the edge and gap to old cuts allow" if old else "the margin to the edge allows"
        raise Refused(
            f"The points are off by {lie.worst / unit:.4g} {name}; {what} {allowed / unit:.4g} {name}.",
            "Measure again. If it stays so, this is another sheet, or the size in the book is wrong.",
        )
