"""One piece of a loop, a line or an arc given by its bulge.

Terms
-----
chord
    The straight vector from the start of the piece to its end.
sweep
    The included angle in radians, ``4 atan(bulge)``, positive when counter-clockwise.

Points are reckoned from the start along turned chords and not from the centre, because the
centre of a nearly straight arc lies so far away that its coordinates have no digits left.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from sheetplan.model.outline import Loop, Stroke

FLAT_BULGE = 0.03
"""Below this bulge the closed formulas cancel; their power series are exact to rounding there."""

FAR_CENTRE_BULGE = 1e-3
"""Below this bulge a centre lies more than 250 chords away and is not used for coordinates."""


STRAIGHT_BULGE = 1e-12
"""Below this a piece counts as a line: even on 10 m its arc would rise 5e-9 mm, which is rounding."""


class Piece(NamedTuple):
    """A line (``bulge`` 0) or an arc from ``(x0, y0)`` to ``(x1, y1)``."""

    x0: float
    y0: float
    x1: float
    y1: float
    bulge: float

    @property
    def chord(self) -> float:
        """Length of the chord."""
        return math.hypot(self.x1 - self.x0, self.y1 - self.y0)

    @property
    def sweep(self) -> float:
        """Included angle in radians, signed."""
        return 4.0 * math.atan(self.bulge)

    @property
    def radius(self) -> float:
        """Radius of the arc; infinite for a line."""
        if self.bulge == 0.0:
            return math.inf
        return self.chord * (1.0 + self.bulge**2) / (4.0 * abs(self.bulge))

    @property
    def centre(self) -> tuple[float, float]:
        """Centre of the arc; only for arcs."""
        rise = (1.0 - self.bulge**2) / (4.0 * self.bulge)
        return (
            (self.x0 + self.x1) / 2.0 - rise * (self.y1 - self.y0),
            (self.y0 + self.y1) / 2.0 + rise * (self.x1 - self.x0),
        )

    @property
    def length(self) -> float:
        """Length along the piece."""
        half = 2.0 * math.atan(abs(self.bulge))
        return self.chord if half == 0.0 else self.chord * half / math.sin(half)

    def point(self, angle: float) -> tuple[float, float]:
        """The point that lies ``angle`` radians (signed as the sweep) from the start of an arc."""
        half = self.sweep / 2.0
        share = math.sin(angle / 2.0) / math.sin(half)
        lean = angle / 2.0 - half
        cos, sin = share * math.cos(lean), share * math.sin(lean)
        dx, dy = self.x1 - self.x0, self.y1 - self.y0
        return self.x0 + cos * dx - sin * dy, self.y0 + sin * dx + cos * dy


def pieces(chain: Loop | Stroke) -> Iterator[Piece]:
    """The pieces of a chain in order; pieces whose ends coincide exactly are left out."""
    vertices = chain.vertices
    ends = vertices[1:] + vertices[:1] if isinstance(chain, Loop) else vertices[1:]
    for (x0, y0, bulge), (x1, y1, _) in zip(vertices, ends, strict=False):
        if x0 != x1 or y0 != y1:
            yield Piece(x0, y0, x1, y1, bulge if abs(bulge) > STRAIGHT_BULGE else 0.0)


def segment_area(piece: Piece) -> float:
    """Signed area between an arc and its chord, mm2, positive where the arc turns counter-clockwise.

    Circular segment, ``r^2 / 2 (t - sin t)``, rewritten in the bulge.
    """
    b, c2 = piece.bulge, piece.chord**2
    if abs(b) < FLAT_BULGE:
        return c2 * b * (1 / 3 + b**2 * (1 / 15 - b**2 * (1 / 105 - b**2 / 315)))
    return c2 * ((1 + b * b) ** 2 * math.atan(b) - b * (1 - b * b)) / (8 * b * b)


def segment_moment(piece: Piece) -> float:
    """First moment of an arc's segment about its chord, mm3, never negative.

    The moment about the centre is ``chord^3 / 12`` for every circular segment (its centroid lies
    ``4 r sin^3(t/2) / (3 (t - sin t))`` from the centre; any handbook's table of plane areas).
    """
    b, c3 = abs(piece.bulge), piece.chord**3
    if b < FLAT_BULGE:
        return c3 * b * b * (1 / 15 + b * b * (2 / 105 - b * b / 315))
    above = abs(segment_area(piece)) * piece.chord * (1 - b * b) / (4 * b)
    return c3 / 12.0 - above


SURELY = 1e-9
"""Angles (radians) that differ by more than this differ whatever their rounding."""


def extremes(piece: Piece) -> Iterator[tuple[float, float]]:
    """Points inside an arc where it is farthest left, right, down or up."""
    sweep = piece.sweep
    heading = math.atan2(piece.y1 - piece.y0, piece.x1 - piece.x0) - sweep / 2.0
    # Of the many short arcs of a drawn curve hardly one has any.
    if -heading * math.copysign(1.0, sweep) % (math.pi / 2.0) > abs(sweep) + SURELY:
        return
    for quarter in range(4):
        # The tangent points along a quarter direction after this much of the arc.
        angle = (quarter * math.pi / 2.0 - heading) * math.copysign(1.0, sweep) % (2.0 * math.pi)
        if not 0.0 < angle < abs(sweep):
            continue
        if abs(piece.bulge) < FAR_CENTRE_BULGE:
            yield piece.point(math.copysign(angle, sweep))
            continue
        # From the centre, so that a circle of round numbers has a box of round numbers.
        (cx, cy), reach = piece.centre, math.copysign(piece.radius, sweep)
        across, up = ((0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0))[quarter]
        yield cx + across * reach, cy + up * reach
