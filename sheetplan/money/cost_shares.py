"""What each part, kit and order costs, so that all of them together cost what the plan costs.

The rule
--------
Metal: each sheet is charged to the parts on it by their net area, so that every part carries its
share of that sheet's waste. The value of a remnant that goes back to the rack, its share of the
sheet by weight, is taken off first and stays with the remnant.
Cutting: each part is charged with its own pierces and its own cut length at the rule's feed; the
moves on a sheet are shared by pierces, since every pierce has one move before it. Handling a sheet is
shared as its metal is; cleaning is each part's own.
Pieces of one part cost the same wherever they lie: the plan's average.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import fsum

from sheetplan.model.job import CuttingRule, Job
from sheetplan.model.plan import GroupPlan, Plan
from sheetplan.money.allocation import Allocation, allocate, parts_of
from sheetplan.money.figures import GroupFigures, PlanFigures
from sheetplan.money.layout_figures import (
    MINUTES_PER_HOUR,
    LayoutFigures,
    crop_work,
    handling,
    part_facts,
)


@dataclass(frozen=True, slots=True)
class CostShare:
    """Pieces and what they cost, in metal and in cutting."""

    pieces: int = 0
    metal: float = 0.0
    cutting: float = 0.0

    @property
    def total(self) -> float:
        """Metal and cutting."""
        return self.metal + self.cutting

    @property
    def each(self) -> float:
        """Cost of one piece; 0 where there is none."""
        return self.total / self.pieces if self.pieces else 0.0

    def of(self, pieces: int) -> CostShare:
        """So many of these pieces at their average."""
        share = pieces / self.pieces if self.pieces else 0.0
        return CostShare(pieces, self.metal * share, self.cutting * share)


@dataclass(frozen=True, slots=True)
class KitCost:
    """What one kit costs; ``unknown`` are its parts that the plan does not make, left out of the cost."""

    metal: float
    cutting: float
    unknown: tuple[str, ...] = ()

    @property
    def each(self) -> float:
        """Metal and cutting of one kit."""
        return self.metal + self.cutting


@dataclass(frozen=True, slots=True)
class CostShares:
    """A plan's cost, shared out; every way of sharing adds up to the plan's total.

    ``parts`` is by part. ``lines`` follows ``Job.orders``; with ``spare``, pieces that no order asked
    for, they add up to the parts. ``kept`` is the value of remnants that go back to the rack.
    """

    parts: Mapping[str, CostShare]
    lines: tuple[CostShare, ...]
    spare: CostShare
    kept: float

    @property
    def total(self) -> float:
        """The plan's cost: parts and remnants kept."""
        return together(self.parts.values()).total + self.kept


def cost_shares(plan: Plan, figures: PlanFigures, allocation: Allocation | None = None) -> CostShares:
    """Share a plan's cost among parts, order lines, spare pieces and remnants kept."""
    parts = part_shares(plan, figures)
    shared = allocation or allocate(plan)
    lines = []
    for line in shared.lines:
        order = plan.job.orders[line.order]
        missing = dict(line.missing)
        each = parts_of(plan.job, order.item)
        got = {part: order.quantity * pieces - missing.get(part, 0) for part, pieces in each.items()}
        lines.append(together(parts[part].of(count) for part, count in got.items() if count))
    spare = together(parts[part].of(pieces) for part, pieces in shared.spare.items())
    return CostShares(parts, tuple(lines), spare, figures.total.money.kept)


def part_shares(plan: Plan, figures: PlanFigures) -> dict[str, CostShare]:
    """What the pieces of each part cost together."""
    found: dict[str, CostShare] = {}
    for group_plan, group in zip(plan.groups, figures.groups, strict=True):
        for name, share in _group_shares(plan.job, group_plan, group).items():
            found[name] = together((found.get(name, CostShare()), share))
    return found


def kit_costs(job: Job, parts: Mapping[str, CostShare]) -> dict[str, KitCost]:
    """What one of each kit costs at the plan's cost of its parts."""
    found = {}
    for kit in job.kits.values():
        known = {part: pieces for part, pieces in kit.parts.items() if part in parts}
        unknown = tuple(part for part in kit.parts if part not in parts)
        each = together(parts[part].of(pieces) for part, pieces in known.items())
        found[kit.name] = KitCost(each.metal, each.cutting, unknown)
    return found


def together(shares: Iterable[CostShare]) -> CostShare:
    """The sum of many."""
    listed = list(shares)
    return CostShare(
        sum(share.pieces for share in listed),
        fsum(share.metal for share in listed),
        fsum(share.cutting for share in listed),
    )


def _group_shares(job: Job, group_plan: GroupPlan, figures: GroupFigures) -> dict[str, CostShare]:
    rule = group_plan.group.rule
    names = {placement.part for layout in group_plan.layouts for placement in layout.placements}
    facts = {name: part_facts(job.parts[name].outline, rule) for name in sorted(names)}
    pieces = dict.fromkeys(facts, 0)
    metal: dict[str, list[float]] = {name: [] for name in facts}
    moving: dict[str, list[float]] = {name: [] for name in facts}
    for layout in group_plan.layouts:
        sheet = figures.layouts[layout.tag]
        areas = dict.fromkeys((placement.part for placement in layout.placements), 0.0)
        for placement in layout.placements:
            areas[placement.part] += facts[placement.part].area
            pieces[placement.part] += layout.repeats
        net = (sheet.metal_cost + sheet.moving_cost - sheet.kept_value) * layout.repeats
        whole = fsum(areas.values())
        for name, area in areas.items():
            metal[name].append(net * area / whole)
        hands = handling(len(layout.placements), rule, job.settings)
        for name, area in areas.items():
            moving[name].append(hands.sheet * layout.repeats * area / whole)
        crop = crop_work(sheet.left, rule)
        pierces = sheet.pierces - crop.pierces
        each = (_cost_of_moves(sheet, rule) + crop.cost(rule)) / pierces if pierces else 0.0
        for placement in layout.placements:
            share = each * facts[placement.part].work.pierces * layout.repeats
            moving[placement.part].append(share)
    return {
        name: CostShare(
            pieces[name], fsum(metal[name]),
            (fact.work.cost(rule) + handling(1, rule, job.settings).part) * pieces[name] + fsum(moving[name]),
        )
        for name, fact in facts.items()
    }


def _cost_of_moves(sheet: LayoutFigures, rule: CuttingRule) -> float:
    """What the moves on one sheet cost."""
    if sheet.hours is None or not rule.travel:
        return 0.0
    return sheet.work.moves / rule.travel / MINUTES_PER_HOUR * rule.hour_cost
