"""What one sheet of a layout leaves: the one answer for plan, ticket, drawing, cut log and month.

Terms
-----
room
    The largest rectangle that can still be cut from a sheet, where it is of the least useful size.
crop
    To cut the room out by straight lines; the rest is skeleton. Where the book keeps what is left
    as it is, the whole sheet goes back with its old cuts, skeleton and all.
worth
    A share of what the whole sheet counts for as a remnant (`model.job.worth_as_remnant`): room over the
    room there was before.

Choices
-------
What goes back weighs all its metal and is worth its largest rectangle alone. Cropped, the two are the same,
and the crop cut is in length, pierces and kerf. Kept as it is, the sheet takes its skeleton along: that
metal goes back, but no yield counts it as kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import fsum

from sheetplan.model.job import Part, Remnant
from sheetplan.model.outline import Loop, Stroke
from sheetplan.model.plan import Group, Layout
from sheetplan.model.settings import Settings
from sheetplan.rack.cut import CutFacts, Cutting, metal_area, new_sheet
from sheetplan.rack.free_space import Taken, useful_rectangle
from sheetplan.rack.record import Record, from_row, outermost
from sheetplan.shapes import Box, area

BEFORE_IT_IS_CUT = CutFacts(0, "", "")


@dataclass(frozen=True, slots=True)
class LeftOver:
    """What goes back to the rack from one sheet.

    ``room`` in the sheet's frame, None where nothing useful is left of the sheet itself; ``crop`` the
    lines that part it from the rest, empty where the sheet is kept as it is. ``drop_outs`` are the
    rooms of pieces that fall out of holes. ``metal`` is all that goes back (mm2), ``worth`` its share
    of what the whole sheet counts for as a remnant.
    """

    room: Box | None = None
    cropped: bool = False
    crop: tuple[Stroke, ...] = ()
    drop_outs: tuple[Box, ...] = ()
    drop_out_edges: tuple[Loop, ...] = ()
    """The outlines of those pieces themselves."""
    metal: float = 0.0
    worth: float = 0.0
    along: float = 0.0
    """Metal (mm2) that hangs on the room and goes back with it, less what hung on the sheet before."""

    def __bool__(self) -> bool:
        return self.room is not None or bool(self.drop_outs)

    @property
    def largest(self) -> Box | None:
        """The largest remnant that the sheet leaves: its room or that of a drop-out; None where none."""
        rooms = self.drop_outs if self.room is None else (self.room, *self.drop_outs)
        return max(rooms, key=_size, default=None)


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
    worth = shares(room_before(base, rule.gap, settings), after.rooms) if after.rooms else ()
    return LeftOver(
        after.place, after.place is not None and settings.crop_remnants, after.crop,
        tuple(kept.room for kept in after.drop_outs), tuple(kept.record.edge for kept in after.drop_outs),
        fsum(metal), fsum(worth), along,
    )  # fmt: skip


def _hanging(sheet: Record, room: Box | None, kerf: float) -> float:
    """Metal of a sheet that goes back beside its room; none where the sheet is used up."""
    return metal_area(sheet, kerf) - _size(room) if room is not None else 0.0


def room_before(base: Record, gap: float, settings: Settings) -> float:
    """The area (mm2) that a sheet's price or value stands for: all of a new sheet, the room of a remnant."""
    if not base.tag:
        return area(base.edge)
    room = useful_rectangle(base.edge, [Taken(cut.loop) for cut in outermost(base.cuts)], gap, settings)
    return _size(room) if room else 0.0


def shares(whole: float, rooms: Iterable[Box]) -> tuple[float, ...]:
    """The share of ``whole`` that each room is; together never more than all of it."""
    found: list[float] = []
    for room in rooms:
        share = _size(room) / whole if whole > 0.0 else 0.0
        found.append(max(0.0, min(share, 1.0 - fsum(found))))
    return tuple(found)


def _size(room: Box) -> float:
    return room.length * room.width
