"""What if a gauge were bought in one sheet size alone: a short run for each size that is for sale.

Sheets and remnants on hand may still be used, whatever their size; only what is bought is held to one
size. The answers stand beside the plan, and where one of them is cheaper the plan takes it over.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from sheetplan.model.job import SheetSize
from sheetplan.model.plan import Choice, Group, GroupPlan, Layout, Plan
from sheetplan.planning.numbering import numbered
from sheetplan.planning.picking import LEAST_COST, LEAST_NOW, name_of
from sheetplan.planning.progress import Progress, Report, Stop, quiet

SAME_MONEY = 0.005
"""Costs closer than half a cent are one cost."""

TOGETHER = 8
"""Sizes planned at a time: enough for every core."""

GRACE_SECONDS = 5.0
"""The least that a size takes is its first plan; so much longer than asked may the first plans last."""


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


def plans_of_one_size(
    plan: Plan,
    *,
    seconds: float,
    seed: int,
    stop: Stop,
    report: Report = quiet,
    executor: Executor | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> tuple[OneSize, ...]:
    """A plan for each size of each gauge that the plan could have bought instead of what it buys.

    Sizes whose sheets cannot make what must be made are left out, and so are those that nobody came to in
    ``seconds`` and a few more; a run that is told to stop leaves out all of them.
    """
    asked = _asked(plan)
    if not asked or stop():
        return ()
    report(Progress("", 1.0, COMPARING))
    try:
        found = list(_in_turn(plan, asked, seconds, seed, _leaving(stop), report, executor, clock))
    except _Stopped:
        if executor is not None:
            executor.shutdown(wait=False, cancel_futures=True)
        return ()
    by_gauge = sorted(zip(asked, found, strict=False), key=lambda pair: pair[0][0])
    return tuple(
        OneSize(group_plan.group.label, sheet, _given_back(other, group_plan.group))
        for (_, group_plan, sheet), other in by_gauge
        if not _shorter(other, group_plan)
    )


Asked = tuple[int, GroupPlan, SheetSize]
"""A gauge's place in the plan, its plan, and a size to compare it with."""

COMPARING = "Comparing sheet sizes"


def _asked(plan: Plan) -> list[Asked]:
    """What is to be compared: of every gauge one size before the second of any, should time run out."""
    asked = [
        (turn, (place, group_plan, sheet))
        for place, group_plan in enumerate(plan.groups)
        for turn, sheet in enumerate(_instead(group_plan))
    ]
    return [one for _, one in sorted(asked, key=lambda pair: pair[0])]


def _in_turn(
    plan: Plan, asked: Sequence[Asked], seconds: float, seed: int, stop: Stop, report: Report,
    executor: Executor | None, clock: Callable[[], float],
) -> Iterator[GroupPlan]:  # fmt: skip
    """A plan for each of what is asked, a few at a time, until the time is up."""
    from sheetplan.planning.run import Run  # compiled kernels, too heavy for a look at the book

    end = clock() + seconds + GRACE_SECONDS
    for done in range(0, len(asked), TOGETHER):
        if done and clock() > end:
            return
        now = asked[done : done + TOGETHER]

        def told(progress: Progress, done: int = done, share: float = len(now) / len(asked)) -> None:
            report(Progress("", 1.0, f"{COMPARING}, {done / len(asked) + progress.done * share:.0%}"))

        groups = [_buying_only(group_plan.group, sheet) for _, group_plan, sheet in now]
        allowed = seconds * len(now) / len(asked)
        yield from Run(plan.job, groups, allowed, seed, stop, told, executor).plans()


class _Stopped(Exception):
    """The comparison is left as it is; the plan itself is there already."""


def _leaving(stop: Stop) -> Stop:
    """A stop that leaves at once instead of bringing every size to an end."""

    def leave() -> bool:
        if stop():
            raise _Stopped
        return False

    return leave


def instead_of(group_plan: GroupPlan, others: Sequence[OneSize]) -> list[OneSize]:
    """The answers for a gauge that buy something else than its plan does."""
    bought = [count.sheet for count in group_plan.sheets if count.to_buy]
    label = group_plan.group.label
    return [one for one in others if one.gauge == label and bought != [one.sheet]]


def with_the_cheapest(plan: Plan, others: Sequence[OneSize]) -> Plan:
    """The plan, with each gauge as one of ``others`` has it where that is cheaper."""
    groups = []
    for chosen in plan.groups:
        best = min(
            (other.plan for other in others if other.gauge == chosen.group.label),
            key=lambda other: other.cost, default=chosen,
        )  # fmt: skip
        groups.append(_taken_over(best, chosen) if best.cost < chosen.cost - SAME_MONEY else chosen)
    return replace(plan, groups=numbered(groups))


def with_smaller_bills(plan: Plan, others: Sequence[OneSize]) -> Plan:
    """The plan, with the answer that has the smallest bill among each gauge's choices where it matters.

    Such an answer may come of what is on hand alone, which no choice so far thought of.
    """
    groups = []
    for chosen in plan.groups:
        own = [other.plan for other in others if other.gauge == chosen.group.label]
        beside = [choice.plan for choice in chosen.choices]
        best = min((*own, *beside), key=_bill, default=chosen)
        new = name_of(chosen) != LEAST_NOW and all(best is not choice for choice in beside)
        groups.append(_with_choice(chosen, best) if new else chosen)
    return replace(plan, groups=tuple(groups))


def _bill(group_plan: GroupPlan) -> tuple[float, float]:
    """What is to be paid, and the cost of all metal."""
    return group_plan.to_pay, group_plan.cost


def _with_choice(chosen: GroupPlan, best: GroupPlan) -> GroupPlan:
    """A gauge's plan with another one as the choice of least to pay, if its bill is smaller enough."""
    from sheetplan.planning.aims import Aim
    from sheetplan.planning.choices import MATTERS, MOST_CHOICES, Candidate, gain, sentence

    main, other = (
        Candidate(of, sum(layout.repeats for layout in of.layouts), 0.0, 0.0)
        for of in (chosen, replace(best, choices=(), picked=""))
    )
    if gain(main, Aim.MONEY_NOW, other) < MATTERS[Aim.MONEY_NOW]:
        return chosen
    rest = [choice for choice in chosen.choices if choice.name != LEAST_NOW]
    now = Choice(LEAST_NOW, sentence(main, Aim.MONEY_NOW, other), other.plan)
    return replace(chosen, choices=(now, *rest[: MOST_CHOICES - 1]))


def _instead(group_plan: GroupPlan) -> list[SheetSize]:
    """Sizes for sale that the plan does not buy alone already; none where it buys nothing."""
    bought = [count.sheet for count in group_plan.sheets if count.to_buy]
    for_sale = [sheet for sheet in group_plan.group.stock if sheet.buy_limit != 0]
    return [sheet for sheet in for_sale if bought and bought != [sheet]]


def _buying_only(group: Group, bought: SheetSize) -> Group:
    stock = tuple(sheet if sheet == bought else replace(sheet, buy_limit=0) for sheet in group.stock)
    return replace(group, stock=stock)


def _given_back(other: GroupPlan, group: Group) -> GroupPlan:
    """A plan of a narrowed gauge with the gauge's own sheets in it."""
    own = {sheet.name: sheet for sheet in group.stock}

    def on_own(layout: Layout) -> Layout:
        sheet = own[layout.sheet.name] if isinstance(layout.sheet, SheetSize) else layout.sheet
        return replace(layout, sheet=sheet)

    return replace(
        other, group=group, layouts=tuple(on_own(layout) for layout in other.layouts),
        sheets=tuple(replace(count, sheet=own[count.sheet.name]) for count in other.sheets),
    )  # fmt: skip


def _shorter(other: GroupPlan, chosen: GroupPlan) -> bool:
    """Whether the other leaves more of what must be made unmade."""
    return any(pieces > chosen.short.get(part, 0) for part, pieces in other.short.items())


def _taken_over(best: GroupPlan, chosen: GroupPlan) -> GroupPlan:
    """A cheaper plan beside the bound and the choices of the whole gauge.

    Its own hold for one size alone.
    """
    above = best.cost / chosen.bound - 1.0 if chosen.bound else chosen.above_bound
    return replace(
        best, bound=chosen.bound, above_bound=above, note=chosen.note, limited_by=chosen.limited_by,
        choices=tuple(choice for choice in chosen.choices if choice.name != LEAST_COST),
    )  # fmt: skip
