"""Take out pieces that nobody asked for: covers may make a few more than wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sheetplan.packing.kernel import Ints
from sheetplan.packing.kernel_sequence import Floats, box_areas
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.solution import made


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
