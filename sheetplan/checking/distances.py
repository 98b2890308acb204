"""Least distances between lines and arcs, in closed form: nothing is flattened. All pairs are reckoned at
once.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from sheetplan.model.outline import Loop, Outline
from sheetplan.shapes.arcs import Piece, extremes, pieces

# Many lines and arcs side by side, as columns, so that distances are reckoned all at once.

Column = NDArray[np.floating]
Index = NDArray[np.integer]
Mask = NDArray[np.bool_]

STRAIGHT_BULGE = 1e-8
"""An arc flatter than this is measured as its chord: on 10 m it rises 5e-5 mm, a twentieth of what
counts as the same length, while its far centre would cost more digits than that."""


@dataclass(frozen=True, slots=True)
class Curves:
    """Pieces of outlines, one to the row; lines have a radius of 0 and no centre.

    ``start`` is the angle of the arc's first point seen from its centre, ``sweep`` its included
    angle, both in radians, counter-clockwise positive. The box columns hold each piece's extent.
    """

    x0: Column
    y0: Column
    x1: Column
    y1: Column
    cx: Column
    cy: Column
    radius: Column
    start: Column
    sweep: Column
    left: Column
    bottom: Column
    right: Column
    top: Column

    def __len__(self) -> int:
        return len(self.x0)

    def take(self, rows: Index) -> Curves:
        """Some of the rows."""
        return Curves(*(getattr(self, field.name)[rows] for field in fields(self)))

    def moved(self, dx: Column, dy: Column) -> Curves:
        """Each row moved by its own ``(dx, dy)``."""
        return Curves(
            self.x0 + dx, self.y0 + dy, self.x1 + dx, self.y1 + dy, self.cx + dx, self.cy + dy,
            self.radius, self.start, self.sweep,
            self.left + dx, self.bottom + dy, self.right + dx, self.top + dy,
        )  # fmt: skip


def curves_of(outline: Outline) -> Curves:
    """The pieces of an outline's outer loop and holes."""
    loops: tuple[Loop, ...] = (outline.outer, *outline.holes)
    rows = [_row(piece) for loop in loops for piece in pieces(loop)]
    return Curves(*np.array(rows, dtype=np.float64).T)


def joined(many: list[Curves]) -> Curves:
    """All rows of several."""
    return Curves(*(np.concatenate([getattr(one, field.name) for one in many]) for field in fields(Curves)))


def _row(piece: Piece) -> tuple[float, ...]:
    ends = (piece.x0, piece.y0, piece.x1, piece.y1)
    xs, ys = [piece.x0, piece.x1], [piece.y0, piece.y1]
    arc = (0.0, 0.0, 0.0, 0.0, 0.0)
    if abs(piece.bulge) > STRAIGHT_BULGE:
        cx, cy = piece.centre
        arc = (cx, cy, piece.radius, math.atan2(piece.y0 - cy, piece.x0 - cx), piece.sweep)
        for x, y in extremes(piece):
            xs.append(x)
            ys.append(y)
    return (*ends, *arc, min(xs), min(ys), max(xs), max(ys))


# Least distances between lines and arcs, in closed form: nothing is flattened.
#
# Two pieces are closest either at an end of one of them, or at inner points where the joining
# line is square to both. For two lines the second case is a crossing. For a line and an arc it is
# the line's foot under the arc's centre; for two arcs it lies on the line through both centres.
# Crossings give 0. All columns hold one pair of pieces to the row.

FULL_TURN = 2.0 * np.pi

Inner = Callable[[Curves, Curves], Column]


def distances(first: Curves, second: Curves) -> Column:
    """Least distance between each row of ``first`` and the same row of ``second``, mm.

    Parameters
    ----------
    first, second : Curves
        Of equal length n.

    Returns
    -------
    Column
        Shape (n,); 0 where they cross.
    """
    least = np.minimum(_from_ends(first, second), _from_ends(second, first))
    arc_first, arc_second = first.radius > 0.0, second.radius > 0.0
    _tighten(least, ~arc_first & ~arc_second, first, second, _line_line)
    _tighten(least, ~arc_first & arc_second, first, second, _line_arc)
    _tighten(least, arc_first & ~arc_second, second, first, _line_arc)
    _tighten(least, arc_first & arc_second, first, second, _arc_arc)
    return least


def _tighten(least: Column, rows: Mask, first: Curves, second: Curves, inner: Inner) -> None:
    """Lower ``least`` in place where inner points come closer than ends."""
    chosen = np.flatnonzero(rows)
    if chosen.size:
        least[chosen] = np.minimum(least[chosen], inner(first.take(chosen), second.take(chosen)))


def _from_ends(points: Curves, curves: Curves) -> Column:
    return np.minimum(_point_to(points.x0, points.y0, curves), _point_to(points.x1, points.y1, curves))


def _point_to(x: Column, y: Column, curves: Curves) -> Column:
    """Distance from each point to the piece on its row."""
    to_start = np.hypot(x - curves.x0, y - curves.y0)
    to_end = np.hypot(x - curves.x1, y - curves.y1)
    ends = np.minimum(to_start, to_end)
    arc = curves.radius > 0.0
    inner = np.where(arc, _point_arc(x, y, curves), _point_line(x, y, curves))
    return np.minimum(ends, inner)


def _point_line(x: Column, y: Column, lines: Curves) -> Column:
    """Distance to the line where the foot lies within it, else infinite."""
    dx, dy = lines.x1 - lines.x0, lines.y1 - lines.y0
    square = dx * dx + dy * dy
    along = (x - lines.x0) * dx + (y - lines.y0) * dy
    within = (along >= 0.0) & (along <= square)
    across = np.abs((x - lines.x0) * dy - (y - lines.y0) * dx) / np.sqrt(square)
    return np.where(within, across, np.inf)


def _point_arc(x: Column, y: Column, arcs: Curves) -> Column:
    """Distance to the arc where the point lies over it, seen from its centre, else infinite."""
    dx, dy = x - arcs.cx, y - arcs.cy
    return np.where(_over(arcs, np.arctan2(dy, dx)), np.abs(np.hypot(dx, dy) - arcs.radius), np.inf)


def _over(arcs: Curves, angle: Column) -> Mask:
    """Whether the direction from the centre meets the arc."""
    gone = np.mod((angle - arcs.start) * np.sign(arcs.sweep), FULL_TURN)
    return gone <= np.abs(arcs.sweep)


def _line_line(first: Curves, second: Curves) -> Column:
    """0 where two lines cross, else infinite."""
    apart = _sides(first, second.x0, second.y0) * _sides(first, second.x1, second.y1)
    across = _sides(second, first.x0, first.y0) * _sides(second, first.x1, first.y1)
    return np.where((apart < 0.0) & (across < 0.0), 0.0, np.inf)


def _sides(lines: Curves, x: Column, y: Column) -> Column:
    """On which side of the line a point lies: positive left, negative right."""
    turn = (lines.x1 - lines.x0) * (y - lines.y0) - (lines.y1 - lines.y0) * (x - lines.x0)
    return np.sign(turn)


def _line_arc(lines: Curves, arcs: Curves) -> Column:
    """From the foot under the centre to the arc, 0 at crossings, infinite where neither is."""
    dx, dy = lines.x1 - lines.x0, lines.y1 - lines.y0
    length = np.hypot(dx, dy)
    dx, dy = dx / length, dy / length
    along = (arcs.cx - lines.x0) * dx + (arcs.cy - lines.y0) * dy
    foot_x, foot_y = lines.x0 + along * dx, lines.y0 + along * dy
    away = np.hypot(foot_x - arcs.cx, foot_y - arcs.cy)
    below = _over(arcs, np.arctan2(foot_y - arcs.cy, foot_x - arcs.cx))
    within = (along >= 0.0) & (along <= length)
    least = np.where(within & below, np.abs(away - arcs.radius), np.inf)
    half = np.sqrt(np.maximum(arcs.radius**2 - away**2, 0.0))
    for step in (along - half, along + half):
        x, y = lines.x0 + step * dx, lines.y0 + step * dy
        meets = (away < arcs.radius) & (step >= 0.0) & (step <= length)
        meets &= _over(arcs, np.arctan2(y - arcs.cy, x - arcs.cx))
        least = np.where(meets, 0.0, least)
    return least


def _arc_arc(first: Curves, second: Curves) -> Column:
    """Along the line of centres, 0 at crossings, infinite where neither is."""
    dx, dy = second.cx - first.cx, second.cy - first.cy
    away = np.hypot(dx, dy)
    towards = np.arctan2(dy, dx)
    least = np.full(len(first), np.inf)
    for turn_first in (0.0, np.pi):
        for turn_second in (0.0, np.pi):
            over = _over(first, towards + turn_first) & _over(second, towards + turn_second)
            # Places along the line of centres, measured from the first centre.
            at_first = first.radius if turn_first == 0.0 else -first.radius
            at_second = away + (second.radius if turn_second == 0.0 else -second.radius)
            least = np.where(over, np.minimum(least, np.abs(at_first - at_second)), least)
    return np.where(_arcs_cross(first, second, away, towards), 0.0, least)


def _arcs_cross(first: Curves, second: Curves, away: Column, towards: Column) -> Mask:
    """Whether the circles cut each other at a point of both arcs (cosine rule).

    The points are reckoned on the smaller circle: on a nearly straight arc's the angle has no
    digits left.
    """
    swap = first.radius > second.radius
    small, large = np.where(swap, second.radius, first.radius), np.where(swap, first.radius, second.radius)
    cut = (away < small + large) & (away > large - small)
    safe = np.where(cut, away, 1.0)
    cosine = ((safe - large) * (safe + large) + small**2) / (2.0 * safe * small)
    lean = np.arccos(np.where(cut, np.clip(cosine, -1.0, 1.0), 0.0))
    base = np.where(swap, towards + np.pi, towards)
    cx, cy = np.where(swap, second.cx, first.cx), np.where(swap, second.cy, first.cy)
    met = np.zeros(len(first), dtype=bool)
    for sign in (1.0, -1.0):
        x, y = cx + small * np.cos(base + sign * lean), cy + small * np.sin(base + sign * lean)
        met |= _at(first, x, y) & _at(second, x, y)
    return cut & met


def _at(arcs: Curves, x: Column, y: Column) -> Mask:
    """Whether the direction to a point meets the arc."""
    return _over(arcs, np.arctan2(y - arcs.cy, x - arcs.cx))
