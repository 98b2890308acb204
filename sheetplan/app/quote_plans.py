"""The plans behind a quote: the job alone, and the month with it. None of them is written.

Every plan passes the independent check before a figure is taken of it.

Choices
-------
The month with a quote is the month's plan as it stands with the quote laid beside it
(`planning.adding`), so that what a quote adds does not depend on the luck of another search. A search is
given so much counted work: the same book and seed give the same answer on every machine.

What a quote adds is never more than what it takes alone: the plan of it alone, cut beside the month's, is
a plan of the month with it. Where that is the cheaper one it is the answer (`beside`), as far as the
sheets of the quote can be bought without limit. And no quantity takes more than a larger one: the larger
one's plan with pieces left out is a plan of it (`never_more_than_the_next`).
"""

from __future__ import annotations

import datetime
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sheetplan.app.making.answer import CheckFailed
from sheetplan.model import GroupPlan, Job, Order, Plan
from sheetplan.model.job import QuoteLine
from sheetplan.money.cutting_plan import Ordered, days_of
from sheetplan.money.figures import (
    Known,
    LayoutFigures,
    LayoutKey,
    PlanFigures,
    group_figures,
    key_of,
    plan_figures,
)
from sheetplan.money.order_shares import parts_of
from sheetplan.money.quoting import NOTHING, NearlyFree, Priced, QuoteCost, alone_cost, whole_cost
from sheetplan.money.quoting import added_cost as added_to
from sheetplan.planning.progress import RunOptions

if TYPE_CHECKING:
    from sheetplan.planning.whatif.fits import RoundUp

ALONE_SECONDS, ADDED_SECONDS = 0.3, 0.3
"""Counted work of search for one quantity, in seconds of the machine that it was measured on: by itself, and
for each way to lay it beside the month's plan."""

FULL_WORK = 8
"""So many quantities get that work each; it is divided among more, so that the whole takes no longer."""

TIMES_SLOWER = 100.0
"""A search may take so many times the seconds of the processor that its work is said to take; then it ends
where it is. A machine that is busy with other things ends none."""

MOST_MORE = 100
"""So many more of an item are looked for on the sheets of a plan, whatever was asked for, or as many again as
were asked for where that is more. Reached, it says "at least"."""

ROOM_SECONDS = 4.0
"""Most seconds of the processor for what else would fit on the sheets of a plan."""

MEASURED = 1e-9
"""Costs of one plan, added up in another order, differ by less."""


@dataclass(frozen=True, slots=True)
class Month:
    """The month as it stands: its plan, what that costs, and what of orders it cannot make.

    ``today`` is the day from which cutting counts; ``known`` are the figures of its layouts, which most plans
    with a quote share.
    """

    plan: Plan
    cost: QuoteCost
    ordered: Ordered
    today: datetime.date
    known: Known

    @classmethod
    def of(cls, plan: Plan, ordered: Ordered, today: datetime.date) -> Month:
        """The month of a checked plan."""
        figures = plan_figures(plan)
        return cls(plan, whole_cost(plan, figures), ordered, today, figures_by_key(plan, figures))


def figures_by_key(plan: Plan, figures: PlanFigures) -> dict[LayoutKey, LayoutFigures]:
    """The figures of each layout of a plan."""
    return {
        key_of(layout): found.layouts[layout.tag]
        for one, found in zip(plan.groups, figures.groups, strict=True) for layout in one.layouts
    }  # fmt: skip


def counted_work(options: RunOptions, seconds: float) -> RunOptions:
    """A search that ends by its counted work, and by the clock only where that runs far behind."""
    return replace(options, seconds=seconds, executor=None, clock=lambda: time.process_time() / TIMES_SLOWER)


def checked(plan: Plan, good: Plan | None = None) -> Plan:
    """The plan, if the check finds nothing wrong with it; raises ``CheckFailed``.

    Layouts of a plan that was found ``good`` are not measured again.
    """
    from sheetplan.checking import check_plan

    faults = check_plan(plan, good)
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
    return planned_with(Plan(replace(alone, orders=()), ()), alone, orders, options)


def planned_with(
    plan: Plan, job: Job, orders: Sequence[Order], options: RunOptions, known: Known | None = None
) -> Plan:
    """A plan of the month with more orders beside the checked plan without them, which stays as it is.

    ``job`` is the plan's own, with whatever parts the orders need beside it; ``known`` are figures of
    layouts that were worked out before.
    """
    from sheetplan.planning.adding import with_more

    if not orders:
        return plan
    more = replace(job, orders=(*plan.job.orders, *orders), progress=())

    def cheapest(ways: Sequence[GroupPlan]) -> GroupPlan:
        return min(ways, key=lambda way: (sum(way.short.values()), _net(way, more, known)))

    return checked(with_more(plan, more, options, cheapest), plan)


def _net(plan: GroupPlan, job: Job, known: Known | None) -> float:
    """What a gauge costs, less what goes back to the rack and what the scrap fetches."""
    money = group_figures(plan, job, known).money
    return money.net - money.scrap


@dataclass(frozen=True, slots=True)
class Answer:
    """The two plans behind one quantity, and what they cost."""

    order: Order
    alone: Plan
    alone_cost: QuoteCost
    after: Plan
    added: QuoteCost


def answered(
    line: QuoteLine, quantity: int, month: Month, job: Job, options: RunOptions, share: float
) -> Answer:
    """The plans of one quantity of a line; ``share`` of the full work of a search."""
    order = Order(line.name, line.item, quantity, due=line.wanted)
    orders = (order,) if quantity else ()
    alone = planned_alone(job, orders, counted_work(options, ALONE_SECONDS * share))
    after = planned_with(month.plan, job, orders, counted_work(options, ADDED_SECONDS * share), month.known)
    return _answer(order, alone, after, month)


def _answer(order: Order, alone: Plan, after: Plan, month: Month) -> Answer:
    lone, figures = plan_figures(alone), plan_figures(after, month.known)
    added = added_to(month.cost, whole_cost(after, figures))
    if not _all_short(after) - _all_short(month.plan):
        added = beside(alone, whole_cost(alone, lone), added)
    return Answer(order, alone, alone_cost(alone, lone), after, added)


def never_more_than_the_next(answers: Sequence[Answer], month: Month) -> list[Answer]:
    """Answers by rising quantity: where one costs more than the next, the next one's plan serves it."""
    found: list[Answer] = []
    for one in reversed(answers):
        found.append(_no_more_than(one, found[-1], month) if found else one)
    return found[::-1]


def _no_more_than(one: Answer, larger: Answer, month: Month) -> Answer:
    """The answer, from the plans of a larger quantity with pieces left out where those cost less."""
    from sheetplan.planning.adding import with_less

    dearer = (
        one.alone_cost.total > larger.alone_cost.total + MEASURED,
        one.added.total > larger.added.total + MEASURED,
    )
    short = _all_short(larger.alone) or _all_short(larger.after) - _all_short(month.plan)
    if short or not one.order.quantity or not any(dearer):
        return one
    alone = checked(with_less(larger.alone, replace(larger.alone.job, orders=(one.order,))), larger.alone)
    orders = (*larger.after.job.orders[:-1], one.order)
    after = checked(with_less(larger.after, replace(larger.after.job, orders=orders)), larger.after)
    other = _answer(one.order, alone, after, month)
    if other.alone_cost.total < one.alone_cost.total:
        one = replace(one, alone=alone, alone_cost=other.alone_cost)
    return replace(one, after=after, added=other.added) if other.added.total < one.added.total else one


def priced(line: QuoteLine, found: Answer, month: Month, options: RunOptions) -> Priced:
    """What is said of one quantity of a line."""
    order, after = found.order, found.after
    figures = plan_figures(after, month.known)
    days = days_of(after, figures, today=month.today, ordered=month.ordered)
    finish = days.finished.get(len(after.job.orders) - 1) if days and order.quantity else None
    short = _short(after, order, _all_short(month.plan))
    free = nearly_free(after, options, line.item) if order.quantity else ()
    here = next((one for one in free if one.order == line.name), None)
    return Priced(
        order.quantity, found.alone_cost, found.added, line.marked_up(after.job.settings), line.by_month,
        finish.isoformat() if finish and not short else "", _short(found.alone, order, Counter()), short,
        here.more if here else 0, here.at_least if here else False,
    )  # fmt: skip


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
    each = parts_of(plan.job, order.item) if order.quantity else {}
    missing = {part: pieces * order.quantity for part, pieces in each.items() if part not in planned}
    return {**(_all_short(plan) - before), **missing}


def _all_short(plan: Plan) -> Counter[str]:
    found: Counter[str] = Counter()
    for one in plan.groups:
        found.update(one.short)
    return found


def nearly_free(plan: Plan, options: RunOptions, only: str = "") -> tuple[NearlyFree, ...]:
    """What more fits on sheets that a plan cuts anyway, by order line, each by itself; ``only`` one item."""
    items = (only,) if only else tuple(dict.fromkeys(order.item for order in plan.job.orders))
    return _told(plan, _rounded_up(plan, options, items))


def also_nearly_free(plan: Plan, options: RunOptions, known: Sequence[RoundUp]) -> tuple[NearlyFree, ...]:
    """As `nearly_free`, of a plan of which it is ``known`` how far orders can be doubled."""
    orders = plan.job.orders
    full = {one.order for one in known if one.extra >= orders[one.order].quantity and not one.is_most}
    items = tuple(dict.fromkeys(orders[place].item for place in sorted(full)))
    further = {one.order: one for one in _rounded_up(plan, options, items)}
    # What was found with more time stands where this search, which begins anew, finds less.
    best = (max(one, further.get(one.order, one), key=lambda found: found.extra) for one in known)
    return _told(plan, best)


def _rounded_up(plan: Plan, options: RunOptions, items: Sequence[str]) -> list[RoundUp]:
    from sheetplan.planning.whatif.asking import Counted, Kind, Question, answers_in, gauges_of, round_up
    from sheetplan.planning.whatif.capacity import parts_of

    until = time.process_time() + ROOM_SECONDS
    answers: dict[Question, Counted] = {}
    for gauge in gauges_of(plan) if items else ():
        group, wide = gauge.plan.group, replace(gauge, most=MOST_MORE)
        asked = [Question(Kind.ROOM, group.label, item) for item in items if parts_of(group, gauge.job, item)]
        if asked:
            found, _ = answers_in(wide, asked, stop=lambda: options.stop() or time.process_time() > until)
            answers.update(found)
    return list(round_up(plan, answers, MOST_MORE))


def _told(plan: Plan, found: Iterable[RoundUp]) -> tuple[NearlyFree, ...]:
    orders = plan.job.orders
    return tuple(
        NearlyFree(orders[one.order].name, orders[one.order].item, one.extra, _is_least(plan, one))
        for one in found if one.extra
    )  # fmt: skip


def _is_least(plan: Plan, found: RoundUp) -> bool:
    """Whether no more was looked for, and there may be more room."""
    looked_for = max(plan.job.orders[found.order].quantity, MOST_MORE)
    return found.extra >= looked_for and not found.is_most


__all__ = [
    "NOTHING", "Answer", "Month", "also_nearly_free", "answered", "checked", "counted_work", "nearly_free",
    "never_more_than_the_next", "planned_alone", "planned_with", "priced",
]  # fmt: skip
