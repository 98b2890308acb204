"""What each alternative of a gauge costs, takes and leaves, and what it is best at."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from sheetplan.model.plan import CHEAPEST, Group, Layout, Plan
from sheetplan.money.figures import GroupFigures, Known, group_figures, key_of
from sheetplan.planning.picking import Alternative, alternatives
from sheetplan.shapes import Box

SAME_SHARE = 1e-9
"""Amounts that differ by less than this share of themselves are one: they come of sums of floats."""


@dataclass(frozen=True, slots=True)
class ChoiceFigures:
    """An alternative with its figures.

    ``kept`` is the largest remnant that one of its sheets leaves for the rack; ``best_at`` says in
    words at what no other alternative found for the gauge is better, and at least one is worse, and
    whether the least metal cost is proven to be the cheapest possible.
    """

    way: Alternative
    figures: GroupFigures
    kept: Box | None
    best_at: tuple[str, ...] = ()

    @property
    def layouts(self) -> int:
        """Different layouts."""
        return len(self.way.plan.layouts)

    @property
    def sheets(self) -> int:
        """Full sheets and remnants taken."""
        return self.figures.sheets_used + self.figures.remnants_used

    @property
    def kept_area(self) -> float:
        """Of the largest remnant left, mm2."""
        return self.kept.length * self.kept.width if self.kept else 0.0


METAL_COST = "least metal cost"

MEASURES: Mapping[str, Callable[[ChoiceFigures], float]] = {
    METAL_COST: lambda one: one.figures.money.metal,
    "least to pay": lambda one: one.figures.money.to_pay,
    "fewest sheets": lambda one: float(one.sheets),
    "least metal taken": lambda one: one.figures.sheet_weight,
    "least waste": lambda one: one.figures.waste_share,
    "largest remnant": lambda one: -one.kept_area,
    "fewest layouts": lambda one: float(one.layouts),
}
"""What an alternative can be best at among those found; less is better."""


def every_layout(plan: Plan) -> tuple[tuple[Group, tuple[Layout, ...]], ...]:
    """For each gauge the layouts of the plan and of the alternatives beside it, each once."""
    found = []
    for group_plan in plan.groups:
        ways = (group_plan, *(choice.plan for choice in group_plan.choices))
        layouts = {key_of(layout): layout for way in ways for layout in way.layouts}
        found.append((group_plan.group, tuple(layouts.values())))
    return tuple(found)


Choices = tuple[tuple[ChoiceFigures, ...], ...]
"""The alternatives of every gauge."""


def choice_figures(plan: Plan, known: Known | None = None) -> Choices:
    """The alternatives of every gauge with their figures, in the order of their tags.

    ``known`` holds figures of layouts that were worked out before.
    """
    return tuple(_judged([_measured(way, plan, known) for way in ways]) for ways in alternatives(plan))


def _measured(way: Alternative, plan: Plan, known: Known | None) -> ChoiceFigures:
    figures = group_figures(way.plan, plan.job, known)
    rooms = [layout.left.largest for layout in figures.layouts.values()]
    boxes = [room for room in rooms if room is not None]
    return ChoiceFigures(way, figures, max(boxes, key=lambda box: box.length * box.width, default=None))


def _judged(found: Sequence[ChoiceFigures]) -> tuple[ChoiceFigures, ...]:
    best: dict[str, list[str]] = {one.way.tag: [] for one in found}
    for name, measure in MEASURES.items():
        amounts = {one.way.tag: measure(one) for one in found}
        least, most = min(amounts.values()), max(amounts.values())
        allowance = SAME_SHARE * max(abs(least), abs(most))
        if most - least <= allowance:
            continue
        for tag, amount in amounts.items():
            if amount - least <= allowance:
                best[tag].append(name)
    for one in found:
        names = best[one.way.tag]
        if METAL_COST in names and one.way.plan.above_least == 0.0:
            names[names.index(METAL_COST)] = CHEAPEST
    return tuple(
        ChoiceFigures(one.way, one.figures, one.kept, tuple(best[one.way.tag])) for one in found
    )
