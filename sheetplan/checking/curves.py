"""Many lines and arcs side by side, as columns, so that distances are reckoned all at once."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from sheetplan.model.outline import Loop, Outline
from sheetplan.shapes.arcs import Piece, extremes, pieces

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
