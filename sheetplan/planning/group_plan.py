"""Plan one gauge."""

from __future__ import annotations

import time
from itertools import islice

import numpy as np

from sheetplan.model.job import Job
from sheetplan.model.plan import Group, GroupPlan
from sheetplan.planning.box_problem import BoxProblem, Cut, make_problem
from sheetplan.planning.filling import fill_up
from sheetplan.planning.first_plan import first_plan
from sheetplan.planning.progress import Stop
from sheetplan.planning.publishing import layouts_of, money_of, sheet_counts, shortfall, why_short
from sheetplan.planning.rectpack_floor import rectpack_cuts, variants
from sheetplan.planning.solution import Solution, made, solution


def plan_group(group: Group, job: Job, *, seconds: float, seed: int, stop: Stop) -> GroupPlan:
    """The cheapest plan found for one gauge within the time allowed."""
    problem = make_problem(group, job.parts, job.settings.datum)
    best = solution(problem, ())
    if problem.wanted.any() and problem.choices:
        best = plain_plan(problem, time.monotonic() + seconds, stop)
    return publish(group, problem, with_extras(problem, best.cuts))


def plain_plan(problem: BoxProblem, deadline: float, stop: Stop) -> Solution:
    """The best of fixed runs of our own and of rectpack's methods and orders."""
    best = first_plan(problem)
    pieces = int(problem.wanted.sum())
    for variant in islice(variants(problem), rectpack_runs(pieces)):
        if stop() or time.monotonic() > deadline:
            break
        cuts = rectpack_cuts(problem, variant)
        if cuts is not None:
            found = solution(problem, cuts)
            best = found if found.beats(best) else best
    return best


def rectpack_runs(pieces: int) -> int:
    """How many of rectpack's variants are worth their time: a run grows with the square of the pieces."""
    return min(400, 2_000_000 // max(1, pieces) ** 2)


def with_extras(problem: BoxProblem, cuts: tuple[Cut, ...]) -> tuple[Cut, ...]:
    """Fill what is left with orders that are cut if they fit, then with spares."""
    cuts = fill_up(problem, cuts, problem.extra, may_split=True)
    asked = problem.wanted + problem.extra
    spare = np.maximum(asked + problem.spare - made(problem, cuts), 0)
    return fill_up(problem, cuts, np.minimum(spare, problem.spare), may_split=False)


def publish(group: Group, problem: BoxProblem, cuts: tuple[Cut, ...]) -> GroupPlan:
    """Boxes become layouts, with counts of sheets, money, and what is short."""
    layouts = layouts_of(problem, cuts)
    short = shortfall(group, layouts)
    return GroupPlan(
        group=group,
        layouts=layouts,
        sheets=sheet_counts(group, layouts),
        short=short,
        cost=money_of(layouts),
        why_short=why_short(short, problem),
    )
