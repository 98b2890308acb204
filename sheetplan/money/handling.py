"""Lifting and hauling: what sheets and remnants weigh, and how many a lift limit allows."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetplan.model.job import Remnant, SheetSize
from sheetplan.model.plan import GroupPlan
from sheetplan.money.layout_figures import metal_area
from sheetplan.trade.units import weight_kg

SAME_WEIGHT_SHARE = 1e-9
"""Forgives arithmetic where a bundle weighs just what the limit allows."""


@dataclass(frozen=True, slots=True)
class Lift:
    """One sheet size or remnant of a gauge and how it may be lifted.

    ``weight`` is of one (kg), ``count`` how many are handled. ``at_once`` is how many the limit
    allows in one lift: 0 where a single one is too heavy, None where no limit is stated.
    """

    gauge: str
    what: str
    weight: float
    count: int
    at_once: int | None

    @property
    def too_heavy(self) -> bool:
        """Whether one alone is over the limit."""
        return self.at_once == 0

    @property
    def lifts(self) -> int | None:
        """How many lifts it takes; None without a limit or where one is too heavy."""
        return math.ceil(self.count / self.at_once) if self.at_once else None


def lifts(group_plan: GroupPlan, limit: float | None = None) -> tuple[Lift, ...]:
    """The sheets and remnants of a gauge; ``limit`` is the most that may be lifted at once, kg."""
    group = group_plan.group
    taken: list[tuple[str, SheetSize | Remnant, int]] = []
    taken += [(count.sheet.name, count.sheet, count.used) for count in group_plan.sheets]
    remnants = [layout.sheet for layout in group_plan.layouts if isinstance(layout.sheet, Remnant)]
    taken += [(remnant.tag, remnant, 1) for remnant in remnants]
    found = []
    for name, sheet, count in taken:
        weight = weight_kg(metal_area(sheet, group.rule.kerf), group.thickness.mm, group.material.density)
        found.append(Lift(group.label, name, weight, count, sheets_at_once(weight, limit)))
    return tuple(found)


def sheets_at_once(weight: float, limit: float | None) -> int | None:
    """How many sheets of a weight (kg) a limit (kg) allows in one lift.

    >>> sheets_at_once(148.0, 500.0), sheets_at_once(148.0, 100.0), sheets_at_once(148.0, None)
    (3, 0, None)
    """
    if limit is None or weight <= 0:
        return None
    return math.floor(limit / weight * (1 + SAME_WEIGHT_SHARE))
