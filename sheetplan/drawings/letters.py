"""Lettering drawn as outlines: many small closed lines in a row that are no two alike.

A row of small equal parts is no lettering, nor is a row of round holes; so at least three of the
shapes differ. How tall letters are and how near they stand is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from sheetplan.model.outline import Loop
from sheetplan.shapes import area, as_circle, box, perimeter, to_polygon

TALLEST_MM = 40.0
"""Larger outlines are parts or windows."""

FEWEST = 4
"""Fewer small outlines in a row are not taken for lettering."""

FEWEST_SHAPES = 3

NEXT_LETTER = 0.9
"""The clear space to the next letter, over the height of the row, is no larger."""

SMALLEST = 0.35
"""The smallest letter of a row over its tallest."""

ALIKE = 0.02
"""Areas that differ by less than this share may be of one shape."""


@dataclass(frozen=True, slots=True)
class Lettering:
    """Loops that look like lettering, by index, with the loops inside them; ``letters`` counts the outer."""

    loops: frozenset[int]
    letters: int


def lettering(loops: Sequence[Loop]) -> Lettering:
    """Find what looks like lettering among closed lines, mm."""
    small = [i for i, loop in enumerate(loops) if _may_be_letter(loop)]
    outer = _outermost(loops, small)
    found: set[int] = set()
    for upright in (False, True):
        found |= _rows(loops, [i for i in outer if i not in found], upright=upright)
    if not found:
        return Lettering(frozenset(), 0)
    return Lettering(frozenset(found | _inside(loops, found)), len(found))


def _may_be_letter(loop: Loop) -> bool:
    around = box(loop)
    return max(around.length, around.width) <= TALLEST_MM and as_circle(loop) is None


def _filled(loop: Loop) -> shapely.Geometry:
    return to_polygon(loop, max(perimeter(loop) * 1e-3, 1e-4))


def _outermost(loops: Sequence[Loop], small: Sequence[int]) -> list[int]:
    """The small loops that lie in no other small one."""
    if not small:
        return []
    solids = [_filled(loops[i]) for i in small]
    inner, outer = shapely.STRtree(solids).query(shapely.point_on_surface(solids), predicate="within")
    areas = [solid.area for solid in solids]
    held = {i for i, j in zip(inner.tolist(), outer.tolist(), strict=True) if areas[j] > areas[i]}
    return [own for k, own in enumerate(small) if k not in held]


def _inside(loops: Sequence[Loop], letters: set[int]) -> set[int]:
    """Loops in letters, round ones too."""
    tree = shapely.STRtree([_filled(loops[i]) for i in sorted(letters)])
    others = [i for i in range(len(loops)) if i not in letters]
    points = shapely.points(np.array([loops[i].vertices[0][:2] for i in others]).reshape(-1, 2))
    inner, _ = tree.query(points, predicate="within")
    return {others[k] for k in inner.tolist()}


def _rows(loops: Sequence[Loop], which: Sequence[int], *, upright: bool) -> set[int]:
    """Members of rows along x, or along y."""
    spans = {}
    for i in which:
        around = box(loops[i])
        level = (around.left, around.right, around.bottom, around.top)
        spans[i] = (*level[2:], *level[:2]) if upright else level
    rows: list[list[int]] = []
    for i in sorted(which, key=lambda i: spans[i][0]):
        row = next((row for row in reversed(rows) if _carries_on(spans[row[-1]], spans[i])), None)
        if row is None:
            rows.append([i])
        else:
            row.append(i)
    return {i for row in rows if len(row) >= FEWEST and _shapes(loops, row) >= FEWEST_SHAPES for i in row}


def _carries_on(last: tuple[float, ...], new: tuple[float, ...]) -> bool:
    first, second = last[3] - last[2], new[3] - new[2]
    tall = max(first, second)
    overlap = min(last[3], new[3]) - max(last[2], new[2])
    near = -0.3 * tall <= new[0] - last[1] <= NEXT_LETTER * tall
    return near and min(first, second) >= SMALLEST * tall and overlap >= 0.6 * min(first, second)


def _shapes(loops: Sequence[Loop], row: Sequence[int]) -> int:
    """How many different shapes stand in a row."""
    seen: list[tuple[float, float]] = []
    for i in row:
        own = (area(loops[i]), perimeter(loops[i]))
        if not any(all(abs(a - b) <= ALIKE * b for a, b in zip(own, one, strict=True)) for one in seen):
            seen.append(own)
    return len(seen)
