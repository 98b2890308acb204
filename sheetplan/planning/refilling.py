"""The best plan with a few sheets at a time taken out and filled anew (see the kernel)."""

from __future__ import annotations

import numpy as np

from sheetplan.packing.kernel import Recipe, least_side
from sheetplan.packing.kernel_refill import Market, Sheets, new_sheets, refill
from sheetplan.packing.kernel_sequence import Floats
from sheetplan.planning.search import Column, Picks, Search, least_rate

MORE_ROWS = 6
"""Sheets that a plan may grow by on its way."""

LEAST_WORTH = 0.5
"""A piece is worth at least this share of its area at the cheapest rate."""


def refilling(search: Search, allowance: int) -> bool:
    """Look for a cheaper plan within an allowance of looks; True if one was found."""
    problem = search.problem
    least = least_side(problem.types, problem.wanted)
    worth = worths(search)
    market = Market(problem.supplies, problem.types, worth, search.areas, least)
    start, number = _laid_out(search)
    rows, types = start.counts.shape
    wanted_types = start.orders.shape[1]
    best, trial = new_sheets(rows, types, wanted_types), new_sheets(MORE_ROWS, types, wanted_types)
    found, _ = refill(
        market, problem.wanted, start, best, trial, number, search.score.cost, allowance, search.chance(),
        search.desk,
    )  # fmt: skip
    return bool(found) and search.offer(_taken_in(search, best, found, least))


def worths(search: Search) -> Floats:
    """What a piece of each type is worth: its price in the master or the bound, or its area's."""
    rate = least_rate(search.problem)
    return np.maximum(search.duals, LEAST_WORTH * rate * search.areas).astype(np.float64)


def _laid_out(search: Search) -> tuple[Sheets, int]:
    """The best plan as rows, one for each sheet, without pieces that nobody asked for."""
    problem = search.problem
    numbers = [number for number, repeats in search.picks.items() for _ in range(repeats)]
    sheets = new_sheets(len(numbers) + MORE_ROWS, len(problem.wanted), int((problem.wanted > 0).sum()))
    rest = problem.wanted.copy()
    for row, number in enumerate(numbers):
        held = np.minimum(search.columns[number].counts, rest)
        rest -= held
        sheets.supplies[row], sheets.origins[row] = search.columns[number].supply, number
        sheets.counts[row] = held
    return sheets, len(numbers)


def _taken_in(search: Search, sheets: Sheets, number: int, least: int) -> Picks:
    """The sheets of a plan as columns of the search."""
    picks: dict[int, int] = {}
    for row in range(number):
        column = int(sheets.origins[row])
        if column < 0:
            recipe = Recipe(sheets.orders[row], sheets.offers[row], int(sheets.rules[row]), least)
            counts, offered = sheets.counts[row], sheets.offers[row]
            column = search.add(Column(int(sheets.supplies[row]), counts, recipe, offered))
        picks[column] = picks.get(column, 0) + 1
    return picks
