"""The what-if answers of a plan, worked out side by side and within a time.

Each answer is the same whenever it is worked out; the time only decides how many there are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future, wait
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from sheetplan.planning.progress import Progress, Report, Stop

if TYPE_CHECKING:
    # Compiled kernels stand behind these, too heavy for a look at the pages.
    from sheetplan.model.plan import Plan
    from sheetplan.planning.whatif import KitsOnHand, KitsPerSheet, OneMoreSheet, RoundUp

BEAT_SECONDS = 0.05
"""How often is asked whether to stop."""

Task = tuple[Callable[..., Any], tuple[Any, ...]]
"""A function and what it is called with, so that it can go to another process."""


@dataclass(frozen=True, slots=True)
class Fits:
    """Answers beside a plan; ``whole`` says whether there was time for all of them."""

    on_hand: tuple[KitsOnHand, ...] = ()
    per_sheet: tuple[KitsPerSheet, ...] = ()
    one_more: tuple[OneMoreSheet, ...] = ()
    round_up: tuple[RoundUp, ...] = ()
    whole: bool = True


class NoTime:
    """Stands for an answer that was not ready in time."""


def fits_of(plan: Plan, *, stop: Stop, report: Report, executor: Executor | None = None) -> Fits:
    """The answers beside a plan, as far as they are ready when ``stop`` says so."""
    from sheetplan.planning.capacity import most_sets, on_hand, parts_of
    from sheetplan.planning.whatif import best_share, groups_of, kits_ordered, one_more_sheet

    report(Progress("", 1.0, "Working out what fits"))
    job = plan.job
    pairs = [(kit, group) for kit in kits_ordered(job) for group in groups_of(job, kit)]
    tasks: list[Task] = [
        *((most_sets, (group, job, parts_of(group, job, kit), on_hand(group))) for kit, group in pairs),
        *_room_tasks(plan),
        *((best_share, (group, job, kit, sheet)) for kit, group in pairs for sheet in group.stock),
    ]
    answers = _done(tasks, stop, executor)
    shares = answers[len(pairs) + len(job.orders) :]
    known = tuple(share for share in shares if share is not NoTime)
    more = _done([(one_more_sheet, (one, job, known)) for one in plan.groups], stop, executor)
    return Fits(
        _by_kit([(kit, group.label) for kit, group in pairs], answers),
        known,
        tuple(one for found in more if found is not NoTime for one in found),
        _rooms(answers[len(pairs) : len(pairs) + len(job.orders)]),
        NoTime not in (*answers, *more),
    )


def with_room_of(plan: Plan, known: Fits, *, stop: Stop, report: Report) -> Fits:
    """Answers that are known for the same job and another plan of it, with this plan's room for orders."""
    report(Progress("", 1.0, "Working out what fits"))
    rooms = _done(_room_tasks(plan), stop, None)
    return replace(known, round_up=_rooms(rooms), whole=known.whole and NoTime not in rooms)


def _room_tasks(plan: Plan) -> list[Task]:
    from sheetplan.planning.whatif import room_of_order

    return [(room_of_order, (plan, order)) for order in plan.job.orders]


def _rooms(found: Sequence[Any]) -> tuple[RoundUp, ...]:
    """Room by order line; an order that no gauge has a part of has none."""
    from sheetplan.planning.whatif import RoundUp

    return tuple(
        RoundUp(index, *room) for index, room in enumerate(found) if room is not NoTime and room[1]
    )


def _by_kit(pairs: Sequence[tuple[str, str]], counts: Sequence[Any]) -> tuple[KitsOnHand, ...]:
    """Whole kits and what limits them, for the kits of which every gauge has its answer."""
    from sheetplan.planning.whatif import KitsOnHand

    kits: dict[str, dict[str, Any]] = {}
    for (kit, gauge), count in zip(pairs, counts, strict=False):
        kits.setdefault(kit, {})[gauge] = count
    return tuple(
        KitsOnHand(kit, min(found.values()), min(found, key=lambda gauge: found[gauge]), found)
        for kit, found in kits.items()
        if NoTime not in found.values()
    )


def _done(tasks: Sequence[Task], stop: Stop, executor: Executor | None) -> list[Any]:
    """The answer of each task, or `NoTime`."""
    if executor is None:
        return [NoTime if stop() else function(*given) for function, given in tasks]
    if stop():
        return [NoTime] * len(tasks)
    futures: list[Future[Any]] = [executor.submit(function, *given) for function, given in tasks]
    waiting: set[Future[Any]] = set(futures)
    while waiting and not stop():
        _, waiting = wait(waiting, BEAT_SECONDS)
    for future in waiting:
        future.cancel()
    return [future.result() if future.done() and not future.cancelled() else NoTime for future in futures]
