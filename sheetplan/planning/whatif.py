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
from sheetplan.planning.capacity import greatest, most_sets, on_hand, parts_of
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.progress import Progress, Report, Stop
from sheetplan.planning.room import room_for

MOST_SHEETS_TOGETHER = 3
"""Kits per sheet are sought on one, two and three sheets together."""


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

    ``short`` says that these pieces are asked for and not made by the plan as it is.
    """

    gauge: str
    sheet: SheetSize
    item: str
    adds: int
    short: bool


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
    steps: list[object] = []

    def told(sentence: str) -> None:
        steps.append(sentence)
        report(Progress("", min(0.99, len(steps) / 40), sentence))

    kits = kits_ordered(plan.job)
    answers = WhatIf((), (), (), ())
    for kit in kits:
        if stop():
            return answers
        told(f"Counting whole kits of {kit} from the stock on hand.")
        answers = replace(answers, on_hand=(*answers.on_hand, kits_on_hand(plan.job, kit)))
        answers = replace(answers, per_sheet=(*answers.per_sheet, *kits_per_sheet(plan.job, kit)))
    for group_plan in plan.groups:
        if stop():
            return answers
        told(f"Trying one more sheet of {group_plan.group.label}.")
        more = one_more_sheet(group_plan, plan.job, answers.per_sheet)
        answers = replace(answers, one_more=(*answers.one_more, *more))
    told("Rounding orders up.")
    return replace(answers, round_up=round_up(plan, stop))


def kits_ordered(job: Job) -> tuple[str, ...]:
    """Kits that are ordered, in the order of the book."""
    return tuple(dict.fromkeys(order.item for order in job.orders if order.item in job.kits))


def groups_of(job: Job, item: str) -> tuple[Group, ...]:
    """The gauges of an item as if it were the only order."""
    return make_groups(replace(job, orders=(Order(item, item, 1),)))[0]


def kits_on_hand(job: Job, kit: str) -> KitsOnHand:
    """How many whole kits the stock on hand makes, the kit by itself."""
    by_gauge = {
        group.label: most_sets(group, job, parts_of(group, job, kit), on_hand(group))
        for group in groups_of(job, kit)
    }
    bottleneck = min(by_gauge, key=lambda label: by_gauge[label])
    return KitsOnHand(kit, by_gauge[bottleneck], bottleneck, by_gauge)


def kits_per_sheet(job: Job, kit: str) -> tuple[KitsPerSheet, ...]:
    """For each gauge of a kit and each of its sheet sizes, the most kits a sheet."""
    return tuple(
        best_share(group, job, kit, sheet) for group in groups_of(job, kit) for sheet in group.stock
    )


def best_share(group: Group, job: Job, kit: str, sheet: SheetSize) -> KitsPerSheet:
    """The best of one, two and three sheets; fewer sheets where that is as good."""
    one = parts_of(group, job, kit)
    shares = [
        KitsPerSheet(kit, group.label, sheet, most_sets(group, job, one, {sheet: sheets}), sheets)
        for sheets in range(1, MOST_SHEETS_TOGETHER + 1)
    ]
    return max(shares, key=lambda share: (share.each, -share.sheets))


def one_more_sheet(
    group_plan: GroupPlan, job: Job, per_sheet: Sequence[KitsPerSheet]
) -> tuple[OneMoreSheet, ...]:
    """What one more sheet of each size would add to a gauge.

    Where pieces are short, how many of each part that is short; otherwise how many sets of each kit
    (``per_sheet`` has been worked out before), or of each loose part.
    """
    group = group_plan.group
    found = []
    for sheet in group.stock:
        if group_plan.short:
            for part, missing in sorted(group_plan.short.items()):
                adds = min(missing, most_sets(group, job, {part: 1}, {sheet: 1}))
                found.append(OneMoreSheet(group.label, sheet, part, adds, True))
            continue
        found += [
            OneMoreSheet(group.label, sheet, share.kit, share.kits // share.sheets, False)
            for share in per_sheet if share.gauge == group.label and share.sheet == sheet
        ]  # fmt: skip
        loose = sorted({need.part for need in group.needs if not need.kit})
        found += [
            OneMoreSheet(group.label, sheet, part, most_sets(group, job, {part: 1}, {sheet: 1}), False)
            for part in loose
        ]
    return tuple(found)


def round_up(plan: Plan, stop: Stop) -> tuple[RoundUp, ...]:
    """For each order line, how many more fit on the sheets that the plan takes anyway."""
    found = []
    for index, order in enumerate(plan.job.orders):
        if stop():
            break
        extra, full = room_of_order(plan, order)
        if full:
            found.append(RoundUp(index, extra, full))
    return tuple(found)


def room_of_order(plan: Plan, order: Order) -> tuple[int, str]:
    """How many more of an order fit, and the gauge that is full then."""
    least, full = -1, ""
    for group_plan in plan.groups:
        one = parts_of(group_plan.group, plan.job, order.item)
        if not one:
            continue
        most = order.quantity if least < 0 else least
        here = greatest(lambda sets, g=group_plan, o=one: room_for(g, plan.job, o, sets), most)  # type: ignore[misc]
        if least < 0 or here < least:
            least, full = here, group_plan.group.label
    return max(0, least), full
