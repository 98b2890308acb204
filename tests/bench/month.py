"""The demo month by gauge, once with true shapes and once with bounding boxes only, side by side.

For the boxes every part is planned as the plain rectangle round it; the layouts are then weighed and
checked with the true outlines, so that yields and costs mean the same on both sides.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import shapely

from sheetplan.checking import check_plan
from sheetplan.model import GroupPlan, Job, Layout, Plan, rectangle
from sheetplan.money.figures import GroupFigures, group_figures
from sheetplan.planning import RunOptions, plan_job
from sheetplan.planning.grouping import make_groups
from sheetplan.shapes import box, place, size
from sheetplan.trade.units import Units
from tests.bench.options import Options
from tests.demo import demo_job

SECONDS = 10.0
LEAST_GAIN = 10.0
"""Points of yield that true shapes have to gain in a gauge where they are used."""

TOUCHING_MM2 = 1.0
"""Boxes that share more than this lie in each other."""


@dataclass(frozen=True, slots=True)
class Month:
    """The month planned both ways."""

    shaped: Plan
    boxes: Plan


def instances(options: Options) -> Sequence[str]:
    return [f"{units.value}: {group.label}" for units in Units for group in make_groups(demo_job(units))[0]]


def solve(instance: str, options: Options) -> dict[str, object]:
    units, label = instance.split(": ")
    month = planned(Units(units), options.seconds or SECONDS, options.seed)
    shaped, boxes = (of_gauge(plan, label) for plan in (month.shaped, month.boxes))
    figures, plain = (group_figures(one, month.shaped.job) for one in (shaped, boxes))
    return {
        "gauge": instance,
        "yield %": 100.0 * figures.yield_share,
        "boxes %": 100.0 * plain.yield_share,
        "points": 100.0 * (figures.yield_share - plain.yield_share),
        "sheets": sheets_said(figures),
        "box sheets": sheets_said(plain),
        "cost": figures.cost,
        "box cost": plain.cost,
        "shapes": "used" if is_shaped(shaped, month.shaped.job) else "not used",
        "faults": len(check_plan(month.shaped)) + len(check_plan(month.boxes)),
        "short": sum(shaped.short.values()) + sum(boxes.short.values()),
    }


@cache
def planned(units: Units, seconds: float, seed: int) -> Month:
    """The month of one book; the boxes' plan speaks of the true parts as well."""
    job = demo_job(units)
    shaped, boxes = (
        plan_job(one, RunOptions(seconds, seed, clock=time.process_time))
        for one in (job, boxed(job))
    )
    return Month(shaped, replace(boxes, job=job))


def boxed(job: Job) -> Job:
    """The same month with every part as the rectangle round it."""
    parts = {name: replace(part, outline=rectangle(*size(part.outline))) for name, part in job.parts.items()}
    return replace(job, parts=parts)


def of_gauge(plan: Plan, label: str) -> GroupPlan:
    return next(one for one in plan.groups if one.group.label == label)


def sheets_said(figures: GroupFigures) -> str:
    remnants = f" + {figures.remnants_used} remnants" if figures.remnants_used else ""
    return f"{figures.sheets_used}{remnants}"


def is_shaped(plan: GroupPlan, job: Job) -> bool:
    """Whether parts lie within the boxes of others somewhere in a gauge."""
    return any(boxes_meet(layout, job) for layout in plan.layouts)


def boxes_meet(layout: Layout, job: Job) -> bool:
    lying = [box(place(job.parts[one.part].outline, one).outer) for one in layout.placements]
    boxes = [shapely.box(one.left, one.bottom, one.right, one.top) for one in lying]
    pairs = shapely.STRtree(boxes).query(boxes, predicate="intersects").T
    return any(a < b and boxes[a].intersection(boxes[b]).area > TOUCHING_MM2 for a, b in pairs)


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    used = [row for row in rows if row["shapes"] == "used"]
    points = {str(row["gauge"]): float(str(row["points"])) for row in used}
    less = [f"{gauge} ({gain:.1f})" for gauge, gain in points.items() if gain < LEAST_GAIN]
    cost, plain = (sum(float(str(row[key])) for row in rows) for key in ("cost", "box cost"))
    return (
        f"true shapes used in {len(used)} of {len(rows)} gauges; points of yield gained there: "
        f"{', '.join(f'{gain:.1f}' for gain in points.values())}",
        f"fewer than {LEAST_GAIN:g} points: {', '.join(less) or 'none'}",
        f"sheets cost {cost:,.2f} against {plain:,.2f} with boxes, {1.0 - cost / plain:.1%} less",
        f"faults of the independent check: {max((int(str(row['faults'])) for row in rows), default=0)}",
    )
