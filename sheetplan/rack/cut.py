"""What a cut does to a sheet: more past cuts, metal that falls out of holes, and what the sheet leaves.

Plan, ticket, drawing, cut log and month all ask here what one sheet of a layout leaves.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from math import fsum
from operator import attrgetter

import numpy as np
import shapely

from sheetplan.model.job import CuttingRule, Part, Remnant, SheetSize
from sheetplan.model.outline import Loop, Outline, Stroke, rectangle
from sheetplan.model.plan import Group, Layout, Placement
from sheetplan.model.settings import Settings
from sheetplan.model.turns import Corner
from sheetplan.rack.free_space import COARSE_MM, Taken, is_useful, useful_rectangle
from sheetplan.rack.record import PastCut, Record, from_row, outermost
from sheetplan.shapes import Box, Side, area, as_circle, box, is_rectangle, move, perimeter, to_polygon
from sheetplan.shapes import place as placed_at
from sheetplan.trade.units import SAME_LENGTH_MM

# What a cut does to a sheet: more past cuts, metal that falls out of holes, and whether the rest is kept.
#
# What falls out of a hole is the hole's loop drawn in by the kerf. The crop cut is straight lines that part
# what is kept from its skeleton. It runs half a kerf outside the rectangle that is kept, so that this comes
# out at its size; it is cut on the line. Where the rectangle reaches the sheet's own edge there is nothing
# to cut.

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


@dataclass(frozen=True, slots=True)
class Cutting:
    """How sheets of one gauge are cut; of a part that lies on many of them each turn is looked at once.

    Parameters
    ----------
    rule : CuttingRule
        Its gap and kerf decide what room is left.
    parts : Mapping[str, Part]
        Outlines as they were planned.
    settings : Settings
        Least useful size, and whether the rest is cropped to a rectangle.
    """

    rule: CuttingRule
    parts: Mapping[str, Part]
    settings: Settings
    _known: dict[_Lie, _Lying] = field(default_factory=dict, repr=False)

    def after(self, base: Record, layout: Layout, facts: CutFacts) -> AfterCut:
        """One sheet of a layout cut from ``base``, the sheet as it lies: new, or partly used.

        ``facts`` are the date and step that every cut carries.
        """
        settings, rule = self.settings, self.rule
        placed = [placed_at(self.parts[p.part].outline, p) for p in layout.placements]
        step, date, plan = facts.step, facts.date, facts.plan
        cuts = tuple(
            PastCut(outline.outer, step, date, plan, layout.tag, p.part, self._lying(p).metal)
            for p, outline in zip(layout.placements, placed, strict=True)
        )
        taken = [Taken(cut.loop) for cut in base.cuts]
        taken += [
            Taken(cut.loop, partial(self._within, p)) for cut, p in zip(cuts, layout.placements, strict=True)
        ]
        sheet = replace(base, cuts=base.cuts + cuts, heat=base.heat or facts.heat)
        of_loop = {id(one.loop): one for one in taken}
        outer = [of_loop[id(cut.loop)] for cut in outermost(sheet.cuts, [one.box for one in taken])]
        place = useful_rectangle(sheet.edge, outer, rule.gap, settings)
        drop_outs = tuple(self._drop_outs(sheet, layout, placed, taken[len(base.cuts) :]))
        if place is None:
            return AfterCut(replace(sheet, used_up=True), None, None, (), drop_outs)
        if not settings.crop_remnants:
            return AfterCut(sheet, place, place, (), drop_outs)
        cropped, room = _cropped(sheet, place)
        return AfterCut(cropped, room, place, crop_cuts(sheet.edge, place, rule.kerf), drop_outs)

    def _drop_outs(
        self, sheet: Record, layout: Layout, placed: list[Outline], taken: list[Taken]
    ) -> Iterator[Kept]:
        """Metal in holes that is worth keeping, less the parts that were cut from it."""
        cuts = sheet.cuts[len(sheet.cuts) - len(taken) :]
        for placement, outline in zip(layout.placements, placed, strict=True):
            for hole, alone in zip(outline.holes, self._lying(placement).rooms, strict=True):
                if alone is None:
                    continue
                around = box(hole)
                inner = [
                    cut
                    for cut, its in zip(cuts, taken, strict=True)
                    if cut.loop is not outline.outer and _meet(its.box, around) and _inside(cut.loop, hole)
                ]
                edge, room = alone.edge, alone.room
                moved: tuple[PastCut, ...] = ()
                if inner:
                    # Where the part lies, less where the hole's own frame has its corner.
                    dx, dy = alone.dx - placement.x, alone.dy - placement.y
                    moved = tuple(replace(cut, loop=move(cut.loop, dx, dy)) for cut in inner)
                    held = [Taken(cut.loop) for cut in moved]
                    room = useful_rectangle(edge, held, self.rule.gap, self.settings)
                if room is None:
                    continue
                said = f"from a hole of {placement.part}, layout {layout.tag}"
                record = Record(
                    "", sheet.material, sheet.thickness, edge, moved, sheet.datum, "", sheet.heat, said
                )
                yield Kept(record, room)

    def _lying(self, placement: Placement) -> _Lying:
        """A part as it lies, wherever that is."""
        lie = placement.part, placement.turn, placement.mirrored
        known = self._known.get(lie)
        if known is None:
            unmoved = Placement(placement.part, 0.0, 0.0, placement.turn, placement.mirrored)
            outline = placed_at(self.parts[placement.part].outline, unmoved)
            rooms = tuple(self._hole_room(hole) for hole in outline.holes)
            known = self._known[lie] = _Lying(outline.outer, area(outline), rooms)
        return known

    def _within(self, placement: Placement) -> shapely.Geometry:
        """A coarse polygon within a part's edge, where a placement puts it."""
        shift = np.array((placement.x, placement.y))
        return shapely.transform(self._lying(placement).within, lambda points: points + shift)

    def _hole_room(self, hole: Loop) -> _HoleRoom | None:
        edge = drawn_in(hole, self.rule.kerf)
        if edge is None or not _may_hold(edge, self.settings):
            return None
        around = box(edge)
        dx, dy = -around.left, -around.bottom
        edge = move(edge, dx, dy)
        return _HoleRoom(edge, dx, dy, useful_rectangle(edge, [], self.rule.gap, self.settings))


class _Lying:
    """A part at one turn, about its own origin.

    ``metal`` is in mm2; ``rooms`` are, for each hole, what falls out of it where nothing is cut from that,
    None where it is too small.
    """

    def __init__(self, outer: Loop, metal: float, rooms: tuple[_HoleRoom | None, ...]) -> None:
        self.metal, self.rooms = metal, rooms
        self._outer = outer

    @cached_property
    def within(self) -> shapely.Geometry:
        """A polygon within the part's edge."""
        return to_polygon(self._outer, COARSE_MM, Side.IN)


@dataclass(frozen=True, slots=True)
class _HoleRoom:
    """Metal in a hole of a part at one turn, moved by ``(dx, dy)`` into a frame of its own, and its room."""

    edge: Loop
    dx: float
    dy: float
    room: Box | None


_Lie = tuple[str, float, bool]
"""A part's name, its turn, and whether it is mirrored."""


def metal_area(record: Record, kerf: float) -> float:
    """Metal of a record, mm2, less old cuts and the kerf around them."""
    gone = sum(area(cut.loop) + perimeter(cut.loop) * kerf for cut in outermost(record.cuts))
    return max(area(record.edge) - gone, 0.0)


def _cropped(sheet: Record, room: Box) -> tuple[Record, Box]:
    """The rectangle alone, in a frame of its own."""
    edge = rectangle(room.length, room.width).outer
    origin = f"cropped from {sheet.tag or sheet.origin}"
    return replace(sheet, edge=edge, cuts=(), origin=origin), Box(0.0, 0.0, room.length, room.width)


def _may_hold(edge: Loop, settings: Settings) -> bool:
    """Whether a box as large as the loop's would be useful: the rest need not be looked at."""
    return is_useful(box(edge), settings)


def _meet(one: Box, other: Box) -> bool:
    """Whether two boxes meet: else nothing of one lies inside the other."""
    return (
        one.left <= other.right and other.left <= one.right
        and one.bottom <= other.top and other.bottom <= one.top
    )  # fmt: skip


def _inside(loop: Loop, hole: Loop) -> bool:
    point = to_polygon(loop, INSIDE_MM, Side.IN).representative_point()
    return bool(to_polygon(hole, INSIDE_MM, Side.ON).contains(point))


FLAT_MM = 0.02
"""How far an odd loop may be flattened inwards before it is drawn in."""


def drawn_in(loop: Loop, by: float) -> Loop | None:
    """The loop that lies ``by`` mm inside another, or None where nothing is left.

    Circles and rectangles are exact. Other loops lose up to `FLAT_MM` more, never less; where the
    inside falls apart, the largest piece is taken.
    """
    circle = as_circle(loop)
    if circle:
        x, y, radius = circle
        radius -= by
        return Loop(((x - radius, y, 1.0), (x + radius, y, 1.0))) if radius > 0.0 else None
    if is_rectangle(loop):
        a = box(loop)
        left, bottom, right, top = a.left + by, a.bottom + by, a.right - by, a.top - by
        if right <= left or top <= bottom:
            return None
        return Loop(((left, bottom, 0.0), (right, bottom, 0.0), (right, top, 0.0), (left, top, 0.0)))
    inside = to_polygon(loop, FLAT_MM, Side.IN).buffer(-by, join_style="mitre").simplify(FLAT_MM / 2.0)
    pieces = [piece for piece in shapely.get_parts(inside) if not piece.is_empty]
    if not pieces:
        return None
    largest = max(pieces, key=lambda piece: piece.area)
    return Loop(tuple((x, y, 0.0) for x, y in largest.exterior.coords[:-1]))


EDGE_MM = 0.01
"""How far an odd edge may be flattened."""


def crop_cuts(edge: Loop, room: Box, kerf: float) -> tuple[Stroke, ...]:
    """The lines of the crop cut, each begun with a pierce or at the sheet's edge.

    Parameters
    ----------
    edge
        The sheet's outer edge.
    room
        The rectangle that is kept, in the sheet's frame (mm).
    kerf
        Width of the cut, mm.

    Returns
    -------
    tuple of Stroke
        Empty where the rectangle is the whole sheet.
    """
    half = kerf / 2.0
    around = box(edge)
    line = Box(
        _out(room.left, around.left, -half), _out(room.bottom, around.bottom, -half),
        _out(room.right, around.right, half), _out(room.top, around.top, half),
    )  # fmt: skip
    if is_rectangle(edge):
        return tuple(_joined(list(_sides(line, around))))
    return tuple(_on_metal(line, edge))


def _out(side: float, sheet_side: float, by: float) -> float:
    """A side moved outwards by half a kerf, unless it is the sheet's own."""
    return side if abs(side - sheet_side) <= SAME_LENGTH_MM else side + by


def _sides(line: Box, around: Box) -> Iterator[tuple[tuple[float, float], tuple[float, float]] | None]:
    """The four sides in turn; None for one that lies on the sheet's edge."""
    corners = ((line.left, line.bottom), (line.right, line.bottom),
               (line.right, line.top), (line.left, line.top))  # fmt: skip
    beyond = (
        line.bottom <= around.bottom + SAME_LENGTH_MM, line.right >= around.right - SAME_LENGTH_MM,
        line.top >= around.top - SAME_LENGTH_MM, line.left <= around.left + SAME_LENGTH_MM,
    )  # fmt: skip
    for number, on_edge in enumerate(beyond):
        yield None if on_edge else (corners[number], corners[(number + 1) % 4])


def _joined(sides: list[tuple[tuple[float, float], tuple[float, float]] | None]) -> Iterator[Stroke]:
    """Sides that follow one another as one stroke."""
    if None not in sides:  # an island: once round
        ring = [side[0] for side in sides if side]
        yield _stroke([*ring, ring[0]])
        return
    first = sides.index(None)
    points: list[tuple[float, float]] = []
    for side in (*sides[first:], *sides[:first], None):
        if side is None:
            if points:
                yield _stroke(points)
            points = []
        else:
            points = [*(points or [side[0]]), side[1]]


def _on_metal(line: Box, edge: Loop) -> Iterator[Stroke]:
    """The parts of the rectangle's sides that run through the metal of a sheet with an odd edge."""
    metal = to_polygon(edge, EDGE_MM, Side.OUT).buffer(-SAME_LENGTH_MM)
    ring = shapely.LinearRing([
        (line.left, line.bottom), (line.right, line.bottom), (line.right, line.top), (line.left, line.top),
    ])  # fmt: skip
    through = shapely.line_merge(shapely.intersection(ring, metal))
    for piece in shapely.get_parts(through):
        if piece.geom_type == "LineString" and piece.length > LEAST_MM:
            yield _stroke([(float(x), float(y)) for x, y in piece.coords])


LEAST_MM = 1.0
"""Shorter pieces of a crop cut are the dust of an edge made straight-sided, and fall with the kerf."""


def _stroke(points: list[tuple[float, float]]) -> Stroke:
    return Stroke(tuple((x, y, 0.0) for x, y in points))


# What one sheet of a layout leaves: the one answer for plan, ticket, drawing, cut log and month.
#
# Terms
# room
#     The largest rectangle that can still be cut from a sheet, where it is of the least useful size.
# crop
#     To cut the room out by straight lines; the rest is skeleton. Where the book keeps what is left
#     as it is, the whole sheet goes back with its old cuts, skeleton and all.
# share
#     Of what the whole sheet counts for as a remnant (`model.job.worth_as_remnant`): room over the
#     room there was before.
#
# What goes back weighs all its metal, and is worth only its largest rectangle. Of a cropped sheet the two are
# the same, and the crop cut is in its length, pierces and kerf. A sheet that is kept as it is takes its
# skeleton along: that metal goes back, but no yield counts it as kept.

BEFORE_IT_IS_CUT = CutFacts(0, "", "")


@dataclass(frozen=True, slots=True)
class LeftOver:
    """What goes back to the rack from one sheet.

    ``room`` in the sheet's frame, None where nothing useful is left of the sheet itself; ``crop`` the
    lines that part it from the rest, empty where the sheet is kept as it is. ``drop_outs`` are the
    rooms of pieces that fall out of holes. ``metal`` is all that goes back (mm2), ``share`` its share
    of what the whole sheet counts for as a remnant.
    """

    room: Box | None = None
    cropped: bool = False
    crop: tuple[Stroke, ...] = ()
    drop_outs: tuple[Box, ...] = ()
    drop_out_edges: tuple[Loop, ...] = ()
    """The outlines of those pieces themselves."""
    metal: float = 0.0
    share: float = 0.0
    along: float = 0.0
    """Metal (mm2) that hangs on the room and goes back with it, less what hung on the sheet before."""

    def __bool__(self) -> bool:
        return self.room is not None or bool(self.drop_outs)

    @property
    def largest(self) -> Box | None:
        """The largest remnant that the sheet leaves: its room or that of a drop-out; None where none."""
        rooms = self.drop_outs if self.room is None else (self.room, *self.drop_outs)
        return max(rooms, key=attrgetter("area"), default=None)


def left_over(
    layout: Layout, group: Group, parts: Mapping[str, Part], settings: Settings,
    cutting: Cutting | None = None,
) -> LeftOver:  # fmt: skip
    """What a planned layout leaves of one of its sheets; ``cutting`` is shared by the layouts of a gauge."""
    sheet, rule = layout.sheet, group.rule
    base = from_row(sheet) if isinstance(sheet, Remnant) else new_sheet(sheet, settings.datum)
    plain = replace(layout, tag="", repeats=1, locked=False)
    after = (cutting or Cutting(rule, parts, settings)).after(base, plain, BEFORE_IT_IS_CUT)
    metal = [metal_area(kept.record, rule.kerf) for kept in after.drop_outs]
    if after.room is not None:
        metal.append(metal_area(after.sheet, rule.kerf))
    along = 0.0 if settings.crop_remnants else _hanging(after.sheet, after.room, rule.kerf)
    if base.tag and not settings.crop_remnants:
        along -= metal_area(base, rule.kerf) - room_before(base, rule.gap, settings)
    share = shares(room_before(base, rule.gap, settings), after.rooms) if after.rooms else ()
    return LeftOver(
        after.place, after.place is not None and settings.crop_remnants, after.crop,
        tuple(kept.room for kept in after.drop_outs), tuple(kept.record.edge for kept in after.drop_outs),
        fsum(metal), fsum(share), along,
    )  # fmt: skip


def _hanging(sheet: Record, room: Box | None, kerf: float) -> float:
    """Metal of a sheet that goes back beside its room; none where the sheet is used up."""
    return metal_area(sheet, kerf) - room.area if room is not None else 0.0


def room_before(base: Record, gap: float, settings: Settings) -> float:
    """The area (mm2) that a sheet's price or value stands for: all of a new sheet, the room of a remnant."""
    if not base.tag:
        return area(base.edge)
    room = useful_rectangle(base.edge, [Taken(cut.loop) for cut in outermost(base.cuts)], gap, settings)
    return room.area if room else 0.0


def shares(whole: float, rooms: Iterable[Box]) -> tuple[float, ...]:
    """The share of ``whole`` that each room is; together never more than all of it."""
    found: list[float] = []
    for room in rooms:
        share = room.area / whole if whole > 0.0 else 0.0
        found.append(max(0.0, min(share, 1.0 - fsum(found))))
    return tuple(found)
