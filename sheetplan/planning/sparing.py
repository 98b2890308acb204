"""Remnants that cost nothing left in the rack where the plan does as well without them.

A search is done once it meets its bound. A plan that does so may hold a remnant of value 0 that saves
no sheet; the parts on it are then laid on the sheets that are paid for anyhow.
"""

from __future__ import annotations

from collections.abc import Callable

from sheetplan.model.job import Remnant
from sheetplan.planning.first_plan import first_plan
from sheetplan.planning.plan_search import plan_search
from sheetplan.planning.search import Search

Halt = Callable[[], bool]


def spare_free_remnants(search: Search, looks: int, halt: Halt) -> None:
    """Offer the best plan anew without each remnant that it takes for nothing."""
    taken = _taken_for_nothing(search)
    for supply in taken:
        if halt():
            return
        limits = search.problem.supplies.limits.copy()
        limits[supply] = 0
        for other in set(taken) - set(_taken_for_nothing(search)):
            limits[other] = 0
        small = search.child(search.problem.wanted, limits)
        small.offer(small.take_in(first_plan(small.problem).cuts))
        plan_search(small, looks // len(taken))
        search.offer(search.adopt(small, small.picks))


def _taken_for_nothing(search: Search) -> list[int]:
    problem = search.problem
    used = sorted({search.columns[number].supply for number in search.picks})
    free = [s for s in used if problem.supplies.costs[s] == 0.0]
    return [s for s in free if isinstance(problem.choices[s].sheet, Remnant)]
