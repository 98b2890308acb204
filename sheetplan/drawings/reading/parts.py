"""Loops sorted into parts: outlines with their holes and marks, lettering, and which outlines a flaw
touches.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from sheetplan.drawings.reading.loops import Flaw
from sheetplan.drawings.reading.network import Point, clusters
from sheetplan.model.outline import Loop, Outline, Stroke
from sheetplan.shapes import area, as_circle, box, flatten, flatten_stroke, perimeter, to_polygon
from sheetplan.shapes.arcs import Piece, point_at

# Loops sorted into parts: outlines, the holes in them, and marks on them.
#
# A loop inside an even number of others is an outline, inside an odd number a hole; so a part
# drawn inside another part's hole is a part of its own.

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

FLAT_LOOP_MM = 0.02

NEAR_MM = 0.2
"""A piece whose middle lies this near to an outer line is part of it: gaps that are closed are narrower."""


def outline_layers(
    outlines: Sequence[Outline], pieces: Sequence[Piece], layers: Sequence[str]
) -> tuple[str, ...]:
    """For each outline its layer; ``layers`` are those of the pieces, which made the outlines (mm)."""
    names = set(layers)
    if len(names) < 2 or not outlines:
        return tuple(next(iter(names), "") for _ in outlines)
    rims = [shapely.LinearRing(flatten(outline.outer, FLAT_LOOP_MM)) for outline in outlines]
    middles = shapely.points(np.array([point_at(piece, 0.5) for piece in pieces]))
    which, near = shapely.STRtree(rims).query_nearest(middles, max_distance=NEAR_MM)
    lengths: list[Counter[str]] = [Counter() for _ in outlines]
    for piece, rim in zip(which.tolist(), near.tolist(), strict=True):
        lengths[rim][layers[piece]] += round(pieces[piece].length * 1000) + 1
    return tuple(found.most_common(1)[0][0] if found else "" for found in lengths)


# Lettering drawn as outlines: many small closed lines in a row that are no two alike.
#
# A row of small equal parts is no lettering, nor is a row of round holes; so at least three of the
# shapes differ. How tall letters are and how near they stand is common practice, no source.

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
    return Lettering(frozenset(found | _inside_letters(loops, found)), len(found))


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


def _inside_letters(loops: Sequence[Loop], letters: set[int]) -> set[int]:
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


# Which outlines a flaw touches: those alone cannot be cut, the others of the file can.
#
# A flaw in a point or along a closed line touches the outlines whose lines pass there. An open line
# touches every outline whose metal lies in its reach, which is all that it would enclose if it were
# closed with its neighbours by straight lines: an outer line left open must not make parts of the
# holes inside it.
#
# What lies inside an outline that crosses another is stopped with it, since holes and parts cannot be told
# apart there.

FLAT_FLAW_MM = 0.01
"""How finely lines are flattened to see what they touch."""

REACH_MM = 0.03
"""Lines this near touch."""

NEIGHBOURS = 0.25
"""Open lines whose ends are nearer than this share of the longer one may belong to one outline."""


@dataclass(frozen=True, slots=True)
class Touched:
    """``own[i]`` are the flaws of outline i, by index; ``stray`` those that touch none.

    ``inside[k]`` is the outline in whose metal the open line of flaw k lies whole.
    """

    own: tuple[tuple[int, ...], ...]
    stray: tuple[int, ...]
    inside: dict[int, int]


def touched(outlines: Sequence[Outline], flaws: Sequence[Flaw]) -> Touched:
    """Tell which outlines the flaws touch; all where the drawing stands, in mm."""
    if not flaws or not outlines:
        return Touched(tuple(() for _ in outlines), tuple(range(len(flaws))), {})
    solids = [_filled_finely(outline.outer) for outline in outlines]
    metals = [_metal(solid, outline) for solid, outline in zip(solids, outlines, strict=True)]
    rims = [_rims(outline) for outline in outlines]
    regions = _regions(flaws)
    own: list[set[int]] = [set() for _ in outlines]
    _touch(own, [k for k, flaw in enumerate(flaws) if flaw.open], regions, metals)
    _touch(own, [k for k, flaw in enumerate(flaws) if not flaw.open], regions, rims)
    inside = _inside_metal(flaws, metals)
    _nested(own, flaws, solids)
    stray = set(range(len(flaws))).difference(*own)
    return Touched(tuple(tuple(sorted(ks)) for ks in own), tuple(sorted(stray)), inside)


def _touch(
    own: list[set[int]], which: list[int], regions: list[shapely.Geometry], targets: list[shapely.Geometry]
) -> None:
    """Note the flaws that come within reach of each target."""
    if which:
        tree = shapely.STRtree(targets)
        asked, hit = tree.query([regions[k] for k in which], predicate="dwithin", distance=REACH_MM)
        for k, i in zip(asked.tolist(), hit.tolist(), strict=True):
            own[i].add(which[k])


def _nested(own: list[set[int]], flaws: Sequence[Flaw], solids: list[shapely.Geometry]) -> None:
    """Inside an outline that crosses another or is not closed, holes and parts cannot be told apart."""
    unclear = [i for i, ks in enumerate(own) if any(flaws[k].nested for k in ks)]
    if not unclear:
        return
    tree = shapely.STRtree([solid.convex_hull for solid in (solids[i] for i in unclear)])
    inner, outer = tree.query(shapely.point_on_surface(solids), predicate="within")
    before = [set(ks) for ks in own]
    for i, k in zip(inner.tolist(), outer.tolist(), strict=True):
        own[i] |= {flaw for flaw in before[unclear[k]] if flaws[flaw].nested}


def _inside_metal(flaws: Sequence[Flaw], metals: list[shapely.Geometry]) -> dict[int, int]:
    """Open lines that lie in the metal of one outline, clear of its edges."""
    found = {}
    tree = shapely.STRtree(metals)
    for k, flaw in enumerate(flaws):
        if not flaw.open:
            continue
        line = _line(flaw.chain)
        for i in sorted(tree.query(line, predicate="within").tolist()):
            if metals[i].boundary.distance(line) > REACH_MM:
                found[k] = i
                break
    return found


def _filled_finely(loop: Loop) -> shapely.Geometry:
    return shapely.make_valid(shapely.Polygon(flatten(loop, FLAT_FLAW_MM)))


def _metal(solid: shapely.Geometry, outline: Outline) -> shapely.Geometry:
    voids = [_filled_finely(hole) for hole in outline.holes]
    return solid.difference(shapely.union_all(voids)) if voids else solid


def _rims(outline: Outline) -> shapely.Geometry:
    return shapely.MultiLineString(
        [np.vstack([points, points[:1]]) for points in _loops_flat((outline.outer, *outline.holes))]
    )


def _loops_flat(loops: Sequence[Loop]) -> list[np.ndarray]:
    return [flatten(loop, FLAT_FLAW_MM) for loop in loops]


def _line(chain: Stroke) -> shapely.Geometry:
    points = flatten_stroke(chain, FLAT_FLAW_MM) if len(chain.vertices) > 1 else [chain.vertices[0][:2]]
    return shapely.LineString(points) if len(points) > 1 else shapely.Point(points[0])


def _regions(flaws: Sequence[Flaw]) -> list[shapely.Geometry]:
    """Where each flaw is: its point or line; of open lines all that they and their neighbours enclose."""
    regions = [_line(flaw.chain) for flaw in flaws]
    opened = [k for k, flaw in enumerate(flaws) if flaw.open]
    for cluster in _clusters([flaws[k].chain for k in opened]):
        own = [opened[k] for k in cluster]
        hull = shapely.union_all([regions[k] for k in own]).convex_hull
        for k in own:
            regions[k] = hull
    return regions


def _clusters(chains: Sequence[Stroke]) -> list[list[int]]:
    """Open lines by neighbourhood of their ends."""
    if not chains:
        return []
    reach = [NEIGHBOURS * perimeter(chain) for chain in chains]
    ends = shapely.points(
        np.array([end[:2] for chain in chains for end in (chain.vertices[0], chain.vertices[-1])])
    )
    tree = shapely.STRtree(ends)
    asked, hit = tree.query(ends, predicate="dwithin", distance=np.repeat(reach, 2))
    return clusters(len(chains), zip((asked // 2).tolist(), (hit // 2).tolist(), strict=True))
