"""Plan a whole order book, all gauges in one run."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import replace
from itertools import count

from sheetplan.model.job import Job
from sheetplan.model.plan import GroupPlan, Plan
from sheetplan.model.problem import Problem, Weight
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.progress import Progress, Report, Stop


def plan_job(
    job: Job,
    *,
    seconds: float,
    seed: int,
    stop: Stop,
    report: Report,
    executor: Executor | None = None,
) -> Plan:
    """The plan of an order book.

    Parameters
    ----------
    job
        The checked book.
    seconds
        Most time to spend on the whole book.
    seed
        All chance comes from it: the same job and seed give the same plan.
    stop
        Asked between steps; True keeps the best so far and ends the run.
    report
        Hears how far each gauge has come.
    executor
        Where gauges are planned side by side; None plans them here, one after the other.

    Returns
    -------
    Plan
        Layouts numbered L1, L2 ... through the whole plan. A plan that was stopped covers every
        gauge all the same, some of them less well.
    """
    from sheetplan.planning.run import Run  # compiled kernels, too heavy for a look at the book

    groups, problems = make_groups(job)
    plans = Run(job, groups, seconds, seed, stop, report, executor).plans()
    report(Progress("", 1.0, f"{len(groups)} gauges planned."))
    short = tuple(problem for plan in plans for problem in short_problems(plan, job))
    return Plan(job, numbered(plans), (*problems, *short), stop())


def numbered(plans: list[GroupPlan]) -> tuple[GroupPlan, ...]:
    """The same plans with layouts numbered on from gauge to gauge."""
    numbers = count(1)
    return tuple(
        replace(plan, layouts=tuple(replace(layout, tag=f"L{next(numbers)}") for layout in plan.layouts))
        for plan in plans
    )


def short_problems(plan: GroupPlan, job: Job) -> tuple[Problem, ...]:
    """What must be made and is not, on the row of the last order that asks for it."""
    return tuple(_short_problem(plan, part, pieces, job) for part, pieces in plan.short.items())


def _short_problem(plan: GroupPlan, part: str, pieces: int, job: Job) -> Problem:
    group = plan.group
    orders = [job.orders[need.order] for need in group.needs if need.part == part and need.must]
    return Problem(
        page="Orders", row=orders[-1].line or None, cell=None,
        what=f"{pieces} of {part} ({group.label}) are not made: {plan.why_short[part]}.",
        remedy=f"Change the part or its turns, add sheets of {group.label} to Stock, or order fewer.",
        weight=Weight.NOTE,
    )  # fmt: skip
