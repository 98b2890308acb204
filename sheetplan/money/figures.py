"""The figures of a gauge and of the whole plan: sheets, weights, money, cutting work."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import fsum

from sheetplan.model.job import Job, Remnant
from sheetplan.model.plan import GroupPlan, Plan
from sheetplan.money.layout_figures import (
    CuttingWork,
    LayoutFigures,
    PartFacts,
    layout_figures,
    part_facts,
    total_work,
)
from sheetplan.money.metal_split import MetalSplit, total


@dataclass(frozen=True, slots=True)
class Money:
    """Amounts in the book's currency.

    ``rack_metal`` is the price of full sheets from the rack and the value of remnants taken,
    ``bought_metal`` the price of the bought sheets that are used; ``kept`` is the value of
    remnants that go back to the rack. ``to_pay`` is the suppliers' bill: whole order multiples.
    """

    rack_metal: float = 0.0
    bought_metal: float = 0.0
    cutting: float = 0.0
    kept: float = 0.0
    to_pay: float = 0.0

    @property
    def metal(self) -> float:
        """All sheets and remnants taken."""
        return self.rack_metal + self.bought_metal

    @property
    def total(self) -> float:
        """Metal and cutting: what the plan costs."""
        return self.metal + self.cutting

    @property
    def net(self) -> float:
        """What the parts cost together: the total less the value of remnants kept."""
        return self.total - self.kept


@dataclass(frozen=True, slots=True)
class GroupFigures:
    """One gauge. ``split`` and ``work`` are over all repeats; ``layouts`` are in the plan's order."""

    label: str
    sheets_used: int
    sheets_from_rack: int
    sheets_to_buy: int
    remnants_used: int
    pieces: int
    split: MetalSplit
    work: CuttingWork
    money: Money
    layouts: tuple[LayoutFigures, ...]


@dataclass(frozen=True, slots=True)
class PlanFigures:
    """The whole plan; ``without_feed`` names the gauges whose hours are unknown and left out.

    ``work.hours`` is None only where no gauge has a feed.
    """

    groups: tuple[GroupFigures, ...]
    sheets_used: int
    sheets_from_rack: int
    sheets_to_buy: int
    remnants_used: int
    pieces: int
    split: MetalSplit
    work: CuttingWork
    money: Money
    without_feed: tuple[str, ...] = ()


def group_figures(group_plan: GroupPlan, job: Job) -> GroupFigures:
    """The figures of one gauge of a plan."""
    rule = group_plan.group.rule
    facts: dict[str, PartFacts] = {}
    for layout in group_plan.layouts:
        for placement in layout.placements:
            if placement.part not in facts:
                facts[placement.part] = part_facts(job.parts[placement.part].outline, rule)
    layouts = tuple(
        layout_figures(layout, group_plan.group, job.parts, job.settings, facts)
        for layout in group_plan.layouts
    )
    return GroupFigures(
        label=group_plan.group.label,
        sheets_used=sum(count.used for count in group_plan.sheets),
        sheets_from_rack=sum(count.from_rack for count in group_plan.sheets),
        sheets_to_buy=sum(count.to_buy for count in group_plan.sheets),
        remnants_used=sum(isinstance(layout.sheet, Remnant) for layout in group_plan.layouts),
        pieces=sum(figures.pieces * figures.repeats for figures in layouts),
        split=total(figures.split.times(figures.repeats) for figures in layouts),
        work=total_work(figures.work.times(figures.repeats) for figures in layouts),
        money=_money(group_plan, layouts),
        layouts=layouts,
    )


def plan_figures(plan: Plan) -> PlanFigures:
    """The figures of the whole plan, group by group and together."""
    groups = tuple(group_figures(group_plan, plan.job) for group_plan in plan.groups)
    timed = [group.work for group in groups if group.work.hours is not None]
    hours = fsum(work.hours or 0.0 for work in timed) if timed else None
    return PlanFigures(
        groups=groups,
        sheets_used=sum(group.sheets_used for group in groups),
        sheets_from_rack=sum(group.sheets_from_rack for group in groups),
        sheets_to_buy=sum(group.sheets_to_buy for group in groups),
        remnants_used=sum(group.remnants_used for group in groups),
        pieces=sum(group.pieces for group in groups),
        split=total(group.split for group in groups),
        work=CuttingWork(
            cut_length=fsum(group.work.cut_length for group in groups),
            pierces=sum(group.work.pierces for group in groups),
            hours=hours,
        ),
        money=_sum(group.money for group in groups),
        without_feed=tuple(group.label for group in groups if group.work.hours is None),
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
        to_pay=fsum(count.to_buy * count.sheet.price for count in counts),
    )


def _sum(amounts: Iterable[Money]) -> Money:
    listed = list(amounts)
    return Money(
        fsum(money.rack_metal for money in listed),
        fsum(money.bought_metal for money in listed),
        fsum(money.cutting for money in listed),
        fsum(money.kept for money in listed),
        fsum(money.to_pay for money in listed),
    )
