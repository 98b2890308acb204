"""A complete plan in a moment: boxes in a few fixed orders, sheet after sheet."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sheetplan.packing.kernel import MEASURES, Ints, Recipe, least_side, new_desk
from sheetplan.packing.kernel_sequence import box_areas, fill_in_sequence
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.rectpack_floor import merged, size_orders
from sheetplan.planning.solution import Solution, most_boxes, replay, solution

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
    least = least_side(problem.types, problem.wanted)
    for sequence in (np.array(order, np.int64) for order in supply_orders(problem)):
        for order in box_orders(problem):
            for rule in range(MEASURES):
                plan = run_plan(problem, Recipe(order, problem.wanted, rule, least), sequence)
                if plan.beats(best):
                    best = plan
    return best or solution(problem, ())


def supply_orders(problem: BoxProblem) -> Iterator[tuple[int, ...]]:
    """Remnants and sheets in the orders worth a run: each size alone, and rack before purchase."""
    yield ()
    for order in size_orders(problem):
        yield order[:1] * int(min(problem.choices[order[0]].limit, problem.wanted.sum()))


def run_plan(problem: BoxProblem, recipe: Recipe, sequence: Ints) -> Solution:
    """The plan that one recipe and one sequence of supplies make."""
    pieces = int(problem.wanted.sum())
    desk = new_desk(len(problem.boxes), most_boxes(problem, pieces))
    used = np.empty(pieces, np.int64)
    run = fill_in_sequence(
        problem.supplies, problem.types, problem.wanted, recipe, sequence, missing_penalty(problem), np.inf,
        desk, used,
    )  # fmt: skip
    return solution(problem, merged(iter(replayed(problem, recipe, used[: run.sheets]))))


def replayed(problem: BoxProblem, recipe: Recipe, used: Ints) -> list[Cut]:
    """The sheets of a run, one after the other."""
    rest = problem.wanted.copy()
    cuts = []
    for s in used:
        cut = replay(problem, int(s), rest, recipe)
        rest -= cut.counts(len(problem.boxes))
        cuts.append(cut)
    return cuts
