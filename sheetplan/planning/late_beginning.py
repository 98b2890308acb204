"""A gauge whose turn comes when the run is stopped: a complete plan, a bound, and nothing that takes time.

A month has dozens of gauges, and whoever stops a run early waits for all of them that were not begun.
"""

from __future__ import annotations

from sheetplan.planning.bound import area_bound
from sheetplan.planning.box_problem import BoxProblem
from sheetplan.planning.first_plan import hasty_plan
from sheetplan.planning.search import Search


def begin_late(problem: BoxProblem, seed: int) -> Search:
    """A search with a complete plan; its bound is that of the bare area."""
    search = Search(problem, seed)
    search.offer(search.take_in(hasty_plan(problem).cuts))
    search.bound = area_bound(problem, search.areas)
    return search
