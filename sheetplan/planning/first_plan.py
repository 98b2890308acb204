"""A complete plan in a moment: boxes in a few fixed orders, sheet after sheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import NamedTuple

import numpy as np

from sheetplan.packing.kernel import MEASURES, Ints, Recipe, least_side, new_desk
from sheetplan.packing.kernel_sequence import Run, box_areas, fill_in_sequence
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.rectpack_floor import merged, size_orders
from sheetplan.planning.solution import SAME_COST, Solution, most_boxes, replay, solution

MOST_ORDERS = 20
"""Sequences of supplies tried at most; a full rack would have hundreds, one for each remnant."""

MISSING_RATE = 10.0
"""A piece left out costs this many times the dearest metal that it would take."""


def missing_penalty(problem: BoxProblem) -> float:
    """Steering cost of a square nanometre of must pieces left out."""
    rates = problem.supplies.costs / problem.supplies.areas
    return MISSING_RATE * float(rates.max(initial=0.0)) + 1e-30


def box_orders(problem: BoxProblem) -> tuple[Ints, ...]:
    """Types from large to small: by area, long side, short side and half perimeter."""
    long = np.maximum(problem.types.lengths, problem.types.widths)
    short = np.minimum(problem.types.lengths, problem.types.widths)
    keys = (box_areas(problem.types), long, short, long + short)
    return tuple(np.argsort(-np.asarray(key, np.float64), kind="stable").astype(np.int64) for key in keys)


def first_plan(problem: BoxProblem) -> Solution:
    """The best of some dozens of fixed runs on the must pieces."""
    best: Solution | None = None
    for trial in fixed_runs(problem):
        run, used = trial.run, trial.used
        hopeless = best is not None and not _may_beat(run, best)
        if not hopeless:
            plan = solution(problem, merged(iter(replayed(problem, trial.recipe, used))))
            if plan.beats(best):
                best = plan
    return best or solution(problem, ())


def hasty_plan(problem: BoxProblem) -> Solution:
    """A complete plan with the least work: other sequences of supplies only while pieces are left out."""
    best: Trial | None = None
    for order in supply_orders(problem):
        trials = [*([best] if best else []), *runs_on(problem, (order,))]
        best = min(trials, key=lambda trial: (trial.run.missing, trial.run.score))
        if best.run.missing == 0.0:
            break
    cuts = replayed(problem, best.recipe, best.used) if best else []
    return solution(problem, merged(cuts))


class Trial(NamedTuple):
    """One run with what it was made by; ``looks`` is the work of all runs up to it."""

    run: Run
    recipe: Recipe
    used: Ints
    looks: int


def fixed_runs(problem: BoxProblem) -> Iterator[Trial]:
    """Every order of boxes by every rule on every sequence of supplies worth a run."""
    return runs_on(problem, supply_orders(problem))


def runs_on(problem: BoxProblem, orders: Iterable[tuple[int, ...]]) -> Iterator[Trial]:
    """Every order of boxes by every rule on some sequences of supplies."""
    pieces = int(problem.wanted.sum())
    least = least_side(problem.types, problem.wanted)
    desk = new_desk(len(problem.boxes), most_boxes(problem, pieces))
    penalty = missing_penalty(problem)
    used = np.empty(pieces, np.int64)
    for sequence in (np.array(order, np.int64) for order in orders):
        for order in box_orders(problem):
            for rule in range(MEASURES):
                recipe = Recipe(order, problem.wanted, rule, least)
                run = fill_in_sequence(
                    problem.supplies, problem.types, problem.wanted, recipe, sequence, penalty, np.inf, desk,
                    used,
                )  # fmt: skip
                yield Trial(run, recipe, used[: run.sheets].copy(), int(desk.work[0]))


def _may_beat(run: Run, best: Solution) -> bool:
    """Whether a run is no worse than a plan before its layouts are looked at."""
    if run.missing > best.missing * (1.0 + SAME_COST):
        return False
    return run.missing < best.missing or run.missing > 0.0 or run.cost <= best.cost * (1.0 + SAME_COST)


def supply_orders(problem: BoxProblem) -> Iterator[tuple[int, ...]]:
    """Remnants and sheets in the orders worth a run: each size alone, and rack before purchase."""
    yield ()
    if len(problem.choices) == 1:
        return
    pieces = int(problem.wanted.sum())
    for order in islice(size_orders(problem), MOST_ORDERS):
        size = [s for s in order if problem.choices[s].sheet is problem.choices[order[0]].sheet]
        yield tuple(s for s in size for _ in range(min(problem.choices[s].limit, pieces)))


def replayed(problem: BoxProblem, recipe: Recipe, used: Ints) -> list[Cut]:
    """The sheets of a run, one after the other."""
    rest = problem.wanted.copy()
    cuts = []
    for s in used:
        cut = replay(problem, int(s), rest, recipe)
        rest -= cut.counts(len(problem.boxes))
        cuts.append(cut)
    return cuts
