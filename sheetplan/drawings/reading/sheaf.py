"""What a drawing holds before it is put in order: loose lines and arcs on layers; curves are fitted by
arcs.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sheetplan.drawings.reading.findings import Finding
from sheetplan.shapes.arcs import Piece, point_at

# What a drawing holds before it is put in order: loose lines and arcs on layers.
#
# Every reader (DXF, SVG) delivers this, and everything after it is the same for both.

FARTHEST = 1e10
"""Coordinates beyond this many units are damage: floats keep six decimals this far out."""


def sound(piece: Piece) -> bool:
    """Whether a piece has coordinates that can be reckoned with."""
    ends = (piece.x0, piece.y0, piece.x1, piece.y1)
    if not all(abs(value) <= FARTHEST for value in ends):
        return False
    return math.isfinite(piece.bulge) and piece.chord * abs(piece.bulge) <= FARTHEST


@dataclass(frozen=True, slots=True)
class Drawn:
    """One line or arc in the drawing's own units, its layer, and its line style (empty if unbroken)."""

    piece: Piece
    layer: str
    style: str = ""


@dataclass(frozen=True, slots=True)
class Sheaf:
    """Everything of one file.

    ``unit_mm`` is the drawing's unit in mm as far as the file says, ``unit_said`` in words where
    that comes from; None and empty where the file does not say. ``passed_over`` counts what is
    never cut (texts, dimensions, hatches) by what it is called. With ``y_down`` the file counts y
    downwards; here it is turned upwards all the same.
    """

    form: str
    pieces: tuple[Drawn, ...]
    unit_mm: float | None
    unit_said: str
    passed_over: Mapping[str, int] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    y_down: bool = False


# Curves as arcs within a stated tolerance.
#
# Between two points of a smooth curve with their tangents stands one pair of arcs that meet
# smoothly, a biarc (K. M. Bolton, Biarc curves, Computer-Aided Design 7, 1975). The whole curve is
# laid out as points so dense that the chords between them hardly leave it; then each pair of arcs
# reaches as far along it as the tolerance allows, whatever knots lie between. Pairs share their
# tangents, so that arcs meet smoothly wherever the curve is smooth.
#
# Arcs are held against the points and the chords both ways (`_Stretch`).

Point = tuple[float, float]
Array = NDArray[np.floating]
Curve = Callable[[Array], tuple[Array, Array]]
"""Points and tangents (any length), each of shape (n, 2), at n parameters."""

FIRST_STEPS = 8
"""Steps between two stops by which the curve's bends are judged."""

MOST_STEPS = 256
"""Steps between two stops at the most."""

MOST_HALVINGS = 12
"""Of a step in which the curve still bends away from its chord: near a cusp it bends within a hair."""

MOST_POINTS = 500_000

CHORD_SHARE = 0.05
"""How far the curve may stray from the chords between its points, over the tolerance."""

ARC_SHARE = 0.88
"""How far the points may stray from the arcs, over the tolerance; with the chords' share it stays below 1."""

SMOOTH = 1e-6
"""One less the cosine of the angle by which a curve may turn at a stop and still count as smooth."""

SHARP = 0.6
"""Radians that a curve turns between two points: more is a cusp, at which arcs cannot meet smoothly."""

LONGER = 1.05
"""Arcs longer than this over their stretch of the curve go another way than it does."""

WIDEST_SWEEP = 0.75 * math.pi
"""Of one arc of a pair, radians: wider ones have no digits left in their bulge or turn back."""

ALONG = (0.15, 0.3, 0.45, 0.6, 0.75, 0.9)
"""Where an arc is held against the curve."""

SLIGHT = 0.1
"""An arc that rises over the widest step by less than this share of the tolerance is held well enough."""

ON_CHORD = 1e-9
"""Share of the chord below which a stretch counts as straight."""

FLAT = 1e-7
"""An arc with a smaller bulge is measured as its chord."""


def fit_arcs(curve: Curve, stops: Sequence[float], tolerance: float) -> list[Piece]:
    """Arcs and lines along a curve from the first of ``stops`` to the last.

    Parameters
    ----------
    curve : Curve
        The curve; its tangent may jump at the inner stops.
    stops : Sequence[float]
        Rising parameters between which the curve is smooth.
    tolerance : float
        The most that the curve may stray from the result, in the curve's units.

    Raises
    ------
    ValueError
        If the curve has points that are no numbers.
    """
    with np.errstate(all="ignore"):
        rising = np.asarray(stops, np.float64)
        parameters = _parameters(curve, rising, tolerance)
        points, tangents = curve(parameters)
        if not (np.isfinite(points).all() and np.isfinite(tangents).all()):
            raise ValueError("its coordinates are no numbers")
        corners = _corners(curve, rising)
        pieces: list[Piece] = []
        for start, stop in _runs(parameters, points, corners):
            pieces += _fitted(curve, parameters[start : stop + 1], points[start : stop + 1], tolerance)
    return pieces


def _parameters(curve: Curve, stops: Array, tolerance: float) -> Array:
    """Parameters so dense that the chords between the curve's points stray from it by a small share."""
    spans = np.diff(stops)
    first = stops[:-1, None] + spans[:, None] * np.linspace(0.0, 1.0, FIRST_STEPS + 1)[None, :]
    points, _ = curve(first.ravel())
    if not np.isfinite(points).all():
        raise ValueError("its coordinates are no numbers")
    rows = points.reshape(len(spans), FIRST_STEPS + 1, 2)
    bends = rows[:, 2:] - 2.0 * rows[:, 1:-1] + rows[:, :-2]
    # A chord strays from the curve by an eighth of the second difference over its own step.
    stray = np.hypot(bends[..., 0], bends[..., 1]).max(axis=1) / 8.0
    factor = np.sqrt(stray / (CHORD_SHARE * tolerance)) if tolerance > 0.0 else np.ones(len(spans))
    steps = np.clip(np.ceil(FIRST_STEPS * factor), 2, MOST_STEPS).astype(np.int64)
    inner = [stops[k] + spans[k] * np.arange(count) / count for k, count in enumerate(steps.tolist())]
    parameters = np.append(np.concatenate(inner), stops[-1])
    for _ in range(MOST_HALVINGS):
        middles = (parameters[:-1] + parameters[1:]) / 2.0
        far = _off_chords(curve(parameters)[0], curve(middles)[0]) > 2.0 * CHORD_SHARE * tolerance
        if not far.any() or len(parameters) > MOST_POINTS:
            break
        parameters = np.sort(np.concatenate([parameters, middles[far]]))
    return parameters


def _off_chords(points: Array, middles: Array) -> Array:
    """How far the middle of each step lies from its chord."""
    chords, ahead = np.diff(points, axis=0), middles - points[:-1]
    square = (chords**2).sum(axis=1)
    share = np.divide((ahead * chords).sum(axis=1), square, out=np.zeros_like(square), where=square > 0.0)
    off = ahead - np.clip(share, 0.0, 1.0)[:, None] * chords
    away: Array = np.hypot(off[:, 0], off[:, 1])
    return away


def _corners(curve: Curve, stops: Array) -> Array:
    """The inner stops at which the tangent jumps."""
    inner = stops[1:-1]
    if not len(inner):
        return inner
    before = _units(curve(inner - 1e-6 * np.diff(stops)[:-1])[1])
    after = _units(curve(inner + 1e-6 * np.diff(stops)[1:])[1])
    corners: Array = inner[(before * after).sum(axis=1) < 1.0 - SMOOTH]
    return corners


def _runs(parameters: Array, points: Array, corners: Array) -> Iterator[tuple[int, int]]:
    """Stretches between corners and cusps, by the index of their first and last point."""
    chords = np.diff(points, axis=0)
    ways = np.arctan2(chords[:, 1], chords[:, 0])
    turns = np.abs((np.diff(ways) + math.pi) % (2.0 * math.pi) - math.pi)
    cusps = np.flatnonzero(turns > SHARP) + 1
    breaks = np.union1d(np.searchsorted(parameters, corners), cusps)
    yield from itertools.pairwise([0, *(int(i) for i in breaks if 0 < i < len(points) - 1), len(points) - 1])


def _fitted(curve: Curve, parameters: Array, points: Array, tolerance: float) -> Iterator[Piece]:
    """Pairs of arcs along one smooth stretch, each as long as it may be."""
    # At its ends the tangents just inside are taken: at a corner the curve has another one beyond.
    inside = parameters.copy()
    inside[0] += (parameters[1] - parameters[0]) * 1e-6
    inside[-1] -= (parameters[-1] - parameters[-2]) * 1e-6
    stretch = _Stretch(points, _tangents(curve(inside)[1], points), tolerance * ARC_SHARE)
    at, last, reach = 0, len(points) - 1, 4
    while at < last:
        end, pieces = stretch.farthest(at, reach)
        yield from pieces
        reach, at = max(2, end - at), end


def _tangents(slopes: Array, points: Array) -> Array:
    """Unit tangents; where the curve stands still, the way to the neighbours."""
    tangents = _units(slopes)
    still = np.flatnonzero((tangents == 0.0).all(axis=1))
    for i in still.tolist():
        tangents[i] = _units(points[min(i + 1, len(points) - 1)] - points[max(i - 1, 0)])
    return tangents


def _units(vectors: Array) -> Array:
    lengths = np.hypot(vectors[..., 0], vectors[..., 1])[..., None]
    units: Array = np.divide(vectors, lengths, out=np.zeros_like(vectors), where=lengths > 0.0)
    return units


class _Stretch:
    """A smooth stretch as points with tangents, and how far a pair of arcs reaches along it."""

    def __init__(self, points: Array, tangents: Array, most: float) -> None:
        self.points, self.most = points, most
        self.ends: list[Point] = [(x, y) for x, y in points.tolist()]
        self.ways: list[Point] = [(x, y) for x, y in tangents.tolist()]
        self.steps: Array = np.hypot(*np.diff(points, axis=0).T)
        self.along: list[float] = [0.0, *np.cumsum(self.steps).tolist()]

    def farthest(self, start: int, guess: int) -> tuple[int, list[Piece]]:
        """The farthest point that is reached from ``start``, and the pieces to it."""
        last = len(self.ends) - 1
        near, best = start + 1, self.reaching(start, start + 1) or self.chord(start, start + 1)
        far = min(start + guess, last)
        while far > near and (found := self.reaching(start, far)) is not None:
            near, best = far, found
            far = min(start + 2 * (far - start), last)
        while far - near > 1:
            middle = (near + far) // 2
            found = self.reaching(start, middle)
            if found is None:
                far = middle
            else:
                near, best = middle, found
        return near, best

    def chord(self, start: int, stop: int) -> list[Piece]:
        """A straight line, where no arcs meet smoothly."""
        if self.along[stop] == self.along[start]:
            return []
        return [Piece(*self.ends[start], *self.ends[stop], 0.0)]

    def reaching(self, start: int, stop: int) -> list[Piece] | None:
        """The pieces from one point to another if they keep to the curve."""
        length = self.along[stop] - self.along[start]
        if length <= self.most * 1e-3:
            return []
        pieces = biarc(self.ends[start], self.ways[start], self.ends[stop], self.ways[stop])
        if not pieces or any(abs(piece.sweep) > WIDEST_SWEEP for piece in pieces):
            return None
        if sum(piece.length for piece in pieces) > LONGER * length + 2.0 * self.most:
            return None
        between = self.points[start + 1 : stop]
        if len(between) and _stray(pieces, between) > self.most:
            return None
        # Where points lie far apart an arc may bulge between them with none to hold it.
        return None if self.bulging(pieces, start, stop) else pieces

    def bulging(self, pieces: Sequence[Piece], start: int, stop: int) -> bool:
        """Whether the pieces stray from the chords between the points."""
        rounds = min(piece.radius for piece in pieces)
        if float(self.steps[start:stop].max()) ** 2 <= 8.0 * rounds * SLIGHT * self.most:
            return False
        ours = np.array([point_at(piece, share) for piece in pieces for share in ALONG])[:, None, :]
        chords = np.diff(self.points[start : stop + 1], axis=0)
        ahead = ours - self.points[start:stop]
        square = (chords**2).sum(axis=1)
        along = (ahead * chords).sum(axis=2)
        share = np.divide(along, square, out=np.zeros_like(along), where=square > 0.0)
        off = ahead - np.clip(share, 0.0, 1.0)[..., None] * chords
        return bool((np.hypot(off[..., 0], off[..., 1]).min(axis=1) > self.most).any())


def _stray(pieces: Sequence[Piece], points: Array) -> float:
    """How far the farthest of the points lies from the nearest of the pieces."""
    away = _distances(pieces[0], points)
    for piece in pieces[1:]:
        away = np.minimum(away, _distances(piece, points))
    return float(away.max())


def _distances(piece: Piece, points: Array) -> Array:
    x, y = points[:, 0] - piece.x0, points[:, 1] - piece.y0
    dx, dy = piece.x1 - piece.x0, piece.y1 - piece.y0
    share = np.clip((x * dx + y * dy) / (dx * dx + dy * dy), 0.0, 1.0)
    if abs(piece.bulge) <= FLAT:
        away: Array = np.hypot(x - share * dx, y - share * dy)
        return away
    cx, cy = piece.centre[0] - piece.x0, piece.centre[1] - piece.y0
    round_about = np.abs(np.hypot(x - cx, y - cy) - piece.radius)
    # In the wedge between the radii to the ends the arc is nearest; beside it one of the ends.
    sign = math.copysign(1.0, piece.bulge)
    ahead = sign * (-cx * (y - cy) + cy * (x - cx)) >= 0.0
    short = sign * ((dx - cx) * (y - cy) - (dy - cy) * (x - cx)) <= 0.0
    to_ends = np.minimum(np.hypot(x, y), np.hypot(x - dx, y - dy))
    within: Array = np.where(ahead & short, round_about, to_ends)
    return within


def biarc(p: Point, t: Point, q: Point, u: Point) -> list[Piece]:
    """Two arcs from ``p`` with unit tangent ``t`` to ``q`` with unit tangent ``u``; empty if there are none.

    The arcs are those whose tangent lengths at both ends are equal.
    """
    vx, vy = q[0] - p[0], q[1] - p[1]
    chord2 = vx * vx + vy * vy
    if chord2 == 0.0 or t == (0.0, 0.0) or u == (0.0, 0.0):
        return []
    if abs(vx * t[1] - vy * t[0]) + abs(vx * u[1] - vy * u[0]) <= ON_CHORD * math.sqrt(chord2) and (
        vx * t[0] + vy * t[1] > 0.0 and vx * u[0] + vy * u[1] > 0.0
    ):
        return [Piece(*p, *q, 0.0)]
    reach = _tangent_length(vx, vy, t, u)
    if reach is None:
        return []
    joint = (
        (p[0] + q[0] + reach * (t[0] - u[0])) / 2.0,
        (p[1] + q[1] + reach * (t[1] - u[1])) / 2.0,
    )
    if joint in (p, q):
        return []
    back = (-u[0], -u[1])
    return [Piece(*p, *joint, bulge_to(p, t, joint)), Piece(*joint, *q, 0.0 - bulge_to(q, back, joint))]


def bulge_to(p: Point, t: Point, q: Point) -> float:
    """The bulge of the arc that leaves ``p`` along the unit vector ``t`` and ends at ``q``."""
    vx, vy = q[0] - p[0], q[1] - p[1]
    # The chord leans from the tangent by half the included angle; a bulge is the tangent of a quarter.
    lean = math.atan2(t[0] * vy - t[1] * vx, t[0] * vx + t[1] * vy)
    return math.tan(lean / 2.0)


def _tangent_length(vx: float, vy: float, t: Point, u: Point) -> float | None:
    """Equal tangent lengths d: |q - p - d (t + u)| = 2 d, the positive root."""
    wx, wy = t[0] + u[0], t[1] + u[1]
    a = 4.0 - (wx * wx + wy * wy)
    b = vx * wx + vy * wy
    c = vx * vx + vy * vy
    if a < 1e-12:
        return c / (2.0 * b) if b > 0.0 else None
    reach = (-b + math.sqrt(b * b + a * c)) / a
    return reach if reach > 0.0 else None
