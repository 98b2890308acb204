"""What if: answers for the planner that beside a plan are worth a look before ordering.

- How many whole kits the stock on hand makes, and which gauge runs out first.
- How many of a kit come from one sheet of each size, halves and thirds included: 13 from two
  sheets is six and a half a sheet.
- What one more sheet of each size would add.
- How far an order can be rounded up so that the sheets it takes anyway are full.

All answers are fitted with boxes, never guessed from areas: what is said can be cut.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sheetplan.model.job import Job, Order, SheetSize
from sheetplan.model.plan import Group, GroupPlan, Plan
from sheetplan.planning.capacity import OutOfTime, greatest, most_sets, on_hand, parts_of
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.progress import Progress, Report, Stop, never
from sheetplan.planning.room import room_for

MOST_SHEETS_TOGETHER = 3
"""Kits per sheet are sought on one, two and three sheets together."""

Rooms = Mapping[tuple[str, str], int]
"""How many more of an item (first) fit on a plan's sheets in a gauge (second)."""


@dataclass(frozen=True, slots=True)
class KitsOnHand:
    """Whole kits from the stock on hand, each kit by itself as if nothing else were cut.

    ``by_gauge`` says how many each gauge allows; ``bottleneck`` is the gauge that allows least.
    """

    kit: str
    whole: int
    bottleneck: str
    by_gauge: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class KitsPerSheet:
    """``kits`` sets of a kit's parts in a gauge from ``sheets`` sheets of a size, cut together."""

    kit: str
    gauge: str
    sheet: SheetSize
    kits: int
    sheets: int

    @property
    def each(self) -> float:
        """Kits per sheet."""
        return self.kits / self.sheets


@dataclass(frozen=True, slots=True)
class OneMoreSheet:
    """What one more sheet of a size would add: ``adds`` more of an item (kit or part) in its gauge.

    ``short`` says that these pieces are asked for and not made by the plan as it is. A kit has parts in
    other gauges too: ``whole`` more kits are complete on the sheets that the plan takes there, and
    ``held_up`` is the gauge that has no room for more (empty where none holds the kit up).
    """

    gauge: str
    sheet: SheetSize
    item: str
    adds: int
    short: bool
    whole: int
    held_up: str = ""


@dataclass(frozen=True, slots=True)
class RoundUp:
    """``extra`` more of an order line fit on the sheets that the plan takes anyway.

    ``full`` is the gauge that has no room for one more.
    """

    order: int
    extra: int
    full: str


@dataclass(frozen=True, slots=True)
class WhatIf:
    """All answers beside one plan."""

    on_hand: tuple[KitsOnHand, ...]
    per_sheet: tuple[KitsPerSheet, ...]
    one_more: tuple[OneMoreSheet, ...]
    round_up: tuple[RoundUp, ...]


def what_if(plan: Plan, *, stop: Stop, report: Report) -> WhatIf:
    """All answers beside a plan, as far as there is time (see `progress` for ``stop`` and ``report``)."""
    answers = WhatIf((), (), (), ())
    rooms: Rooms = {}
    try:
        for kit in kits_ordered(plan.job):
            _tell(report, f"Counting whole kits of {kit} from the stock on hand.")
            answers = replace(answers, on_hand=(*answers.on_hand, kits_on_hand(plan.job, kit, stop)))
            shares = kits_per_sheet(plan.job, kit, stop)
            answers = replace(answers, per_sheet=(*answers.per_sheet, *shares))
        _tell(report, "Rounding orders up.")
        rooms = {(item, gauge): room_in(plan, item, gauge, stop) for item, gauge in gauges_of_orders(plan)}
        answers = replace(answers, round_up=round_up(plan, rooms))
        for one in plan.groups:
            _tell(report, f"Trying one more sheet of {one.group.label}.")
            more = one_more_sheet(one, plan.job, answers.per_sheet, rooms, stop)
            answers = replace(answers, one_more=(*answers.one_more, *more))
    except OutOfTime:
        return answers
    return answers


def _tell(report: Report, sentence: str) -> None:
    report(Progress("", 1.0, sentence))


def kits_ordered(job: Job) -> tuple[str, ...]:
    """Kits that are ordered, in the order of the book."""
    return tuple(dict.fromkeys(order.item for order in job.orders if order.item in job.kits))


def groups_of(job: Job, item: str) -> tuple[Group, ...]:
    """The gauges of an item as if it were the only order."""
    return make_groups(replace(job, orders=(Order(item, item, 1),)))[0]


def kits_on_hand(job: Job, kit: str, stop: Stop = never) -> KitsOnHand:
    """How many whole kits the stock on hand makes, the kit by itself."""
    by_gauge = {
        group.label: most_sets(group, job, parts_of(group, job, kit), on_hand(group), stop)
        for group in groups_of(job, kit)
    }
    bottleneck = min(by_gauge, key=lambda label: by_gauge[label])
    return KitsOnHand(kit, by_gauge[bottleneck], bottleneck, by_gauge)


def kits_per_sheet(job: Job, kit: str, stop: Stop = never) -> tuple[KitsPerSheet, ...]:
    """For each gauge of a kit and each of its sheet sizes, the most kits a sheet."""
    return tuple(
        best_share(group, job, kit, sheet, stop) for group in groups_of(job, kit) for sheet in group.stock
    )


def best_share(group: Group, job: Job, kit: str, sheet: SheetSize, stop: Stop = never) -> KitsPerSheet:
    """The best of one, two and three sheets; fewer sheets where that is as good."""
    one = parts_of(group, job, kit)
    shares: list[KitsPerSheet] = []
    for sheets in range(1, MOST_SHEETS_TOGETHER + 1):
        known = shares[0].kits * sheets if shares else 0
        kits = most_sets(group, job, one, {sheet: sheets}, stop, least=known)
        shares.append(KitsPerSheet(kit, group.label, sheet, kits, sheets))
    return max(shares, key=lambda share: (share.each, -share.sheets))


def one_more_sheet(
    group_plan: GroupPlan,
    job: Job,
    per_sheet: Sequence[KitsPerSheet],
    rooms: Rooms,
    stop: Stop = never,
) -> tuple[OneMoreSheet, ...]:
    """What one more sheet of each size would add to a gauge.

    Where pieces are short, how many of each part that is short; otherwise how many sets of each kit
    (``per_sheet`` has been worked out before, and ``rooms`` for the other gauges), or of each loose part.
    """
    group = group_plan.group
    found = []
    for sheet in group.stock:
        if group_plan.short:
            for part, missing in sorted(group_plan.short.items()):
                adds = min(missing, most_sets(group, job, {part: 1}, {sheet: 1}, stop))
                found.append(OneMoreSheet(group.label, sheet, part, adds, True, adds))
            continue
        for share in per_sheet:
            if share.gauge == group.label and share.sheet == sheet:
                adds = share.kits // share.sheets
                whole, held_up = whole_kits(job, share.kit, group.label, adds, rooms)
                found.append(OneMoreSheet(group.label, sheet, share.kit, adds, False, whole, held_up))
        for part in sorted({need.part for need in group.needs if not need.kit}):
            adds = most_sets(group, job, {part: 1}, {sheet: 1}, stop)
            found.append(OneMoreSheet(group.label, sheet, part, adds, False, adds))
    return tuple(found)


def whole_kits(job: Job, kit: str, gauge: str, adds: int, rooms: Rooms) -> tuple[int, str]:
    """How many of so many kits are complete in the other gauges too, and which of them holds the rest up."""
    others = {other: room for (item, other), room in rooms.items() if item == kit and other != gauge}
    tightest = min(others, key=lambda other: others[other], default="")
    if not tightest or others[tightest] >= adds:
        return adds, ""
    # Room beyond as many kits again as were ordered has not been looked for, so nothing is full there.
    return others[tightest], tightest if others[tightest] < most_asked(job, kit) else ""


def most_asked(job: Job, item: str) -> int:
    """The greatest quantity of an item on one order line: room is looked for up to as many again."""
    return max((order.quantity for order in job.orders if order.item == item), default=0)


def gauges_of_orders(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Every item that is ordered with each gauge that has a part of it."""
    items = dict.fromkeys(order.item for order in plan.job.orders)
    return tuple(
        (item, one.group.label)
        for item in items for one in plan.groups if parts_of(one.group, plan.job, item)
    )  # fmt: skip


def room_in(plan: Plan, item: str, gauge: str, stop: Stop = never) -> int:
    """How many more of an item fit on the sheets that the plan takes in a gauge, as many again at most."""
    group_plan = next(one for one in plan.groups if one.group.label == gauge)
    one = parts_of(group_plan.group, plan.job, item)
    most = most_asked(plan.job, item)
    return greatest(lambda sets: room_for(group_plan, plan.job, one, sets, stop), most)


def round_up(plan: Plan, rooms: Rooms) -> tuple[RoundUp, ...]:
    """For each order line, how many more fit on the sheets that the plan takes anyway."""
    found = []
    for index, order in enumerate(plan.job.orders):
        here = {gauge: room for (item, gauge), room in rooms.items() if item == order.item}
        if here:
            full = min(here, key=lambda gauge: here[gauge])
            found.append(RoundUp(index, min(order.quantity, here[full]), full))
    return tuple(found)
