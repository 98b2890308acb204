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

import cmath
import math
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.polygon import orient

Edges = NDArray[np.float64]

TANGENT_STEP = math.pi / 6.0
"""Widest turn between tangents at a grown corner: it reaches at most 3.6 per cent of the gap too far."""

BAND_TURN = 2.0
"""Most that the sides of one band turn, in radians, so that its rim does not come round to its sides."""

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
    """What a ring with metal on its left gains: a strip along each side, a fan at each bulging corner.

    Where the ring bends gently, the strips and fans of many sides are one band.
    """
    sides = _sides(corners, width)
    breaks = _breaks(sides, width)
    count = len(sides.at)
    spans = [
        (first, (after - first) % count or count)
        for first, after in zip(breaks, [*breaks[1:], breaks[0]], strict=True)
    ]
    bands = [_band(sides, first, many, width) for first, many in spans]
    pieces: list[shapely.Polygon] = []
    for band, sound, (first, many) in zip(bands, shapely.is_valid(bands), spans, strict=True):
        alone = [] if sound else [_band(sides, (first + k) % count, 1, width) for k in range(many)]
        pieces += alone or [band]
    return pieces


class _Sides(NamedTuple):
    """A ring side by side, as complex numbers: where each begins, its outward normal times the width.

    ``turns`` is the turn in radians from the side before, positive where the ring bulges.
    """

    at: list[complex]
    out: list[complex]
    lengths: list[float]
    turns: list[float]


def _sides(corners: NDArray[np.float64], width: float) -> _Sides:
    at = corners[:, 0] + 1j * corners[:, 1]
    at = at[at != np.roll(at, -1)]
    along = np.roll(at, -1) - at
    lengths = np.abs(along)
    along /= lengths
    turns = np.angle(along * np.conj(np.roll(along, 1)))
    return _Sides(at.tolist(), (-1j * width * along).tolist(), lengths.tolist(), turns.tolist())


def _breaks(sides: _Sides, width: float) -> list[int]:
    """The sides that begin a band: after a sharp hollow corner, and where the band would turn too far."""
    count = len(sides.at)
    lengths = sides.lengths
    sharp = [
        turn < 0.0 and width * math.tan(min(-turn, 3.0) / 2.0) > min(lengths[k - 1], lengths[k]) / 2.0
        for k, turn in enumerate(sides.turns)
    ]
    begin = sharp.index(True) if any(sharp) else 0
    breaks = [begin]
    heading = low = high = 0.0
    for step in range(1, count):
        k = (begin + step) % count
        heading += sides.turns[k]
        low, high = min(low, heading), max(high, heading)
        if sharp[k] or high - low > BAND_TURN:
            breaks.append(k)
            heading = low = high = 0.0
    return breaks


def _band(sides: _Sides, first: int, many: int, width: float) -> shapely.Polygon:
    """What so many sides in a row gain, with the fan at the end of the last."""
    count = len(sides.at)
    numbers = [(first + k) % count for k in range(many)]
    end = (first + many) % count
    rim = [sides.at[first] + sides.out[first]]
    for k in numbers[1:]:
        rim += _round(sides, k, width)
    rim.append(sides.at[end] + sides.out[numbers[-1]])
    if sides.turns[end] > 0.0:
        rim += [*_round(sides, end, width), sides.at[end] + sides.out[end]]
    around = np.array([*rim, sides.at[end], *(sides.at[k] for k in reversed(numbers))])
    return shapely.Polygon(around.view(np.float64).reshape(-1, 2))


def _round(sides: _Sides, k: int, width: float) -> list[complex]:
    """What the rim of a band is at corner k: tangents outside the arc about it, or where two strips meet."""
    before, after, turn = sides.out[k - 1], sides.out[k], sides.turns[k]
    if turn <= 0.0:
        cosine = (before * after.conjugate()).real / width**2
        return [sides.at[k] + (before + after) / (1.0 + cosine)]
    count = math.ceil(turn / TANGENT_STEP)
    half = turn / (2 * count)
    reach = before / math.cos(half)
    return [sides.at[k] + reach * cmath.exp(1j * (2 * number + 1) * half) for number in range(count)]


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
