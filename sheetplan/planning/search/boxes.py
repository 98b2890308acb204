"""The course of a search on one gauge of boxes, from a plan in a moment to the last repair.

The work is cut into slices, so that it can be stopped between them, shared out among gauges by
what each can still gain, and sent to other processes. Which step is due depends only on how far
the epoch has come:

    plan search -> ruin and recreate -> bound -> column generation -> rounding -> ruin and recreate, repair

Orders of many pieces a sheet move strips in place of the first ruin and recreate: strips fill such sheets
better than any order of boxes does.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import islice

import numpy as np

from sheetplan.packing.maxrects import Floats, Recipe, least_side
from sheetplan.packing.ruin_recreate import Market, Sheets, new_sheets, refill
from sheetplan.planning.bounds.patterns import is_small, pattern_bound
from sheetplan.planning.bounds.relaxation import Relaxation, quick_bound, whole_sheets
from sheetplan.planning.box_problem import BoxProblem
from sheetplan.planning.progress import Stop
from sheetplan.planning.search.column_generation import column_generation, strips_pay
from sheetplan.planning.search.first_plan import first_plan, rectpack_cuts, variants
from sheetplan.planning.search.rounding import repair, repair_once, round_deeply, rounding
from sheetplan.planning.search.state import Column, Picks, Search, least_rate, plan_search
from sheetplan.planning.search.strip_lns import moving_pays, strip_moving

MORE_ROWS = 6
"""Sheets that a plan may grow by on its way."""

LEAST_WORTH = 0.5
"""A piece is worth at least this share of its area at the cheapest rate."""

Step = Callable[[Search, int, Stop, float, float], None]
"""What is done with an allowance of looks between two shares of the step's own course."""

PLAN_SEARCH_TO, FIRST_REFILL_TO, COLUMNS_TO, ROUNDING_TO = 0.05, 0.3, 0.6, 0.75
"""Shares of an epoch after which plan search, first refilling, column generation and rounding end.

The rest goes into refilling the best plan and, a little, into repair.
"""

FEW_SHEETS = 20
"""Up to so many sheets, moving strips finds more than the linear master does."""

MOVING_TO_ON_FEW, MOVING_TO_ON_MANY = 0.9, 0.45
"""Shares of an epoch after which moving strips ends where layouts of strips pay; it follows plan search."""

COLUMNS_OF_REST, ROUNDING_OF_REST = 0.55, 0.75
"""Shares of what is then left after which column generation and rounding end."""

ROUNDING_BETWEEN = 0.1
"""Share of a slice of column generation that goes into plans from what there is so far."""

REPAIR_PART = 0.2
"""Share of the last step that goes into repair."""

REPAIR_SHARE = 0.25
"""Share of a slice that one repair may take."""

DEEP_LOOKS = 3_000_000
"""Work on what one rounding leaves, and on one repair, where layouts of strips pay."""

REFILL_LOOKS = 30_000_000
"""Least work of one cooling of refilling."""

PROVING_SHARE = 0.8
"""Share of the first slice of column generation that may go into the bound for whole sheets."""

CONTENTS_SHARE = 0.7
"""Share of the first slice of rounding that may go into the closer bound of small orders."""

RECTPACK_LOOKS = 100
"""What rectpack's work on a pair of pieces counts as."""

RECTPACK_SHARE = 0.15
"""Share of a gauge's first allowance that rectpack's variants may take."""


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


def begin(problem: BoxProblem, seed: int, looks: int, halt: Stop) -> Search:
    """A search with a complete plan: the best of some fixed runs, rectpack's and a few drawn ones."""
    search = Search(problem, seed)
    search.offer(search.take_in(first_plan(problem).cuts))
    search.bound, search.duals = quick_bound(problem, search.penalty)
    rectpack_floor(search, int(looks * RECTPACK_SHARE), halt)
    return search


def rectpack_floor(search: Search, looks: int, halt: Stop) -> None:
    """Take rectpack's plans in, as many of its variants as the allowance pays for."""
    pieces = int(search.problem.wanted.sum())
    cost = RECTPACK_LOOKS * pieces * pieces
    for variant in islice(variants(search.problem), looks // max(1, cost)):
        if search.done or halt():
            return
        search.spend(cost)
        cuts = rectpack_cuts(search.problem, variant)
        if cuts is not None:
            search.offer(search.take_in(cuts))


def advance(search: Search, start: float, end: float, looks: int, halt: Stop) -> None:
    """Spend an allowance of looks on what is due between two shares of an epoch."""
    if start == 0.0:
        search.moving, search.columns_finished = None, False  # the course begins anew, from the plan in hand
    finish = search.work + looks
    for low, high, step in _steps(search):
        overlap = min(high, end) - max(low, start)
        if overlap > 0.0 and not search.done and not halt():
            share = overlap / (end - max(low, start))
            begun, ended = (max(low, start) - low) / (high - low), (min(high, end) - low) / (high - low)
            step(search, int(max(0, finish - search.work) * share), halt, begun, ended)


def _steps(search: Search) -> tuple[tuple[float, float, Step], ...]:
    """The steps of a search, each between two shares of an epoch."""
    if strips_pay(search):
        few = sum(search.picks.values()) <= FEW_SHEETS
        moving = MOVING_TO_ON_FEW if few else MOVING_TO_ON_MANY
        columns = moving + COLUMNS_OF_REST * (1.0 - moving)
        rounded = moving + ROUNDING_OF_REST * (1.0 - moving)
        return (
            (0.0, PLAN_SEARCH_TO, _plan_step),
            (PLAN_SEARCH_TO, moving, _moving_step),
            (moving, columns, _columns_step),
            (columns, rounded, _rounding_step),
            (rounded, 1.0, _last_step_in_strips),
        )
    return (
        (0.0, PLAN_SEARCH_TO, _plan_step),
        (PLAN_SEARCH_TO, FIRST_REFILL_TO, _refill_step),
        (FIRST_REFILL_TO, COLUMNS_TO, _columns_step),
        (COLUMNS_TO, ROUNDING_TO, _rounding_step),
        (ROUNDING_TO, 1.0, _last_step),
    )


def _plan_step(search: Search, looks: int, halt: Stop, begun: float, ended: float) -> None:
    plan_search(search, looks)


def _moving_step(search: Search, looks: int, halt: Stop, begun: float, ended: float) -> None:
    end = search.work + looks
    if not search.bound_is_final:
        _prove(search, int(looks * PROVING_SHARE), halt)
    if search.work < end and moving_pays(search):
        strip_moving(search, end - search.work, halt, begun, ended)
    if search.work < end:
        _columns_step(search, end - search.work, halt, begun, ended)


def _columns_step(search: Search, looks: int, halt: Stop, begun: float, ended: float) -> None:
    end = search.work + looks
    if not search.bound_is_final:
        _prove(search, int(looks * PROVING_SHARE), halt)
    looks = max(0, end - search.work)
    if search.columns_finished:
        last = _last_step_in_strips if strips_pay(search) else _rounding_step
        last(search, looks, halt, begun, ended)
        return
    pricing = int(looks * (1.0 - ROUNDING_BETWEEN))
    search.columns_finished = column_generation(search, pricing, halt, strips=strips_pay(search))
    rounding(search, int(looks * ROUNDING_BETWEEN), halt)


def _prove(search: Search, looks: int, halt: Stop) -> None:
    """Raise the bound by asking for whole sheets; once, since it is the same each time."""
    search.bound_is_final = True
    if search.score.missing == 0.0:
        relaxation = Relaxation(search.problem, search.penalty)
        relaxation.tighten_fully()
        search.bound = max(search.bound, whole_sheets(relaxation, search.score.cost, looks, halt))
        search.spend(relaxation.looks)


def _rounding_step(search: Search, looks: int, halt: Stop, begun: float, ended: float) -> None:
    end = search.work + looks
    if not search.contents_are_bound and search.values and is_small(search):
        search.contents_are_bound = True
        search.bound = pattern_bound(search, int(looks * CONTENTS_SHARE), halt)
    rounding(search, max(0, end - search.work), halt)


def _refill_step(search: Search, looks: int, halt: Stop, begun: float, ended: float) -> None:
    end = search.work + looks
    while search.work < end and not search.done and not halt():
        refilling(search, min(end - search.work, max(REFILL_LOOKS, looks // 2)))


def _last_step(search: Search, looks: int, halt: Stop, begun: float, ended: float) -> None:
    _refill_step(search, int(looks * (1.0 - REPAIR_PART)), halt, begun, ended)
    repair(search, int(looks * REPAIR_PART), int(looks * REPAIR_PART * REPAIR_SHARE), halt)


def _last_step_in_strips(search: Search, looks: int, halt: Stop, begun: float, ended: float) -> None:
    end = search.work + looks
    while search.work < end and not search.done and not halt():
        round_deeply(search, DEEP_LOOKS, halt)
        repair_once(search, min(DEEP_LOOKS, max(1, end - search.work)), halt)
