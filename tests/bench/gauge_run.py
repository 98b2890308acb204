"""One gauge planned on one core with a stopwatch beside it."""

import time
from collections.abc import Callable
from dataclasses import dataclass

from sheetplan.checking import check_plan
from sheetplan.model import GroupPlan, Job, Plan
from sheetplan.planning.box_problem import BoxProblem
from sheetplan.planning.gauge_work import (
    BEGINNING,
    FINISHING,
    FIRST_EPOCHS,
    PROVING,
    SEARCHING,
    advance_gauge,
    begin_gauge,
    looks_for,
    rounds_for,
)
from sheetplan.planning.group_plan import candidate, finish, with_proof
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.order_book import numbered
from sheetplan.planning.search.state import Search
from tests.ready import make_ready


@dataclass(frozen=True, slots=True)
class GaugeRun:
    """Figures of a run; costs are steering costs.

    ``layouts_before`` counts the layouts of the plan as it would be without the step that reduces them.
    """

    plan: GroupPlan
    problem: BoxProblem
    search: Search
    first_seconds: float
    first_cost: float
    seconds: float
    layouts_before: int
    faults: int
    """What the independent check finds wrong with the plan; not timed."""


def run_gauge(job: Job, seconds: float, seed: int) -> GaugeRun:
    """Plan the only gauge of a job as a run over one gauge does, and note what came when.

    Seconds are those of the processor, so that what else the machine does changes nothing.
    """
    make_ready()
    (group,) = make_groups(job)[0]
    start = time.process_time()
    allowed = seconds * SEARCHING
    halt: Callable[[], bool] = lambda: time.process_time() > start + allowed  # noqa: E731
    beginning = looks_for(min(FIRST_EPOCHS[0], allowed) * BEGINNING)
    work = begin_gauge(group, job.parts, job.settings, seed, beginning, halt)
    search = work.search
    assert search is not None
    first_seconds, first_cost = time.process_time() - start, search.score.cost
    for one in rounds_for(allowed):
        if halt() or not work.gain:
            break
        work = advance_gauge(work, one.start, one.end, one.looks, halt)
    paused = time.process_time()
    before = len(candidate(work, search).plan.layouts)
    start += time.process_time() - paused
    allowed = seconds * (SEARCHING + FINISHING + PROVING)
    plan = finish(work, looks_for(seconds * FINISHING), halt)
    plan = with_proof(plan, work, looks_for(seconds * PROVING), halt)
    spent = time.process_time() - start
    faults = len(check_plan(Plan(job, numbered([plan]))))
    return GaugeRun(plan, work.problem, search, first_seconds, first_cost, spent, before, faults)
