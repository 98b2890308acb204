"""Taking out what is drawn twice: specks, doubles, and pieces that overlap along a line or circle.

Everything here is in mm, near the origin.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from sheetplan.drawings.limits import Allowance
from sheetplan.shapes.arcs import Piece, extremes
from sheetplan.shapes.meeting import FLAT_BULGE, between
from sheetplan.trade.units import SAME_LENGTH_MM

Point = tuple[float, float]

LONGEST_SWEEP = 1.5 * math.pi

DOUBLE_MM = 0.01
"""Pieces nowhere further apart than this are one piece drawn twice: a tenth of the finest kerf."""


PIECES_AT_A_TIME = 64
"""How many pieces are asked for their neighbours at once."""


@dataclass(frozen=True, slots=True)
class Tidied:
    """What is left, and where something was taken out (a point on each)."""

    pieces: tuple[Piece, ...]
    specks: int
    doubled: tuple[Point, ...]


def tidy(pieces: Sequence[Piece], allowance: Allowance) -> Tidied:
    """Drop pieces without length and join what overlaps; each stretch is there once afterwards."""
    real = [half for piece in pieces if piece.length > SAME_LENGTH_MM for half in _halved(piece)]
    clusters = _overlapping(real, allowance)
    gone = {i for cluster in clusters for i in cluster}
    kept = [piece for i, piece in enumerate(real) if i not in gone]
    doubled = []
    for cluster in clusters:
        own = [real[i] for i in cluster]
        kept.extend(_union_of_lines(own) if _straight(own[0]) else _union_of_arcs(own))
        doubled.append((own[-1].x0, own[-1].y0))
    specks = sum(piece.length <= SAME_LENGTH_MM for piece in pieces)
    return Tidied(tuple(kept), specks, tuple(doubled))


def _halved(piece: Piece) -> Iterator[Piece]:
    """An arc of nearly a full circle as two, so that no piece ends where it begins."""
    if abs(piece.sweep) <= LONGEST_SWEEP:
        yield piece
        return
    yield between(piece, 0.0, 0.5)
    yield between(piece, 0.5, 1.0)


def boxes_of(pieces: Sequence[Piece], more: float = 0.0) -> np.ndarray:
    """Boxes of pieces, grown by ``more``, as shapely geometries, shape (n,)."""
    rows = []
    for piece in pieces:
        xs, ys = [piece.x0, piece.x1], [piece.y0, piece.y1]
        if piece.bulge:
            for x, y in extremes(piece):
                xs.append(x)
                ys.append(y)
        rows.append((min(xs) - more, min(ys) - more, max(xs) + more, max(ys) + more))
    left, bottom, right, top = np.array(rows, dtype=np.float64).reshape(-1, 4).T
    boxes: np.ndarray = shapely.box(left, bottom, right, top)
    return boxes


def close_pairs(pieces: Sequence[Piece], reach: float) -> Iterator[tuple[int, int]]:
    """Pairs of pieces, the lower index first, whose boxes come within ``reach``.

    They are found a few pieces at a time: a thousand pieces in one place have half a million pairs,
    and the caller may stop before the last.
    """
    if not pieces:
        return
    tree, grown = shapely.STRtree(boxes_of(pieces)), boxes_of(pieces, reach)
    for start in range(0, len(pieces), PIECES_AT_A_TIME):
        own, other = tree.query(grown[start : start + PIECES_AT_A_TIME])
        ordered = own + start < other
        yield from sorted(zip((own[ordered] + start).tolist(), other[ordered].tolist(), strict=True))


def _straight(piece: Piece) -> bool:
    return abs(piece.bulge) <= FLAT_BULGE


def _overlapping(pieces: Sequence[Piece], allowance: Allowance) -> list[list[int]]:
    """Clusters of two or more pieces that overlap, by index, in order of first appearance."""
    leader = list(range(len(pieces)))

    def find(i: int) -> int:
        while leader[i] != i:
            leader[i] = leader[leader[i]]
            i = leader[i]
        return i

    for step, (i, j) in enumerate(close_pairs(pieces, DOUBLE_MM)):
        if step % 4096 == 0:
            allowance.check_time()
        if _overlap(pieces[i], pieces[j]):
            low, high = sorted((find(i), find(j)))
            leader[high] = low
    clusters: dict[int, list[int]] = {}
    for i in range(len(pieces)):
        clusters.setdefault(find(i), []).append(i)
    return [cluster for cluster in clusters.values() if len(cluster) > 1]


def _overlap(first: Piece, second: Piece) -> bool:
    if _straight(first) and _straight(second):
        return _lines_overlap(first, second)
    if not _straight(first) and not _straight(second):
        return _arcs_overlap(first, second)
    return False


def _lines_overlap(first: Piece, second: Piece) -> bool:
    base, other = (first, second) if first.chord >= second.chord else (second, first)
    dx, dy = (base.x1 - base.x0) / base.chord, (base.y1 - base.y0) / base.chord
    along = []
    for x, y in ((other.x0, other.y0), (other.x1, other.y1)):
        if abs((x - base.x0) * dy - (y - base.y0) * dx) > DOUBLE_MM:
            return False
        along.append((x - base.x0) * dx + (y - base.y0) * dy)
    shared = min(max(along), base.chord) - max(min(along), 0.0)
    return shared > min(DOUBLE_MM, other.chord / 2.0) and abs(along[0] - along[1]) > other.chord / 2.0


def _arcs_overlap(first: Piece, second: Piece) -> bool:
    (ax, ay), (bx, by) = first.centre, second.centre
    if max(abs(ax - bx), abs(ay - by), abs(first.radius - second.radius)) > DOUBLE_MM:
        return False
    start, sweep = _arc_span(first)
    other, other_sweep = _arc_span(second)
    apart = (other - start) % (2.0 * math.pi)
    shared = max(min(sweep, apart + other_sweep) - apart, min(sweep, apart + other_sweep - 2.0 * math.pi))
    return shared * first.radius > DOUBLE_MM


def _arc_span(arc: Piece) -> tuple[float, float]:
    """Where an arc begins seen from its centre, run counter-clockwise, and its sweep."""
    cx, cy = arc.centre
    x, y = (arc.x0, arc.y0) if arc.bulge > 0.0 else (arc.x1, arc.y1)
    return math.atan2(y - cy, x - cx), abs(arc.sweep)


def _union_of_lines(lines: list[Piece]) -> list[Piece]:
    """One line along the longest, drawn out to the farthest ends of the others."""
    base = max(lines, key=lambda line: line.chord)
    dx, dy = (base.x1 - base.x0) / base.chord, (base.y1 - base.y0) / base.chord
    ends = [end for line in lines for end in ((line.x0, line.y0), (line.x1, line.y1))]
    first = _farthest((base.x0, base.y0), ends, (-dx, -dy))
    last = _farthest((base.x1, base.y1), ends, (dx, dy))
    return [Piece(*first, *last, 0.0)]


def _farthest(own: Point, ends: list[Point], way: Point) -> Point:
    """The end that lies farthest that way; the line's own unless another passes it clearly."""

    def past(end: Point) -> float:
        return (end[0] - own[0]) * way[0] + (end[1] - own[1]) * way[1]

    best = max(ends, key=past)
    return best if past(best) > DOUBLE_MM else own


def _union_of_arcs(arcs: list[Piece]) -> list[Piece]:
    """The stretches of one circle that the arcs cover, each once."""
    base = max(arcs, key=lambda arc: abs(arc.sweep))
    (cx, cy), radius = base.centre, base.radius
    slack = DOUBLE_MM / radius
    spans = sorted(((start % (2.0 * math.pi)), sweep) for start, sweep in map(_arc_span, arcs))
    runs = [list(spans[0])]
    for start, sweep in spans[1:]:
        run = runs[-1]
        if start <= run[0] + run[1] + slack:
            run[1] = max(run[1], start + sweep - run[0])
        else:
            runs.append([start, sweep])
    # The last run may reach round the start again, over as many of the first ones as it covers.
    last = runs.pop()
    while runs and last[0] + last[1] - 2.0 * math.pi >= runs[0][0] - slack:
        first = runs.pop(0)
        last[1] = max(last[1], first[0] + first[1] + 2.0 * math.pi - last[0])
    runs.append(last)
    if last[1] >= 2.0 * math.pi - slack:
        return [Piece(cx - radius, cy, cx + radius, cy, 1.0), Piece(cx + radius, cy, cx - radius, cy, 1.0)]
    pieces = []
    for start, sweep in runs:
        ends = [(cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in (start, start + sweep)]
        pieces.append(Piece(*ends[0], *ends[1], math.tan(sweep / 4.0)))
    return pieces
