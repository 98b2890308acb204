"""A solution in boxes becomes layouts with parts, sheet counts, and what could not be made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sheetplan.model.job import Remnant, SheetSize
from sheetplan.model.plan import Group, Layout, Placement, SheetCount
from sheetplan.packing.rectangles_blank import datum_frame
from sheetplan.planning.box_problem import BoxProblem, Cut


def layout_of(problem: BoxProblem, cut: Cut, tag: str) -> Layout:
    """A cut in the sheet frame, parts from the datum corner outwards."""
    choice = problem.choices[cut.supply]
    if cut.is_shaped:
        return Layout(tag, choice.sheet, cut.placements, cut.repeats)
    frame = datum_frame(choice.blank)
    placements = []
    for t, x, y, turned in sorted(map(tuple, cut.boxes.tolist()), key=lambda row: (row[1], row[2])):
        made = problem.boxes[t]
        posture = made.posture(bool(turned))
        left, bottom = frame.origin(x, y, posture)
        placements.append(Placement(made.part.name, left, bottom, posture.turn))
    return Layout(tag, choice.sheet, tuple(placements), cut.repeats)


def layouts_of(problem: BoxProblem, cuts: Sequence[Cut]) -> tuple[Layout, ...]:
    """Every cut as a layout, remnants first, then size by size, the most repeated first.

    The same arrangement on sheets from the rack and on bought ones is one layout.
    """
    merged: dict[tuple[SheetSize | Remnant, tuple[Placement, ...]], int] = {}
    for cut in sorted(cuts, key=lambda cut: (cut.supply, -cut.repeats, -len(cut.boxes))):
        layout = layout_of(problem, cut, "")
        key = layout.sheet, layout.placements
        merged[key] = merged.get(key, 0) + layout.repeats
    return tuple(
        Layout(f"L{number}", sheet, placements, repeats)
        for number, ((sheet, placements), repeats) in enumerate(merged.items(), 1)
    )


def sheet_counts(group: Group, layouts: Sequence[Layout]) -> tuple[SheetCount, ...]:
    """Sheets by size: from the rack first, the rest bought in whole order multiples."""
    counts = []
    for sheet in group.stock:
        used = sum(layout.repeats for layout in layouts if layout.sheet == sheet)
        if used:
            counts.append(_count(sheet, used))
    return tuple(counts)


def _count(sheet: SheetSize, used: int) -> SheetCount:
    from_rack = min(used, sheet.on_hand)
    multiples = -(-(used - from_rack) // sheet.multiple)
    return SheetCount(sheet, used, from_rack, multiples * sheet.multiple)


def money_of(layouts: Sequence[Layout]) -> float:
    """What the sheets of layouts cost: price of sheets, value of remnants and moving what lies on them."""
    return sum(
        layout.repeats * (layout.sheet.price if isinstance(layout.sheet, SheetSize) else layout.sheet.cost)
        for layout in layouts
    )


def shortfall(group: Group, layouts: Sequence[Layout]) -> dict[str, int]:
    """Pieces of must orders that no layout makes, by part."""
    made: dict[str, int] = {}
    for layout in layouts:
        for placement in layout.placements:
            made[placement.part] = made.get(placement.part, 0) + layout.repeats
    wanted: dict[str, int] = {}
    for need in group.needs:
        if need.must:
            wanted[need.part] = wanted.get(need.part, 0) + need.pieces
    return {part: count - made.get(part, 0) for part, count in wanted.items() if count > made.get(part, 0)}


def why_short(short: Mapping[str, int], problem: BoxProblem) -> dict[str, str]:
    """For each part that is short, the reason in words."""
    return {part: problem.unfit.get(part, "the sheets on hand and for sale are used up") for part in short}
