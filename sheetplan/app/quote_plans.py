"""The plans behind a quote: the job alone, and the month with it. None of them is written.

Every plan passes the independent check before a figure is taken of it.

Choices
-------
What a quote adds is never more than what it takes alone: the plan of it alone, cut beside the month's, is a
plan of the month with it. Where that is the cheaper one it is the answer (`beside`), as far as the sheets of
the quote can be bought without limit.
"""

from __future__ import annotations

import datetime
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sheetplan.app.answering import CheckFailed
from sheetplan.model import Job, Layout, Order, Plan
from sheetplan.money.allocation import parts_of
from sheetplan.money.cutting_plan import Ordered, days_of
from sheetplan.money.figures import plan_figures
from sheetplan.money.quoting import NOTHING, NearlyFree, Priced, QuoteCost, QuoteLine, alone_cost, whole_cost
from sheetplan.money.quoting import added_cost as added_to
from sheetplan.planning.order_book import Before, number_of, plan_job
from sheetplan.planning.progress import RunOptions

SAME_PLAN = "the plan before"
"""Stands for the mark of a plan that was made in memory and never bore one."""

ROOM_SECONDS = 2.0
"""Most seconds for what else would fit beside a quote."""


@dataclass(frozen=True, slots=True)
class Month:
    """The month as it stands: its plan, what that costs, and what of orders it cannot make."""

    plan: Plan
    cost: QuoteCost
    ordered: Ordered
    today: datetime.date

    @classmethod
    def of(cls, plan: Plan, ordered: Ordered, today: datetime.date) -> Month:
        """The month of a checked plan."""
        return cls(plan, whole_cost(plan, plan_figures(plan)), ordered, today)


def checked(plan: Plan) -> Plan:
    """The plan, if the check finds nothing wrong with it; raises ``CheckFailed``."""
    from sheetplan.checking import check_plan

    faults = check_plan(plan)
    if faults:
        raise CheckFailed(tuple(faults))
    return plan


def planned_alone(job: Job, orders: Sequence[Order], options: RunOptions) -> Plan:
    """A plan of some orders as if nothing else were made: all metal bought, no spares, no rack."""
    alone = replace(
        job, orders=tuple(orders), remnants=(), progress=(), finished=(),
        parts={name: replace(part, spare=0) for name, part in job.parts.items()},
        stock=tuple(replace(sheet, on_hand=0, on_order=0) for sheet in job.stock),
    )  # fmt: skip
    return checked(plan_job(alone, options))


def planned_with(plan: Plan, job: Job, orders: Sequence[Order], options: RunOptions) -> Plan:
    """A plan of the month with more orders, from the plan without them; gauges that they do not touch stand.

    ``job`` is the plan's own, with whatever parts the orders need beside it.
    """
    from sheetplan.planning.continuing import continued
    from sheetplan.planning.grouping import make_groups

    if not orders:
        return plan
    more = replace(job, orders=(*plan.job.orders, *orders), progress=())
    if not plan.groups:
        return checked(plan_job(more, options))
    there = {one.group.label: one for one in plan.groups}
    stands = {
        group.label: there[group.label] for group in make_groups(more)[0]
        if group.label in there and there[group.label].group.needs == group.needs
    }  # fmt: skip
    known = tuple(layout for one in plan.groups for layout in one.layouts)
    before = Before(
        SAME_PLAN, stands, _layouts(plan, stands), known, max(number_of(layout.tag) for layout in known)
        if known else 0,
    )  # fmt: skip
    locked = tuple(layout for layout in known if layout.locked)
    return checked(continued(more, before, options, locked=locked))


def _layouts(plan: Plan, stands: Mapping[str, object]) -> tuple[Layout, ...]:
    """The layouts of the gauges that change."""
    changing = (one for one in plan.groups if one.group.label not in stands)
    return tuple(replace(layout, locked=False) for one in changing for layout in one.layouts)


@dataclass(frozen=True, slots=True)
class Seconds:
    """Most seconds of search for one quantity: by itself, and within the month."""

    alone: float
    added: float


def priced(
    line: QuoteLine, quantity: int, month: Month, job: Job, seconds: Seconds, options: RunOptions
) -> tuple[Priced, tuple[NearlyFree, ...]]:
    """The answer for one quantity of a line, and what else fits beside it; a quote of nothing costs nothing.

    ``job`` is the month's with the parts that the page Quotes brings.
    """
    mark_up = line.marked_up(job.settings)
    if not quantity:
        return Priced(0, mark_up=mark_up, by_month=line.by_month), ()
    order = Order(line.name, line.item, quantity, True, line.wanted)
    alone = planned_alone(job, (order,), replace(options, seconds=seconds.alone))
    after = planned_with(month.plan, job, (order,), replace(options, seconds=seconds.added))
    figures, lone = plan_figures(after), plan_figures(alone)
    added = added_to(month.cost, whole_cost(after, figures))
    days = days_of(after, figures, today=month.today, ordered=month.ordered)
    finish = days.finished.get(len(after.job.orders) - 1) if days else None
    short = _short(after, order, _all_short(month.plan))
    free = nearly_free(after, month, options)
    answer = Priced(
        quantity, alone_cost(alone, lone), beside(alone, whole_cost(alone, lone), added), mark_up,
        line.by_month, finish.isoformat() if finish and not short else "",
        _short(alone, order, Counter()), short,
        next((one.more for one in free if one.order == line.name), 0),
    )  # fmt: skip
    return answer, free


def beside(alone: Plan, cost: QuoteCost, added: QuoteCost) -> QuoteCost:
    """What a quote adds: as found, or what it takes alone where that is less and its sheets have no limit."""
    limited = any(count.sheet.buy_limit is not None for one in alone.groups for count in one.sheets)
    lacks = any(one.short for one in alone.groups)
    return cost if cost.total < added.total and not limited and not lacks else added


def _short(plan: Plan, order: Order, before: Counter[str]) -> dict[str, int]:
    """Pieces, by part, that a plan with an order does not make beyond those that lacked before it.

    They may be of another order, whose sheets it takes; of a gauge that is left out they are its own.
    """
    planned = {need.part for one in plan.groups for need in one.group.needs}
    each = parts_of(plan.job, order.item)
    missing = {part: pieces * order.quantity for part, pieces in each.items() if part not in planned}
    return {**(_all_short(plan) - before), **missing}


def _all_short(plan: Plan) -> Counter[str]:
    found: Counter[str] = Counter()
    for one in plan.groups:
        found.update(one.short)
    return found


def nearly_free(plan: Plan, month: Month, options: RunOptions) -> tuple[NearlyFree, ...]:
    """What more fits on sheets that a plan cuts anyway, by order line, each by itself."""
    from sheetplan.planning.whatif.asking import Counted, Kind, Question, answers_in, gauges_of, round_up
    from sheetplan.planning.whatif.capacity import parts_of

    until = time.monotonic() + ROOM_SECONDS
    answers: dict[Question, Counted] = {}
    for gauge in gauges_of(plan):
        group = gauge.plan.group
        items = dict.fromkeys(order.item for order in plan.job.orders)
        asked = [
            Question(Kind.ROOM, group.label, item) for item in items if parts_of(group, gauge.job, item)
        ]
        found, _ = answers_in(
            gauge, asked, stop=lambda: options.stop() or time.monotonic() > until
        )
        answers.update(found)
    orders = plan.job.orders
    return tuple(
        NearlyFree(orders[one.order].name, orders[one.order].item, one.extra)
        for one in round_up(plan, answers) if one.extra
    )  # fmt: skip


__all__ = ["NOTHING", "Month", "Seconds", "checked", "nearly_free", "planned_alone", "planned_with", "priced"]
