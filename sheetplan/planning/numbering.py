"""Layouts are numbered L1, L2 ... through a whole plan."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import count

from sheetplan.model.plan import GroupPlan


def numbered(plans: Iterable[GroupPlan]) -> tuple[GroupPlan, ...]:
    """The same plans with layouts numbered on from gauge to gauge; each choice numbers its own from L1."""
    numbers = count(1)
    return tuple(
        replace(plan, layouts=tuple(replace(layout, tag=f"L{next(numbers)}") for layout in plan.layouts))
        for plan in plans
    )
