"""What was found for a gauge where sheets of one size alone are bought.

Sheets and remnants on hand may still be used, whatever their size; only what is bought is held to one size.
The answers stand beside the plan (see `group_plan.finish`, which makes them and takes over a cheaper one).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sheetplan.model.job import SheetSize
from sheetplan.model.plan import GroupPlan


@dataclass(frozen=True, slots=True)
class OneSize:
    """The plan of a gauge that buys sheets of one size alone.

    ``searched`` says whether it was searched for as well as the gauge's own plan; ``at_least`` is a proven
    least cost of buying that size alone, None where none is known.
    """

    gauge: str
    sheet: SheetSize
    plan: GroupPlan
    searched: bool = True
    at_least: float | None = None


def instead_of(group_plan: GroupPlan, others: Sequence[OneSize]) -> list[OneSize]:
    """The answers for a gauge that buy something else than its plan does."""
    bought = [count.sheet for count in group_plan.sheets if count.to_buy]
    label = group_plan.group.label
    return [one for one in others if one.gauge == label and bought != [one.sheet]]
