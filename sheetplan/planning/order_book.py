"""Plan a whole order book, all gauges in one run."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from sheetplan.drawings.findings import counted
from sheetplan.model.job import Job
from sheetplan.model.plan import GroupPlan, Layout, Plan
from sheetplan.model.problem import Problem, Weight
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.numbering import numbered
from sheetplan.planning.one_size import OneSize
from sheetplan.planning.progress import Progress, Report, Stop

OPTIONAL_SECONDS, OPTIONAL_SHARE = 1.0, 0.1
"""Orders that are cut if they fit have so long to find room, and so much of the seconds of a plan besides.

They come after a stop as well, within the first: it is little to wait for.
"""


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan, and what was found beside it with one sheet size bought alone."""

    plan: Plan
    sizes: tuple[OneSize, ...]


def plan_job(
    job: Job,
    *,
    seconds: float,
    seed: int,
    stop: Stop,
    report: Report,
    executor: Executor | None = None,
    clock: Callable[[], float] = time.monotonic,
    locked: Sequence[Layout] = (),
) -> Plan:
    """The plan of an order book; see `plan_with_sizes`."""
    return plan_with_sizes(
        job,
        seconds=seconds,
        seed=seed,
        stop=stop,
        report=report,
        executor=executor,
        clock=clock,
        locked=locked,
    ).plan


def plan_with_sizes(
    job: Job,
    *,
    seconds: float,
    seed: int,
    stop: Stop,
    report: Report,
    executor: Executor | None = None,
    clock: Callable[[], float] = time.monotonic,
    locked: Sequence[Layout] = (),
) -> Planned:
    """The plan of an order book, and the plans of one size beside it.

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
    clock
        Seconds from some fixed moment on; ends a run that takes too long and decides nothing else.
    locked
        Layouts that stay as they are, in front of their gauge's; the rest is planned round them.

    Returns
    -------
    Planned
        Layouts numbered L1, L2 ... through the whole plan. A plan that was stopped covers every
        gauge all the same, some of them less well.
    """
    # Compiled kernels stand behind these, too heavy for a mere look at the book.
    from sheetplan.planning.locking import of_group, put_back, set_aside, spares_left
    from sheetplan.planning.optional import with_optional
    from sheetplan.planning.run import Run

    groups, problems = make_groups(job)
    held = [of_group(group, locked) for group in groups]
    rest = [set_aside(group, layouts) for group, layouts in zip(groups, held, strict=True)]
    rest_of_job = replace(job, parts=spares_left(job.parts, groups, locked)) if locked else job
    found = Run(rest_of_job, rest, seconds, seed, stop, report, executor, clock).plans()
    ends = [one.plan for one in found]
    plans = [put_back(*of_gauge) for of_gauge in zip(ends, groups, held, strict=True)]
    # Gauges with locked layouts are not compared by sheet size: their sizes would speak of the rest alone.
    sizes = tuple(one for done, layouts in zip(found, held, strict=True) if not layouts for one in done.sizes)
    report(Progress("", 1.0, f"{counted(len(groups), 'gauge')} planned."))
    short = tuple(problem for plan in plans for problem in short_problems(plan, job))
    until = clock() + OPTIONAL_SECONDS + (0.0 if stop() else OPTIONAL_SHARE * seconds)
    plan = Plan(job, numbered(plans), (*problems, *short), stop())
    return Planned(with_optional(plan, stop=lambda: clock() > until), sizes)


def short_problems(plan: GroupPlan, job: Job) -> tuple[Problem, ...]:
    """What must be made and is not, on the row of the last order that asks for it."""
    return tuple(_short_problem(plan, part, pieces, job) for part, pieces in plan.short.items())


def _short_problem(plan: GroupPlan, part: str, pieces: int, job: Job) -> Problem:
    group = plan.group
    orders = [job.orders[need.order] for need in group.needs if need.part == part and need.must]
    return Problem(
        page="Orders", row=orders[-1].line or None, cell=None,
        what=f"{pieces} of {part} ({group.label}) {'is' if pieces == 1 else 'are'} not made: "
        f"{plan.why_short[part]}.",
        remedy=f"Change the part or its turns, add sheets of {group.label} to Stock, or order fewer.",
        weight=Weight.NOTE,
    )  # fmt: skip
