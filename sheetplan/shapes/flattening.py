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
from collections.abc import Sequence
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from sheetplan.model.outline import Loop, Stroke
from sheetplan.shapes.arcs import Piece, pieces
from sheetplan.shapes.measures import signed_area

Points = NDArray[np.floating]
Counts = NDArray[np.integer]

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


def _inner_points(arcs: Sequence[Piece], tangents: Sequence[bool], bound: float) -> tuple[Points, Counts]:
    """What stands between the ends of many arcs, one after another, and how many points each has.

    All arcs are reckoned together: curves of real drawings have thousands of short ones.

    Returns
    -------
    points, counts
        Shapes (m, 2) and (n,).
    """
    rows = [_arc_row(arc, bulging, bound) for arc, bulging in zip(arcs, tangents, strict=True)]
    columns = np.array(rows, np.float64)
    counts = columns[:, 0].astype(np.int64)
    arc_of = np.repeat(np.arange(len(arcs)), counts)
    _, first, x0, y0, dx, dy, step, half, sine, ahead = columns[arc_of].T
    begun = np.repeat(np.cumsum(counts) - counts, counts)
    angles = (np.arange(len(arc_of)) - begun + first) * step
    x, y = _turned_chord(dx, dy, np.sin(angles / 2.0) / sine, angles / 2.0 - half)
    if any(tangents):
        # Corners of the tangent chain stand over the middle of each step: from the start of
        # the step go r tan(s/2) along the tangent there.
        further_x, further_y = _turned_chord(dx, dy, ahead, angles - half)
        x, y = x + further_x, y + further_y
    return np.column_stack((x + x0, y + y0)), counts


def _arc_row(arc: Piece, bulging: bool, bound: float) -> tuple[float, ...]:
    """Of an arc: points within, number of the first step, start, chord, step, half sweep and its sine, and
    how far to go along the tangent over the chord."""
    x0, y0, x1, y1, _ = arc
    radius, sweep = arc.radius, arc.sweep
    if bulging:
        most = 2.0 * math.atan(math.sqrt(bound * (2.0 * radius + bound)) / radius)
    else:
        most = 4.0 * math.asin(min(1.0, math.sqrt(bound / (2.0 * radius))))
    # Two chords at least, so that a lens of two flat arcs keeps an inside.
    count = max(1 if bulging else 2, math.ceil(abs(sweep) / min(most, COARSEST_STEP)))
    step, half = sweep / count, sweep / 2.0
    sine = math.sin(half)
    head = (count, 0) if bulging else (count - 1, 1)
    ahead = math.tan(step / 2.0) / (2.0 * sine) if bulging else 0.0
    return (*head, x0, y0, x1 - x0, y1 - y0, step, half, sine, ahead)


def _turned_chord(dx: Points, dy: Points, share: Points, lean: Points) -> tuple[Points, Points]:
    """Chords scaled by ``share`` and turned by ``lean`` radians, as vectors."""
    cos, sin = share * np.cos(lean), share * np.sin(lean)
    return cos * dx - sin * dy, sin * dx + cos * dy


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
    own = list(pieces(loop))
    if not own:
        return np.array([loop.vertices[0][:2]], np.float64)
    arcs = [piece for piece in own if piece.bulge]
    corners: Points = np.array([(piece.x0, piece.y0) for piece in own], np.float64)
    if not arcs:
        return corners
    turning = 1.0 if side is Side.ON or signed_area(loop) > 0.0 else -1.0
    wanted = {Side.ON: 0.0, Side.OUT: turning, Side.IN: -turning}[side]
    return _with_inner(corners, own, _inner_points(arcs, [arc.bulge * wanted > 0.0 for arc in arcs], bound))


def flatten_stroke(stroke: Stroke, bound: float) -> Points:
    """Points of an open chain, corners on the curve, straying at most ``bound`` mm; shape (n, 2)."""
    own = list(pieces(stroke))
    ends = [(piece.x1, piece.y1) for piece in own]
    corners: Points = np.array([stroke.vertices[0][:2], *ends], np.float64)
    arcs = [piece for piece in own if piece.bulge]
    if not arcs:
        return corners
    return _with_inner(corners, own, _inner_points(arcs, [False] * len(arcs), bound))


def _with_inner(corners: Points, own: Sequence[Piece], inner: tuple[Points, Counts]) -> Points:
    """The corners of all pieces with the inner points of each arc behind its own."""
    points, counts = inner
    behind = np.array([place for place, piece in enumerate(own, start=1) if piece.bulge])
    return np.insert(corners, np.repeat(behind, counts), points, axis=0)
