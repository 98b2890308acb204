"""The ways in which part types may lie: turned, mirrored, each once.

Terms
-----
view
    The frame that the packer works in: the sheet seen so that its datum corner is lower left.
    Seen from another corner, parts look mirrored; they are turned back when placements are read.
shape
    A part type's solid in mm, in the part's own frame, with the turns that it may take.
pose
    One way to lie in the view. Its reference is the part's own origin, so quarter turns of a
    pose are exact and share their maps.
family
    The poses of one shape that differ by quarter turns: one base polygon, four quarters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity

from sheetplan.model.settings import Corner
from sheetplan.model.turns import SAME_TURN_DEGREES
from sheetplan.packing.outlines.growing import Edges, edges, grown

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
