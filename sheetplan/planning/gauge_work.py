"""One gauge on its way through a run: plain functions that take a state and give it back.

They can be called here or in another process; the state travels with them.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sheetplan.model.job import Part
from sheetplan.model.plan import Group
from sheetplan.model.settings import Settings
from sheetplan.planning.box_problem import BoxProblem, make_problem
from sheetplan.planning.effort import UNKNOWN_GAP
from sheetplan.planning.gauge_search import advance, begin
from sheetplan.planning.search import Search

Halt = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class GaugeWork:
    """A gauge, its boxes, and the search on them (None where there is nothing to search)."""

    group: Group
    problem: BoxProblem
    search: Search | None

    @property
    def gain(self) -> float:
        """What the gauge can still gain at most, in money (or in area where there are no prices)."""
        if self.search is None or self.search.done:
            return 0.0
        score = self.search.score
        if score.missing > 0.0 or self.search.bound <= 0.0:
            return max(score.cost, 1e-30) * UNKNOWN_GAP
        return score.cost - self.search.bound


def begin_gauge(
    group: Group, parts: Mapping[str, Part], settings: Settings, seed: int, looks: int, halt: Halt
) -> GaugeWork:
    """A gauge with a first complete plan."""
    problem = make_problem(group, parts, settings)
    if not problem.wanted.any() or not problem.choices:
        return GaugeWork(group, problem, None)
    return GaugeWork(group, problem, begin(problem, seed, looks, halt))


def advance_gauge(work: GaugeWork, start: float, end: float, looks: int, halt: Halt) -> GaugeWork:
    """The gauge after another slice of work."""
    if work.search is not None:
        advance(work.search, start, end, looks, halt)
    return work


@dataclass(frozen=True, slots=True)
class TimesUp:
    """A halt that another process can hear: so many seconds from when it is first asked there."""

    seconds: float

    def started(self) -> Halt:
        """The halt with its clock running."""
        deadline = time.monotonic() + self.seconds
        return lambda: time.monotonic() > deadline


def begin_elsewhere(
    group: Group, parts: Mapping[str, Part], settings: Settings, seed: int, looks: int, limit: TimesUp
) -> GaugeWork:
    """`begin_gauge` with a time limit instead of a halt, for other processes."""
    return begin_gauge(group, parts, settings, seed, looks, limit.started())


def advance_elsewhere(work: GaugeWork, start: float, end: float, looks: int, limit: TimesUp) -> GaugeWork:
    """`advance_gauge` with a time limit instead of a halt, for other processes."""
    return advance_gauge(work, start, end, looks, limit.started())
