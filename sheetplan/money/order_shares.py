"""What an order gets of a plan: which pieces, what they cost, and how far each order is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import fsum

from sheetplan.model import Job, Order, OrderProgress, OrderState, Plan
from sheetplan.model.job import NO_DATE, CuttingRule, OrderKey
from sheetplan.model.plan import GroupPlan, pieces_on
from sheetplan.money.figures import GroupFigures, PlanFigures
from sheetplan.money.layout_figures import MINUTES_PER_HOUR, LayoutFigures, crop_work, handling, part_facts

# Which order line gets the pieces that a plan makes.
#
# Terms
# line
#     One order of the book: so many of a kit or of a loose part.
# whole
#     A kit counts only when every part of it is there, across all gauges.
# turn of the lines
#     Must orders before those that are cut if they fit, then by due date (none comes last), then
#     as they stand in the book.

@dataclass(frozen=True, slots=True)
class LineResult:
    """What one order line gets.

    ``made`` counts whole kits (or pieces of a loose part); ``missing`` lists the parts, with
    pieces, that are still wanted to make the line whole.
    """

    order: int
    """Index into ``Job.orders``."""
    asked: int
    made: int
    missing: tuple[tuple[str, int], ...] = ()

    @property
    def short(self) -> int:
        """How many of the line are not made."""
        return self.asked - self.made


@dataclass(frozen=True, slots=True)
class Allocation:
    """Every line's result in the order of the book, and pieces that no line asked for, by part."""

    lines: tuple[LineResult, ...]
    spare: Mapping[str, int]


def pieces_made(plan: Plan) -> Counter[str]:
    """Pieces of each part that the layouts make when each is cut as often as it says."""
    return pieces_on(layout for group_plan in plan.groups for layout in group_plan.layouts)


def allocate(plan: Plan) -> Allocation:
    """Share the pieces of a plan among its order lines, whole kits first.

    Every line in its turn takes as many whole kits as the pieces left allow; only then do the
    pieces that remain go towards the kits that stay incomplete, in the same turn. So a kit that
    waits for a part of another gauge never keeps a later line's pieces for nothing.
    """
    return share(plan.job, pieces_made(plan))


def share(job: Job, made: Mapping[str, int]) -> Allocation:
    """As `allocate`, from a count of pieces by part."""
    left = Counter(dict(made))
    turn = sorted(range(len(job.orders)), key=lambda index: _turn(job.orders[index], index))
    whole = {index: _take_whole(job, job.orders[index], left) for index in turn}
    missing = {index: _take_towards(job, job.orders[index], whole[index], left) for index in turn}
    lines = tuple(
        LineResult(index, order.quantity, whole[index], missing[index])
        for index, order in enumerate(job.orders)
    )
    return Allocation(lines, {part: pieces for part, pieces in left.items() if pieces > 0})


def pieces_by_line(job: Job, shared: Allocation) -> dict[str, list[tuple[int, int]]]:
    """For each part the order lines that get pieces of it, with how many, in the turn of the lines."""
    found: dict[str, list[tuple[int, int]]] = {}
    for index in sorted(range(len(job.orders)), key=lambda index: _turn(job.orders[index], index)):
        order, missing = job.orders[index], dict(shared.lines[index].missing)
        for part, each in parts_of(job, order.item).items():
            pieces = order.quantity * each - missing.get(part, 0)
            if pieces:
                found.setdefault(part, []).append((index, pieces))
    return found


def parts_of(job: Job, item: str) -> Mapping[str, int]:
    """How many of each part one of an item takes; a loose part is a kit of itself."""
    return job.kits[item].parts if item in job.kits else {item: 1}


def _turn(order: Order, index: int) -> tuple[bool, str, int]:
    return not order.must, order.due or NO_DATE, index


def _take_whole(job: Job, order: Order, left: Counter[str]) -> int:
    each = parts_of(job, order.item)
    wholes = min((left[part] // pieces for part, pieces in each.items() if pieces), default=0)
    wholes = min(wholes, order.quantity)
    for part, pieces in each.items():
        left[part] -= wholes * pieces
    return wholes


def _take_towards(job: Job, order: Order, whole: int, left: Counter[str]) -> tuple[tuple[str, int], ...]:
    missing = []
    for part, pieces in parts_of(job, order.item).items():
        wanted = (order.quantity - whole) * pieces
        taken = min(wanted, left[part])
        left[part] -= taken
        if wanted > taken:
            missing.append((part, wanted - taken))
    return tuple(missing)


# What each part, kit and order costs, so that all of them together cost what the plan costs.
#
# The rule
# Metal: each sheet is charged to the parts on it by their net area, so that every part carries its
# share of that sheet's waste. The value of a remnant that goes back to the rack, its share of the
# sheet by weight, is taken off first and stays with the remnant.
# Cutting: each part is charged with its own pierces and its own cut length at the rule's feed; the
# moves on a sheet are shared by pierces, since every pierce has one move before it. Handling a sheet is
# shared as its metal is; cleaning is each part's own.
# Pieces of one part cost the same wherever they lie: the plan's average.

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


# How far each order is: what is cut of it, what a plan makes of the rest, and what is then still missing.
#
# Progress is told of the order as the book has it, whatever has been cut of it; a plan knows only what was
# left of it when it was made, as kits and loose parts.

@dataclass(frozen=True, slots=True)
class LineProgress:
    """One order line; counts are pieces by part.

    ``each`` is what one of the item takes, ``cut`` the good pieces, ``bad`` those that came out bad,
    ``planned`` what the plan makes for it, ``offered`` what comes from finished parts that no order holds.
    """

    order: Order
    each: Mapping[str, int]
    cut: Mapping[str, int]
    bad: Mapping[str, int]
    planned: Mapping[str, int]
    offered: Mapping[str, int]

    @property
    def pieces(self) -> int:
        """All pieces asked for."""
        return self.order.quantity * sum(self.each.values())

    @property
    def to_cut(self) -> int:
        """Pieces still to be cut; none of an order that is not open."""
        there = sum(self.cut.values()) + sum(self.offered.values())
        return self.pieces - there if self.order.state is OrderState.OPEN else 0

    @property
    def missing(self) -> tuple[tuple[str, int], ...]:
        """Parts, with pieces, that are neither cut nor planned of an open order."""
        if self.order.state is not OrderState.OPEN:
            return ()
        left = {
            part: self.order.quantity * each
            - (self.cut.get(part, 0) + self.planned.get(part, 0) + self.offered.get(part, 0))
            for part, each in self.each.items()
        }
        return tuple((part, count) for part, count in left.items() if count > 0)

    @property
    def whole_cut(self) -> int:
        """Whole items of which every part is cut."""
        return self._whole(self.cut)

    @property
    def whole(self) -> int:
        """Whole items when the plan is cut as well."""
        return self._whole(Counter(self.cut) + Counter(self.planned) + Counter(self.offered))

    def _whole(self, pieces: Mapping[str, int]) -> int:
        found = min((pieces.get(part, 0) // each for part, each in self.each.items() if each), default=0)
        return min(found, self.order.quantity)


def progress(plan: Plan, shared: Allocation | None = None) -> tuple[LineProgress, ...]:
    """The progress of every order line of the book, in its order."""
    job = plan.job
    planned = _planned(plan, shared or allocate(plan))
    asked = job.progress or tuple(OrderProgress(order) for order in job.orders)
    return tuple(
        LineProgress(
            one.order, parts_of(job, one.order.item), one.cut, one.bad,
            planned.pop(one.order.key, {}), one.offered,
        )
        for one in asked
    )  # fmt: skip


def _planned(plan: Plan, shared: Allocation) -> dict[OrderKey, Counter[str]]:
    """Pieces that the plan makes, by the order that they are for."""
    job = plan.job
    found: dict[OrderKey, Counter[str]] = {}
    for line in shared.lines:
        order, missing = job.orders[line.order], dict(line.missing)
        made = found.setdefault(order.key, Counter())
        for part, each in parts_of(job, order.item).items():
            made[part] += order.quantity * each - missing.get(part, 0)
    return found
