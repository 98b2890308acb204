"""Straight edges that double back on themselves, taken out: they have no area and cut nothing.

Terms
-----
fold
    Two lines that meet where no third does, the shorter one running back along the other.

Everything here is in mm, near the origin.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from sheetplan.drawings.network import ends_met
from sheetplan.drawings.tidying import Point
from sheetplan.shapes.arcs import Piece
from sheetplan.shapes.meeting import FLAT_BULGE

LONGEST_FOLD = 1.0
"""A longer edge that runs back on itself may be meant, and is told as what it is."""

NO_AREA = 0.02
"""How far (mm) the shorter line may lie off the longer one."""


@dataclass(frozen=True, slots=True)
class Unfolded:
    """The pieces without folds; length and tip of each fold that was taken out."""

    pieces: tuple[Piece, ...]
    folds: tuple[tuple[float, Point], ...]


def unfold(pieces: Sequence[Piece]) -> Unfolded:
    """Replace the two lines of each fold by the one from end to end.

    >>> back = [Piece(0, 0, 10.2, 0, 0), Piece(10.2, 0, 10, 0, 0), Piece(10, 0, 10, 5, 0)]
    >>> [tuple(piece)[:4] for piece in unfold(back).pieces]
    [(10, 0, 10, 5), (0, 0, 10, 0)]
    """
    if not _may_fold(pieces):
        return Unfolded(tuple(pieces), ())
    nodes, edges = ends_met(pieces)
    at: dict[int, set[int]] = defaultdict(set)
    for i, edge in enumerate(edges):
        at[edge.first].add(i)
        at[edge.last].add(i)
    ends = {i: (edge.first, edge.last) for i, edge in enumerate(edges)}
    lines = {i for i, edge in enumerate(edges) if abs(edge.piece.bulge) <= FLAT_BULGE}
    changed: set[int] = set()
    folds = []
    waiting = [node for node, own in at.items() if len(own) == 2]
    while waiting:
        tip = waiting.pop()
        own = sorted(at[tip])
        if len(own) != 2 or not lines.issuperset(own):
            continue
        kept, gone = own
        before, after = _other(ends[kept], tip), _other(ends[gone], tip)
        length = _fold(nodes[before], nodes[tip], nodes[after])
        if length is None:
            continue
        folds.append((length, nodes[tip]))
        at[tip].clear()
        at[before].discard(kept)
        at[after].discard(gone)
        del ends[gone]
        del ends[kept]
        if before != after:
            ends[kept] = (before, after)
            changed.add(kept)
            at[before].add(kept)
            at[after].add(kept)
        waiting += [node for node in (before, after) if len(at[node]) == 2]
    whole = [pieces[i] for i in ends if i not in changed]
    drawn = (Piece(*nodes[ends[i][0]], *nodes[ends[i][1]], 0.0) for i in sorted(changed) if i in ends)
    return Unfolded((*whole, *drawn), tuple(folds))


def _may_fold(pieces: Sequence[Piece]) -> bool:
    """Whether any line is short enough to be a fold: most drawings have none."""
    return any(piece.chord <= LONGEST_FOLD and abs(piece.bulge) <= FLAT_BULGE for piece in pieces)


def _other(ends: tuple[int, int], node: int) -> int:
    return ends[1] if ends[0] == node else ends[0]


def _fold(before: Point, tip: Point, after: Point) -> float | None:
    """Length of the fold with that tip, None where there is none."""
    ax, ay, bx, by = before[0] - tip[0], before[1] - tip[1], after[0] - tip[0], after[1] - tip[1]
    first, second = math.hypot(ax, ay), math.hypot(bx, by)
    short, long = min(first, second), max(first, second)
    if short == 0.0 or short > LONGEST_FOLD or ax * bx + ay * by <= 0.0:
        return None
    off = abs(ax * by - ay * bx) / long
    return short if off <= NO_AREA and off <= 0.2 * short else None
