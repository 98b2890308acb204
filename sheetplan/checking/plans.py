"""The check of a whole plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sheetplan.checking.counts import count_faults
from sheetplan.checking.faults import Fault
from sheetplan.checking.layouts import LayoutFinding, check_layout
from sheetplan.model.plan import Plan


@dataclass(frozen=True, slots=True)
class PlanFinding:
    """All faults of a plan, and what was measured on each layout by its tag."""

    faults: tuple[Fault, ...]
    layouts: Mapping[str, LayoutFinding]


def check_plan(plan: Plan) -> tuple[Fault, ...]:
    """Everything wrong with a plan; empty if it is good.

    True outlines are measured, arcs as arcs. A distance passes if it falls short by no more than
    `sheetplan.trade.units.SAME_LENGTH_MM`, so layouts exactly at the gap pass and a hundredth of
    a millimetre less does not.
    """
    return examine_plan(plan).faults


def examine_plan(plan: Plan) -> PlanFinding:
    """As `check_plan`, with the least clearances measured on each layout."""
    units = plan.job.settings.units
    found = {}
    faults: list[Fault] = []
    for group in plan.groups:
        for layout in group.layouts:
            finding = check_layout(layout, group.group, plan.job.parts, units)
            found[layout.tag] = finding
            faults += finding.faults
    return PlanFinding((*faults, *count_faults(plan)), found)
