"""Loops and outlines: measured exactly on arcs, moved, compared, and flattened with a stated bound."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.model.outline import Loop, Outline, Stroke, Vertex
from sheetplan.model.turns import Corner, same_turn
from sheetplan.shapes.arcs import Piece, extremes, pieces, segment_area
from sheetplan.trade.units import SAME_LENGTH_MM

if TYPE_CHECKING:
    from sheetplan.model.plan import Placement

# Areas, lengths and boxes of loops and outlines, exact on arcs.


class Box(NamedTuple):
    """The smallest upright rectangle around something, mm."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def length(self) -> float:
        """Extent along x."""
        return self.right - self.left

    @property
    def width(self) -> float:
        """Extent along y."""
        return self.top - self.bottom

    @property
    def area(self) -> float:
        """Its area, mm2."""
        return self.length * self.width


def signed_area(loop: Loop) -> float:
    """Area of a loop in mm2, positive when it runs counter-clockwise, exact on arcs."""
    ox, oy, _ = loop.vertices[0]
    total = 0.0
    for x0, y0, x1, y1, bulge in pieces(loop):
        cross = (x0 - ox) * (y1 - oy) - (x1 - ox) * (y0 - oy)
        total += cross / 2.0 + (segment_area(Piece(x0, y0, x1, y1, bulge)) if bulge else 0.0)
    return total


def area(shape: Loop | Outline) -> float:
    """Area in mm2: inside a loop, or the metal of an outline (holes taken off).

    >>> from sheetplan.model.outline import rectangle
    >>> area(rectangle(4.0, 3.0))
    12.0
    """
    if isinstance(shape, Loop):
        return abs(signed_area(shape))
    return area(shape.outer) - sum(area(hole) for hole in shape.holes)


def perimeter(chain: Loop | Stroke) -> float:
    """Length along a loop or stroke, mm, exact on arcs."""
    return sum(piece.length for piece in pieces(chain))


def cut_length(outline: Outline) -> float:
    """Length that is cut through: outer loop and holes, mm; marks are not cut."""
    return perimeter(outline.outer) + sum(perimeter(hole) for hole in outline.holes)


def pierces(outline: Outline) -> int:
    """How often the torch starts: once for the outer loop and once for each hole."""
    return 1 + len(outline.holes)


def box(shape: Loop | Stroke | Outline) -> Box:
    """The smallest upright rectangle around a shape, exact on arcs; an outline's is its outer loop's."""
    chain = shape.outer if isinstance(shape, Outline) else shape
    xs = [vertex[0] for vertex in chain.vertices]
    ys = [vertex[1] for vertex in chain.vertices]
    if any(vertex[2] for vertex in chain.vertices):
        for piece in pieces(chain):
            if piece.bulge:
                for x, y in extremes(piece):
                    xs.append(x)
                    ys.append(y)
    return Box(min(xs), min(ys), max(xs), max(ys))


def size(outline: Outline | Loop) -> tuple[float, float]:
    """Length (along x) and width (along y) of the box, mm."""
    around = box(outline)
    return around.length, around.width


# Turning, moving and mirroring outlines; bulges, and so arcs, are kept as they are.

Shape = TypeVar("Shape", Loop, Stroke, Outline)

_QUARTERS = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))


def cos_sin(degrees: float) -> tuple[float, float]:
    """Cosine and sine of a turn; quarter turns exactly, so that they leave no dust.

    >>> cos_sin(90.0), cos_sin(-90.0)
    ((0.0, 1.0), (0.0, -1.0))
    """
    for quarter, exact in enumerate(_QUARTERS):
        if same_turn(degrees, 90.0 * quarter):
            return exact
    radians = math.radians(degrees % 360.0)
    return math.cos(radians), math.sin(radians)


def _mapped(shape: Shape, change: Callable[[Vertex], Vertex]) -> Shape:
    if isinstance(shape, Outline):
        return Outline(
            _mapped(shape.outer, change),
            tuple(_mapped(hole, change) for hole in shape.holes),
            tuple(_mapped(mark, change) for mark in shape.marks),
        )
    return type(shape)(tuple(map(change, shape.vertices)))


def move(shape: Shape, dx: float, dy: float) -> Shape:
    """The shape moved by ``(dx, dy)`` mm."""
    return _mapped(shape, lambda v: (v[0] + dx, v[1] + dy, v[2]))


def turn(shape: Shape, degrees: float) -> Shape:
    """The shape turned counter-clockwise about (0, 0)."""
    cos, sin = cos_sin(degrees)
    return _mapped(shape, lambda v: (cos * v[0] - sin * v[1] + 0.0, sin * v[0] + cos * v[1] + 0.0, v[2]))


def mirror(shape: Shape) -> Shape:
    """The shape with x turned into -x; arcs turn the other way."""
    return _mapped(shape, lambda v: (0.0 - v[0], v[1], 0.0 - v[2]))


def place(shape: Shape, placement: Placement) -> Shape:
    """The shape where a placement puts it: mirrored (x to -x), then turned, then moved."""
    cos, sin = cos_sin(placement.turn)
    flip = -1.0 if placement.mirrored else 1.0
    dx, dy = placement.x, placement.y

    def change(vertex: Vertex) -> Vertex:
        x, y, bulge = vertex
        x *= flip
        return cos * x - sin * y + dx, sin * x + cos * y + dy, flip * bulge

    return _mapped(shape, change)


def settle(outline: Outline) -> Outline:
    """The outline moved so that the lower left corner of its box lies at (0, 0)."""
    around = box(outline)
    if around.left == 0.0 and around.bottom == 0.0:
        return outline
    return move(outline, -around.left, -around.bottom)


def reverse(chain: Loop) -> Loop:
    """The same loop run the other way, from the same first vertex."""
    first, rest = chain.vertices[0], chain.vertices[1:]
    order = (first, *reversed(rest))
    before = (chain.vertices[-1], *reversed(chain.vertices[:-1]))
    return Loop(tuple((x, y, 0.0 - b[2]) for (x, y, _), b in zip(order, before, strict=True)))


def oriented(loop: Loop, *, counter_clockwise: bool = True) -> Loop:
    """The loop run counter-clockwise (or clockwise)."""
    return loop if (signed_area(loop) > 0.0) == counter_clockwise else reverse(loop)


# Recognising plain shapes, and whether two loops are the same.


def is_rectangle(shape: Outline | Loop) -> bool:
    """Whether the outer loop is a plain upright rectangle; holes and marks do not matter."""
    loop = shape.outer if isinstance(shape, Outline) else shape
    rises = (abs(vertex[2]) * _chord(loop, i) / 2.0 for i, vertex in enumerate(loop.vertices))
    if max(rises) > SAME_LENGTH_MM:
        return False
    around = box(loop)
    if min(around.length, around.width) <= SAME_LENGTH_MM:
        return False
    corners = set()
    for i, (x, y, _) in enumerate(loop.vertices):
        ahead_x, ahead_y, _ = loop.vertices[(i + 1) % len(loop.vertices)]
        if min(abs(ahead_x - x), abs(ahead_y - y)) > SAME_LENGTH_MM:
            return False
        at_side = min(x - around.left, around.right - x) <= SAME_LENGTH_MM
        at_end = min(y - around.bottom, around.top - y) <= SAME_LENGTH_MM
        if not (at_side or at_end):
            return False
        if at_side and at_end:
            corners.add((x - around.left < around.length / 2, y - around.bottom < around.width / 2))
    return len(corners) == 4


def _chord(loop: Loop, i: int) -> float:
    x0, y0, _ = loop.vertices[i]
    x1, y1, _ = loop.vertices[(i + 1) % len(loop.vertices)]
    return math.hypot(x1 - x0, y1 - y0)


def without_corner(length: float, width: float, gone_length: float, gone_width: float, at: Corner) -> Loop:
    """A rectangle with a smaller one cut from a corner: six corners, lower left of the whole at (0, 0).

    >>> without_corner(10.0, 6.0, 4.0, 2.0, Corner.UPPER_RIGHT).vertices[2:5]
    ((10.0, 4.0, 0.0), (6.0, 4.0, 0.0), (6.0, 6.0, 0.0))
    """
    inner_x, inner_y = length - gone_length, width - gone_width
    right = [(length, 0.0), (length, inner_y), (inner_x, inner_y), (inner_x, width)]
    points = [(0.0, 0.0), *right, (0.0, width)]
    if not at.is_right:
        points = [(length - x, y) for x, y in reversed(points)]
    if not at.is_upper:
        points = [(x, width - y) for x, y in reversed(points)]
    return Loop(tuple((x, y, 0.0) for x, y in points))


def across_corner(length: float, width: float, gone_length: float, gone_width: float, at: Corner) -> Loop:
    """A rectangle with a corner cut off straight; as wide or as long as the whole, the corner goes with it.

    >>> across_corner(10.0, 6.0, 4.0, 6.0, Corner.UPPER_RIGHT).vertices
    ((0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (6.0, 6.0, 0.0), (0.0, 6.0, 0.0))
    """
    cut = (length, width - gone_width), (length - gone_length, width)
    points = [(0.0, 0.0), (length, 0.0), *cut, (0.0, width)]
    kept = [
        point for point, before in zip(points, (points[-1], *points[:-1]), strict=True)
        if math.dist(point, before) > SAME_LENGTH_MM
    ]  # fmt: skip
    if not at.is_right:
        kept = [(length - x, y) for x, y in reversed(kept)]
    if not at.is_upper:
        kept = [(x, width - y) for x, y in reversed(kept)]
    return Loop(tuple((x, y, 0.0) for x, y in kept))


def same_loop(first: Loop, second: Loop, tolerance: float = SAME_LENGTH_MM) -> bool:
    """Whether two loops have the same vertices and arcs, whatever their start and direction."""
    if len(first.vertices) != len(second.vertices):
        return False
    a, b = oriented(first).vertices, oriented(second).vertices
    return any(_same_vertices(a, b[k:] + b[:k], tolerance) for k in range(len(b)))


def _same_vertices(first: tuple[Vertex, ...], second: tuple[Vertex, ...], tolerance: float) -> bool:
    """Vertex by vertex; bulges are compared by how far apart they put the middle of the piece."""
    for i, ((ax, ay, a_bulge), (bx, by, b_bulge)) in enumerate(zip(first, second, strict=True)):
        if max(abs(ax - bx), abs(ay - by)) > tolerance:
            return False
        ahead_x, ahead_y, _ = first[(i + 1) % len(first)]
        if abs(a_bulge - b_bulge) * math.hypot(ahead_x - ax, ahead_y - ay) / 2.0 > tolerance:
            return False
    return True


def circle_loop(x: float, y: float, radius: float) -> Loop:
    """A full circle as two half turns."""
    return Loop(((x - radius, y, 1.0), (x + radius, y, 1.0)))


def as_circle(loop: Loop) -> tuple[float, float, float] | None:
    """Centre and radius of a loop that is one full circle, or None.

    >>> as_circle(Loop(((0.0, 0.0, 1.0), (4.0, 0.0, 1.0))))
    (2.0, 0.0, 2.0)
    """
    arcs = list(pieces(loop))
    if not arcs or any(arc.bulge * arcs[0].bulge <= 0.0 for arc in arcs):
        return None
    around = box(loop)
    radius = (around.length + around.width) / 4.0
    x, y = (around.left + around.right) / 2.0, (around.bottom + around.top) / 2.0
    for arc in arcs:
        cx, cy = arc.centre
        if max(abs(cx - x), abs(cy - y), abs(arc.radius - radius)) > SAME_LENGTH_MM:
            return None
    once_round = abs(sum(arc.sweep for arc in arcs))
    return (x, y, radius) if abs(once_round - 2.0 * math.pi) * radius <= SAME_LENGTH_MM else None


# Runs of arcs on one circle taken together again, as programs cut circles into quarters.

SAME_CIRCLE_MM = 1e-6
"""Arcs whose centres and radii differ by less lie on one circle: what decimals in a file lose."""

HALF_TURN = math.pi + 1e-9


def merged(loop: Loop) -> Loop:
    """The loop with arcs that carry on along one circle joined, up to half a turn each.

    A full circle becomes two half turns. Lines stay as they are.
    """
    circle = as_circle(loop)
    if circle and all(_on_circle(piece, circle) for piece in pieces(loop)):
        whole = circle_loop(*circle)
        turning = next(pieces(loop)).bulge
        return whole if turning > 0.0 else Loop(tuple((x, y, -b) for x, y, b in whole.vertices))
    kept: list[Piece] = []
    for piece in pieces(loop):
        if kept and _carries_on(kept[-1], piece):
            kept[-1] = _together(kept[-1], piece)
        else:
            kept.append(piece)
    if len(kept) > 2 and _carries_on(kept[-1], kept[0]):
        kept[0] = _together(kept.pop(), kept[0])
    return Loop(tuple((piece.x0, piece.y0, piece.bulge) for piece in kept)) if len(kept) > 1 else loop


def _on_circle(piece: Piece, circle: tuple[float, float, float]) -> bool:
    (cx, cy), radius = piece.centre, piece.radius
    return max(abs(cx - circle[0]), abs(cy - circle[1]), abs(radius - circle[2])) <= SAME_CIRCLE_MM


def _carries_on(first: Piece, second: Piece) -> bool:
    """Whether the second arc goes on along the first one's circle, both within half a turn."""
    if first.bulge * second.bulge <= 0.0 or abs(first.sweep + second.sweep) > HALF_TURN:
        return False
    return _on_circle(second, (*first.centre, first.radius))


def _together(first: Piece, second: Piece) -> Piece:
    bulge = math.tan((first.sweep + second.sweep) / 4.0)
    return Piece(first.x0, first.y0, second.x1, second.y1, bulge)


# Loops as straight-sided polygons, with a bound on how far they stray and to which side.
#
# Why the sides are proven: an arc of radius r that is cut into equal steps of angle s is
# replaced either by chords, which lie on its hollow side and stray at most ``r (1 - cos(s/2))``,
# or by the tangents at the step ends, which lie on its bulging side and stray at most
# ``r (1 / cos(s/2) - 1)``. `Side.OUT` takes tangents where the loop bulges and chords where it is
# hollow, so the polygon contains the loop; `Side.IN` does the reverse. Steps are chosen from the
# bound; what remains is the rounding of floats, some 1e-12 mm, far below `SAME_LENGTH_MM`.

AnyPoints = NDArray[np.floating]
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


def _inner_points(arcs: Sequence[Piece], tangents: Sequence[bool], bound: float) -> tuple[AnyPoints, Counts]:
    """What stands between the ends of many arcs, one after another, and how many points each has.

    All arcs are reckoned together: curves of real drawings have thousands of short ones.

    Returns
    -------
    points, counts
        Shapes (m, 2) and (n,).
    """
    rows = [_arc_row(arc, bulging=bulging, bound=bound) for arc, bulging in zip(arcs, tangents, strict=True)]
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


def _arc_row(arc: Piece, *, bulging: bool, bound: float) -> tuple[float, ...]:
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


def _turned_chord(
    dx: AnyPoints, dy: AnyPoints, share: AnyPoints, lean: AnyPoints
) -> tuple[AnyPoints, AnyPoints]:
    """Chords scaled by ``share`` and turned by ``lean`` radians, as vectors."""
    cos, sin = share * np.cos(lean), share * np.sin(lean)
    return cos * dx - sin * dy, sin * dx + cos * dy


def flatten(loop: Loop, bound: float, side: Side = Side.ON) -> AnyPoints:
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
    corners: AnyPoints = np.array([(piece.x0, piece.y0) for piece in own], np.float64)
    if not arcs:
        return corners
    turning = 1.0 if side is Side.ON or signed_area(loop) > 0.0 else -1.0
    wanted = {Side.ON: 0.0, Side.OUT: turning, Side.IN: -turning}[side]
    return _with_inner(corners, own, _inner_points(arcs, [arc.bulge * wanted > 0.0 for arc in arcs], bound))


def flatten_stroke(stroke: Stroke, bound: float) -> AnyPoints:
    """Points of an open chain, corners on the curve, straying at most ``bound`` mm; shape (n, 2)."""
    own = list(pieces(stroke))
    ends = [(piece.x1, piece.y1) for piece in own]
    corners: AnyPoints = np.array([stroke.vertices[0][:2], *ends], np.float64)
    arcs = [piece for piece in own if piece.bulge]
    if not arcs:
        return corners
    return _with_inner(corners, own, _inner_points(arcs, [False] * len(arcs), bound))


def _with_inner(corners: AnyPoints, own: Sequence[Piece], inner: tuple[AnyPoints, Counts]) -> AnyPoints:
    """The corners of all pieces with the inner points of each arc behind its own."""
    points, counts = inner
    behind = np.array([place for place, piece in enumerate(own, start=1) if piece.bulge])
    return np.insert(corners, np.repeat(behind, counts), points, axis=0)


# Outlines as shapely polygons, for distances, unions and containment.

Points = NDArray[np.float64]


def to_polygon(shape: Outline | Loop, bound: float, side: Side = Side.ON) -> shapely.Geometry:
    """A polygon that strays at most ``bound`` mm from the shape.

    Parameters
    ----------
    shape : Outline or Loop
        A loop is taken as filled; marks of an outline are left out.
    bound : float
        mm, greater than 0.
    side : Side
        `Side.OUT` gives a polygon that contains all the metal (its holes are too small, if
        anything), `Side.IN` one that lies within it.

    Returns
    -------
    shapely.Geometry
        A valid Polygon. Where an outward polygon meets itself, in a slit narrower than the bound, the
        slit is closed; where an inward one does, in a neck as narrow, it falls into several
        (a MultiPolygon).
    """
    if isinstance(shape, Loop):
        return _ring(shape, bound, side)
    solid = _ring(shape.outer, bound, side)
    holes = [_ring(hole, bound, side.opposite) for hole in shape.holes]
    if not holes:
        return solid
    if all(isinstance(ring, shapely.Polygon) and not ring.interiors for ring in (solid, *holes)):
        plain = shapely.Polygon(solid.exterior, [hole.exterior for hole in holes if not hole.is_empty])
        if plain.is_valid:
            return plain
    return solid.difference(shapely.union_all(holes))


def _ring(loop: Loop, bound: float, side: Side) -> shapely.Geometry:
    polygon = shapely.Polygon(flatten(oriented(loop), bound, side))
    # A buffer of nothing keeps what the ring winds around at least once.
    return polygon if polygon.is_valid else polygon.buffer(0.0)


SAMPLES = 4
"""Points of each line that are held against other lines, its end not counted."""


def apart(first: Sequence[Points], second: Sequence[Points]) -> float:
    """How far either of two sets of polylines strays from the other at most, mm.

    Ends alone do not tell: the same corners joined in another order are another outline.

    Parameters
    ----------
    first, second
        Polylines of shape (n, 2); the end of a closed one is its beginning.
    """
    one, other = _lines(first), _lines(second)
    return max(_strays(one, other), _strays(other, one))


def _lines(polylines: Sequence[Points]) -> tuple[Points, Points]:
    """Starts and ends of all straight lines."""
    return np.vstack([one[:-1] for one in polylines]), np.vstack([one[1:] for one in polylines])


def _strays(lines: tuple[Points, Points], others: tuple[Points, Points]) -> float:
    shares = np.arange(SAMPLES)[:, None] / SAMPLES
    points = (lines[0][:, None] + (lines[1] - lines[0])[:, None] * shares).reshape(-1, 2)
    tree = shapely.STRtree(shapely.linestrings(np.stack(others, axis=1)))
    every = shapely.points(np.vstack([points, lines[1]]))
    _, away = tree.query_nearest(every, return_distance=True, all_matches=False)
    return float(away.max())
