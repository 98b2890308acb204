"""Runs of arcs on one circle taken together again, as programs cut circles into quarters."""

from __future__ import annotations

import math

from sheetplan.model.outline import Loop
from sheetplan.shapes.arcs import Piece, pieces
from sheetplan.shapes.plain import as_circle, circle_loop

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
