"""A run over all gauges: first plans, then rounds of search shared out by what each can still gain."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from typing import TypeVar

from sheetplan.model.job import Job
from sheetplan.model.plan import Group, GroupPlan
from sheetplan.planning.gauge_work import (
    BEGINNING,
    FINISHING,
    FIRST_EPOCHS,
    PROVING,
    SEARCHING,
    GaugeWork,
    Round,
    Sealed,
    TimesUp,
    advance_elsewhere,
    advance_gauge,
    begin_elsewhere,
    begin_gauge,
    begin_late,
    looks_for,
    opened,
    rounds_for,
    shares,
)
from sheetplan.planning.group_plan import finish, finish_elsewhere, proven_elsewhere, with_proof
from sheetplan.planning.progress import Progress, RunOptions, handed
from sheetplan.planning.readying import make_kernels_ready
from sheetplan.shapes import is_rectangle

Value = TypeVar("Value")

Gauge = GaugeWork | Sealed
"""A gauge here, or one that is worked on elsewhere."""

FIRST_DONE = 0.1
"""What of a run the first plans count as, in what it says of its progress."""

BEAT_SECONDS = 0.1
"""How often a run that waits for other processes asks whether it should stop."""

LAG = 2
"""So many rounds lie between how the gauges stood and the round that is shared out by it."""

LEAST_SECONDS, GUARD = 2.0, 2.0
"""The clock ends a step after the search when it takes twice its share, and never before so many seconds.

As a rule counted work ends it before, so that the same seed gives the same plan.
"""

LEAST_PROVING = 0.5
"""Seconds for proofs at least; the clock ends them, as what is proven changes nothing of a plan."""

COUNTED_SECONDS, UNCOUNTED_SECONDS = 0.25, 0.4
"""Of its part of the end a gauge gets so much counted work first, and what else it takes is left free:
each aim begins with a plan of its own.
"""

ALIVE_STEPS = 20
"""Signs of life, at most, while a run waits: each says how much of the time is used."""


Allowed = Callable[[Sequence[float], Round], list[int]]
"""The looks that each gauge gets of a round, from what each may gain."""


def counted_in(seconds: float) -> float:
    """Seconds of counted work in so many for the end of a gauge.

    >>> [round(counted_in(seconds), 2) for seconds in (0.1, 0.5, 1.5)]
    [0.1, 0.25, 1.1]
    """
    return max(min(seconds, COUNTED_SECONDS), seconds - UNCOUNTED_SECONDS)


class Course:
    """How far each gauge has come in the rounds of a search that is shared out among processes.

    A gauge goes on to its next round at once; what it gets of that follows from what all might gain two
    rounds before, so that nobody waits for the last gauge of a round and chance of timing decides nothing.
    """

    def __init__(self, works: Sequence[Gauge], rounds: Sequence[Round], allowed: Allowed) -> None:
        self.works, self._rounds, self._allowed_of = list(works), rounds, allowed
        self._gains = [[work.gain for work in works]] + [[0.0] * len(works) for _ in rounds]
        self._allowed = [allowed(self._gains[0], one) for one in rounds[:LAG]]
        self._next = [0] * len(works)
        self._busy = [False] * len(works)
        self.finished = 0
        """Rounds that all gauges are through with."""

    @property
    def length(self) -> int:
        """How many rounds there are."""
        return len(self._rounds)

    def due(self) -> list[tuple[int, Round, int]]:
        """Gauges that can go on, with their round and looks, the most work first; they count as busy then."""
        found: list[tuple[int, Round, int]] = []
        known = 0
        while known < len(self._allowed):  # a gauge that gets nothing of a round may open the next one
            known = len(self._allowed)
            for place in range(len(self.works)):
                while not self._busy[place] and self._next[place] < len(self._allowed):
                    number = self._next[place]
                    looks = self._allowed[number][place]
                    if looks:
                        self._busy[place] = True
                        found.append((place, self._rounds[number], looks))
                    else:
                        self._through(place)
        return sorted(found, key=lambda one: -one[2])

    def put(self, place: int, work: Gauge) -> None:
        """Take a gauge as it is after its round."""
        self.works[place], self._busy[place] = work, False
        self._through(place)

    def _through(self, place: int) -> None:
        self._next[place] += 1
        self._gains[self._next[place]][place] = self.works[place].gain
        while self.finished < min(self._next):
            self.finished += 1
            ahead = self.finished - 1 + LAG
            if ahead < len(self._rounds):
                self._allowed.append(self._allowed_of(self._gains[self.finished], self._rounds[ahead]))


def _unheard(answer: object, number: int) -> None:
    """Nothing is said of an answer that comes when the rounds are over."""


class Run:
    """One planning run: who works, until when, and who hears about it."""

    def __init__(self, job: Job, groups: Sequence[Group], options: RunOptions) -> None:
        self.job, self.groups, self.options = job, groups, options
        self.executor = options.executor
        self.cores = _cores(self.executor)
        self.deadline = self.end = 0.0
        self.done, self.steps = 0.0, 0

    def plans(self) -> list[GroupPlan]:
        """The best plan found for each gauge, with its choices."""
        outlines = [self.job.parts[need.part].outline for group in self.groups for need in group.needs]
        shapes = not all(is_rectangle(outline) for outline in outlines)
        make_kernels_ready(self.options.report, self.executor, shapes=shapes)
        self.end = self.options.clock() + self.options.seconds
        # The search leaves the time that finishing needs, or a slow machine would have no choices.
        self.deadline = self.end - self.options.seconds * (1.0 - SEARCHING)
        works = self._begin()
        course = Course(works, tuple(rounds_for(self.options.seconds * SEARCHING)), self._allowed)
        if self.executor is None:
            self._search_here(course)
        else:
            self._search_elsewhere(self.executor, course)
        self._allow(FINISHING)
        finished = self._finish(course.works)
        self.deadline = self.options.clock() + max(LEAST_PROVING, self.options.seconds * PROVING)
        return self._proven(finished)

    def halted(self) -> bool:
        """Whether the run should end now."""
        return self.options.stop() or self.options.clock() > self.deadline

    def _allow(self, share: float) -> None:
        """Give the next step its share of the seconds from now on, and as much again where it needs that."""
        self.deadline = self.options.clock() + max(LEAST_SECONDS, GUARD * self.options.seconds * share)

    def _begin(self) -> list[Gauge]:
        parts, settings = self.job.parts, self.job.settings
        first = min(FIRST_EPOCHS[0], self.options.seconds * SEARCHING)
        looks = looks_for(first * BEGINNING) * self.cores // max(1, len(self.groups))
        if self.executor is None or self.options.stop():
            works: list[Gauge] = []
            for group in self.groups:
                works.append(self._begin_here(group, looks))
                self._begun(works[-1], len(works))
            return works
        limit = self._limit()
        futures = [
            handed(
                self.executor, group.label, begin_elsewhere, group, parts, settings, self.options.seed,
                looks, limit,
            )
            for group in self.groups
        ]
        found = self._awaited(futures, self._begun)
        return [
            work or self._begin_here(group, looks) for work, group in zip(found, self.groups, strict=True)
        ]

    def _begin_here(self, group: Group, looks: int) -> GaugeWork:
        parts, settings, seed = self.job.parts, self.job.settings, self.options.seed
        if self.options.stop():
            return begin_late(group, parts, settings, seed)
        return begin_gauge(group, parts, settings, seed, looks, self.halted)

    def _awaited(
        self, futures: Sequence[Future[Value]], heard: Callable[[Value, int], None]
    ) -> list[Value | None]:
        """Answers of other processes in their order; None for those that a stop left out.

        ``heard`` takes each answer as it comes, and how many there are by then. A stop lets the other
        processes go: what they are still at would hold up what is left to do here.
        """
        waiting: set[Future[Value]] = set(futures)
        while waiting and not self.options.stop():
            done, waiting = wait(waiting, BEAT_SECONDS)
            self._alive()
            for number, future in enumerate(done, len(futures) - len(waiting) - len(done) + 1):
                heard(future.result(), number)
        answers = [None if future in waiting else future.result() for future in futures]
        if waiting:
            self._let_go()
        return answers

    def _alive(self) -> None:
        """Now and then a word while other processes work and have no answer yet."""
        steps = min(int(self._used() * ALIVE_STEPS), ALIVE_STEPS)
        if steps > self.steps:
            self.steps = steps
            said = f"Searching, {steps / ALIVE_STEPS:.0%} of the time used"
            self.options.report(Progress("", self.done, said))

    def _let_go(self) -> None:
        if self.executor is not None:
            self.executor.shutdown(wait=False, cancel_futures=True)
            self.executor = None

    def _search_here(self, course: Course) -> None:
        """All rounds, one gauge after the other in this process."""
        told = 0
        while due := course.due():
            for place, one, looks in due:
                if self.halted():
                    return
                work = opened(course.works[place])
                course.put(place, advance_gauge(work, one.start, one.end, looks, self.halted))
            told = self._tell_rounds(course, told)

    def _search_elsewhere(self, executor: Executor, course: Course) -> None:
        """All rounds in other processes; a gauge whose answer does not come in time stays as it was."""
        running: dict[Future[Sealed], int] = {}
        told = 0
        while not self.halted():
            for place, one, looks in course.due():
                work = course.works[place]
                given = work, one.start, one.end, looks, self._limit()
                future = handed(executor, work.label, advance_elsewhere, *given)
                running[future] = place
            told = self._tell_rounds(course, told)
            if not running:
                return
            done, _ = wait(running, BEAT_SECONDS, FIRST_COMPLETED)
            self._alive()
            for future in done:
                course.put(running.pop(future), future.result())
        # What is under way hears the same clock and ends by itself; after a stop nobody waits for it.
        left = list(running)
        answers = self._awaited(left, _unheard)
        for future, after in zip(left, answers, strict=True):
            if after is not None:
                course.put(running[future], after)

    def _tell_rounds(self, course: Course, told: int) -> int:
        """Say how the gauges stand if another round is over; returns how many are."""
        if course.finished > told:
            come = course.finished / course.length
            self.done = FIRST_DONE + (SEARCHING - FIRST_DONE) * come
            for work in course.works:
                self._tell(work, self.done)
            self.options.report(Progress("", self.done, self._said(course.works)))
        return course.finished

    def _allowed(self, gains: Sequence[float], one: Round) -> list[int]:
        """Looks that each gauge gets of a round, by what it may gain."""
        return [int(one.looks * self.cores * share) for share in shares(gains, 1.0 / self.cores)]

    def _used(self) -> float:
        """Share of the time that is used."""
        return 1.0 - (self.end - self.options.clock()) / self.options.seconds if self.options.seconds else 1.0

    def _finish(self, works: list[Gauge]) -> list[tuple[GroupPlan, Gauge]]:
        """Fewer layouts where that costs nothing, and the plans as everybody sees them."""
        looks = looks_for(counted_in(self._each(FINISHING)))
        if self.options.stop():
            self._let_go()
        if self.executor is None:
            plans: list[tuple[GroupPlan, Gauge]] = []
            for work in works:
                plans.append(self._finish_here(work, looks))
                self._finished(plans[-1], len(plans))
            return plans
        limit = self._limit()
        futures = [handed(self.executor, work.label, finish_elsewhere, work, looks, limit) for work in works]
        found = self._awaited(futures, self._finished)
        return [plan or self._finish_here(work, looks) for plan, work in zip(found, works, strict=True)]

    def _finish_here(self, work: Gauge, looks: int) -> tuple[GroupPlan, Gauge]:
        gauge = opened(work)
        return finish(gauge, looks, self.halted), gauge

    def _proven(self, finished: list[tuple[GroupPlan, Gauge]]) -> list[GroupPlan]:
        """The plans with a closer proof of what each could cost at least, as far as there is time."""
        looks, limit = looks_for(self._each(PROVING)), self._limit()
        if self.options.stop():
            return [plan for plan, _ in finished]
        if self.executor is None:
            return [with_proof(plan, opened(work), looks, self.halted) for plan, work in finished]
        futures = [
            handed(self.executor, work.label, proven_elsewhere, plan, work, looks, limit)
            for plan, work in finished
        ]
        found = self._awaited(futures, _unheard)
        return [closer or plan for closer, (plan, _) in zip(found, finished, strict=True)]

    def _each(self, share: float) -> float:
        """Seconds for each gauge in a share of all."""
        return self.options.seconds * share * self.cores / max(1, len(self.groups))

    def _limit(self) -> TimesUp:
        return TimesUp.after(max(0.0, self.deadline - self.options.clock()))

    def _begun(self, work: Gauge, number: int) -> None:
        self.done = FIRST_DONE * number / len(self.groups)
        self._tell(work, self.done)

    def _finished(self, done: tuple[GroupPlan, Gauge], number: int) -> None:
        self.done = 1.0 - (1.0 - SEARCHING) * (1.0 - number / len(self.groups))
        self.options.report(Progress("", self.done, f"Finishing {done[1].label}"))

    def _tell(self, work: Gauge, done: float) -> None:
        self.options.report(Progress(work.label, 1.0 if work.gain == 0.0 else done, work.line))

    def _said(self, works: Sequence[Gauge]) -> str:
        finished, every = sum(1 for work in works if work.is_finished), len(works)
        some = f"{finished:,} of {every:,} gauges" if finished else "no gauge"
        return f"Known to be the cheapest possible so far: {some if finished < every else 'all'}."


def _cores(executor: Executor | None) -> int:
    """How many gauges are worked on at a time."""
    return max(1, int(getattr(executor, "_max_workers", 1))) if executor else 1
