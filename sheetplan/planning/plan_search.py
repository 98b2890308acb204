"""Whole plans made in one go: the best order of boxes and sequence of sheets (see the kernel)."""

from __future__ import annotations

import numpy as np

from sheetplan.packing.kernel_plan_search import search_plans
from sheetplan.planning.search import Picks, Search

MOST_SHEETS = 3000
"""Sheets in one plan at most: far beyond any month's orders in one gauge."""


def plan_search(search: Search, allowance: int) -> None:
    """Look for a better whole plan within an allowance of looks."""
    search.offer(found_plan(search, allowance))


def found_plan(search: Search, allowance: int) -> Picks:
    """The best plan of one search, whether or not it beats the best known."""
    problem = search.problem
    found = search_plans(
        problem.supplies, problem.types, problem.wanted, np.asarray(search.duals, np.float64), search.penalty,
        most_sheets(search), allowance, search.chance(), search.desk,
    )  # fmt: skip
    return search.replay(found.used, found.recipe)


def most_sheets(search: Search) -> int:
    """Room for the sheets of a plan: every piece on a sheet of its own, within reason."""
    return int(min(MOST_SHEETS, search.problem.wanted.sum(), search.problem.supplies.limits.sum())) + 1
