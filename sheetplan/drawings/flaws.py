"""Which outlines a flaw touches: those alone cannot be cut, the others of the file can.

A flaw in a point or along a closed line touches the outlines whose lines pass there. An open line
touches every outline whose metal lies in its reach, which is all that it would enclose if it were
closed with its neighbours by straight lines: an outer line left open must not make parts of the
holes inside it.

What lies inside an outline that crosses another is stopped with it, since holes and parts cannot be told
apart there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from sheetplan.drawings.joining import Flaw
from sheetplan.model.outline import Loop, Outline, Stroke
from sheetplan.shapes import flatten, flatten_stroke, perimeter

FLAT_MM = 0.01
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
    solids = [_filled(outline.outer) for outline in outlines]
    metals = [_metal(solid, outline) for solid, outline in zip(solids, outlines, strict=True)]
    rims = [_rims(outline) for outline in outlines]
    regions = _regions(flaws)
    own: list[set[int]] = [set() for _ in outlines]
    _touch(own, [k for k, flaw in enumerate(flaws) if flaw.open], regions, metals)
    _touch(own, [k for k, flaw in enumerate(flaws) if not flaw.open], regions, rims)
    inside = _inside(flaws, metals)
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


def _inside(flaws: Sequence[Flaw], metals: list[shapely.Geometry]) -> dict[int, int]:
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


def _filled(loop: Loop) -> shapely.Geometry:
    return shapely.make_valid(shapely.Polygon(flatten(loop, FLAT_MM)))


def _metal(solid: shapely.Geometry, outline: Outline) -> shapely.Geometry:
    voids = [_filled(hole) for hole in outline.holes]
    return solid.difference(shapely.union_all(voids)) if voids else solid


def _rims(outline: Outline) -> shapely.Geometry:
    return shapely.MultiLineString(
        [np.vstack([points, points[:1]]) for points in _loops_flat((outline.outer, *outline.holes))]
    )


def _loops_flat(loops: Sequence[Loop]) -> list[np.ndarray]:
    return [flatten(loop, FLAT_MM) for loop in loops]


def _line(chain: Stroke) -> shapely.Geometry:
    points = flatten_stroke(chain, FLAT_MM) if len(chain.vertices) > 1 else [chain.vertices[0][:2]]
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
    leader = list(range(len(chains)))

    def find(i: int) -> int:
        while leader[i] != i:
            leader[i] = leader[leader[i]]
            i = leader[i]
        return i

    if chains:
        reach = [NEIGHBOURS * perimeter(chain) for chain in chains]
        ends = shapely.points(
            np.array([end[:2] for chain in chains for end in (chain.vertices[0], chain.vertices[-1])])
        )
        tree = shapely.STRtree(ends)
        asked, hit = tree.query(ends, predicate="dwithin", distance=np.repeat(reach, 2))
        for i, j in zip((asked // 2).tolist(), (hit // 2).tolist(), strict=True):
            low, high = sorted((find(i), find(j)))
            leader[high] = low
    groups: dict[int, list[int]] = {}
    for i in range(len(chains)):
        groups.setdefault(find(i), []).append(i)
    return list(groups.values())
