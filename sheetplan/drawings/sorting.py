"""Loops sorted into parts: outlines, the holes in them, and marks on them.

A loop inside an even number of others is an outline, inside an odd number a hole; so a part
drawn inside another part's hole is a part of its own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from sheetplan.drawings.tidying import Point
from sheetplan.model.outline import Loop, Outline, Stroke
from sheetplan.shapes import area, box, flatten, flatten_stroke, perimeter, to_polygon
from sheetplan.shapes.arcs import Piece
from sheetplan.shapes.meeting import point_at

FLAT_SHARE = 1e-4
"""How coarsely a loop is flattened to tell inside from outside, over its perimeter."""

ROW_MM = 1.0
"""Parts whose left edges differ by less stand in one column when they are numbered."""


@dataclass(frozen=True, slots=True)
class Sorted:
    """Outlines in the drawing's place, numbered from left to right, and marks that lie on none."""

    outlines: tuple[Outline, ...]
    stray_marks: tuple[Stroke, ...]


def sort_loops(loops: Sequence[Loop], marks: Sequence[Stroke]) -> Sorted:
    """Put holes and marks to their outlines."""
    if not loops:
        return Sorted((), tuple(marks))
    polygons = [to_polygon(loop, max(perimeter(loop) * FLAT_SHARE, 1e-6)) for loop in loops]
    parents, depth = _surroundings(polygons, [area(loop) for loop in loops])
    holes: dict[int, list[int]] = {i: [] for i in range(len(loops)) if depth[i] % 2 == 0}
    for i, parent in enumerate(parents):
        if depth[i] % 2 and parent in holes:
            holes[parent].append(i)
        elif depth[i] % 2:
            # Only where loops cross, which is told elsewhere: nothing may get lost over it.
            holes[i] = []
    bearer = _bearers(marks, polygons, holes)
    outlines = [
        Outline(
            loops[i],
            tuple(loops[hole] for hole in own),
            tuple(mark for mark, at in zip(marks, bearer, strict=True) if at == i),
        )
        for i, own in holes.items()
    ]
    outlines.sort(key=_column)
    return Sorted(tuple(outlines), tuple(m for m, at in zip(marks, bearer, strict=True) if at is None))


def _column(outline: Outline) -> tuple[float, float, float]:
    around = box(outline)
    return round(around.left / ROW_MM), round(around.bottom / ROW_MM), around.left


def _surroundings(polygons: list[shapely.Polygon], areas: list[float]) -> tuple[list[int], list[int]]:
    """For each loop, the smallest loop around it (itself if none) and how many are around it."""
    points = shapely.point_on_surface(polygons)
    inner, outer = shapely.STRtree(polygons).query(points, predicate="within")
    parents, depth = list(range(len(polygons))), [0] * len(polygons)
    for i, j in sorted(zip(inner.tolist(), outer.tolist(), strict=True)):
        if j != i and (areas[j], j) > (areas[i], i):
            depth[i] += 1
            if parents[i] == i or areas[j] < areas[parents[i]]:
                parents[i] = j
    return parents, depth


def _bearers(
    marks: Sequence[Stroke], polygons: list[shapely.Polygon], holes: dict[int, list[int]]
) -> list[int | None]:
    """The outline that each mark's middle lies on, by index of its outer loop."""
    outlines = sorted(holes)
    if not marks:
        return []
    middles = shapely.points(np.array([_middle(mark) for mark in marks]))
    which, on = shapely.STRtree([polygons[i] for i in outlines]).query(middles, predicate="intersects")
    bearer: list[int | None] = [None] * len(marks)
    for mark, k in sorted(zip(which.tolist(), on.tolist(), strict=True)):
        outer = outlines[k]
        if bearer[mark] is None or polygons[outer].area < polygons[bearer[mark] or 0].area:
            bearer[mark] = outer
    return bearer


def _middle(mark: Stroke) -> Point:
    points = flatten_stroke(mark, max(perimeter(mark) * 0.01, 1e-6))
    line = shapely.LineString(points) if len(points) > 1 else shapely.Point(points[0])
    middle = line.interpolate(0.5, normalized=True) if len(points) > 1 else line
    return float(middle.x), float(middle.y)


# The layer on which each outline is drawn is the one that most of its outer line lies on.

FLAT_MM = 0.02

NEAR_MM = 0.2
"""A piece whose middle lies this near to an outer line is part of it: gaps that are closed are narrower."""


def outline_layers(
    outlines: Sequence[Outline], pieces: Sequence[Piece], layers: Sequence[str]
) -> tuple[str, ...]:
    """For each outline its layer; ``layers`` are those of the pieces, which made the outlines (mm)."""
    names = set(layers)
    if len(names) < 2 or not outlines:
        return tuple(next(iter(names), "") for _ in outlines)
    rims = [shapely.LinearRing(flatten(outline.outer, FLAT_MM)) for outline in outlines]
    middles = shapely.points(np.array([point_at(piece, 0.5) for piece in pieces]))
    which, near = shapely.STRtree(rims).query_nearest(middles, max_distance=NEAR_MM)
    lengths: list[Counter[str]] = [Counter() for _ in outlines]
    for piece, rim in zip(which.tolist(), near.tolist(), strict=True):
        lengths[rim][layers[piece]] += round(pieces[piece].length * 1000) + 1
    return tuple(found.most_common(1)[0][0] if found else "" for found in lengths)
