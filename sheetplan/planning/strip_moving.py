"""Fewer or cheaper sheets than the best plan takes: chosen first, then filled by moving strips.

The sheets of a target are chosen by area alone, a little more of it than the pieces need. Where strips cannot
be brought to hold all pieces (see `sheetplan.packing.kernel_strip_moves`), what is left over is planned on
sheets of its own. Supplies that are not one free rectangle keep what the best plan cuts from them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from copy import deepcopy

import numpy as np

from sheetplan.packing.kernel import new_desk
from sheetplan.packing.kernel_strip_moves import move_strips
from sheetplan.planning.box_problem import Cut
from sheetplan.planning.plan_search import found_plan
from sheetplan.planning.search import Column, Search
from sheetplan.planning.solution import SAME_COST
from sheetplan.planning.strip_attempt import boxes_of, cell_areas, cell_of, new_attempt, view_of
from sheetplan.planning.strip_pricing import is_plain
from sheetplan.planning.strip_state import Attempt, Moving
from sheetplan.planning.strip_targets import targets_of

Halt = Callable[[], bool]

LEAST_PIECES = 30
"""Pieces on a sheet on average from which strips are moved; fewer and larger ones suit no strips."""

HOPELESS = 0.08
"""Where more than this share of a sheet is left over, harder targets are not tried."""

ATTEMPT_LOOKS = 6_000_000
"""Work on one attempt for each of its sheets; then another one is begun."""

STEP_LOOKS = 4_000_000
"""Work between two looks at the clock."""

LEFT_LOOKS = 2_000_000
"""Work on a plan for what is left over."""


def moving_pays(search: Search) -> bool:
    """Whether sheets hold so many pieces that moving strips finds plans that other ways do not."""
    sheets = max(1, sum(search.picks.values()))
    return int(search.problem.wanted.sum()) >= LEAST_PIECES * sheets


def strip_moving(search: Search, looks: int, halt: Halt, begun: float, ended: float) -> None:
    """Spend an allowance of looks, between two shares of the whole work, on targets.

    Each target may take an even share of what is left of the work when it is begun; where the time is up
    before, the best attempt at it is handed in as it is.
    """
    if search.moving is None:
        search.moving = _begin(search)
    moving, end = search.moving, search.work + looks
    per_look = (ended - begun) / max(1, looks)
    while moving.at < len(moving.targets) and search.work < end and not search.done and not halt():
        if moving.attempt is None:
            now = ended - per_look * (end - search.work)
            moving.until = now + (1.0 - now) / (len(moving.targets) - moving.at)
        if moving.attempt is None or moving.spent > ATTEMPT_LOOKS * len(moving.attempt.supplies):
            moving.attempt, moving.spent = new_attempt(search, moving), 0
        _go_on(search, moving, min(STEP_LOOKS, max(1, end - search.work)))
        now = ended - per_look * (end - search.work)
        if now >= moving.until * (1.0 - SAME_COST) or not moving.attempt.over.any():
            _close(search, moving)
    if moving.best is not None and halt():
        _hand_in(search, moving, moving.best)


def _go_on(search: Search, moving: Moving, looks: int) -> None:
    """Move strips of the attempt under way and remember the best of the target."""
    attempt, before = moving.attempt, int(moving.desk.work[0])
    assert attempt is not None
    move_strips(
        attempt.rows, attempt.piles, moving.views, attempt.over, cell_areas(moving), looks, attempt.chance,
        moving.desk,
    )  # fmt: skip
    spent = int(moving.desk.work[0]) - before
    search.spend(spent)
    moving.spent += spent
    share = _left_share(attempt, moving)
    if share < moving.least:
        moving.best, moving.least = deepcopy(attempt), share


def _close(search: Search, moving: Moving) -> None:
    """Hand in the best attempt at a target; where much was left over, harder targets are not tried."""
    assert moving.best is not None
    _hand_in(search, moving, moving.best)
    moving.at = moving.at + 1 if moving.least <= HOPELESS else len(moving.targets)
    moving.attempt, moving.best, moving.least = None, None, math.inf


def _left_share(attempt: Attempt, moving: Moving) -> float:
    """What is left over, as a share of a sheet."""
    metal = float(attempt.rows.long[0]) * float(attempt.rows.high[0])
    return float((attempt.over * cell_areas(moving)).sum()) / metal


def _hand_in(search: Search, moving: Moving, attempt: Attempt) -> None:
    """Offer the plan, what is left over on sheets of its own."""
    picks = dict(moving.kept)
    limits = search.problem.supplies.limits.copy()
    for row, s in enumerate(attempt.supplies):
        boxes = boxes_of(moving, search.problem, attempt, row)
        limits[s] -= 1
        if len(boxes):
            cut = Cut(int(s), boxes)
            number = search.add(Column(int(s), cut.counts(len(attempt.over)), made=cut))
            picks[number] = picks.get(number, 0) + 1
    for number, repeats in moving.kept.items():
        limits[search.columns[number].supply] -= repeats
    if attempt.over.any():
        child = search.child(attempt.over.copy(), limits)
        for number, repeats in search.adopt(child, found_plan(child, LEFT_LOOKS)).items():
            picks[number] = picks.get(number, 0) + repeats
    search.offer(picks)


def _begin(search: Search) -> Moving:
    """What is to be tried for a search with a plan."""
    problem = search.problem
    plain = np.array([is_plain(problem, s) for s in range(len(problem.choices))], np.bool_)
    kept = {n: repeats for n, repeats in search.picks.items() if not plain[search.columns[n].supply]}
    wanted = np.maximum(problem.wanted - search.covered(kept), 0)
    cell = cell_of(problem, plain)
    views = (view_of(problem.types, cell, 0), view_of(problem.types, cell, 1))
    most = int(wanted.sum())
    targets = targets_of(search, plain, kept, wanted) if most and search.score.missing == 0.0 else []
    return Moving(kept, views, cell, new_desk(len(wanted), max(1, most)), targets)
