"""One sheet cut five times in odd outlines; its record after each visit is written as a drawing.

`python -m tests.bench rack_visits --data FOLDER` writes the drawings into the folder.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sheetplan.checking import check_plan
from sheetplan.model import CuttingRule, Job, Loop, Order, Outline, Part, Remnant, SheetSize
from sheetplan.planning import RunOptions, plan_job
from sheetplan.rack.cut import CutFacts, Cutting, new_sheet
from sheetplan.rack.record import Record, as_remnant
from sheetplan.rack.record_dxf import record_drawing, settled
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from tests.bench.options import Options
from tests.bench.rack_year import INCH, SAME_AREA, SETTINGS, STEEL, circle, worst_overlap

T = Thickness(4.763, "3/16 in")
KEEP = replace(SETTINGS, least_remnant_length=8 * INCH, least_remnant_width=8 * INCH)
VISITS = (
    {"ring": 2, "star": 2}, {"hook": 5, "disc": 2}, {"cleat": 5}, {"gusset": 2, "disc": 1},
    {"tab": 10, "washer": 8},
)  # fmt: skip


def polygon(*points: tuple[float, float]) -> Outline:
    left, bottom = min(x for x, _ in points), min(y for _, y in points)
    return Outline(Loop(tuple(((x - left) * INCH, (y - bottom) * INCH, 0.0) for x, y in points)))


def star(radius: float) -> Outline:
    reach = [radius if k % 2 == 0 else 0.45 * radius for k in range(10)]
    turns = [math.pi * k / 5 for k in range(10)]
    return polygon(*((r * math.cos(a), r * math.sin(a)) for r, a in zip(reach, turns, strict=True)))


def disc(radius: float, hole: float = 0.0) -> Outline:
    middle = radius * INCH
    holes = (circle(middle, middle, hole * INCH),) if hole else ()
    return Outline(circle(middle, middle, middle), holes)


HOOK = Outline(Loop(tuple(
    (x * INCH, y * INCH, bulge) for x, y, bulge in (
        (0, 0, 0.0), (14, 0, 0.0), (14, 3, 0.0), (5, 3, -0.4), (3, 5, 0.0), (3, 16, 0.0), (0, 16, 0.0),
    )
)))  # fmt: skip
OUTLINES = {
    "cleat": polygon((0, 0), (16, 0), (16, 4), (10, 4), (10, 9), (6, 9), (6, 4), (0, 4)),
    "star": star(8.0), "hook": HOOK, "ring": disc(9.0, 6.2), "gusset": polygon((0, 0), (15, 0), (0, 11)),
    "disc": disc(4.0), "tab": polygon((0, 0), (5, 0), (5, 1.5), (1.5, 1.5), (1.5, 4), (0, 4)),
    "washer": disc(1.5, 0.6),
}  # fmt: skip


def instances(options: Options) -> tuple[str, ...]:
    return ("one sheet",)


def solve(instance: str, options: Options) -> dict[str, object]:
    record: Record | None = None
    yields, overlaps = [], []
    for number, wanted in enumerate(VISITS, 1):
        record = visit(number, wanted, record, options)
        yields.append(f"{sum(cut.metal for cut in record.cuts) / record.metal_whole:.1%}")
        overlaps.append(worst_overlap(record))
    assert max(overlaps) < SAME_AREA
    return {"yield so far": " ".join(yields), "cuts": len(record.cuts) if record else 0,
            "worst overlap mm2": max(overlaps)}  # fmt: skip


def visit(number: int, wanted: dict[str, int], record: Record | None, options: Options) -> Record:
    parts = {name: Part(name, STEEL.name, T, outline) for name, outline in OUTLINES.items()}
    sheet = SheetSize("4x8", STEEL.name, T, 96 * INCH, 48 * INCH, price=250.0)
    rule = CuttingRule(STEEL.name, T, kerf=1.5, gap=6.35, margin=6.35)
    left = () if record is None else (as_remnant(record, Remnant(record.tag, STEEL.name, T, record.edge)),)
    orders = tuple(Order(f"visit {number}", name, count) for name, count in wanted.items())
    job = Job(KEEP, {STEEL.name: STEEL}, (rule,), parts, {}, orders, () if left else (sheet,), left)
    seconds = options.seconds or 6.0
    plan = plan_job(job, RunOptions(seconds, options.seed))
    assert not check_plan(plan)
    [group] = plan.groups
    assert not group.short, f"visit {number} is short of {group.short}"
    base = record or replace(settled(new_sheet(sheet, KEEP.datum), Units.INCH), tag="R-001")
    facts = CutFacts(number, f"2026-{2 * number:02d}-10", "ABCD")
    after = Cutting(group.group.rule, parts, KEEP).after(base, group.layouts[0], facts)
    made = settled(after.sheet, Units.INCH)
    if options.data:
        drawing = record_drawing(made, Units.INCH, after.room)
        Path(options.data / f"visit_{number}.dxf").write_bytes(drawing)
    return made


def summary(rows: Sequence[dict[str, object]], options: Options) -> list[str]:
    return []
