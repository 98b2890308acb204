"""The plan of a checked job: what stands of the last one, or a search; then the check, always."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import dataclass, replace

from sheetplan.app.making.standing import Standing
from sheetplan.app.making.workers import Crew
from sheetplan.model import Job, Plan, Problem
from sheetplan.planning.progress import Progress, Report, RunOptions, Stop
from sheetplan.planning.whatif.fits import Fits, fits_of, with_room_of
from sheetplan.shapes import is_rectangle

SHARE_FOR_PLAN, SHARE_FOR_FITS = 0.92, 0.08
"""How the seconds asked for are shared out: the plan and what stands beside it, what else fits."""

SECONDS_AROUND, LEAST_FOR_PLAN = 2.5, 0.6
"""Seconds of the plan's share that go to reading and writing, which take about six for a month of 900 pieces
on two cores; the plan keeps at least so large a share of what was asked for.
"""


def seconds_for_plan(asked: float) -> float:
    """Of the seconds asked for those of the plan: of few some are left for what comes before and after.

    >>> [round(seconds_for_plan(asked), 1) for asked in (5.0, 20.0, 60.0)]
    [3.0, 15.9, 52.7]
    """
    return max(LEAST_FOR_PLAN * asked, SHARE_FOR_PLAN * asked - SECONDS_AROUND)


class CheckFailed(Exception):
    """The independent check found fault with a plan: a bug of ours, so nothing was written."""

    def __init__(self, faults: tuple[object, ...]) -> None:
        super().__init__(f"{len(faults)} faults, the first: {faults[0]}")
        self.faults = faults


def nothing_known() -> Fits | None:
    """What fits where nobody asked."""
    return None


@dataclass(frozen=True, slots=True)
class Answer:
    """A checked plan, and what else fits: worked out when it is asked for, by the helpers that searched.

    This process has nothing to do meanwhile but what it has begun beside it.
    """

    plan: Plan
    fits: Callable[[], Fits | None] = nothing_known


def answered(
    job: Job,
    problems: tuple[Problem, ...],
    stands: Standing,
    stop: Stop,
    report: Report,
    crew: Crew,
) -> Answer:
    """Plan and check; the check stands between the search and all that a person sees.

    Raises `CheckFailed` where the plan does not stand up to the check.
    """
    if stands.plan is not None:
        report(Progress("", 1.0, "Using the plan as it is, with what was picked"))
        answer = _standing(_checked(stands.plan, report), stands, stop, report)
    else:
        answer = _found(job, stands, stop, report, crew)
    known = set(problems)
    found = problems + tuple(p for p in answer.plan.problems if p not in known)
    return replace(answer, plan=replace(answer.plan, problems=found))


def _standing(plan: Plan, stands: Standing, stop: Stop, report: Report) -> Answer:
    """The plan that stands, with the answers that are known of it; what was picked leaves other room."""
    def fits() -> Fits | None:
        if stands.fits is None or not stands.picked:
            return stands.fits
        seconds = plan.job.settings.seconds * SHARE_FOR_FITS
        return with_room_of(plan, stands.fits, seconds=seconds, stop=stop, report=report)

    return Answer(plan, fits)


def _found(job: Job, stands: Standing, stop: Stop, report: Report, crew: Crew) -> Answer:
    """A search in several processes; where one of them dies (killed, or out of memory), in this one alone."""
    outlines = [part.outline for part in job.parts.values()]
    shapes = not all(is_rectangle(outline) for outline in outlines)
    executor = None
    try:
        executor = crew.searching(job.settings.seconds, report, shapes=shapes)
        plan = _searched(job, stands, stop, report, executor)
    except BrokenExecutor:
        executor = None
        report(Progress("", 0.0, f"{crew.lost()}; planning once more without helpers."))
        plan = _searched(job, stands, stop, report, None)
    _checked(plan, report)

    def fits() -> Fits:
        seconds = job.settings.seconds * SHARE_FOR_FITS
        try:
            return fits_of(plan, seconds=seconds, stop=stop, report=report, executor=executor)
        except BrokenExecutor:
            report(Progress("", 1.0, f"{crew.lost()}; working out what fits without helpers."))
            return fits_of(plan, seconds=seconds, stop=stop, report=report)

    return Answer(plan, fits)


def _checked(plan: Plan, report: Report) -> Plan:
    """The plan, if the check finds nothing wrong with it."""
    from sheetplan.checking import check_plan

    report(Progress("", 1.0, "Checking every layout"))
    faults = check_plan(plan)
    if faults:
        raise CheckFailed(tuple(faults))
    return plan


def _searched(job: Job, stands: Standing, stop: Stop, report: Report, executor: Executor | None) -> Plan:
    """A new plan from the one before, round what is locked."""
    from sheetplan.planning.continuing import continued

    settings = job.settings
    options = RunOptions(seconds_for_plan(settings.seconds), settings.seed, stop, report, executor)
    return continued(job, stands.before, options, locked=stands.locked)
