"""Parts that no sheet of their gauge can hold."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sheetplan.model.job import Part, Remnant, SheetSize
from sheetplan.model.outline import Loop
from sheetplan.model.problem import Problem, Weight
from sheetplan.model.turns import allowed_turns, same_turn
from sheetplan.trade.units import SAME_LENGTH_MM, Units
from sheetplan.workbook.rows.reader import FaultyRow, Read

Size = tuple[float, float]
"""Width and length in mm."""


def too_large(
    read: Read[Part],
    sheets: Iterable[SheetSize | Remnant | FaultyRow],
    rule_margin: float | None,
    gauge: str,
    weight: Weight,
    units: Units,
) -> Problem | None:
    """A finding where the part, turned as it may be, fits within no sheet's margin.

    ``rule_margin`` is None while the gauge has no rule that can be used: then whole sheets are compared.
    """
    part = read.value
    margin = rule_margin or 0.0
    rooms = [_room(sheet, margin) for sheet in sheets]
    size = _box(part.outline.outer)
    if any(_fits(turned, room) for turned in _turned(size, part) for room in rooms):
        return None
    largest = max(rooms, key=lambda room: (room[0] * room[1], room))
    remedy = "Correct the size, or add a larger sheet to the page Stock."
    if any(_fits(size[::-1], room) for room in rooms):
        remedy = "It would fit turned by a quarter: allow that in the columns Turns and Grain."
    elif any(_fits(turned, _grown(room, margin)) for turned in _turned(size, part) for room in rooms):
        remedy = "It would fit without the margin: see the page Cutting, or add a larger sheet."
    room = _said(largest, units)
    said = f"is {room}" if rule_margin is None else f"leaves {room} within its margin"
    return read.place.problem(
        "Length",
        f"{part.name}, {_said(size, units)}, fits on no sheet of {gauge}; "
        f"the largest {said}.",
        remedy,
        weight,
    )


def may_hold(room: Size | None, part: Part, rule_margin: float | None) -> bool:
    """Whether a sheet of this width and length could hold the part; an unknown size could."""
    if room is None:
        return True
    within = _grown(room, -(rule_margin or 0.0))
    return any(_fits(turned, within) for turned in _turned(_box(part.outline.outer), part))


def _turned(size: Size, part: Part) -> Sequence[Size]:
    quarter = [not same_turn(turn, 0.0, 180.0) for turn in allowed_turns(part)]
    return [size[::-1] if turned else size for turned in sorted(set(quarter))]


def _fits(size: Size, room: Size) -> bool:
    return all(needed <= there + SAME_LENGTH_MM for needed, there in zip(size, room, strict=True))


def _room(sheet: SheetSize | Remnant | FaultyRow, margin: float) -> Size:
    if isinstance(sheet, FaultyRow):
        size = sheet.room or (0.0, 0.0)
    else:
        size = (sheet.width, sheet.length) if isinstance(sheet, SheetSize) else _box(sheet.edge)
    return _grown(size, -margin)


def _grown(room: Size, margin: float) -> Size:
    return room[0] + 2 * margin, room[1] + 2 * margin


def _box(loop: Loop) -> Size:
    """Width and length of a rectangle's loop."""
    xs = [x for x, _, _ in loop.vertices]
    ys = [y for _, y, _ in loop.vertices]
    return max(ys) - min(ys), max(xs) - min(xs)


def _said(size: Size, units: Units) -> str:
    width, length = (f"{max(mm, 0.0) / units.length_mm:.3f}".rstrip("0").rstrip(".") for mm in size)
    return f"{width} x {length} {units.value}"
