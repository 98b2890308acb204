"""The ways in which part types may lie: turned, mirrored, each once; and their polygons grown by the gap.

Terms
-----
view
    The frame that the packer works in: the sheet seen so that its datum corner is lower left.
    Seen from another corner, parts look mirrored; they are turned back when placements are read.
solid
    A part's or an obstacle's polygon that contains its true outline.
grown
    The solid widened by the gap: two parts keep the gap when one's grown polygon does not meet
    the other's solid.
shape
    A part type's solid in mm, in the part's own frame, with the turns that it may take.
pose
    One way to lie in the view. Its reference is the part's own origin, so quarter turns of a
    pose are exact and share their maps.
family
    The poses of one shape that differ by quarter turns: one base polygon, four quarters.

A library's buffer draws round corners as chords, thins shallow hollows and so falls short of the
true offset by up to some per cent. Here every side is swept outward by the gap, exactly, and
every bulging corner gets a fan of tangents, which lie outside the true arc.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.polygon import orient

from sheetplan.model.turns import SAME_TURN_DEGREES, Corner

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


SAME_PLACE_MM = 1e-3
"""Two poses whose outlines stray no farther from each other are one pose, however exact their solids."""

MOST_POSES = 240
"""Most poses of all shapes together: beyond it, turns that are not quarter turns are thinned."""


@dataclass(frozen=True, slots=True)
class Shape:
    """A part type: its solid (it contains the true outline) and how it may be turned, in degrees.

    ``strays`` is how far the solid commonly lies outside the true outline at most, mm.
    """

    name: str
    solid: shapely.Polygon
    turns: tuple[float, ...]
    may_mirror: bool = False
    strays: float = 0.0


@dataclass(frozen=True, slots=True)
class View:
    """From which corner the sheet is seen: which axes run the other way."""

    flip_x: bool = False
    flip_y: bool = False

    @property
    def turns_over(self) -> bool:
        """Whether parts look mirrored from this corner, and so turn the other way."""
        return self.flip_x != self.flip_y


def view_from(datum: Corner) -> View:
    """The view in which a datum corner lies lower left."""
    return View(datum.is_right, datum.is_upper)


@dataclass(frozen=True, slots=True)
class Family:
    """A base polygon in the view, and the same grown by the gap, as edges.

    Shapes with the same solid have the same families.
    """

    solid: shapely.Polygon
    edges: Edges
    grown_edges: Edges


@dataclass(frozen=True, slots=True)
class Pose:
    """One way to lie. ``box`` is left, bottom, right, top about the reference, mm, in the view."""

    shape: int
    turn: float
    mirrored: bool
    family: int
    quarter: int
    solid: shapely.Polygon
    box: tuple[float, float, float, float]


def quarter_turned(solid: shapely.Polygon, quarter: int) -> shapely.Polygon:
    """The polygon turned about (0, 0) by quarter turns, exactly."""
    cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[quarter]
    return affinity.affine_transform(solid, (cos, -sin, sin, cos, 0.0, 0.0)) if quarter else solid


def _at_origin(solid: shapely.Polygon) -> shapely.Polygon:
    left, bottom, _, _ = solid.bounds
    return affinity.translate(solid, -left, -bottom)


def _is_known(solid: shapely.Polygon, known: Sequence[shapely.Polygon], strays: float) -> bool:
    """Whether a pose, its box at (0, 0), looks like a known one.

    Two solids of one true outline, a disc's before and after a turn, stray from it differently, and
    their boxes put them in slightly different places.
    """
    most = max(SAME_PLACE_MM, 2.0 * strays)
    return any(
        max(abs(a - b) for a, b in zip(solid.bounds, other.bounds, strict=True)) <= most
        and solid.boundary.hausdorff_distance(other.boundary) <= most
        # That distance is measured from corners alone: those of a U lie on the sides of a U upside down.
        and solid.symmetric_difference(other).area <= most * (solid.length + other.length)
        for other in known
    )


def _thinned(turns: Sequence[float], most: int) -> tuple[float, ...]:
    """At most ``most`` of the turns: quarter turns first, then evenly chosen ones."""
    distinct = sorted({round(turn % 360.0 / SAME_TURN_DEGREES) * SAME_TURN_DEGREES for turn in turns})
    square = [turn for turn in distinct if turn % 90.0 < SAME_TURN_DEGREES]
    askew = [turn for turn in distinct if turn not in square]
    room = max(0, most - len(square))
    if len(askew) > room:
        askew = [askew[k * len(askew) // room] for k in range(room)]
    return tuple(sorted(square + askew))


@dataclass(frozen=True, slots=True)
class PoseSet:
    """All poses of some shapes in one view; ``of_shape`` has the pose numbers of each shape."""

    shapes: tuple[Shape, ...]
    view: View
    gap: float
    families: tuple[Family, ...]
    poses: tuple[Pose, ...]
    of_shape: tuple[tuple[int, ...], ...]


class _PoseMaker:
    """Collects the distinct poses of shape after shape."""

    def __init__(self, gap: float, view: View) -> None:
        self._gap = gap
        self._view = view
        self._bases: dict[tuple[bytes, bool, int], int] = {}
        self.families: list[Family] = []
        self.poses: list[Pose] = []

    def add_shape(self, index: int, shape: Shape, most: int) -> tuple[int, ...]:
        """Add the poses of a shape; returns their numbers."""
        first = len(self.poses)
        known: list[shapely.Polygon] = []
        sides = (False, True) if shape.may_mirror else (False,)
        for mirrored in sides:
            for turn in _thinned(shape.turns, most // len(sides)):
                self._add(index, shape, turn, mirrored, known)
        return tuple(range(first, len(self.poses)))

    def _add(
        self, index: int, shape: Shape, turn: float, mirrored: bool, known: list[shapely.Polygon]
    ) -> None:
        """Add one pose, and its family where it is the first of it, unless it looks like a known one."""
        seen = (-turn if self._view.turns_over else turn) % 360.0
        quarter = int((seen + SAME_TURN_DEGREES) // 90.0) % 4
        base_turn = (seen - 90.0 * quarter + SAME_TURN_DEGREES) % 360.0 - SAME_TURN_DEGREES
        base = self._based(shape.solid, mirrored, base_turn)
        solid = quarter_turned(base, quarter)
        at_origin = _at_origin(solid)
        if _is_known(at_origin, known, shape.strays):
            return
        known.append(at_origin)
        key = (shape.solid.wkb, mirrored, round(base_turn / SAME_TURN_DEGREES))
        if key not in self._bases:
            self._bases[key] = len(self.families)
            self.families.append(Family(base, edges(base), edges(grown(base, self._gap))))
        self.poses.append(Pose(index, turn, mirrored, self._bases[key], quarter, solid, solid.bounds))

    def _based(self, solid: shapely.Polygon, mirrored: bool, turn: float) -> shapely.Polygon:
        """The solid as seen in the view, mirrored and turned; an untouched one where nothing is to do."""
        across = -1.0 if self._view.flip_x != mirrored else 1.0
        up = -1.0 if self._view.flip_y else 1.0
        if across < 0.0 or up < 0.0:
            solid = affinity.affine_transform(solid, (across, 0.0, 0.0, up, 0.0, 0.0))
        return solid if abs(turn) <= SAME_TURN_DEGREES else affinity.rotate(solid, turn, origin=(0, 0))


def make_poses(shapes: Sequence[Shape], gap: float, view: View) -> PoseSet:
    """Every distinct way in which the shapes may lie, with their grown polygons."""
    maker = _PoseMaker(gap, view)
    most = max(4, MOST_POSES // max(1, len(shapes)))
    of_shape = tuple(maker.add_shape(index, shape, most) for index, shape in enumerate(shapes))
    return PoseSet(tuple(shapes), view, gap, tuple(maker.families), tuple(maker.poses), of_shape)


def pose_boxes(poses: Sequence[Pose]) -> Edges:
    """The boxes of poses, shape (n, 4), mm."""
    return np.array([pose.box for pose in poses], dtype=np.float64).reshape(-1, 4)
