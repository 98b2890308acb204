"""The what-if answers of a plan, worked out side by side and within a time.

Each answer is the same whenever it is worked out; the time only decides how many there are.
"""

from __future__ import annotations

import math
import time
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

WORKING = "Working out what fits"

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


def fits_of(
    plan: Plan, *, seconds: float = math.inf, stop: Stop, report: Report, executor: Executor | None = None
) -> Fits:
    """The answers beside a plan, as far as they are ready after so many seconds or when ``stop`` says so."""
    from sheetplan.planning.capacity import most_sets, on_hand, parts_of
    from sheetplan.planning.whatif import (
        best_share,
        gauges_of_orders,
        groups_of,
        kits_ordered,
        one_more_sheet,
        room_in,
        round_up,
    )

    report(Progress("", 1.0, WORKING))
    job, until = plan.job, time.monotonic() + seconds
    pairs = [(kit, group) for kit in kits_ordered(job) for group in groups_of(job, kit)]
    places = gauges_of_orders(plan)
    tasks: list[Task] = [
        *((most_sets, (group, job, parts_of(group, job, kit), on_hand(group))) for kit, group in pairs),
        *((room_in, (plan, *place)) for place in places),
        *((best_share, (group, job, kit, sheet)) for kit, group in pairs for sheet in group.stock),
    ]
    answers = _done(tasks, until, stop, report, executor)
    shares = answers[len(pairs) + len(places) :]
    known = tuple(share for share in shares if share is not NoTime)
    rooms = _whole_items(places, answers[len(pairs) : len(pairs) + len(places)])
    # Without the room in all its gauges nothing is known of whole kits.
    sure = tuple(share for share in known if (share.kit, share.gauge) in rooms)
    ones: list[Task] = [(one_more_sheet, (one, job, sure, rooms)) for one in plan.groups]
    more = _done(ones, until, stop, report, executor)
    return Fits(
        _by_kit([(kit, group.label) for kit, group in pairs], answers),
        known,
        tuple(one for found in more if found is not NoTime for one in found),
        round_up(plan, rooms),
        NoTime not in (*answers, *more),
    )


def with_room_of(plan: Plan, known: Fits, *, seconds: float = math.inf, stop: Stop, report: Report) -> Fits:
    """Answers that are known for the same job and another plan of it, with this plan's room for orders."""
    from sheetplan.planning.whatif import gauges_of_orders, room_in, round_up

    report(Progress("", 1.0, WORKING))
    places = gauges_of_orders(plan)
    tasks: list[Task] = [(room_in, (plan, *place)) for place in places]
    found = _done(tasks, time.monotonic() + seconds, stop, report, None)
    rooms = _whole_items(places, found)
    return replace(known, round_up=round_up(plan, rooms), whole=known.whole and NoTime not in found)


def _whole_items(places: Sequence[tuple[str, str]], found: Sequence[Any]) -> dict[tuple[str, str], int]:
    """Room by item and gauge, of the items that have an answer in every gauge."""
    open_items = {item for (item, _), room in zip(places, found, strict=True) if room is NoTime}
    return {place: room for place, room in zip(places, found, strict=True) if place[0] not in open_items}


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


def _done(
    tasks: Sequence[Task], until: float, stop: Stop, report: Report, executor: Executor | None
) -> list[Any]:
    """The answer of each task, or `NoTime`; ``until`` is a moment of the monotonic clock."""
    left = until - time.monotonic()
    if stop() or left <= 0.0:
        return [NoTime] * len(tasks)

    def told(number: int) -> None:
        report(Progress("", 1.0, f"{WORKING}, {number} of {len(tasks)}"))

    if executor is None:
        answers = []
        for number, task in enumerate(tasks):
            told(number)
            answers.append(_answer(*task, lambda: stop() or time.monotonic() > until))
        return answers
    end = time.time() + left
    futures = [executor.submit(answer_elsewhere, *task, end) for task in tasks]
    waiting: set[Future[Any]] = set(futures)
    while waiting and not stop() and time.monotonic() < until:
        done, waiting = wait(waiting, BEAT_SECONDS)
        if done:
            told(len(tasks) - len(waiting))
    answers = [NoTime if future in waiting else future.result() for future in futures]
    for future in waiting:
        future.cancel()
    if stop():
        executor.shutdown(wait=False, cancel_futures=True)
    return answers


def _answer(function: Callable[..., Any], given: tuple[Any, ...], stop: Stop) -> Any:
    from sheetplan.planning.capacity import OutOfTime

    try:
        return function(*given, stop=stop)
    except OutOfTime:
        return NoTime


def answer_elsewhere(function: Callable[..., Any], given: tuple[Any, ...], end: float) -> Any:
    """A task in another process, where it gives up by itself at a moment of the wall clock."""
    return _answer(function, given, lambda: time.time() > end)
