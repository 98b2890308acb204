"""How a sheet lies on the table, from points measured on it, and the layout turned to fit.

Terms
-----
sheet point
    Where a point should be, measured from the sheet's datum corner: along the length to the right,
    along the width upwards, as the sheet was planned.
table point
    Where the machine finds it, in the table's own coordinates.
lie
    The turn and shift that take sheet points to table points. A sheet does not stretch, so what no
    turn and shift can explain is an error of measuring, or another sheet.

All in mm and degrees, turns counter-clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sheetplan.drawings.layers import Role
from sheetplan.drawings.writing.scene import Curve, Label, Scene
from sheetplan.model.outline import Stroke
from sheetplan.shapes import box, move, turn
from sheetplan.shapes.loops import cos_sin
from sheetplan.trade.units import SAME_LENGTH_MM

Point = tuple[float, float]


SECOND_POINT_SHARE = 0.75
"""How far along the edge the second point is touched at least: the farther, the truer the angle."""


@dataclass(frozen=True, slots=True)
class Lie:
    """Turn about the datum corner, then shift. ``worst`` is how far the worst point stays off, mm."""

    turn: float
    x: float
    y: float
    worst: float = 0.0

    def at(self, point: Point) -> Point:
        """Where a sheet point lies on the table."""
        cos, sin = cos_sin(self.turn)
        return self.x + cos * point[0] - sin * point[1], self.y + sin * point[0] + cos * point[1]


def lie_from_points(sheet: Sequence[Point], table: Sequence[Point]) -> Lie:
    """The lie that fits measured points best: least sum of squared distances.

    The best turn carries the points' spread about their middle, seen as complex numbers, from one
    set to the other; the best shift then joins the middles (the plane case of Kabsch, "A solution
    for the best rotation to relate two sets of vectors", Acta Cryst. A32, 1976). Two points fit but
    for their distance, whose error is shared between both ends.

    Raises
    ------
    ValueError
        With fewer than two points, or where all lie at one place and no turn can be told.
    """
    if len(sheet) != len(table) or len(sheet) < 2:
        raise ValueError("at least two points have to be measured")
    sx, sy = _middle(sheet)
    tx, ty = _middle(table)
    along = across = spread = 0.0
    for (ax, ay), (bx, by) in zip(sheet, table, strict=True):
        ax, ay, bx, by = ax - sx, ay - sy, bx - tx, by - ty
        along += ax * bx + ay * by
        across += ax * by - ay * bx
        spread = max(spread, math.hypot(ax, ay))
    if spread <= SAME_LENGTH_MM or math.hypot(along, across) <= SAME_LENGTH_MM**2:
        raise ValueError("the points lie at one place, so the turn of the sheet cannot be told")
    degrees = math.degrees(math.atan2(across, along))
    cos, sin = cos_sin(degrees)
    lie = Lie(degrees, tx - (cos * sx - sin * sy), ty - (sin * sx + cos * sy))
    worst = max(math.dist(lie.at(point), found) for point, found in zip(sheet, table, strict=True))
    return replace(lie, worst=worst)


def _middle(points: Sequence[Point]) -> Point:
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)


def lie_from_edge(corner: Point, along: Point, *, backwards: bool = False) -> Lie:
    """The lie from the datum corner and any other point on the long edge that starts there.

    ``backwards`` where the datum corner is at the right end, so that the edge runs to the left.
    """
    dx, dy = along[0] - corner[0], along[1] - corner[1]
    if math.hypot(dx, dy) <= SAME_LENGTH_MM:
        raise ValueError("both points lie at one place, so the turn of the sheet cannot be told")
    degrees = math.degrees(math.atan2(-dy, -dx) if backwards else math.atan2(dy, dx))
    return Lie(degrees, *corner)


def lie_from_angle(corner: Point, degrees: float) -> Lie:
    """The lie from the datum corner and the turn of the sheet."""
    return Lie(degrees, *corner)


def laid(scene: Scene, lie: Lie) -> Scene:
    """A layout's scene as its sheet lies on the table; its origin is then the table's zero."""
    ox, oy = scene.origin

    def lay(curve: Curve) -> Curve:
        if isinstance(curve.chain, Stroke):
            return replace(curve, chain=move(turn(move(curve.chain, -ox, -oy), lie.turn), lie.x, lie.y))
        return replace(curve, chain=move(turn(move(curve.chain, -ox, -oy), lie.turn), lie.x, lie.y))

    labels = tuple(_laid_label(label, scene.origin, lie) for label in scene.labels)
    curves = tuple(lay(curve) for curve in scene.curves)
    edge = lay(Curve(Role.SHEET, scene.sheet)).chain
    assert not isinstance(edge, Stroke), "an edge stays a loop"
    return replace(scene, sheet=edge, origin=(0.0, 0.0), curves=curves, labels=labels)


def _laid_label(label: Label, origin: Point, lie: Lie) -> Label:
    x, y = lie.at((label.x - origin[0], label.y - origin[1]))
    return replace(label, x=x, y=y, turn=label.turn + lie.turn)


CROSS_SHARE = 0.01
"""Half the arm of a check cross over the sheet's longer side."""

MOST_CHECKS = 12
"""Old cuts whose corner is marked; more would hide one another."""


def check_points(scene: Scene) -> tuple[Point, ...]:
    """Points to compare by eye or with a pointer before cutting: corners of the sheet and of old cuts."""
    points = [_xy(vertex) for vertex in scene.sheet.vertices]
    old = [curve.chain for curve in scene.curves if curve.role is Role.OLD_CUT]
    old.sort(key=lambda chain: -box(chain).length * box(chain).width)
    for chain in old[:MOST_CHECKS]:
        points.append(_xy(chain.vertices[0]))
        points.append(_xy(max(chain.vertices, key=lambda v: math.dist(v[:2], points[-1]))))
    return tuple(points)


def check_scene(scene: Scene) -> Scene:
    """Edge and old cuts alone, with a cross at each check point."""
    kept = [curve for curve in scene.curves if curve.role in (Role.SHEET, Role.OLD_CUT)]
    around = box(scene.sheet)
    arm = max(around.length, around.width) * CROSS_SHARE
    crosses = []
    for x, y in check_points(scene):
        crosses.append(Curve(Role.LABEL, Stroke(((x - arm, y, 0.0), (x + arm, y, 0.0)))))
        crosses.append(Curve(Role.LABEL, Stroke(((x, y - arm, 0.0), (x, y + arm, 0.0)))))
    return replace(scene, curves=(*kept, *crosses), labels=())


def _xy(vertex: tuple[float, float, float]) -> Point:
    return vertex[0], vertex[1]
