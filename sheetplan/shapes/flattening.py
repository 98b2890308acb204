"""Loops as straight-sided polygons, with a bound on how far they stray and to which side.

Why the sides are proven: an arc of radius r that is cut into equal steps of angle s is
replaced either by chords, which lie on its hollow side and stray at most ``r (1 - cos(s/2))``,
or by the tangents at the step ends, which lie on its bulging side and stray at most
``r (1 / cos(s/2) - 1)``. `Side.OUT` takes tangents where the loop bulges and chords where it is
hollow, so the polygon contains the loop; `Side.IN` does the reverse. Steps are chosen from the
bound; what remains is the rounding of floats, some 1e-12 mm, far below `SAME_LENGTH_MM`.
"""

from __future__ import annotations

import math
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from sheetplan.model.outline import Loop, Stroke
from sheetplan.shapes.arcs import Piece, pieces
from sheetplan.shapes.measures import signed_area

Points = NDArray[np.floating]

COARSEST_STEP = math.pi / 4.0
"""However loose the bound, a circle gets at least eight sides."""


class Side(Enum):
    """Where a flattened loop may stray to."""

    ON = "corners on the curve"
    OUT = "contains the loop"
    IN = "contained in the loop"

    @property
    def opposite(self) -> Side:
        """The side that holes take when their outline takes this one."""
        return {Side.ON: Side.ON, Side.OUT: Side.IN, Side.IN: Side.OUT}[self]


def _steps(piece: Piece, bound: float, tangents: bool) -> int:
    radius = piece.radius
    if tangents:
        step = 2.0 * math.atan(math.sqrt(bound * (2.0 * radius + bound)) / radius)
    else:
        step = 4.0 * math.asin(min(1.0, math.sqrt(bound / (2.0 * radius))))
    # Two chords at least, so that a lens of two flat arcs keeps an inside.
    return max(1 if tangents else 2, math.ceil(abs(piece.sweep) / min(step, COARSEST_STEP)))


def _turned_chord(piece: Piece, share: Points, lean: Points) -> Points:
    """The chord scaled by ``share`` and turned by ``lean`` radians, as vectors."""
    dx, dy = piece.x1 - piece.x0, piece.y1 - piece.y0
    cos, sin = share * np.cos(lean), share * np.sin(lean)
    return np.column_stack((cos * dx - sin * dy, sin * dx + cos * dy))


def _inner_points(piece: Piece, bound: float, tangents: bool) -> Points:
    """What stands between the ends of an arc, shape (n, 2)."""
    count = _steps(piece, bound, tangents)
    sweep = piece.sweep
    step, half = sweep / count, sweep / 2.0
    angles: Points = np.arange(0 if tangents else 1, count, dtype=np.float64) * step
    points = _turned_chord(piece, np.sin(angles / 2.0) / math.sin(half), angles / 2.0 - half)
    if tangents:
        # Corners of the tangent chain stand over the middle of each step: from the start of
        # the step go r tan(s/2) along the tangent there.
        ahead: Points = np.full(count, math.tan(step / 2.0) / (2.0 * math.sin(half)))
        points += _turned_chord(piece, ahead, angles - half)
    points += np.array((piece.x0, piece.y0))
    return points


def flatten(loop: Loop, bound: float, side: Side = Side.ON) -> Points:
    """Corners of a polygon for the loop, in the loop's own direction.

    Parameters
    ----------
    loop : Loop
        The loop, mm.
    bound : float
        The most that the polygon strays from the loop, mm; greater than 0.
    side : Side
        To which side it may stray.

    Returns
    -------
    Points
        Shape (n, 2), the first corner not repeated. Every vertex of the loop is a corner.
    """
    if not bound > 0.0:
        raise ValueError(f"the bound of a flattening must be above 0, not {bound}")
    turning = 1.0 if signed_area(loop) > 0.0 else -1.0
    chunks: list[Points] = []
    for piece in pieces(loop):
        chunks.append(np.array([[piece.x0, piece.y0]]))
        if piece.bulge:
            bulging = piece.bulge * turning > 0.0
            tangents = (side is Side.OUT and bulging) or (side is Side.IN and not bulging)
            chunks.append(_inner_points(piece, bound, tangents))
    return np.concatenate(chunks) if chunks else np.array([loop.vertices[0][:2]])


def flatten_stroke(stroke: Stroke, bound: float) -> Points:
    """Points of an open chain, corners on the curve, straying at most ``bound`` mm; shape (n, 2)."""
    chunks = [np.array([stroke.vertices[0][:2]])]
    for piece in pieces(stroke):
        if piece.bulge:
            chunks.append(_inner_points(piece, bound, tangents=False))
        chunks.append(np.array([[piece.x1, piece.y1]]))
    return np.concatenate(chunks)
