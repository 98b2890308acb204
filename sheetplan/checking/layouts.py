"""The check of one layout: every part on the sheet, apart from the others, and lying as it may."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sheetplan.checking.faults import Fault, FaultKind
from sheetplan.checking.nearness import Nearness, near_pairs, overlaps, swallowed
from sheetplan.checking.on_sheet import edge_clearances, short_of
from sheetplan.checking.poses import Stands, stands_of
from sheetplan.model.job import Part, Remnant
from sheetplan.model.outline import Loop, rectangle
from sheetplan.model.plan import Group, Layout, Placement
from sheetplan.model.turns import allowed_turns, same_turn
from sheetplan.trade.likeness import same
from sheetplan.trade.units import SAME_LENGTH_MM, Units

LOOK_FURTHER = 1.3
"""Pairs are measured out to this much of the gap, so that the least clearance is seen, not assumed."""


@dataclass(frozen=True, slots=True)
class LayoutFinding:
    """What the check of a layout found.

    ``least_gap`` and ``least_margin`` are the least clear distances measured, mm, between two
    parts (or a part and an old cut) and to the sheet's edge. ``least_gap`` is None where
    nothing comes within `LOOK_FURTHER` of the gap (with a remnant's extra gap, where it has one).
    """

    faults: tuple[Fault, ...]
    least_gap: float | None
    least_margin: float | None


def check_layout(layout: Layout, group: Group, parts: Mapping[str, Part], units: Units) -> LayoutFinding:
    """Check one layout against its gauge's rule and its parts' own limits.

    Parameters
    ----------
    layout, group : Layout, Group
        The layout and the gauge whose rule it must keep.
    parts : Mapping[str, Part]
        The parts of the job by name.
    units : Units
        What the figures in the sentences are written in.
    """
    say = _Saying(layout, units)
    faults = list(_lying(layout, group, parts, say))
    if not layout.placements:
        return LayoutFinding((say(FaultKind.EMPTY, "nothing is placed on it"), *faults), None, None)
    if any(fault.kind in (FaultKind.UNKNOWN, FaultKind.PLACE) for fault in faults):
        return LayoutFinding(tuple(faults), None, None)
    stands = stands_of(layout, parts)
    margin, clear = group.rule.margin, edge_clearances(stands, _edge(layout))
    faults += (_off_sheet(say, i, float(clear[i]), margin) for i in short_of(clear, margin))
    gap, extra = group.rule.gap, layout.sheet.extra_gap if isinstance(layout.sheet, Remnant) else 0.0
    near = near_pairs(stands, (gap + extra) * LOOK_FURTHER + SAME_LENGTH_MM)
    faults += _too_near(stands, near, (gap, gap + extra), say)
    least = float(near.apart.min()) if len(near.apart) else math.inf
    return LayoutFinding(tuple(faults), least if math.isfinite(least) else None, float(clear.min()))


def _edge(layout: Layout) -> Loop:
    sheet = layout.sheet
    return sheet.edge if isinstance(sheet, Remnant) else rectangle(sheet.length, sheet.width).outer


class _Saying:
    """Words for faults of one layout."""

    def __init__(self, layout: Layout, units: Units) -> None:
        self.layout, self.units = layout, units

    def __call__(self, kind: FaultKind, what: str, amount: float = 0.0) -> Fault:
        return Fault(kind, self.layout.tag, what, amount)

    def length(self, mm: float) -> str:
        return f"{mm / self.units.length_mm:.4f} {self.units.value}"

    def stand(self, index: int) -> str:
        """A part by its name and place, an old cut by its number."""
        placements = self.layout.placements
        if index >= len(placements):
            return f"old cut {index - len(placements) + 1}"
        one = placements[index]
        return f"{one.part} at ({self.length(one.x)}, {self.length(one.y)})"


def _lying(layout: Layout, group: Group, parts: Mapping[str, Part], say: _Saying) -> Iterator[Fault]:
    """What can be told without geometry: known parts, gauge, turns."""
    yield from _gauge(layout, group, say)
    for index, placement in enumerate(layout.placements):
        part = parts.get(placement.part)
        if part is None:
            yield say(FaultKind.UNKNOWN, f"{placement.part} is not a part of the job")
        elif not all(map(math.isfinite, (placement.x, placement.y, placement.turn))):
            yield say(FaultKind.PLACE, f"{placement.part} has no place: {placement.x}, {placement.y}")
        else:
            yield from _posture(placement, part, index, say)
    for name in sorted({placement.part for placement in layout.placements}):
        part = parts.get(name)
        if part and not (part.material == group.material.name and same(group.thickness, part.thickness)):
            gauge = f"{part.material} {part.thickness.text}"
            yield say(FaultKind.GAUGE, f"{name} is {gauge} and lies on {group.label}")


def _gauge(layout: Layout, group: Group, say: _Saying) -> Iterator[Fault]:
    for what, thing in (("the sheet", layout.sheet), ("the cutting rule", group.rule)):
        if not (thing.material == group.material.name and same(group.thickness, thing.thickness)):
            gauge = f"{thing.material} {thing.thickness.text}"
            yield say(FaultKind.GAUGE, f"{what} is for {gauge} and the gauge is {group.label}")


def _posture(placement: Placement, part: Part, index: int, say: _Saying) -> Iterator[Fault]:
    turns = allowed_turns(part)
    if not any(same_turn(placement.turn, turn) for turn in turns):
        allowed = ", ".join(f"{turn:g}" for turn in turns) or "none"
        grain = f" with grain along its {part.grain.value}" if part.turns != turns else ""
        what = f"{say.stand(index)} is turned by {placement.turn:g}; allowed{grain}: {allowed}"
        yield say(FaultKind.TURN, what)
    if placement.mirrored and not part.may_mirror:
        yield say(FaultKind.MIRROR, f"{say.stand(index)} is mirrored and may not be")


def _off_sheet(say: _Saying, index: int, clear: float, margin: float) -> Fault:
    who = say.stand(index)
    if clear < -SAME_LENGTH_MM:
        by = f" by {say.length(-clear)}" if math.isfinite(clear) else ""
        return say(FaultKind.OUTSIDE, f"{who} lies outside the sheet{by}", -clear)
    what = f"{who} is {say.length(clear)} from the sheet's edge; the margin is {say.length(margin)}"
    return say(FaultKind.MARGIN, what, margin - clear)


def _too_near(
    stands: Stands, near: Nearness, gaps: tuple[float, float], say: _Saying
) -> Iterator[Fault]:
    """Pairs that are nearer than the gap between parts, or than the one to old cuts."""
    # Where boundaries touch, only the shared metal tells a seam from an overlap.
    seam = near.apart <= SAME_LENGTH_MM
    inside = {frozenset(pair) for pair in swallowed(stands, near.some(~seam))}
    for first, second, apart in near.rows():
        touching = apart <= SAME_LENGTH_MM
        old = second >= stands.parts
        gap = gaps[old]
        if {first, second} in inside or (
            touching and overlaps(stands.polygon(first), stands.polygon(second))
        ):
            what = f"{say.stand(first)} overlaps {say.stand(second)}"
            yield say(FaultKind.OLD_CUT if old else FaultKind.OVERLAP, what, gap)
        elif not apart >= gap - SAME_LENGTH_MM:
            what = f"{say.stand(first)} is {say.length(apart)} from {say.stand(second)}"
            what += f"; the gap is {say.length(gap)}"
            yield say(FaultKind.OLD_CUT if old else FaultKind.GAP, what, gap - apart)
