"""Which lower bound holds for a gauge: the greatest of those that hold for every plan that keeps the rules.

The box search proves bounds on plans of upright boxes grown by the whole gap along both axes. Two things
keep them from holding for every plan. True shapes that are not boxes lie closer than their boxes. And the
gap is a distance: two plates corner to corner may be less than the gap apart along x and along y, so that
two squares of 46 mm with a gap of 10 mm fit a sheet of 100 mm square, though their grown boxes of 56 mm do
not. So a bound for boxes holds where parts are boxes, no gap is kept, and the metal has no old cuts and no
odd edges; elsewhere the bounds of `shapes_model` do, which never ask more than is true.

The smaller of a bound that holds and one that may not is no better than the one that holds, and is worse
wherever the other is smaller: a bound for boxes in fractions of sheets lies below one by area in whole ones.
"""

from __future__ import annotations

from collections.abc import Sequence

from sheetplan.model.job import Part
from sheetplan.model.plan import SAME_AS_BOUND
from sheetplan.planning.bounds.combinations import cheapest_possible
from sheetplan.planning.bounds.conflicts import with_conflicts
from sheetplan.planning.bounds.model import shapes_model
from sheetplan.planning.bounds.patterns import is_small, pattern_bound
from sheetplan.planning.bounds.relaxation import Relaxation, area_bound, granule_of, rounded_up, whole_sheets
from sheetplan.planning.box_problem import BoxProblem
from sheetplan.planning.progress import Stop, never
from sheetplan.planning.search.state import Search
from sheetplan.planning.solution import missing_penalty
from sheetplan.shapes import is_rectangle
from sheetplan.shapes.loops import box

QUARTER = 90.0

QUICK_ROUNDS = 10
"""Rounds of adding inequalities for a first bound on true shapes."""

SHEETS_SHARE, CONTENTS_SHARE = 0.4, 0.7
"""Share of the work on a closer bound that goes into whole sheets, and of the rest into whole contents."""


def quick_proof(problem: BoxProblem) -> float:
    """A bound on every plan, in the search's own cost, for little work; 0 where nothing is proven."""
    if not problem.wanted.any() or not problem.choices:
        return 0.0
    known = shapes_model(problem)
    relaxation = Relaxation(problem, missing_penalty(problem), known)
    inner = rounded_up(relaxation.tighten(QUICK_ROUNDS), granule_of(problem))
    return max(0.0, area_bound(problem, known.areas), inner)


def closer_proof(search: Search, looks: int, halt: Stop = never) -> float:
    """A bound on every plan within an allowance of looks, on whole sheets and whole contents.

    ``search`` holds a plan at hand that makes all pieces and, for whole contents, its columns.
    """
    problem = search.problem
    bound = quick_proof(problem)
    if search.score.missing > 0.0:
        return bound
    known, end, cost = with_conflicts(shapes_model(problem)), search.work + looks, search.score.cost
    relaxation = Relaxation(problem, missing_penalty(problem), known)
    relaxation.leave_nothing_out()
    relaxation.tighten_fully()
    bound = max(bound, whole_sheets(relaxation, cost, int(looks * SHEETS_SHARE), halt))
    search.spend(relaxation.looks)
    if bound < cost and is_small(search) and not halt():
        allowed = int(max(0, end - search.work) * CONTENTS_SHARE)
        bound = max(bound, pattern_bound(search, allowed, halt, known=known))
    if bound < cost and not halt():
        bound, spent = cheapest_possible(problem, cost, max(0, end - search.work), proven=bound, halt=halt)
        search.spend(spent)
    return bound


def is_proven(search: Search, bound: float) -> bool:
    """Whether nothing can be cheaper than the search's best plan."""
    return search.score.missing == 0.0 and search.score.cost <= bound * (1.0 + SAME_AS_BOUND)


def boxes_are_exact(problem: BoxProblem) -> bool:
    """Whether no plan can do what boxes cannot: parts are boxes, without a gap, on plain metal."""
    plain = all(
        choice.blank.gap == 0.0 and not choice.blank.cuts and is_rectangle(choice.blank.edge)
        for choice in problem.choices
    )
    return plain and boxes_are_all([made.part for made in problem.boxes])


def boxes_are_all(parts: Sequence[Part]) -> bool:
    """Whether true shapes lie no closer than boxes: upright rectangles, their holes too small for a part."""
    if not parts or not all(_is_box(part) for part in parts):
        return False
    narrowest = min(min(box(part.outline.outer).length, box(part.outline.outer).width) for part in parts)
    holes = [box(hole) for part in parts for hole in part.outline.holes]
    return all(min(hole.length, hole.width) < narrowest for hole in holes)


def _is_box(part: Part) -> bool:
    return is_rectangle(part.outline) and all(turn % QUARTER == 0.0 for turn in part.turns)
