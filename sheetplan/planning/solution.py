"""A solution of one gauge: which cuts, what they come to, and the layouts that are made of them.

Boxes can be put on a cut beside those that lie there, and pieces that nobody asked for taken out: covers may
make a few more than wanted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sheetplan.model.job import Remnant, SheetSize
from sheetplan.model.plan import Group, Layout, Placement
from sheetplan.packing.maxrects import (
    FREE_LIMIT,
    Floats,
    Ints,
    Recipe,
    box_areas,
    cut_free,
    fill_sheet,
    least_side,
    new_desk,
    supply_blank,
)
from sheetplan.packing.rectangles import datum_frame
from sheetplan.planning.box_problem import BoxProblem, Cut

SAME_COST = 1e-9
"""Costs closer than this share of themselves are equal: sums of prices in another order."""


MISSING_RATE = 10.0
"""A piece left out costs this many times the dearest metal that it would take."""


@dataclass(frozen=True, slots=True)
class Solution:
    """Cuts with their steering cost and the box area of must pieces that they leave out (nm2)."""

    cuts: tuple[Cut, ...]
    cost: float
    missing: float

    @property
    def sheets(self) -> int:
        """Sheets and remnants taken."""
        return sum(cut.repeats for cut in self.cuts)

    def beats(self, other: Solution | None) -> bool:
        """Whether this one is better, in the order of `Score.beats`."""
        if other is None:
            return True
        if not _same(self.missing, other.missing):
            return self.missing < other.missing
        if not _same(self.cost, other.cost):
            return self.cost < other.cost
        return (self.sheets, len(self.cuts)) < (other.sheets, len(other.cuts))


def _same(first: float, second: float) -> bool:
    return abs(first - second) <= SAME_COST * max(abs(first), abs(second))


def solution(problem: BoxProblem, cuts: Iterable[Cut]) -> Solution:
    """Add up cuts."""
    cuts = tuple(cuts)
    cost = sum(float(problem.supplies.costs[cut.supply]) * cut.repeats for cut in cuts)
    left = np.maximum(problem.wanted - made(problem, cuts), 0)
    return Solution(cuts, cost, float((left * box_areas(problem.types)).sum()))


def missing_penalty(problem: BoxProblem) -> float:
    """Steering cost of a square nanometre of must pieces left out."""
    rates = problem.supplies.costs / problem.supplies.areas
    return MISSING_RATE * float(rates.max(initial=0.0)) + 1e-30


def made(problem: BoxProblem, cuts: Iterable[Cut]) -> Ints:
    """Pieces of each type that cuts make."""
    total = np.zeros(len(problem.boxes), np.int64)
    for cut in cuts:
        total += cut.counts(len(problem.boxes)) * cut.repeats
    return total


def most_boxes(problem: BoxProblem, pieces: int) -> int:
    """A safe size for `Desk.boxes`: how many of the smallest box the largest supply could hold."""
    if not len(problem.boxes) or not len(problem.choices):
        return 1
    return max(1, min(pieces, int(problem.supplies.areas.max() / box_areas(problem.types).min()) + 1))


def replay(problem: BoxProblem, supply: int, available: Ints, recipe: Recipe) -> Cut:
    """The layout that a recipe gives on one supply."""
    desk = new_desk(len(problem.boxes), most_boxes(problem, int(available.sum())))
    placed = fill_sheet(supply_blank(problem.supplies, supply), problem.types, available, recipe, desk)
    return Cut(supply, desk.boxes[:placed].copy())


def trim(problem: BoxProblem, cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """The same cuts without pieces beyond what is asked for or allowed as spares.

    Pieces are taken out of every repeat where the numbers allow it; what remains is taken out of
    single sheets, which makes a layout more each.
    """
    surplus = np.maximum(made(problem, cuts) - problem.wanted - problem.extra - problem.spare, 0)
    trimmed = []
    for cut in sorted(cuts, key=lambda cut: cut.repeats):
        out = np.minimum(cut.counts(len(surplus)), surplus // cut.repeats)
        surplus -= out * cut.repeats
        trimmed.append(without(cut, out))
    areas = box_areas(problem.types)
    while surplus.any():
        trimmed = split_off(trimmed, surplus, areas)
    return tuple(cut for cut in trimmed if len(cut.boxes))


def split_off(cuts: Sequence[Cut], surplus: Ints, areas: Floats) -> list[Cut]:
    """Part one sheet from the cut that holds most of the surplus, and take it out there."""

    def held(cut: Cut) -> float:
        return float((np.minimum(cut.counts(len(surplus)), surplus) * areas).sum())

    place = max(range(len(cuts)), key=lambda i: held(cuts[i]))
    cut = cuts[place]
    out = np.minimum(cut.counts(len(surplus)), surplus)
    surplus -= out
    rest = [replace(cut, repeats=cut.repeats - 1)] if cut.repeats > 1 else []
    return [*cuts[:place], *rest, without(replace(cut, repeats=1), out), *cuts[place + 1 :]]


def without(cut: Cut, out: Ints) -> Cut:
    """The cut with so many pieces of each type less, those farthest from the datum corner first."""
    left = out.copy()
    kept = np.ones(len(cut.boxes), np.bool_)
    for place in np.lexsort((cut.boxes[:, 2], cut.boxes[:, 1]))[::-1]:
        t = cut.boxes[place, 0]
        if left[t] > 0:
            left[t] -= 1
            kept[place] = False
    placements = tuple(p for p, stays in zip(cut.placements, kept, strict=False) if stays)
    around = None if cut.around is None else cut.around[kept]
    return replace(cut, boxes=cut.boxes[kept], placements=placements, around=around)


def with_boxes(problem: BoxProblem, cut: Cut, available: Ints, values: Floats | None = None) -> Cut:
    """A sheet with what fits of so many more boxes, the largest first or the most valuable for their area."""
    if not available.any():
        return cut
    free = free_beside(problem, cut)
    desk = new_desk(len(available), most_boxes(problem, int(available.sum())))
    areas = box_areas(problem.types)
    order = np.argsort(-(areas if values is None else values / areas), kind="stable").astype(np.int64)
    recipe = Recipe(order, available, 0, least_side(problem.types, available))
    placed = fill_sheet(free, problem.types, available, recipe, desk)
    return replace(cut, boxes=np.concatenate((cut.boxes, desk.boxes[:placed])))


def free_beside(problem: BoxProblem, cut: Cut) -> Ints:
    """Maximal free rectangles that the boxes of a cut leave on its blank."""
    blank = supply_blank(problem.supplies, cut.supply)
    free, fresh = np.empty((FREE_LIMIT, 4), np.int64), np.empty((FREE_LIMIT, 4), np.int64)
    free[: len(blank)] = blank
    count = len(blank)
    least = int(min(problem.types.lengths.min(), problem.types.widths.min()))
    for t, x, y, turned in cut.boxes:
        length, width = problem.types.lengths[t], problem.types.widths[t]
        if turned:
            length, width = width, length
        count = cut_free(free, count, fresh, x, y, length, width, least)
    return free[:count].copy()


def layout_of(problem: BoxProblem, cut: Cut, tag: str) -> Layout:
    """A cut in the sheet frame, parts from the datum corner outwards."""
    choice = problem.choices[cut.supply]
    if cut.is_shaped:
        return Layout(tag, choice.sheet, cut.placements, cut.repeats)
    frame = datum_frame(choice.blank)
    placements = []
    for t, x, y, turned in sorted(map(tuple, cut.boxes.tolist()), key=lambda row: (row[1], row[2])):
        made = problem.boxes[t]
        posture = made.posture(bool(turned))
        left, bottom = frame.origin(x, y, posture)
        placements.append(Placement(made.part.name, left, bottom, posture.turn))
    return Layout(tag, choice.sheet, tuple(placements), cut.repeats)


def layouts_of(problem: BoxProblem, cuts: Sequence[Cut]) -> tuple[Layout, ...]:
    """Every cut as a layout, remnants first, then size by size, the most repeated first.

    The same arrangement on sheets from the rack and on bought ones is one layout.
    """
    merged: dict[tuple[SheetSize | Remnant, tuple[Placement, ...]], int] = {}
    for cut in sorted(cuts, key=lambda cut: (cut.supply, -cut.repeats, -len(cut.boxes))):
        layout = layout_of(problem, cut, "")
        key = layout.sheet, layout.placements
        merged[key] = merged.get(key, 0) + layout.repeats
    return tuple(
        Layout(f"L{number}", sheet, placements, repeats)
        for number, ((sheet, placements), repeats) in enumerate(merged.items(), 1)
    )


def shortfall(group: Group, layouts: Sequence[Layout]) -> dict[str, int]:
    """Pieces of must orders that no layout makes, by part."""
    made: dict[str, int] = {}
    for layout in layouts:
        for placement in layout.placements:
            made[placement.part] = made.get(placement.part, 0) + layout.repeats
    wanted: dict[str, int] = {}
    for need in group.needs:
        if need.must:
            wanted[need.part] = wanted.get(need.part, 0) + need.pieces
    return {part: count - made.get(part, 0) for part, count in wanted.items() if count > made.get(part, 0)}


def why_short(short: Mapping[str, int], problem: BoxProblem) -> dict[str, str]:
    """For each part that is short, the reason in words."""
    return {part: problem.unfit.get(part, "the sheets on hand and for sale are used up") for part in short}
