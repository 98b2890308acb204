"""Which lower bound holds for a gauge: that of its boxes, or only that of its metal.

The bounds that the box search proves are bounds on upright boxes. They hold for the parts
themselves only where the parts are boxes that nothing else can lie in.
"""

from __future__ import annotations

from collections.abc import Sequence

from sheetplan.model.job import Part
from sheetplan.model.plan import SAME_AS_BOUND, WEAK_BOUND
from sheetplan.planning.bound import area_bound
from sheetplan.planning.gauge_work import GaugeWork
from sheetplan.planning.search import Search
from sheetplan.planning.shape_filling import grown_areas
from sheetplan.shapes import is_rectangle
from sheetplan.shapes.measures import box

QUARTER = 90.0


def proven_bound(work: GaugeWork, search: Search) -> float:
    """What every plan of the gauge costs at least, in the search's own cost; 0 where nothing is proven."""
    if search is work.shaped or boxes_are_all([made.part for made in work.problem.boxes]):
        return search.bound
    return min(search.bound, area_bound(work.problem, grown_areas(work.problem, work.group.rule.gap)))


def is_proven(search: Search, bound: float) -> bool:
    """Whether nothing can be cheaper than the search's best plan."""
    return search.score.missing == 0.0 and search.score.cost <= bound * (1.0 + SAME_AS_BOUND)


def is_weak(cost: float, bound: float) -> bool:
    """Whether so little is proven that a plan's distance from the bound is better left unsaid."""
    return bound <= 0.0 or cost / bound - 1.0 > WEAK_BOUND


def boxes_are_all(parts: Sequence[Part]) -> bool:
    """Whether true shapes cannot beat boxes: upright rectangles, their holes too small for a part."""
    if not parts or not all(_is_box(part) for part in parts):
        return False
    narrowest = min(min(box(part.outline.outer).length, box(part.outline.outer).width) for part in parts)
    holes = [box(hole) for part in parts for hole in part.outline.holes]
    return all(min(hole.length, hole.width) < narrowest for hole in holes)


def _is_box(part: Part) -> bool:
    return is_rectangle(part.outline) and all(turn % QUARTER == 0.0 for turn in part.turns)
