"""A month of messy kits (see `messy_parts`), planned as a book is, on two cores; beside it, bare boxes.

A gauge's first true-shape plan is when the run first says so of it; nothing is guessed from the outside.
"""

import time
from collections.abc import Sequence
from dataclasses import replace

from sheetplan.app.making.helpers import Helpers
from sheetplan.checking import check_plan
from sheetplan.model import Job, Plan, SheetSize, rectangle
from sheetplan.planning import Progress, RunOptions, plan_job
from sheetplan.shapes import size
from tests.bench.messy_parts import GAUGES, PIECES, TYPES, messy_job
from tests.bench.options import Options

SECONDS = (30.0, 120.0)
BOX_SECONDS = 30.0
"""Boxes alone come to rest sooner; they never get more than this."""

WORKERS = 2

SAYS_SHAPES = "by outline"
"""What a gauge's line says once its plan has them."""

Row = dict[str, object]


def instances(options: Options) -> Sequence[str]:
    return [f"{seconds:g} s" for seconds in ((options.seconds,) if options.seconds else SECONDS)]


def box_job(job: Job) -> Job:
    """The same book with every part as the box round it."""
    boxes = {name: replace(part, outline=rectangle(*size(part.outline))) for name, part in job.parts.items()}
    return replace(job, parts=boxes)


class Heard:
    """When each gauge was first heard of, and when first with true shapes, in seconds from the start."""

    def __init__(self) -> None:
        self._begun = time.monotonic()
        self.first: dict[str, float] = {}
        self.first_shapes: dict[str, float] = {}

    def __call__(self, progress: Progress) -> None:
        if not progress.group:
            return
        spent = time.monotonic() - self._begun
        self.first.setdefault(progress.group, spent)
        if SAYS_SHAPES in progress.sentence:
            self.first_shapes.setdefault(progress.group, spent)


def planned(job: Job, seconds: float, seed: int) -> tuple[Plan, Heard, float]:
    """The plan, what was heard on the way, and the seconds that it took."""
    with Helpers(WORKERS) as pool:
        heard, begun = Heard(), time.monotonic()
        plan = plan_job(job, RunOptions(seconds, seed, report=heard, executor=pool))
        return plan, heard, time.monotonic() - begun


def metal(plan: Plan) -> dict[str, float]:
    """What the used sheets cost by gauge, those on hand at their price too."""
    return {
        group.group.thickness.text: sum(
            layout.repeats * layout.sheet.price
            for layout in group.layouts
            if isinstance(layout.sheet, SheetSize)
        )
        for group in plan.groups
    }


def solve(instance: str, options: Options) -> Row:
    seconds = float(instance.split()[0])
    job = messy_job(options.seed)
    boxes, _, _ = planned(box_job(job), min(seconds, BOX_SECONDS), options.seed)
    plan, heard, spent = planned(job, seconds, options.seed)
    with_shapes, of_boxes = metal(plan), metal(boxes)
    row: Row = {"instance": instance, "seed": options.seed, "types": TYPES, "pieces": PIECES}
    for group in plan.groups:
        gauge = group.group.thickness.text
        shapes_at = heard.first_shapes.get(group.group.label)
        row |= {
            f"{gauge} first": heard.first.get(group.group.label, spent),
            f"{gauge} first shapes": "not said" if shapes_at is None else shapes_at,
            f"{gauge} sheets": sum(layout.repeats for layout in group.layouts),
            f"{gauge} metal": with_shapes[gauge],
            f"{gauge} boxes": of_boxes[gauge],
        }
    return row | {
        "seconds": spent,
        "sheets": sum(layout.repeats for group in plan.groups for layout in group.layouts),
        "metal": sum(with_shapes.values()),
        "boxes": sum(of_boxes.values()),
        "ratio": sum(with_shapes.values()) / sum(of_boxes.values()),
        "short": sum(sum(group.short.values()) for group in plan.groups),
        "faults": len(check_plan(plan)),
        "box faults": len(check_plan(boxes)),
    }


def summary(rows: Sequence[Row], options: Options) -> Sequence[str]:
    lines = []
    for row in rows:
        lines.append(f"{row['instance']}, seed {row['seed']}:")
        for gauge in (g.thickness.text for g in GAUGES):
            first, shapes = row[f"{gauge} first"], row[f"{gauge} first shapes"]
            said = f"{shapes:.1f} s" if isinstance(shapes, float) else shapes
            lines.append(
                f"  {gauge:8} first plan {first:5.1f} s, of true shapes {said}; "
                f"{row[f'{gauge} sheets']} sheets, "
                f"metal {row[f'{gauge} metal']:.2f}, boxes {row[f'{gauge} boxes']:.2f}"
            )
        lines.append(
            f"  all      metal {row['metal']:.2f}, boxes {row['boxes']:.2f}, ratio {row['ratio']:.4f}; "
            f"{row['faults']} faults, {row['short']} short, {row['seconds']:.1f} s"
        )
    return lines
