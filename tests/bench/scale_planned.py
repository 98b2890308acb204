"""A book of 6,000 pieces of true shapes on two gauges, planned as a book is, on two cores.

The 20 outline types of `scale_outlines`, each gauge 3,000 pieces: what a minute adds to a few seconds,
true shapes against bounding boxes.
"""

import time
from collections.abc import Sequence
from dataclasses import replace

from sheetplan.app.making.helpers import Helpers
from sheetplan.checking import check_plan
from sheetplan.model import CuttingRule, Job, Material, Order, Plan, Settings, SheetSize
from sheetplan.planning import RunOptions, plan_job
from sheetplan.shapes import area
from sheetplan.trade.thickness import Thickness
from tests.bench.options import Options
from tests.bench.scale_outlines import GAP, LENGTH, MARGIN, WIDTH, twenty_types

GAUGES = (Thickness(3.0, "3 mm"), Thickness(5.0, "5 mm"))
METAL = "mild steel"
PIECES = 6000
SECONDS = (5.0, 60.0)
WORKERS = 2


def instances(options: Options) -> Sequence[str]:
    return [f"{seconds:g} s" for seconds in ((options.seconds,) if options.seconds else SECONDS)]


def book() -> Job:
    types = twenty_types()
    made = [replace(p, name=f"{p.name} {g.text}", thickness=g) for p in types for g in GAUGES]
    each = PIECES // len(made)
    return Job(
        Settings(),
        {METAL: Material(METAL, "carbon steel", 7850.0)},
        tuple(CuttingRule(METAL, gauge, 0.0, GAP, MARGIN) for gauge in GAUGES),
        {p.name: p for p in made},
        {},
        tuple(Order(p.name, p.name, each) for p in made),
        tuple(SheetSize(f"48 x 96 {g.text}", METAL, g, LENGTH, WIDTH, price=100.0) for g in GAUGES),
    )


def solve(instance: str, options: Options) -> dict[str, object]:
    seconds = float(instance.split()[0])
    with Helpers(WORKERS) as pool:
        begun = time.monotonic()
        plan = plan_job(book(), RunOptions(seconds, options.seed, executor=pool))
        spent = time.monotonic() - begun
    return {
        "instance": instance,
        "pieces": PIECES,
        "workers": WORKERS,
        "seconds": spent,
        "sheets": sum(layout.repeats for group in plan.groups for layout in group.layouts),
        "layouts": sum(len(group.layouts) for group in plan.groups),
        "yield %": share_of_metal(plan),
        "short": sum(sum(group.short.values()) for group in plan.groups),
        "faults": len(check_plan(plan)),
    }


def share_of_metal(plan: Plan) -> float:
    """Per cent of the sheets' area that the parts take."""
    layouts = [layout for group in plan.groups for layout in group.layouts]
    made = sum(
        layout.repeats * area(plan.job.parts[placement.part].outline)
        for layout in layouts
        for placement in layout.placements
    )
    return 100.0 * made / (LENGTH * WIDTH * sum(layout.repeats for layout in layouts))


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    return [f"{row['instance']}: {row['sheets']} sheets, {row['layouts']} layouts" for row in rows]
