"""What speaks against a ring that was read: what is hidden, not seen sharply, or can be read in two ways.

Terms
-----
hidden
    Loops round places where metal and ground could not be told, in the plane. They are taken out of the
    metal, and nothing is claimed of an edge in them.
vague
    An opening that is not seen sharply all round: hidden as a whole, with a margin.

Choices
-------
Cut edges of one sheet are about as crisp as one another in its pictures, whatever the camera; rust, glare and
slats are softer than they, though perhaps crisp by themselves. So crispness is judged by the sheet's own.
One bad place would make the claim for all of the sheet large, and the reading of no use. So it is hidden,
from the one reading to the other, and the claim is for the rest.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.pictures.fitting import Fitted, interruptions, soft_tips
from sheetplan.pictures.marks import Array
from sheetplan.pictures.outline import ROUNDED_CELLS, Ring, even
from sheetplan.shapes import flatten


def not_hidden(ring: Ring, region: Any) -> float:
    """The share of a ring's points that are not hidden."""
    return float(1.0 - shapely.contains_xy(region, ring.points).mean())


def told_apart(
    rings: Sequence[Ring], rough: Sequence[Array], region: Any
) -> tuple[list[Ring], list[Array]]:
    """Rings without points in what is hidden; those that lie in it wholly, or nearly so, are left out."""
    kept, near = [], []
    for ring, cells in zip(rings, rough, strict=True):
        if not_hidden(ring, region) >= SEEN_SHARE:
            kept.append(ring.only(~shapely.contains_xy(region, ring.points)))
            near.append(cells[~shapely.contains_xy(region, cells)])
    return kept, near


def region_of(hidden: Sequence[Array]) -> Any:
    """What is hidden, with what lies near it."""
    grown = [shapely.Polygon(loop).buffer(NEAR_HIDDEN_MM, quad_segs=2) for loop in hidden]
    region = shapely.union_all(grown)
    shapely.prepare(region)
    return region


SIMPLE_MM = 0.2
"""Corners of what is hidden that stand out by less are left out."""

NEAR_HIDDEN_MM = 3.0
"""What lies so near to what is hidden is drawn to it."""

SEEN_SHARE = 0.25
"""Of an opening's edge, that is not hidden: with less it counts as hidden as a whole."""


SOFT_CORNER_MM = 0.5
"""Points that were seen closely go round a corner softly, so far from the corner of the fitted loop."""

LONGEST_GAP_MM = 45.0
"""Of an edge that no picture sees; shorter ones lie between good ends."""


def unclear(one: Fitted, ring: Ring, within: float) -> Iterator[tuple[int, str]]:
    """Pieces that too few points speak for, and why."""
    count = len(ring.points)
    step = float(np.median(np.hypot(*np.diff(ring.points, axis=0).T)))
    for number, piece in enumerate(one.pieces):
        span = np.arange((piece.last - piece.first) % count or count) + piece.first
        span %= count
        good = ring.sure[span] & (np.abs(piece.off(ring.points[span])) < 2.0 * within)
        if len(span) * step > 15.0 and good.mean() < 0.5:
            yield number, "too little of it is seen sharply"
        elif len(span) == 1 and math.dist(ring.points[piece.last], ring.points[piece.first]) > LONGEST_GAP_MM:
            yield number, "all of it is hidden, in glare or rust, and where it goes is not seen"
        elif _longest(~good) * step > LONGEST_GAP_MM:
            yield number, "a stretch of it is hidden, in glare, or not an edge of the metal"


VAGUE_MM = 1.5
"""An opening that strays more than this is hidden, rather than that all of the sheet is claimed to be off."""

CRISP_SHARE, CRISP_MOST = 0.5, 0.85
"""Of the change across a cut edge more is within a pixel or so, at most of its points; of rust, less."""

VAGUE_RUN_MM, VAGUE_SHARE = 6.0, 0.75
"""An opening is vague with so long a stretch that no picture sees sharply, or with less of it in all."""


def vague(one: Fitted, ring: Ring, within: float, usual: float) -> bool:
    """Whether an opening's edge is not seen sharply all round; ``usual``: how crisp the sheet's edges are."""
    step = float(np.median(np.hypot(*np.diff(ring.points, axis=0).T)))
    sharp = ring.sure & (ring.crisp > CRISP_SHARE)
    twice = np.concatenate((sharp, sharp))
    return bool(
        ring.sure.mean() < VAGUE_SHARE
        or _longest(~twice) * step > VAGUE_RUN_MM
        or (ring.crisp > max(CRISP_SHARE, USUAL_SHARE * usual)).mean() < CRISP_MOST
        or next(unclear(one, ring, within), None) is not None
    )


def two_ways(
    one: Fitted, ring: Ring, rough: Array, within: float, grain: float, region: Any
) -> list[tuple[float, Any]]:
    """By how much loop and points can be read in two ways, mm, and where; but for what is hidden."""
    rounded = ROUNDED_CELLS * grain + 1.0
    tips = soft_tips(one, ring.points)
    gaps = interruptions(one, ring.points, within)
    found = [
        *_apart_at(one, ring.points, rounded, region),
        *_apart_at(one, rough, rounded, region),
        *_passed_over(one, ring),
        *((float(np.hypot(*(tip - middle))), shapely.LineString((middle, tip))) for middle, tip in tips),
        *((far, shapely.LineString(gap).convex_hull) for far, gap in gaps),
    ]
    return [(far, place) for far, place in found if not region.covers(place)]


def _apart_at(one: Fitted, points: Array, rounded: float, hidden: Any) -> Iterator[tuple[float, Any]]:
    """Where loop and points that were seen lie apart by more than ``rounded``, either way, and by how much.

    What of the loop is hidden has no points.
    """
    lines = shapely.LinearRing(flatten(one.loop, 0.05))
    seen = shapely.LinearRing(points)
    there = shapely.distance(shapely.points(points), lines)
    # One odd point between good ones is no part of the edge.
    steady = np.minimum(np.minimum(np.roll(there, 1), np.roll(there, -1)), there)
    yield from _over(points, steady, lines, rounded)
    for some in (even(flatten(one.loop, 0.2), 3.0), np.array([vertex[:2] for vertex in one.loop.vertices])):
        known = some[~shapely.contains_xy(hidden, some)]
        yield from _over(known, shapely.distance(shapely.points(known), seen), seen, rounded)


def _over(points: Array, far: Array, line: Any, rounded: float) -> Iterator[tuple[float, Any]]:
    for i in np.flatnonzero(far > rounded):
        yield float(far[i]) - rounded, shapely.shortest_line(shapely.Point(points[i]), line)


def _passed_over(one: Fitted, ring: Ring) -> Iterator[tuple[float, Any]]:
    """Where points that were seen closely lie off the loop, an arm that it leaves out; and by how much."""
    lines = shapely.LinearRing(flatten(one.loop, 0.05))
    away = shapely.distance(shapely.points(ring.points), lines)
    away[~ring.sure] = 0.0
    # One odd point between good ones is no part of the edge.
    away = np.minimum(np.minimum(np.roll(away, 1), np.roll(away, -1)), away)
    yield from _over(ring.points, away, lines, SOFT_CORNER_MM)


def _longest(flags: NDArray[np.bool_]) -> int:
    longest = run = 0
    for flag in flags:
        run = run + 1 if flag else 0
        longest = max(longest, run)
    return longest


USUAL_SHARE = 0.9
"""Cut edges of one sheet are about as crisp as one another; the border of rust or of a slat is softer."""

PIECE_MM, ROUND_MM = 40.0, 3.5
"""What is doubtful of an edge is hidden in pieces of such a length, with so much on all sides."""

SLAT_MM = 6.0
"""A slat is no thicker (common practice, no source): behind one as bright as metal an opening may go on."""

BESIDE_POINTS = 10
"""Points on either side of a doubtful stretch that say where a corner may lie that it cuts off."""

MOST_CORNER = 3.0
"""Such a corner is no farther off than so many lengths of the stretch."""


def usual_crispness(rings: Sequence[Ring]) -> float:
    """How crisp the edges of a sheet are, by the middle of all points that were seen."""
    return float(np.median(np.concatenate([ring.crisp[ring.sure] for ring in rings])))


def soft_places(ring: Ring, usual: float) -> Iterator[Any]:
    """Where an edge is softer than the others of the sheet: it may be one of rust, glare or a slat."""
    points, count = ring.points, len(ring.points)
    soft = ~ring.sure | (ring.crisp < USUAL_SHARE * usual)
    soft = _spread(soft & (np.roll(soft, 1) | np.roll(soft, -1)), 2)
    for first, last in _runs(soft):
        span = np.arange(first - 1, last + 1) % count
        corner = _cut_off(points, first, last)
        yield from _in_pieces(points[span], corner)


def unseen_places(one: Fitted, ring: Ring) -> Iterator[Any]:
    """Where no point speaks for the loop: what is hidden beside it, it only bridges."""
    along = even(flatten(one.loop, 0.05), 1.0)
    step = float(np.median(np.hypot(*np.diff(ring.points, axis=0).T)))
    seen = shapely.MultiPoint(ring.points[ring.sure])
    far = shapely.distance(shapely.points(along), seen) > UNSEEN_STEPS * step
    for first, last in _runs(far):
        yield from _in_pieces(along[np.arange(first - 1, last + 1) % len(along)], None)


UNSEEN_STEPS = 1.5
"""From one point to the next, with some room for where the fitted loop passes between them."""


def _in_pieces(line: Array, corner: Array | None) -> Iterator[Any]:
    """A line, piece by piece, with a little round it, and all of it with the corner that it may cut off."""
    if corner is not None:
        yield shapely.MultiPoint(np.vstack((line, corner))).convex_hull.buffer(ROUND_MM, quad_segs=2)
    lengths = np.concatenate(((0.0,), np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
    for number in range(int(lengths[-1] // PIECE_MM) + 1):
        within = (lengths >= number * PIECE_MM - 2.0) & (lengths <= (number + 1) * PIECE_MM + 2.0)
        if within.any():
            yield shapely.MultiPoint(line[within]).buffer(ROUND_MM, quad_segs=2).convex_hull


def _cut_off(points: Array, first: int, last: int) -> Array | None:
    """Where straight edges on both sides of a stretch would meet, if near; its end if they are one line."""
    count = len(points)
    before = points[(first - 1 - np.arange(BESIDE_POINTS)) % count]
    after = points[(last + np.arange(BESIDE_POINTS)) % count]
    ways = [line[0] - line[-1] for line in (before, after)]
    lengths = [float(np.hypot(*way)) for way in ways]
    if count < 4 * BESIDE_POINTS or min(lengths) <= 0.0:
        return None
    (ux, uy), (vx, vy) = (way / length for way, length in zip(ways, lengths, strict=True))
    cross = ux * vy - uy * vx
    gap = after[0] - before[0]
    if abs(cross) < STRAIGHT_ON:
        one_line = abs(gap[0] * uy - gap[1] * ux) < ONE_LINE_MM and ux * vx + uy * vy < 0.0
        return before[0] if one_line and np.hypot(*gap) < MOST_CORNER * PIECE_MM else None
    ahead, back = (gap[0] * vy - gap[1] * vx) / cross, (gap[0] * uy - gap[1] * ux) / cross
    most = MOST_CORNER * float(np.hypot(*gap)) + PIECE_MM
    return before[0] + ahead * np.array((ux, uy)) if 0.0 < ahead < most and 0.0 < back < most else None


STRAIGHT_ON, ONE_LINE_MM = 0.2, 5.0
"""Two edges at an angle of a smaller sine, one no farther beside the other, are one for the most part."""


def _runs(flags: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """First and end of each stretch of a ring; one over its seam has an end beyond the count."""
    count = len(flags)
    if flags.all():
        yield 0, count
        return
    begins = np.flatnonzero(flags & ~np.roll(flags, 1))
    for first in begins.tolist():
        last = first
        while flags[last % count]:
            last += 1
        yield first, last


def _spread(flags: NDArray[np.bool_], by: int) -> NDArray[np.bool_]:
    """A flag's neighbours in a ring have it too."""
    return np.asarray(np.any([np.roll(flags, step) for step in range(-by, by + 1)], axis=0))


def apart(ring: Ring) -> float:
    """How far two pictures see the ring apart, mm."""
    both = ring.apart[ring.sure & ~np.isnan(ring.apart)]
    return float(np.percentile(both, 80)) if len(both) > 10 else 0.0


WALL_SHARE = 0.2
RIMS_PX = 2.5
"""Of a wall that is seen, the share that is claimed; and rims nearer than so many pixels are seen as one."""


def lip(ring: Ring, share: float = WALL_SHARE, least: float = 0.5) -> float:
    """How far the lower rim can draw what is seen."""
    if not ring.sure.any():
        return float(ring.wall.max(initial=0.0))
    wall = ring.wall + 0.0
    drawn = share * wall + least * np.minimum(wall, RIMS_PX * ring.pixel)
    return float(np.percentile(drawn[ring.sure], 97))
