"""Whether more pieces fit on the sheets that a plan takes anyway.

First beside what lies there, then with the emptiest one or two sheets arranged anew.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from sheetplan.model.job import Job, Remnant, SheetSize
from sheetplan.model.plan import GroupPlan, Layout
from sheetplan.packing import Item, blank_of
from sheetplan.packing.rectangles import BoxPacker
from sheetplan.planning.capacity import OutOfTime, can_make
from sheetplan.planning.progress import Stop, never
from sheetplan.shapes import area

EFFORT = 4
"""Passes of the packer on one sheet."""

SEED = 1

ANEW = (1, 2)
"""How many of the emptiest sheets are arranged anew."""


def room_for(plan: GroupPlan, job: Job, one: Mapping[str, int], sets: int, stop: Stop = never) -> bool:
    """Whether so many more sets of pieces can be made without another sheet; a yes is sure.

    Raises `OutOfTime` once ``stop`` says so.
    """
    if stop():
        raise OutOfTime
    more = Counter({name: n * sets for name, n in one.items()})
    if fits_beside(plan, job, more):
        return True
    sheets = emptiest(plan, job)
    return any(_fits_anew(plan, job, sheets[:count], more, stop) for count in ANEW if count <= len(sheets))


def emptiest(plan: GroupPlan, job: Job) -> list[Layout]:
    """Layouts, one entry for every sheet, the emptiest first."""

    def fill(layout: Layout) -> float:
        metal = _metal(layout.sheet)
        return sum(area(job.parts[p.part].outline.outer) for p in layout.placements) / metal

    return sorted((layout for layout in plan.layouts for _ in range(layout.repeats)), key=fill)


def _metal(sheet: SheetSize | Remnant) -> float:
    return area(sheet.edge) if isinstance(sheet, Remnant) else sheet.length * sheet.width


def _fits_anew(plan: GroupPlan, job: Job, sheets: Sequence[Layout], more: Counter[str], stop: Stop) -> bool:
    """Whether what lies on some sheets and more fits there when all of it is arranged anew."""
    wanted = more.copy()
    for layout in sheets:
        wanted.update(placement.part for placement in layout.placements)
    metal: Counter[SheetSize | Remnant] = Counter(layout.sheet for layout in sheets)
    return can_make(plan.group, job, wanted, metal, stop)


def fits_beside(plan: GroupPlan, job: Job, more: Mapping[str, int]) -> bool:
    """Whether more pieces fit beside what lies on the sheets, nothing moved."""
    left = dict(more)
    for layout in plan.layouts:
        for _ in range(layout.repeats):
            added = _added(layout, plan, job, left)
            if not added:
                break
            for name, count in added.items():
                left[name] -= count
        if not any(left.values()):
            return True
    return not any(left.values())


def _added(layout: Layout, plan: GroupPlan, job: Job, left: Mapping[str, int]) -> Counter[str]:
    """Pieces that one more look at a sheet finds room for."""
    rule = plan.group.rule
    blank = blank_of(layout.sheet, rule.margin, rule.gap, job.settings.datum)
    items = [Item(job.parts[name], n, area(job.parts[name].outline)) for name, n in left.items() if n]
    packer = BoxPacker(list(job.parts.values()))
    placed = packer.fill(blank, items, seed=SEED, effort=EFFORT, keep=layout.placements) if items else ()
    return Counter(placement.part for placement in placed)
