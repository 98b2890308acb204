"""The check of one layout: every part on the sheet, apart from the others, and lying as it may.

What the check can find wrong is named first, then everything solid is laid out, and measured.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np
import shapely

from sheetplan.checking.distances import Column, Curves, Index, Mask, curves_of, distances, joined
from sheetplan.model.job import Part, Remnant, edge_of
from sheetplan.model.outline import Loop, Outline
from sheetplan.model.plan import Group, Layout, Placement
from sheetplan.model.turns import allowed_turns, same_turn
from sheetplan.shapes import box, is_rectangle, place, to_polygon
from sheetplan.trade.thickness import same
from sheetplan.trade.units import SAME_LENGTH_MM, Units

# What the check can find wrong with a plan.

class FaultKind(StrEnum):
    """One kind of fault."""

    OVERLAP = "parts overlap"
    GAP = "gap too small"
    OLD_CUT = "too near an old cut"
    MARGIN = "margin too small"
    OUTSIDE = "outside the sheet"
    TURN = "turn not allowed"
    MIRROR = "mirrored without leave"
    GAUGE = "wrong material or thickness"
    UNKNOWN = "unknown part"
    PLACE = "no place"
    EMPTY = "empty layout"
    TAG = "tag used twice"
    DEMAND = "orders and needs differ"
    MISSING = "pieces missing"
    SURPLUS = "pieces too many"
    STOCK = "sheets do not add up"
    REMNANT = "remnant misused"


@dataclass(frozen=True, slots=True)
class Fault:
    """One finding: what kind, on which layout or gauge, and a sentence with the figures."""

    kind: FaultKind
    place: str
    what: str

    def __str__(self) -> str:
        return f"{self.place}: {self.what}"


# Everything solid on one sheet: parts as placed and old cuts, ready to be measured.
#
# Terms
# pose
#     An outline turned (and mirrored) but not yet moved. Hundreds of pieces share a few poses, so
#     each pose is prepared once.
# stand
#     A pose at its place on the sheet. Old cuts come after the parts.

FLAT_MM = SAME_LENGTH_MM / 2.0
"""How finely a pose is flattened where inside must be told from outside: below any tolerance."""


class Pose:
    """An outline in its own frame, as curves for distances and as a polygon for inside tests."""

    def __init__(self, outline: Outline) -> None:
        self.outline = outline
        self.curves = curves_of(outline)
        self.box = box(outline)

    @cached_property
    def polygon(self) -> shapely.Geometry:
        """The metal, flattened to `FLAT_MM`."""
        polygon = to_polygon(self.outline, FLAT_MM)
        shapely.prepare(polygon)
        return polygon


@dataclass(frozen=True)
class Stands:
    """The stands of one sheet as columns; ``parts`` of them are parts, the rest old cuts.

    ``boxes`` has shape (n, 4): left, bottom, right, top. ``first`` and ``count`` say which rows of
    ``curves`` belong to each stand's pose, before ``(dx, dy)`` is added.
    """

    poses: list[Pose]
    pose: Index
    dx: Column
    dy: Column
    boxes: Column
    curves: Curves
    first: Index
    count: Index
    parts: int

    def __len__(self) -> int:
        return len(self.pose)

    def moved_curves(self, rows: Index, stands: Index) -> Curves:
        """Rows of ``curves``, each moved to the place of its own stand."""
        return self.curves.take(rows).moved(self.dx[stands], self.dy[stands])

    def polygon(self, stand: int) -> shapely.Geometry:
        """The metal of one stand at its place."""
        shift = np.array((self.dx[stand], self.dy[stand]))
        return shapely.transform(self.poses[self.pose[stand]].polygon, lambda points: points + shift)


def stands_of(layout: Layout, parts: Mapping[str, Part]) -> Stands:
    """All parts and old cuts of a layout; every part of it must be known."""
    poses: list[Pose] = []
    known: dict[tuple[str, float, bool], int] = {}
    pose, shifts = [], []
    for placement in layout.placements:
        key = (placement.part, placement.turn, placement.mirrored)
        if key not in known:
            known[key] = len(poses)
            unmoved = Placement(placement.part, 0.0, 0.0, placement.turn, placement.mirrored)
            poses.append(Pose(place(parts[placement.part].outline, unmoved)))
        pose.append(known[key])
        shifts.append((placement.x, placement.y))
    cuts = layout.sheet.cuts if isinstance(layout.sheet, Remnant) else ()
    for cut in cuts:
        pose.append(len(poses))
        poses.append(Pose(Outline(cut)))
        shifts.append((0.0, 0.0))
    return _columns(poses, pose, shifts, len(layout.placements))


def _columns(poses: list[Pose], pose: list[int], shifts: list[tuple[float, float]], parts: int) -> Stands:
    counts = np.array([len(one.curves) for one in poses], dtype=np.int64)
    firsts = np.concatenate(([0], np.cumsum(counts)[:-1])).astype(np.int64)
    index = np.array(pose, dtype=np.int64)
    dx, dy = np.array(shifts, dtype=np.float64).reshape(-1, 2).T
    boxes = np.array([one.box for one in poses]).reshape(-1, 4)[index]
    return Stands(
        poses, index, dx, dy, boxes + np.column_stack((dx, dy, dx, dy)),
        joined([one.curves for one in poses]), firsts[index], counts[index], parts,
    )  # fmt: skip


# Whether everything lies on the sheet, with the margin clear.

def edge_clearances(stands: Stands, edge: Loop) -> Column:
    """Clear metal between each part and the sheet's edge, mm; below 0 where it sticks out.

    On an odd remnant a part that sticks out, or touches the edge, has -infinity or 0.
    """
    parts = np.arange(stands.parts)
    around = box(edge)
    left, bottom, right, top = stands.boxes[parts].T
    to_box = np.minimum.reduce((
        left - around.left, bottom - around.bottom, around.right - right, around.top - top,
    ))  # fmt: skip
    return to_box if is_rectangle(edge) else np.minimum(to_box, _to_odd_edge(stands, parts, edge))


def _to_odd_edge(stands: Stands, parts: Index, edge: Loop) -> Column:
    """Exact distances to each piece of the edge; outside is told by one point of each part."""
    sheet = Pose(Outline(edge))
    pieces = curves_of(Outline(edge))
    clear = np.full(len(parts), np.inf)
    for stand in parts:
        rows = np.arange(stands.first[stand], stands.first[stand] + stands.count[stand])
        own = stands.moved_curves(rows, np.full(len(rows), stand))
        mine, theirs = np.divmod(np.arange(len(rows) * len(pieces)), len(pieces))
        clear[stand] = distances(own.take(mine), pieces.take(theirs)).min()
        if clear[stand] <= SAME_LENGTH_MM:
            outside = stands.polygon(int(stand)).difference(sheet.polygon).buffer(-SAME_LENGTH_MM)
            clear[stand] = 0.0 if outside.is_empty else -np.inf
        elif not shapely.contains_xy(sheet.polygon, own.x0[0], own.y0[0]):
            clear[stand] = -np.inf
    return clear


def short_of(clear: Column, margin: float) -> list[int]:
    """The parts with less than the margin; a distance that is no number is less than any margin."""
    return np.flatnonzero(~(clear >= margin - SAME_LENGTH_MM)).tolist()


# Which stands come near each other, and how near exactly.

CHUNK = 1_000_000
"""Pairs of pieces measured at once, so that memory stays flat (some 300 MB at most)."""


@dataclass(frozen=True)
class Nearness:
    """Pairs of stands by index, the lower first, and the clear distance between them.

    Distances beyond the reach of the search are infinite. A pair that overlaps wholly, one in
    the metal of the other, has its boundaries apart all the same: see `swallowed`.
    """

    first: Index
    second: Index
    apart: Column

    def some(self, chosen: Mask) -> Nearness:
        """Those pairs alone."""
        return Nearness(self.first[chosen], self.second[chosen], self.apart[chosen])

    def rows(self) -> Iterator[tuple[int, int, float]]:
        """Pair by pair."""
        return zip(self.first.tolist(), self.second.tolist(), self.apart.tolist(), strict=True)


def near_pairs(stands: Stands, reach: float) -> Nearness:
    """All pairs whose boxes come within ``reach`` mm of each other, measured exactly.

    Pairs of two old cuts are left out: they lie as they lie.
    """
    left, bottom, right, top = stands.boxes.T
    tree = shapely.STRtree(shapely.box(left, bottom, right, top))
    wide = shapely.box(left - reach, bottom - reach, right + reach, top + reach)
    first, second = tree.query(wide[: stands.parts])
    keep = (first < second) | (second >= stands.parts)
    first, second = first[keep], second[keep]
    order = np.lexsort((second, first))
    first, second = first[order], second[order]
    return Nearness(first, second, _apart(stands, first, second, reach))


def swallowed(stands: Stands, near: Nearness) -> list[tuple[int, int]]:
    """Pairs, the inner first, where a point of one lies in the metal of the other.

    Meant for pairs whose boundaries do not cross: then one point tells for all.
    """
    found: list[tuple[int, int]] = []
    for inner, outer in ((near.first, near.second), (near.second, near.first)):
        rows = stands.first[inner]
        x = stands.curves.x0[rows] + stands.dx[inner]
        y = stands.curves.y0[rows] + stands.dy[inner]
        left, bottom, right, top = stands.boxes[outer].T
        inside = (left <= x) & (x <= right) & (bottom <= y) & (y <= top)
        for pose in np.unique(stands.pose[outer[inside]]):
            chosen = np.flatnonzero(inside & (stands.pose[outer] == pose))
            held = shapely.contains_xy(
                stands.poses[pose].polygon,
                x[chosen] - stands.dx[outer[chosen]],
                y[chosen] - stands.dy[outer[chosen]],
            )
            found.extend(zip(inner[chosen[held]].tolist(), outer[chosen[held]].tolist(), strict=True))
    return found


def overlaps(first: shapely.Geometry, second: shapely.Geometry) -> bool:
    """Whether two metals share more than a seam: a region thicker than twice `SAME_LENGTH_MM`."""
    return not first.intersection(second).buffer(-SAME_LENGTH_MM).is_empty


def _apart(stands: Stands, first: Index, second: Index, reach: float) -> Column:
    apart = np.full(len(first), np.inf)
    if not len(first):
        return apart
    near_first = _near_pieces(stands, first, second, reach)
    near_second = _near_pieces(stands, second, first, reach)
    work = np.cumsum(_counts(near_first, len(first)) * _counts(near_second, len(first)))
    start = 0
    while start < len(first):
        done = work[start - 1] if start else 0
        stop = max(start + 1, int(np.searchsorted(work, done + CHUNK, side="right")))
        _measure(stands, (first, second), (near_first, near_second), (start, stop), reach, apart)
        start = stop
    return apart


Near = tuple[Index, Index]
"""Pieces near the other stand of their pair: the pair's number (rising), the row of ``curves``."""


def _near_pieces(stands: Stands, own: Index, other: Index, reach: float) -> Near:
    """The pieces of each pair's own stand whose boxes come within reach of the other's box."""
    pair, rows = _spread(stands.first[own], stands.count[own])
    pieces = stands.curves
    dx, dy = stands.dx[own][pair], stands.dy[own][pair]
    left, bottom, right, top = (column[pair] for column in stands.boxes[other].T)
    near = (pieces.left[rows] + dx <= right + reach) & (pieces.right[rows] + dx >= left - reach)
    near &= (pieces.bottom[rows] + dy <= top + reach) & (pieces.top[rows] + dy >= bottom - reach)
    return pair[near], rows[near]


def _measure(
    stands: Stands,
    pairs: tuple[Index, Index],
    near: tuple[Near, Near],
    span: tuple[int, int],
    reach: float,
    apart: Column,
) -> None:
    """Measure every piece of one side against every piece of the other, for a span of pairs."""
    (pair_a, rows_a), (pair_b, rows_b) = near
    a = slice(*np.searchsorted(pair_a, span))
    own, counts_b = pair_a[a] - span[0], _counts((pair_b, rows_b), len(apart))[span[0] : span[1]]
    firsts_b = np.concatenate(([0], np.cumsum(counts_b)[:-1])) + np.searchsorted(pair_b, span[0])
    taken_a, taken_b = _spread(firsts_b[own], counts_b[own])
    pair = pair_a[a][taken_a]
    first = stands.moved_curves(rows_a[a][taken_a], pairs[0][pair])
    second = stands.moved_curves(rows_b[taken_b], pairs[1][pair])
    close = (first.left <= second.right + reach) & (second.left <= first.right + reach)
    close &= (first.bottom <= second.top + reach) & (second.bottom <= first.top + reach)
    chosen = np.flatnonzero(close)
    if chosen.size:
        found = distances(first.take(chosen), second.take(chosen))
        np.minimum.at(apart, pair[chosen], np.where(found <= reach, found, np.inf))


def _spread(first: Index, count: Index) -> tuple[Index, Index]:
    """Runs ``first[i] .. first[i] + count[i]`` end to end: which run, and the numbers."""
    run = np.repeat(np.arange(len(first)), count)
    begins = np.cumsum(count) - count
    return run, np.arange(len(run)) - begins[run] + first[run]


def _counts(near: Near, pairs: int) -> Index:
    return np.bincount(near[0], minlength=pairs)


# The check of one layout: every part on the sheet, apart from the others, and lying as it may.


def check_layout(layout: Layout, group: Group, parts: Mapping[str, Part], units: Units) -> tuple[Fault, ...]:
    """What one layout breaks of its gauge's rule and its parts' own limits; empty if it is good.

    Parameters
    ----------
    layout, group : Layout, Group
        The layout and the gauge whose rule it must keep.
    parts : Mapping[str, Part]
        The parts of the job by name.
    units : Units
        What the figures in the sentences are written in.
    """
    say = _Saying(layout, units)
    faults = list(_lying(layout, group, parts, say))
    if not layout.placements:
        return say(FaultKind.EMPTY, "nothing is placed on it"), *faults
    if any(fault.kind in (FaultKind.UNKNOWN, FaultKind.PLACE) for fault in faults):
        return tuple(faults)
    stands = stands_of(layout, parts)
    margin, clear = group.rule.margin, edge_clearances(stands, edge_of(layout.sheet))
    faults += (_off_sheet(say, i, float(clear[i]), margin) for i in short_of(clear, margin))
    gap, extra = group.rule.gap, layout.sheet.extra_gap if isinstance(layout.sheet, Remnant) else 0.0
    near = near_pairs(stands, gap + extra + SAME_LENGTH_MM)
    faults += _too_near(stands, near, (gap, gap + extra), say)
    return tuple(faults)


class _Saying:
    """Words for faults of one layout."""

    def __init__(self, layout: Layout, units: Units) -> None:
        self.layout, self.units = layout, units

    def __call__(self, kind: FaultKind, what: str) -> Fault:
        return Fault(kind, self.layout.tag, what)

    def length(self, mm: float) -> str:
        return f"{mm / self.units.length_mm:.4f} {self.units.value}"

    def stand(self, index: int) -> str:
        """A part by its name and place, an old cut by its number."""
        placements = self.layout.placements
        if index >= len(placements):
            return f"old cut {index - len(placements) + 1}"
        one = placements[index]
        return f"{one.part} at ({self.length(one.x)}, {self.length(one.y)})"


def _lying(layout: Layout, group: Group, parts: Mapping[str, Part], say: _Saying) -> Iterator[Fault]:
    """What can be told without geometry: known parts, gauge, turns."""
    yield from _gauge(layout, group, say)
    for index, placement in enumerate(layout.placements):
        part = parts.get(placement.part)
        if part is None:
            yield say(FaultKind.UNKNOWN, f"{placement.part} is not a part of the job")
        elif not all(map(math.isfinite, (placement.x, placement.y, placement.turn))):
            what = f"{placement.part} has no place: {placement.x}, {placement.y}, turned by {placement.turn}"
            yield say(FaultKind.PLACE, what)
        else:
            yield from _posture(placement, part, index, say)
    for name in sorted({placement.part for placement in layout.placements}):
        part = parts.get(name)
        if part and not (part.material == group.material.name and same(group.thickness, part.thickness)):
            gauge = f"{part.material} {part.thickness.text}"
            yield say(FaultKind.GAUGE, f"{name} is {gauge} and lies on {group.label}")


def _gauge(layout: Layout, group: Group, say: _Saying) -> Iterator[Fault]:
    for what, thing in (("the sheet", layout.sheet), ("the cutting rule", group.rule)):
        if not (thing.material == group.material.name and same(group.thickness, thing.thickness)):
            gauge = f"{thing.material} {thing.thickness.text}"
            yield say(FaultKind.GAUGE, f"{what} is for {gauge} and the gauge is {group.label}")


def _posture(placement: Placement, part: Part, index: int, say: _Saying) -> Iterator[Fault]:
    turns = allowed_turns(part)
    if not any(same_turn(placement.turn, turn) for turn in turns):
        allowed = ", ".join(f"{turn:g}" for turn in turns) or "none"
        grain = f" with grain along its {part.grain.value}" if part.turns != turns else ""
        what = f"{say.stand(index)} is turned by {placement.turn:g}; allowed{grain}: {allowed}"
        yield say(FaultKind.TURN, what)
    if placement.mirrored and not part.may_mirror:
        yield say(FaultKind.MIRROR, f"{say.stand(index)} is mirrored and may not be")


def _off_sheet(say: _Saying, index: int, clear: float, margin: float) -> Fault:
    who = say.stand(index)
    if clear < -SAME_LENGTH_MM:
        by = f" by {say.length(-clear)}" if math.isfinite(clear) else ""
        return say(FaultKind.OUTSIDE, f"{who} lies outside the sheet{by}")
    what = f"{who} is {say.length(clear)} from the sheet's edge; the margin is {say.length(margin)}"
    return say(FaultKind.MARGIN, what)


def _too_near(
    stands: Stands, near: Nearness, gaps: tuple[float, float], say: _Saying
) -> Iterator[Fault]:
    """Pairs that are nearer than the gap between parts, or than the one to old cuts."""
    # Where boundaries touch, only the shared metal tells a seam from an overlap.
    seam = near.apart <= SAME_LENGTH_MM
    inside = {frozenset(pair) for pair in swallowed(stands, near.some(~seam))}
    for first, second, apart in near.rows():
        touching = apart <= SAME_LENGTH_MM
        old = second >= stands.parts
        gap = gaps[old]
        if {first, second} in inside or (
            touching and overlaps(stands.polygon(first), stands.polygon(second))
        ):
            what = f"{say.stand(first)} overlaps {say.stand(second)}"
            yield say(FaultKind.OLD_CUT if old else FaultKind.OVERLAP, what)
        elif not apart >= gap - SAME_LENGTH_MM:
            what = f"{say.stand(first)} is {say.length(apart)} from {say.stand(second)}"
            what += f"; the gap is {say.length(gap)}"
            yield say(FaultKind.OLD_CUT if old else FaultKind.GAP, what)
