"""The path of the cut's middle: outlines half a kerf outward, holes half a kerf inward.

For tables whose own program does not do it. Lines are moved aside and arcs keep their centres, so
the result is exact; round outer corners are rolled over with half the kerf as radius. Method: the
pieces moved aside and the corners' arcs make a raw path; it is cut wherever it meets itself, and
what comes nearer to the outline than half the kerf is taken out (the usual trimmed offset, as in
X.-Z. Liu et al., An offset algorithm for polyline curves, Computers in Industry 58, 2007).
"""

from __future__ import annotations

import itertools
import math
import time
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sheetplan.drawings.limits import Allowance, Limits
from sheetplan.drawings.network import make_network
from sheetplan.drawings.tidying import close_pairs
from sheetplan.drawings.tracing import trace
from sheetplan.model.job import CuttingRule, Part
from sheetplan.model.outline import Loop, Outline, Stroke
from sheetplan.shapes import area, as_circle, circle_loop, merged, oriented
from sheetplan.shapes.arcs import Piece, pieces
from sheetplan.shapes.meeting import between, meetings, nearest, point_at
from sheetplan.trade.units import SAME_LENGTH_MM

NEAR_ENOUGH_MM = 1e-6
"""How much nearer than half the kerf a piece may come and still be kept: rounding, no more."""


@dataclass(frozen=True, slots=True)
class KerfPath:
    """The outline to follow, and the holes that are too narrow for the kerf, as drawn."""

    outline: Outline
    lost: tuple[Loop, ...]


def kerf_path(outline: Outline, kerf: float) -> KerfPath:
    """The middle of the cut for an outline.

    Parameters
    ----------
    outline : Outline
        The finished part, mm.
    kerf : float
        Width of the cut, mm.

    Raises
    ------
    ValueError
        If no path is left for the outer loop, which a sound outline always has.
    """
    half = kerf / 2.0
    if half <= 0.0:
        return KerfPath(outline, ())
    outer = offset(outline.outer, half)
    if not outer:
        raise ValueError("no cut path goes round this outline")
    holes: list[Loop] = []
    lost: list[Loop] = []
    for hole in outline.holes:
        inside = offset(hole, -half)
        holes.extend(inside)
        if not inside:
            lost.append(hole)
    # Where a notch closes up, the path round the outside is the part's; pockets cannot be reached.
    return KerfPath(Outline(max(outer, key=area), tuple(holes), outline.marks), tuple(lost))


def part_to_cut(part: Part, rule: CuttingRule) -> Part:
    """The part as the table is to follow it where the drawing holds the middle of the cut.

    A hole too narrow for the kerf, which no path goes round, is marked at its edge instead.
    """
    path = kerf_path(part.outline, rule.kerf)
    lost = tuple(Stroke((*hole.vertices, (*hole.vertices[0][:2], 0.0))) for hole in path.lost)
    return replace(part, outline=replace(path.outline, marks=(*path.outline.marks, *lost)))


def offset(loop: Loop, distance: float) -> tuple[Loop, ...]:
    """A loop moved outward by ``distance`` mm (inward if below 0), counter-clockwise.

    None are left where it is too narrow; inward it may fall into several, outward it may close
    round a pocket, which is among the results as a loop of its own.
    """
    circle = as_circle(loop)
    if circle:
        x, y, radius = circle
        left = radius + distance
        return (circle_loop(x, y, left),) if left > SAME_LENGTH_MM else ()
    # On a counter-clockwise loop outward is to the right of the way along it.
    own = list(pieces(oriented(loop)))
    raw = _raw_path(own, distance)
    kept = [piece for piece in _cut_apart(raw) if _far_enough(piece, own, abs(distance))]
    allowance = Allowance(Limits(pieces=10**9, seconds=math.inf), time.monotonic)
    traced = trace(make_network(kept, SAME_LENGTH_MM, allowance))
    return tuple(merged(found) for found in traced.loops)


def _raw_path(own: Sequence[Piece], distance: float) -> list[Piece]:
    """Every piece moved aside, and at each corner an arc about it from one to the next."""
    raw = []
    moved = [_moved(piece, distance) for piece in own]
    for i, piece in enumerate(moved):
        if piece is not None:
            raw.append(piece)
        corner = (own[i].x1, own[i].y1)
        ends = [_beside(own[i], 1.0, distance), _beside(own[(i + 1) % len(own)], 0.0, distance)]
        if math.dist(*ends) > SAME_LENGTH_MM * 1e-3:
            raw.append(_corner(corner, ends[0], ends[1]))
    return raw


def _beside(piece: Piece, share: float, distance: float) -> tuple[float, float]:
    """The point that lies ``distance`` to the right of an end of the piece."""
    x, y = point_at(piece, share)
    lean = piece.sweep / 2.0 * (1.0 if share > 0.5 else -1.0)
    heading = math.atan2(piece.y1 - piece.y0, piece.x1 - piece.x0) + lean
    return x + distance * math.sin(heading), y - distance * math.cos(heading)


def _moved(piece: Piece, distance: float) -> Piece | None:
    """The piece moved to the right; None for an arc that shrinks to nothing."""
    start, end = _beside(piece, 0.0, distance), _beside(piece, 1.0, distance)
    if piece.bulge:
        radius = piece.radius + (distance if piece.bulge > 0.0 else -distance)
        if radius <= SAME_LENGTH_MM * 1e-3:
            return None
    return Piece(*start, *end, piece.bulge)


def _corner(corner: tuple[float, float], start: tuple[float, float], end: tuple[float, float]) -> Piece:
    """The arc about a corner, the short way round."""
    first = math.atan2(start[1] - corner[1], start[0] - corner[0])
    last = math.atan2(end[1] - corner[1], end[0] - corner[0])
    sweep = (last - first + math.pi) % (2.0 * math.pi) - math.pi
    return Piece(*start, *end, math.tan(sweep / 4.0))


def _cut_apart(raw: Sequence[Piece]) -> list[Piece]:
    """The path's pieces, cut at every place where two of them meet."""
    cuts: dict[int, set[float]] = defaultdict(set)
    for i, j in close_pairs(raw, SAME_LENGTH_MM):
        for at_i, at_j in meetings(raw[i], raw[j], NEAR_ENOUGH_MM):
            cuts[i].add(at_i)
            cuts[j].add(at_j)
    apart = []
    for i, piece in enumerate(raw):
        shares = [0.0, *sorted(share for share in cuts[i] if 1e-9 < share < 1.0 - 1e-9), 1.0]
        apart += [between(piece, a, b) for a, b in itertools.pairwise(shares)]
    return [piece for piece in apart if piece.length > NEAR_ENOUGH_MM]


def _far_enough(piece: Piece, own: Sequence[Piece], distance: float) -> bool:
    """Whether a stretch keeps its distance from the loop, judged in its middle."""
    x, y = point_at(piece, 0.5)
    return all(nearest(other, x, y)[0] >= distance - NEAR_ENOUGH_MM for other in own)
