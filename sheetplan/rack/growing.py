"""A free rectangle grown to the largest of its place, between edges of any slant.

Terms
-----
edge
    A straight piece of the boundary of what is free: from the sheet's edge, or from a cut and its gap.
parted
    A rectangle and an edge that do not cross are parted by a line along one of the rectangle's sides or
    along the edge itself (two convex shapes; the separating axis theorem). Kept on its side of such lines,
    one for each edge, a rectangle stays free wherever it moves and however it grows.

With the lines chosen, the largest rectangle is a concave problem in the four sides: the logarithm of the
area under linear limits (Boyd and Vandenberghe, "Convex Optimization", 2004, exercise 8.16, from memory).
It is solved by a primal-dual interior-point method (the same, section 11.7), which never leaves the
free room. Then lines are chosen anew round the larger rectangle, in two ways by turns, until neither lets
it grow more. In convex room the first choice already gives the largest of all.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sheetplan.shapes import Box
from sheetplan.trade.units import SAME_LENGTH_MM

Floats = NDArray[np.float64]

SAME_AREA = 1e-4
"""A rectangle is grown until neither choice of lines adds more than this share of its area."""

MOST_ROUNDS = 12
"""Rounds of choosing lines, of which some four are used."""

GAP = 1e-6
"""The solver ends when no rectangle within the lines is larger by more than this share."""

MOST_STEPS = 60
"""Newton steps of one round, of which some 10 are used."""

STEP_SHARE = 0.95
"""Share of the way to the nearest limit that a step may go, so that none is ever reached."""

SHARPEN = 10.0
"""How much closer to the limits each step aims."""


def grown(block: Box, edges: Floats) -> Box:
    """The largest free rectangle that a free block grows into.

    Parameters
    ----------
    block
        A rectangle that crosses no edge by more than `SAME_LENGTH_MM`.
    edges
        Ends of straight edges, mm, shape (n, 2, 2): edge, end, coordinate. Together they close in what
        is free.

    Returns
    -------
    Box
        It crosses no edge. Where the block crosses one by more, the block itself, drawn in by
        `SAME_LENGTH_MM`.
    """
    best = _drawn_in(block, SAME_LENGTH_MM, SAME_LENGTH_MM)
    along, idle = True, 0
    for _ in range(MOST_ROUNDS):
        start = _drawn_in(best, CLEAR * best.length, CLEAR * best.width)
        limits, most = _lines_between(np.array(start), edges, along)
        if not (limits @ np.array(start) < most).all():
            break
        before, best = best, max(best, _largest_within(start, limits, most), key=_size)
        if _size(best) <= _size(before) * (1.0 + SAME_AREA):
            along, idle = not along, idle + 1
            if idle == 2:
                break
        else:
            idle = 0
    return best


CLEAR = 0.01
"""Share of its length or width by which each side starts clear of the limits, to be quick."""


def _drawn_in(block: Box, by_x: float, by_y: float) -> Box:
    by_x, by_y = min(by_x, block.length / 4.0), min(by_y, block.width / 4.0)
    return Box(block.left + by_x, block.bottom + by_y, block.right - by_x, block.top - by_y)


def _lines_between(sides: Floats, edges: Floats, along: bool) -> tuple[Floats, Floats]:
    """Lines that part a rectangle from all edges, as limits of its sides: ``limits @ sides <= most``.

    Each edge has the line with most room or, if ``along``, the one along itself wherever that parts them:
    then the limits of convex room are the room itself. Of the nearest edges first, every edge that lies
    behind the line of another needs none of its own: so a round cut is one line, which the rectangle can
    slide along.
    """
    across, most = _lines_of(edges)
    room = most - _limits(across) @ sides
    wanted = room.copy()
    if along:
        wanted[len(UPRIGHT) :][room[len(UPRIGHT) :] > 0.0] = np.inf
    chosen, each = np.argmax(wanted, axis=0), np.arange(len(edges))
    across, most, room = across[chosen, each], most[chosen, each], room[chosen, each]
    taken: list[int] = []
    for _ in range(NEAREST):
        nearest = int(np.argmin(room))
        taken.append(nearest)
        behind = edges @ across[nearest] >= most[nearest] - ROUNDING_MM
        room[behind[:, 0] & behind[:, 1]] = np.inf
        if np.isinf(room).all():
            break
    rows = np.concatenate((taken, np.flatnonzero(np.isfinite(room)))).astype(np.intp)
    return _limits(across[rows]), most[rows]


NEAREST = 16
"""Lines that are looked behind; more cost time and seldom hide anything."""

ROUNDING_MM = 1e-9
"""An edge's own ends lie on its line but for this."""


def _lines_of(edges: Floats) -> tuple[Floats, Floats]:
    """The six lines that can part each edge from a rectangle before it: four upright, two along the edge.

    Returns
    -------
    across, most
        Shapes (6, n, 2) and (6, n): the rectangle lies where ``across @ point <= most``, the edge where
        it is as much or more.
    """
    along = edges[:, 1] - edges[:, 0]
    own = np.column_stack((along[:, 1], -along[:, 0])) / np.hypot(along[:, 0], along[:, 1])[:, None]
    upright = [np.broadcast_to(np.array(to), own.shape) for to in UPRIGHT]
    across = np.stack((*upright, own, -own))
    # Spelled out: sums and least values of two take numpy longer than all the rest.
    x, y = across[:, :, 0], across[:, :, 1]
    first, last = (x * edges[:, end, 0] + y * edges[:, end, 1] for end in (0, 1))
    return across, np.minimum(first, last)


UPRIGHT = ((-1.0, 0.0), (0.0, -1.0), (1.0, 0.0), (0.0, 1.0))
"""Across lines that hold the left, bottom, right and top side."""


def _limits(across: Floats) -> Floats:
    """What lines say of the four sides: of the side or the corner that reaches furthest across each."""
    return np.concatenate((np.minimum(across, 0.0), np.maximum(across, 0.0)), axis=-1)


def _largest_within(start: Box, limits: Floats, most: Floats) -> Box:
    """The largest rectangle within the limits, from one that keeps clear of all of them."""
    scale = max(start.length, start.width)
    sides, most = np.array(start) / scale, most / scale
    force = np.full(len(most), 1.0 / len(most)) / (most - limits @ sides)
    for _ in range(MOST_STEPS):
        slack = most - limits @ sides
        slope, bend = _of_size(sides)
        spans = sides[2:] - sides[:2]
        # How much is to be gained: by the limits' forces, and by what these leave unbalanced.
        gain = max(float(slack @ force), float(np.abs(slope + force @ limits).max() * spans.max()))
        if gain < GAP:
            break
        aim = gain / (SHARPEN * len(most))
        pull = limits.T @ (aim / slack)
        turn = bend + (limits.T * (force / slack)) @ limits
        move = np.linalg.solve(turn, -slope - pull)
        ahead = limits @ move
        more = force / slack * ahead - force + aim / slack
        share = min(1.0, STEP_SHARE * _room(slack, ahead), STEP_SHARE * _room(force, -more),
                    STEP_SHARE * _room(spans, move[:2] - move[2:]))  # fmt: skip
        sides, force = sides + share * move, force + share * more
    return _pushed_out(sides, limits, most, scale)


def _of_size(sides: Floats) -> tuple[Floats, Floats]:
    """First and second derivatives of minus the logarithm of the area by the four sides."""
    length, width = sides[2:] - sides[:2]
    slope = np.array((1.0 / length, 1.0 / width, -1.0 / length, -1.0 / width))
    bend = np.zeros((4, 4))
    for low, span in ((0, length), (1, width)):
        bend[low, low] = bend[low + 2, low + 2] = span**-2
        bend[low, low + 2] = bend[low + 2, low] = -(span**-2)
    return slope, bend


def _room(left: Floats, change: Floats) -> float:
    """How many times ``change`` can be taken from ``left`` before something is used up."""
    falls = change > 0.0
    return float((left[falls] / change[falls]).min()) if falls.any() else np.inf


def _pushed_out(sides: Floats, limits: Floats, most: Floats, scale: float) -> Box:
    """Each side in turn moved up to its nearest limit, which the solver only comes near to."""
    for side in range(4):
        steep = np.abs(limits[:, side])
        held = steep > STEEP
        room = (most[held] - limits[held] @ sides) / steep[held]
        outwards = -1.0 if side < 2 else 1.0
        sides[side] += outwards * float(room.min()) if held.any() else 0.0
    left, bottom, right, top = (float(side) for side in sides * scale)
    return Box(left, bottom, right, top)


STEEP = 1e-9
"""Limits that a side hardly enters do not hold it; they are rounding of edges along the other axis."""


def _size(block: Box) -> float:
    return block.length * block.width
