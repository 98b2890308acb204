"""Polygons made larger, never too small: what keeps the asked-for gap whatever the packer does.

Terms
-----
solid
    A part's or an obstacle's polygon that contains its true outline.
grown
    The solid widened by the gap: two parts keep the gap when one's grown polygon does not meet
    the other's solid.

A library's buffer draws round corners as chords, thins shallow hollows and so falls short of the
true offset by up to some per cent. Here every side is swept outward by the gap, exactly, and
every bulging corner gets a fan of tangents, which lie outside the true arc.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.polygon import orient

Edges = NDArray[np.float64]

TANGENT_STEP = math.pi / 6.0
"""Widest turn between tangents at a grown corner: it reaches at most 3.6 per cent of the gap too far."""

TOUCH_SLACK_MM = 1e-4
"""How much short of the gap a grown side stays, so that parts may lie at exactly the gap.

A tenth of `SAME_LENGTH_MM`: rounding of positions is far below it, and no check can see it.
"""

IDLE_MM = 1e-8
"""A corner nearer than this to the line between its neighbours is none: rounding strays as far, and
even thousands of them in a row stay far below `TOUCH_SLACK_MM`."""

MITRE_LIMIT = 8.0
"""Only for solids drawn in by the slack where no gap is asked for."""


def grown(solid: shapely.Geometry, gap: float) -> shapely.Geometry:
    """The solid widened by ``gap`` mm (less `TOUCH_SLACK_MM`); contains the true offset of that width."""
    width = gap - TOUCH_SLACK_MM
    if width <= 0.0:
        return solid.buffer(width, join_style="mitre", mitre_limit=MITRE_LIMIT)
    pieces = [solid]
    for polygon in shapely.get_parts(solid):
        ordered = orient(polygon)
        for ring in (ordered.exterior, *ordered.interiors):
            pieces += _swept(np.asarray(ring.coords)[:-1, :2], width)
    return without_idle_corners(shapely.union_all(pieces))


def without_idle_corners(shape: shapely.Geometry) -> shapely.Geometry:
    """The polygons without corners in the midst of straight sides, which strips and fans leave behind."""
    cleaned = [
        shapely.Polygon(_turning(polygon.exterior), [_turning(hole) for hole in polygon.interiors])
        for polygon in shapely.get_parts(shape)
    ]
    return cleaned[0] if len(cleaned) == 1 else shapely.MultiPolygon(cleaned)


def _turning(ring: shapely.LinearRing) -> NDArray[np.float64]:
    """The corners of a ring at which it turns; of idle corners in a row every second goes at a time."""
    corners = np.asarray(ring.coords)[:-1, :2]
    while len(corners) > 3:
        before, after = np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0)
        along, aside = after - before, corners - before
        lengths = np.hypot(along[:, 0], along[:, 1])
        idle = np.abs(along[:, 0] * aside[:, 1] - along[:, 1] * aside[:, 0]) <= IDLE_MM * lengths
        # At the tip of a spike the way goes back; what lies between its neighbours is passed on it.
        idle &= np.einsum("ij,ij->i", aside, after - corners) > 0.0
        numbers = np.flatnonzero(idle)
        first_of_row = np.diff(numbers, prepend=-2) > 1
        row_start = numbers[first_of_row][np.cumsum(first_of_row) - 1]
        gone = numbers[(numbers - row_start) % 2 == 0]
        if len(gone) and gone[0] == 0 and gone[-1] == len(corners) - 1:
            gone = gone[:-1]
        if not len(gone) or len(corners) - len(gone) < 3:
            break
        corners = np.delete(corners, gone, axis=0)
    return corners


def _swept(corners: NDArray[np.float64], width: float) -> list[shapely.Polygon]:
    """What a ring with metal on its left gains: a strip along each side, a fan at each bulging corner."""
    after = np.roll(corners, -1, axis=0)
    along = after - corners
    lengths = np.hypot(along[:, 0], along[:, 1])
    kept = lengths > 0.0
    corners, after, along = corners[kept], after[kept], along[kept] / lengths[kept, None]
    out = np.column_stack((along[:, 1], -along[:, 0])) * width
    strips = np.stack((corners, corners + out, after + out, after), axis=1)
    pieces = list(shapely.polygons(strips))
    for k in range(len(corners)):
        before = along[k - 1]
        turn = math.atan2(before[0] * along[k, 1] - before[1] * along[k, 0], before @ along[k])
        if turn > 0.0:
            pieces.append(_fan(corners[k], out[k - 1], out[k], turn))
    return pieces


def _fan(
    corner: NDArray[np.float64], first: NDArray[np.float64], last: NDArray[np.float64], turn: float
) -> shapely.Polygon:
    """The sector from one offset to the next at a corner, its arc replaced by tangents outside it."""
    count = math.ceil(turn / TANGENT_STEP)
    half = turn / (2 * count)
    rim = []
    for k in range(count):
        angle = (2 * k + 1) * half
        cos, sin = math.cos(angle) / math.cos(half), math.sin(angle) / math.cos(half)
        turned = np.array((cos * first[0] - sin * first[1], sin * first[0] + cos * first[1]))
        rim.append(corner + turned)
    return shapely.Polygon([corner, corner + first, *rim, corner + last])


def edges(shape: shapely.Geometry) -> Edges:
    """All edges of a polygon or of several, shape (n, 4): x0, y0, x1, y1, none of no length.

    Ring after ring, the metal on the left: outer rings counter-clockwise, holes clockwise.
    """
    rows = []
    for polygon in shapely.get_parts(shape):
        ordered = orient(polygon)
        for ring in (ordered.exterior, *ordered.interiors):
            corners = np.asarray(ring.coords)[:, :2]
            spans = np.hstack([corners[:-1], corners[1:]])
            rows.append(spans[(spans[:, :2] != spans[:, 2:]).any(axis=1)])
    return np.ascontiguousarray(np.vstack(rows)) if rows else np.empty((0, 4))
