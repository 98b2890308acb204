"""The end of a gauge's search: boxes become layouts, with counts, money and what is short."""

from __future__ import annotations

import numpy as np

from sheetplan.model.plan import GroupPlan
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.fewer_layouts import fewer_layouts
from sheetplan.planning.filling import fill_up
from sheetplan.planning.gauge_work import GaugeWork, Halt, TimesUp
from sheetplan.planning.publishing import layouts_of, money_of, sheet_counts, shortfall, why_short
from sheetplan.planning.rectpack_floor import merged
from sheetplan.planning.search import Search
from sheetplan.planning.settling import settle
from sheetplan.planning.solution import made
from sheetplan.planning.trimming import trim


def finish(work: GaugeWork, looks: int, halt: Halt) -> GroupPlan:
    """The plan of a gauge as everybody else sees it, once it has as few layouts as can be found."""
    group, problem, search = work.group, work.problem, work.search
    cuts: tuple[Cut, ...] = ()
    if search is not None:
        fewer_layouts(search, looks, halt)
        settled = merged(settle(problem, cut, search.seed) for cut in trim(problem, search.cuts()))
        cuts = with_extras(problem, settled)
    layouts = layouts_of(problem, cuts)
    short = shortfall(group, layouts)
    return GroupPlan(
        group=group,
        layouts=layouts,
        sheets=sheet_counts(group, layouts),
        short=short,
        cost=money_of(layouts),
        bound=_money_bound(problem, search),
        why_short=why_short(short, problem),
        above_bound=search.score.cost / search.bound - 1.0 if search and search.bound > 0.0 else None,
    )


def finish_elsewhere(work: GaugeWork, looks: int, limit: TimesUp) -> GroupPlan:
    """`finish` with a time limit instead of a halt, for other processes."""
    return finish(work, looks, limit.started())


def _money_bound(problem: BoxProblem, search: Search | None) -> float | None:
    """The proven least cost in money; None where there are no prices or pieces are left out."""
    priced = any(choice.price for choice in problem.choices)
    if search is None or not priced or search.score.missing > 0.0 or search.bound <= 0.0:
        return None
    return search.bound


def with_extras(problem: BoxProblem, cuts: tuple[Cut, ...]) -> tuple[Cut, ...]:
    """Fill what is left with orders that are cut if they fit, then with spares."""
    cuts = fill_up(problem, cuts, problem.extra, may_split=True)
    asked = problem.wanted + problem.extra
    spare = np.maximum(asked + problem.spare - made(problem, cuts), 0)
    return fill_up(problem, cuts, np.minimum(spare, problem.spare), may_split=False)
