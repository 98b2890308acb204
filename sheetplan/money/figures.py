"""The figures of a gauge and of the whole plan: sheets, weights, money, cutting work, and what must be
lifted.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import fsum

from sheetplan.model.job import Job, Part, Remnant, SheetSize
from sheetplan.model.outline import Loop
from sheetplan.model.plan import Group, GroupPlan, Layout, Placement, Plan
from sheetplan.model.settings import Settings
from sheetplan.money.layout_figures import (
    MINUTES_PER_HOUR,
    CuttingWork,
    LayoutFigures,
    MetalAndWork,
    Weighing,
    metal_area,
    total_split,
    total_work,
)
from sheetplan.shapes import Box
from sheetplan.trade.units import weight_kg

# The figures of a gauge and of the whole plan: sheets, weights, money, cutting work.

__all__ = [
    "Figures", "GroupFigures", "Known", "LayoutFigures", "Money", "PlanFigures", "group_figures", "key_of",
    "plan_figures", "weighed",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Money:
    """Amounts in the book's currency.

    ``rack_metal`` is the price of full sheets from the rack and the value of remnants taken,
    ``bought_metal`` the price of the bought sheets that are used; ``kept`` is the value of
    remnants that go back to the rack, ``moving`` what it costs to move sheets that lie on remnants.
    ``to_pay`` is the suppliers' bill: `GroupPlan.to_pay`. ``consumables`` and ``handling`` are parts of
    ``cutting``; ``scrap`` is what the scrap fetches, which no other amount holds.
    """

    rack_metal: float
    bought_metal: float
    cutting: float
    kept: float
    to_pay: float
    moving: float
    consumables: float
    handling: float
    scrap: float

    @property
    def metal(self) -> float:
        """All sheets and remnants taken."""
        return self.rack_metal + self.bought_metal

    @property
    def total(self) -> float:
        """Metal, moving and cutting: what the plan costs."""
        return self.metal + self.moving + self.cutting

    @property
    def net(self) -> float:
        """What the parts cost together: the total less the value of remnants kept."""
        return self.total - self.kept


@dataclass(frozen=True, slots=True)
class Figures(MetalAndWork):
    """Sheets, weights, work and money of a gauge or of a whole plan, all repeats counted."""

    sheets_used: int
    sheets_from_rack: int
    sheets_to_buy: int
    remnants_used: int
    pieces: int
    money: Money
    sheet_minutes: float
    """Minutes that sheets keep the table busy beside cutting."""
    hand_minutes: float
    """All minutes of hands."""

    @property
    def table_hours(self) -> float | None:
        """How long all of it keeps the table busy; None where no feed is known."""
        return None if self.hours is None else self.hours + self.sheet_minutes / MINUTES_PER_HOUR

    @property
    def waste_share(self) -> float:
        """Skeleton and kerf over metal used up."""
        return self.split.waste_share

    @property
    def sheet_weight(self) -> float:
        """All metal taken, kg."""
        return self.split.taken

    @property
    def part_weight(self) -> float:
        """All parts, kg."""
        return self.split.parts

    @property
    def cost(self) -> float:
        """Price of the sheets, value of the remnants taken, and getting at them: `GroupPlan.cost`."""
        return self.money.metal + self.money.moving


@dataclass(frozen=True, slots=True)
class GroupFigures(Figures):
    """One gauge; ``layouts`` are by tag, in the plan's order."""

    label: str
    layouts: Mapping[str, LayoutFigures]


@dataclass(frozen=True, slots=True)
class PlanFigures:
    """Every gauge and the total; ``without_feed`` names the gauges whose hours the total leaves out."""

    groups: tuple[GroupFigures, ...]
    total: Figures
    without_feed: tuple[str, ...]

    @property
    def kept(self) -> dict[str, Loop]:
        """The remnant that one sheet of a layout leaves, by the layout's tag, as an edge on that sheet."""
        boxes = {tag: layout.kept for group in self.groups for tag, layout in group.layouts.items()}
        return {tag: _edge(kept) for tag, kept in boxes.items() if kept}


LayoutKey = tuple[SheetSize | Remnant, tuple[Placement, ...]]
"""What a layout's figures depend on in one job, whatever its tag and however often it is cut."""

Known = Mapping[LayoutKey, LayoutFigures]
"""Figures of layouts that were worked out before: the ways to plan a gauge share many."""


def key_of(layout: Layout) -> LayoutKey:
    """Where the figures of a layout stand among those known."""
    return layout.sheet, layout.placements


def weighed(
    group: Group, layouts: Sequence[Layout], parts: Mapping[str, Part], settings: Settings
) -> list[LayoutFigures]:
    """The figures of layouts of one gauge; ``parts`` need be no more than those that lie on them."""
    weighing = Weighing(group, parts, settings)
    return [weighing.of(layout) for layout in layouts]


def group_figures(group_plan: GroupPlan, job: Job, known: Known | None = None) -> GroupFigures:
    """The figures of one gauge of a plan; those of layouts that are not ``known`` are worked out."""
    found = dict(known or {})
    new = [layout for layout in group_plan.layouts if key_of(layout) not in found]
    figures_of_new = weighed(group_plan.group, new, job.parts, job.settings)
    found |= {key_of(layout): figures for layout, figures in zip(new, figures_of_new, strict=True)}
    layouts = [
        replace(found[key_of(layout)], tag=layout.tag, repeats=layout.repeats)
        for layout in group_plan.layouts
    ]
    return GroupFigures(
        label=group_plan.group.label,
        sheets_used=sum(count.used for count in group_plan.sheets),
        sheets_from_rack=sum(count.from_rack for count in group_plan.sheets),
        sheets_to_buy=sum(count.to_buy for count in group_plan.sheets),
        remnants_used=sum(isinstance(layout.sheet, Remnant) for layout in group_plan.layouts),
        pieces=sum(figures.pieces * figures.repeats for figures in layouts),
        split=total_split(figures.split.times(figures.repeats) for figures in layouts),
        work=total_work(figures.work.times(figures.repeats) for figures in layouts),
        money=_money(group_plan, layouts),
        sheet_minutes=fsum(figures.sheet_minutes * figures.repeats for figures in layouts),
        hand_minutes=fsum(figures.hand_minutes * figures.repeats for figures in layouts),
        layouts={figures.tag: figures for figures in layouts},
    )


def plan_figures(plan: Plan, known: Known | None = None) -> PlanFigures:
    """The figures of the whole plan, gauge by gauge and together, with those of layouts ``known`` already."""
    groups = tuple(group_figures(group_plan, plan.job, known) for group_plan in plan.groups)
    hours = [group.hours for group in groups if group.hours is not None]
    together = Figures(
        sheets_used=sum(group.sheets_used for group in groups),
        sheets_from_rack=sum(group.sheets_from_rack for group in groups),
        sheets_to_buy=sum(group.sheets_to_buy for group in groups),
        remnants_used=sum(group.remnants_used for group in groups),
        pieces=sum(group.pieces for group in groups),
        split=total_split(group.split for group in groups),
        work=CuttingWork(
            cut_length=fsum(group.cut_length for group in groups),
            pierces=sum(group.pierces for group in groups),
            hours=fsum(hours) if hours else None,
            moves=fsum(group.work.moves for group in groups),
            sets=fsum(group.work.sets for group in groups),
        ),
        money=_sum(group.money for group in groups),
        sheet_minutes=fsum(group.sheet_minutes for group in groups),
        hand_minutes=fsum(group.hand_minutes for group in groups),
    )
    return PlanFigures(groups, together, tuple(group.label for group in groups if group.hours is None))


def _edge(kept: Box) -> Loop:
    return Loop(
        (
            (kept.left, kept.bottom, 0.0),
            (kept.right, kept.bottom, 0.0),
            (kept.right, kept.top, 0.0),
            (kept.left, kept.top, 0.0),
        )
    )


def _money(group_plan: GroupPlan, layouts: Sequence[LayoutFigures]) -> Money:
    counts = group_plan.sheets
    remnants = fsum(
        layout.sheet.value for layout in group_plan.layouts if isinstance(layout.sheet, Remnant)
    )
    return Money(
        rack_metal=remnants + fsum(count.from_rack * count.sheet.price for count in counts),
        bought_metal=fsum((count.used - count.from_rack) * count.sheet.price for count in counts),
        cutting=fsum(figures.cutting_cost * figures.repeats for figures in layouts),
        kept=fsum(figures.kept_value * figures.repeats for figures in layouts),
        to_pay=group_plan.to_pay,
        moving=fsum(figures.moving_cost for figures in layouts),
        consumables=fsum(figures.consumables * figures.repeats for figures in layouts),
        handling=fsum(figures.handling_cost * figures.repeats for figures in layouts),
        scrap=fsum(figures.scrap_value * figures.repeats for figures in layouts),
    )


def _sum(amounts: Iterable[Money]) -> Money:
    listed = list(amounts)
    return Money(
        fsum(money.rack_metal for money in listed),
        fsum(money.bought_metal for money in listed),
        fsum(money.cutting for money in listed),
        fsum(money.kept for money in listed),
        fsum(money.to_pay for money in listed),
        fsum(money.moving for money in listed),
        fsum(money.consumables for money in listed),
        fsum(money.handling for money in listed),
        fsum(money.scrap for money in listed),
    )


# Lifting and hauling: what sheets and remnants weigh, and how many a lift limit allows.

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
