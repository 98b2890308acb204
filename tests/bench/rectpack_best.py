"""The best that rectpack reaches on one gauge: all methods, orders of boxes and sheets, ways of choosing."""

import time
from collections.abc import Iterator
from itertools import product

import rectpack

from sheetplan.planning.box_problem import BoxProblem
from sheetplan.planning.search.first_plan import Variant, rectpack_cuts, size_orders
from sheetplan.planning.solution import solution

METHODS = (
    rectpack.MaxRectsBssf, rectpack.MaxRectsBaf, rectpack.MaxRectsBl, rectpack.MaxRectsBlsf,
    rectpack.SkylineBl, rectpack.SkylineBlWm, rectpack.SkylineMwf, rectpack.SkylineMwfl,
    rectpack.SkylineMwfWm, rectpack.SkylineMwflWm,
    rectpack.GuillotineBssfSas, rectpack.GuillotineBssfLas, rectpack.GuillotineBssfSlas,
    rectpack.GuillotineBssfLlas, rectpack.GuillotineBssfMaxas, rectpack.GuillotineBssfMinas,
    rectpack.GuillotineBlsfSas, rectpack.GuillotineBlsfLas, rectpack.GuillotineBlsfSlas,
    rectpack.GuillotineBlsfLlas, rectpack.GuillotineBlsfMaxas, rectpack.GuillotineBlsfMinas,
    rectpack.GuillotineBafSas, rectpack.GuillotineBafLas, rectpack.GuillotineBafSlas,
    rectpack.GuillotineBafLlas, rectpack.GuillotineBafMaxas, rectpack.GuillotineBafMinas,
)  # fmt: skip
SORTS = (
    rectpack.SORT_AREA, rectpack.SORT_PERI, rectpack.SORT_DIFF, rectpack.SORT_SSIDE, rectpack.SORT_LSIDE,
    rectpack.SORT_RATIO,
)  # fmt: skip
CHOICES = (rectpack.PackingBin.BFF, rectpack.PackingBin.BBF)


def variants(problem: BoxProblem) -> Iterator[Variant]:
    for choice, sort, method in product(CHOICES, SORTS, METHODS):
        for sizes in size_orders(problem):
            yield Variant(method, sort, sizes, choice)


def rectpack_best(problem: BoxProblem, seconds: float) -> tuple[float, int]:
    """Least cost of a complete plan, and how many variants the time allowed paid for (at least one)."""
    end = time.process_time() + seconds
    best, runs = float("inf"), 0
    for variant in variants(problem):
        if runs and time.process_time() > end:
            break
        runs += 1
        cuts = rectpack_cuts(problem, variant)
        if cuts is not None:
            best = min(best, solution(problem, cuts).cost)
    return best, runs
