"""The what-if answers of a plan, worked out side by side and within a time, and as plain values.

Every question is first answered quickly, then again with more work, those first that one more would change
most. An answer is the greatest count that was laid out by then: more time never says less.

Choices
-------
What fits is bounded by the clock, the plan is not: how much is ready depends on the machine, so the answers
are no part of a plan's mark.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, Future, wait
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from sheetplan.model.job import Job, SheetSize
from sheetplan.planning.progress import Progress, Report, Stop, handed

if TYPE_CHECKING:
    # Compiled kernels stand behind these, too heavy for a look at the pages.
    from sheetplan.model.plan import Plan
    from sheetplan.planning.whatif.asking import Counted, Gauge, Question

BEAT_SECONDS = 0.05
"""How often is asked whether to stop."""

GRACE_SECONDS = 0.15
"""Another process ends so much earlier, so that what it has found by then is heard in time."""

GRACE_SHARE = 0.1
"""The grace is no more than this share of the time that there is."""

WORKING = "Working out what fits"

Task = tuple[Callable[..., Any], tuple[Any, ...]]
"""A function and what it is called with, so that it can go to another process."""

ON_HAND = ("kit", "whole", "bottleneck", "most")

PER_SHEET = ("kit", "gauge", "kits", "sheets", "most")

ONE_MORE = ("gauge", "item", "adds", "short", "whole", "held_up")

ROUND_UP = ("order", "extra", "full", "is_most")


@dataclass(frozen=True, slots=True)
class KitsOnHand:
    """Whole kits from the stock on hand, each kit by itself as if nothing else were cut.

    ``by_gauge`` says how many were laid out in each gauge; ``bottleneck`` is the gauge with the fewest.
    More than ``most`` cannot be.
    """

    kit: str
    whole: int
    bottleneck: str
    by_gauge: Mapping[str, int]
    most: int


@dataclass(frozen=True, slots=True)
class KitsPerSheet:
    """``kits`` sets of a kit's parts in a gauge from ``sheets`` sheets of a size, cut together.

    More than ``most`` cannot be.
    """

    kit: str
    gauge: str
    sheet: SheetSize
    kits: int
    sheets: int
    most: int

    @property
    def each(self) -> float:
        """Kits per sheet."""
        return self.kits / self.sheets


@dataclass(frozen=True, slots=True)
class OneMoreSheet:
    """What one more sheet of a size would add: ``adds`` more of an item (kit or part) in its gauge.

    ``short`` says that these pieces are asked for and not made by the plan as it is. A kit has parts in
    other gauges too: ``whole`` more kits are complete on the sheets that the plan takes there, and
    ``held_up`` is the gauge in which no room was found for more (empty where none holds the kit up).
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

    ``full`` is the gauge in which no room was found for one more; ``is_most`` says that there is none.
    """

    order: int
    extra: int
    full: str
    is_most: bool


@dataclass(frozen=True, slots=True)
class Fits:
    """Answers beside a plan.

    ``whole`` says whether there was time for all of them, ``searched`` whether there was time to look for
    more everywhere.
    """

    on_hand: tuple[KitsOnHand, ...] = ()
    per_sheet: tuple[KitsPerSheet, ...] = ()
    one_more: tuple[OneMoreSheet, ...] = ()
    round_up: tuple[RoundUp, ...] = ()
    whole: bool = True
    searched: bool = True


class NoTime:
    """Stands for an answer that was not ready in time."""


def fits_of(
    plan: Plan, *, seconds: float = math.inf, stop: Stop, report: Report, executor: Executor | None = None
) -> Fits:
    """The answers beside a plan, as far as they are ready after so many seconds or when ``stop`` says so."""
    from sheetplan.planning.whatif import asking

    gauges = asking.gauges_of(plan)
    asked = [(gauge, question) for gauge in gauges for question in asking.questions_of(gauge)]
    answers, searched = _answers(asked, time.monotonic() + seconds, stop, report, executor)
    return Fits(
        tuple(asking.kits_on_hand(plan, answers)),
        tuple(asking.kits_per_sheet(plan, answers)),
        tuple(asking.one_more_sheet(plan, answers)),
        tuple(asking.round_up(plan, answers)),
        all(question in answers for _, question in asked),
        searched,
    )


def with_room_of(plan: Plan, known: Fits, *, seconds: float = math.inf, stop: Stop, report: Report) -> Fits:
    """Answers that are known for the same job and another plan of it, with this plan's room for orders."""
    from sheetplan.planning.whatif import asking

    asked = [
        (gauge, question)
        for gauge in asking.gauges_of(plan)
        for question in asking.questions_of(gauge)
        if question.kind is asking.Kind.ROOM
    ]
    answers, searched = _answers(asked, time.monotonic() + seconds, stop, report, None)
    return replace(
        known,
        one_more=tuple(asking.with_other_rooms(plan, known.one_more, answers)),
        round_up=tuple(asking.round_up(plan, answers)),
        whole=known.whole and len(answers) == len(asked),
        searched=known.searched and searched,
    )


def _answers(
    asked: Sequence[tuple[Gauge, Question]], until: float, stop: Stop, report: Report,
    executor: Executor | None,
) -> tuple[dict[Question, Counted], bool]:  # fmt: skip
    """The best answers by a moment of the monotonic clock, and whether there was time to look for more."""
    from sheetplan.planning.whatif import asking
    from sheetplan.planning.whatif.capacity import WORKS

    report(Progress("", 1.0, WORKING))
    known: dict[Question, Counted] = {}
    ready = True
    for work in WORKS:
        # What cannot be more is left alone. Where few fit, one more changes most: those come first.
        open_ = [pair for pair in asked if not known or _may_rise(known.get(pair[1], ()))]
        tasks: list[Task] = [
            (asking.answers_in, (gauge, questions, work)) for gauge, questions in _together(open_, known)
        ]
        done = _done(tasks, until, stop, report, executor)
        for found in (found for one in done if one is not NoTime for found in one[0].items()):
            known[found[0]] = asking.better(known.get(*found), found[1])
        ready = ready and all(one is not NoTime and one[1] for one in done)
    return known, ready and len(known) == len(asked)


def _may_rise(found: Counted) -> bool:
    return any(not one.is_most for one in found)


def _together(
    pairs: Sequence[tuple[Gauge, Question]], known: Mapping[Question, Counted]
) -> list[tuple[Gauge, tuple[Question, ...]]]:
    """Questions that share their work: of a gauge first, later of one item in it, the room by itself."""
    tasks: dict[tuple[str, ...], tuple[Gauge, list[Question]]] = {}
    for gauge, question in pairs:
        room = question.kind == "room"
        key = (question.gauge, question.item, str(room)) if known else (question.gauge,)
        tasks.setdefault(key, (gauge, []))[1].append(question)
    found = [(gauge, tuple(questions)) for gauge, questions in tasks.values()]
    if known:
        found.sort(key=lambda task: (task[1][0].kind == "room", min(known[q][0].sets for q in task[1])))
    return found


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
        for number, (function, given) in enumerate(tasks):
            told(number)
            answers.append(function(*given, stop=lambda: stop() or time.monotonic() > until))
        return answers
    end = time.time() + left - min(GRACE_SECONDS, GRACE_SHARE * left)
    futures = [handed(executor, task[1][0].plan.group.label, answer_elsewhere, *task, end) for task in tasks]
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


def answer_elsewhere(function: Callable[..., Any], given: tuple[Any, ...], end: float) -> Any:
    """A task in another process, where it gives up by itself at a moment of the wall clock."""
    return function(*given, stop=lambda: time.time() > end)


def fits_values(fits: Fits) -> dict[str, Any]:
    """The answers as lists and dictionaries."""
    return {
        "on_hand": [
            {**{name: getattr(one, name) for name in ON_HAND}, "by_gauge": dict(one.by_gauge)}
            for one in fits.on_hand
        ],
        "per_sheet": [
            {"sheet": one.sheet.name, **{name: getattr(one, name) for name in PER_SHEET}}
            for one in fits.per_sheet
        ],
        "one_more": [
            {"sheet": one.sheet.name, **{name: getattr(one, name) for name in ONE_MORE}}
            for one in fits.one_more
        ],
        "round_up": [{name: getattr(one, name) for name in ROUND_UP} for one in fits.round_up],
        "all_ready": fits.whole,
        "searched": fits.searched,
    }


def fits_of_values(values: Mapping[str, Any], job: Job) -> Fits:
    """The answers that `fits_values` wrote.

    Raises KeyError or TypeError where the values are damaged or name a sheet that the job does not have.
    """
    sheets = {sheet.name: sheet for sheet in job.stock}

    def on_sheet(one: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
        return {"sheet": sheets[one["sheet"]], **{name: one[name] for name in names}}

    return Fits(
        tuple(KitsOnHand(**one) for one in values["on_hand"]),
        tuple(KitsPerSheet(**on_sheet(one, PER_SHEET)) for one in values["per_sheet"]),
        tuple(OneMoreSheet(**on_sheet(one, ONE_MORE)) for one in values["one_more"]),
        tuple(RoundUp(**{name: one[name] for name in ROUND_UP}) for one in values["round_up"]),
        bool(values["all_ready"]),
        bool(values["searched"]),
    )
