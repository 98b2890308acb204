"""The largest rectangle that can still be cut from a partly used sheet.

Exact for the boxes of cuts in a rectangular sheet: they cut it into a grid of their own edges, in which
the largest block of free cells is found row by row (a stack of rising heights, a standard method for
the largest rectangle under a staircase). Round and odd cuts leave room within their boxes, and an odd
edge need not run along the grid: there even lines are added, a cell counts only if it lies whole on
metal that is free, and the largest blocks that lie apart are grown to the largest of their place
(`grown`). The answer is never too large, and where what is free is convex the largest to `GAP`.
Elsewhere a place that is passed over may have grown larger still: of 1,250 random shapes with spikes and
round cuts, a finer search found more on 3, by half a hundredth at most.

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

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property
from operator import attrgetter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sheetplan.model.outline import Loop
from sheetplan.model.settings import Settings
from sheetplan.shapes import Box, Side, box, flatten, is_rectangle, to_polygon
from sheetplan.trade.units import SAME_LENGTH_MM

EDGE_MM = 0.01
"""How far an odd edge may be flattened inwards."""

MOST_LINES = 400
"""Lines of the grid in each direction; beyond, cuts are thinned out, which can only lose room."""


class Taken:
    """A cut on a sheet, with what is asked of its loop again and again; each is worked out once.

    Parameters
    ----------
    loop
        Its outer loop, where it lies.
    within
        Gives a polygon within the loop that strays from it by some `COARSE_MM`, where one is at hand.
    """

    def __init__(self, loop: Loop, within: Callable[[], Any] | None = None) -> None:
        self.loop = loop
        self._within = within

    @cached_property
    def box(self) -> Box:
        """The box around it."""
        return box(self.loop)

    @cached_property
    def is_rectangle(self) -> bool:
        """Whether it is a plain upright rectangle."""
        return is_rectangle(self.loop)

    def within(self) -> Any:
        """A polygon within it."""
        return self._within() if self._within else to_polygon(self.loop, COARSE_MM, Side.IN)


def free_rectangle(edge: Loop, cuts: Sequence[Loop], gap: float) -> Box | None:
    """The largest upright rectangle on a sheet that keeps ``gap`` to every old cut, or None.

    Between slanted and round edges, one narrower than two cells of the lines (`EVEN_MM`, `LEAST_EVEN`) may
    be missed.

    Parameters
    ----------
    edge
        The sheet's outer edge.
    cuts
        Outer loops of what was cut from it.
    gap
        Clear metal kept to each of them, mm.
    """
    taken = [Taken(cut) for cut in cuts]
    return _free_rectangle(edge, taken, gap, free_beside(edge, [cut.box for cut in taken], gap))


def _free_rectangle(edge: Loop, cuts: Sequence[Taken], gap: float, beside: Box | None) -> Box | None:
    """`free_rectangle`, where that ``beside`` the boxes of the cuts is known."""
    if all(cut.is_rectangle for cut in cuts):
        return beside
    return _largest((beside, _free_among(edge, [cut.loop for cut in cuts], gap)))


def _free_among(edge: Loop, cuts: Sequence[Loop], gap: float) -> Box | None:
    """The largest rectangle that keeps the gap to true outlines, and may reach into the boxes of odd cuts."""
    import shapely

    round_up = gap / math.cos(math.pi / (4 * ARC_STEPS))  # buffers inscribe their arcs
    metal_gone = shapely.union_all([to_polygon(cut, EDGE_MM, Side.OUT) for cut in cuts])
    return _between(edge, metal_gone.buffer(round_up, ARC_STEPS))


ARC_STEPS = 16
"""Pieces to a quarter turn when cuts are grown by the gap."""


def _between(edge: Loop, gone: Any) -> Box | None:
    """The largest rectangle on a sheet clear of areas of any shape (a shapely geometry)."""
    import shapely

    room = to_polygon(edge, EDGE_MM, Side.IN).difference(gone)
    edges = _edges(room)
    spans = np.abs(edges[:, 1] - edges[:, 0])
    upright = bool((spans.min(axis=1) <= NO_EDGE_MM).all())
    holes = shapely.get_parts(gone)
    corners = (flatten(edge, COARSE_MM, Side.IN), shapely.bounds(holes[~shapely.is_empty(holes)]))
    points = np.concatenate([some.reshape(-1, 2) for some in corners])
    around = box(edge)
    xs = _lines(points[:, 0], around.left, around.right, even=not upright)
    ys = _lines(points[:, 1], around.bottom, around.top, even=not upright)
    blocks = _blocks(_cells_within(room, xs, ys), xs, ys)
    return _largest(blocks if upright else (grown(block, edges) for block in _apart(blocks)))


def _edges(room: Any) -> NDArray[np.float64]:
    """Ends of the straight edges of polygons, shape (n, 2, 2)."""
    import shapely

    rings = [shapely.get_coordinates(ring) for ring in shapely.get_rings(shapely.get_parts(room))]
    edges = [np.stack((ring[:-1], ring[1:]), axis=1) for ring in rings]
    found = np.concatenate((*edges, np.empty((0, 2, 2))))
    long = np.abs(found[:, 1] - found[:, 0]).max(axis=1) > NO_EDGE_MM
    return np.asarray(found[long], np.float64)


NO_EDGE_MM = 1e-9
"""Differences of coordinates below this are rounding."""

LEAST_EVEN = 48
"""Even cells in each direction, at the least, where edges are slanted or round."""

EVEN_MM = 40.0
"""The most that even lines lie apart, mm."""

PLACES = 3
"""Blocks that are grown: the largest, and the next that lie apart from it and from one another."""


def useful_rectangle(edge: Loop, cuts: Sequence[Taken], gap: float, settings: Settings) -> Box | None:
    """The rectangle that makes a sheet worth keeping, or None.

    Beside the boxes of all cuts where that is useful, which is what a plan promises; else between
    odd cuts.
    """
    if not is_useful(box(edge), settings):
        return None  # most drop-outs
    beside = free_beside(edge, [cut.box for cut in cuts], gap)
    if is_useful(beside, settings):
        return beside
    if all(cut.is_rectangle for cut in cuts) or not room_for_a_disc(edge, cuts, gap, settings):
        return None
    rest = _free_rectangle(edge, cuts, gap, beside)
    return rest if is_useful(rest, settings) else None


def room_for_a_disc(edge: Loop, cuts: Sequence[Taken], gap: float, settings: Settings) -> bool:
    """Whether a disc as wide as the least useful rectangle may lie between the cuts; False is certain.

    Quick, since all curves are taken coarsely and to the side of more room.
    """
    import shapely

    radius = min(settings.least_remnant_length, settings.least_remnant_width) / 2.0 - SAME_LENGTH_MM
    if radius <= COARSE_MM or not cuts:
        return True
    gone = shapely.buffer([cut.within() for cut in cuts], radius + gap, quad_segs=4)
    middles = to_polygon(edge, COARSE_MM, Side.OUT).buffer(-radius, quad_segs=4)
    return not bool(middles.difference(shapely.union_all(gone)).is_empty)


COARSE_MM = 1.0
"""Flattening error where only certain misses are sought."""


def free_beside(edge: Loop, taken: Sequence[Box], gap: float) -> Box | None:
    """`free_rectangle` from the boxes of what is cut."""
    around = box(edge)
    blocked = [Box(b.left - gap, b.bottom - gap, b.right + gap, b.top + gap) for b in taken]
    if not is_rectangle(edge):
        import shapely

        return _between(edge, shapely.union_all([shapely.box(*b) for b in blocked]))
    corners = np.array([around, *blocked])
    xs = _lines(corners[:, [0, 2]], around.left, around.right)
    ys = _lines(corners[:, [1, 3]], around.bottom, around.top)
    return _largest(_blocks(_free_cells(blocked, xs, ys), xs, ys))


def is_useful(rest: Box | None, settings: Settings) -> bool:
    """Whether a rectangle is worth keeping by the book's least sizes, whichever way round it lies."""
    if rest is None:
        return False
    short, long = sorted((rest.length, rest.width))
    least_short, least_long = sorted((settings.least_remnant_length, settings.least_remnant_width))
    return short >= max(least_short, SAME_LENGTH_MM) - SAME_LENGTH_MM and long >= least_long - SAME_LENGTH_MM


def _lines(
    values: NDArray[np.float64], low: float, high: float, *, even: bool = False
) -> NDArray[np.float64]:
    """Lines of a grid in one direction: the values within, thinned out where many, and even ones if asked."""
    lines = np.unique(np.clip(values.ravel(), low, high))
    if len(lines) > MOST_LINES:
        lines = np.unique(np.concatenate((lines[:: len(lines) // MOST_LINES + 1], [low, high])))
    if even:
        count = max(LEAST_EVEN, math.ceil((high - low) / EVEN_MM))
        lines = np.union1d(lines, np.linspace(low, high, count + 1))
    return lines


def _free_cells(
    blocked: Sequence[Box], xs: NDArray[np.float64], ys: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """The cells clear of boxes."""
    free = np.ones((len(ys) - 1, len(xs) - 1), np.bool_)
    for b in blocked:
        within_x = (xs[:-1] < b.right - SAME_LENGTH_MM) & (xs[1:] > b.left + SAME_LENGTH_MM)
        within_y = (ys[:-1] < b.top - SAME_LENGTH_MM) & (ys[1:] > b.bottom + SAME_LENGTH_MM)
        free[np.ix_(within_y, within_x)] = False
    return free


def _cells_within(room: Any, xs: NDArray[np.float64], ys: NDArray[np.float64]) -> NDArray[np.bool_]:
    """The cells that lie in a polygon whole, but for `SAME_LENGTH_MM` along their sides.

    Blocks of cells are asked about together: of one that lies in the polygon, or outside it, every cell does.
    """
    import shapely

    shapely.prepare(room)
    in_x, in_y = (np.minimum(SAME_LENGTH_MM, np.diff(lines) / 4.0) for lines in (xs, ys))
    left, right = xs[:-1] + in_x, xs[1:] - in_x
    bottom, top = ys[:-1] + in_y, ys[1:] - in_y
    free = np.zeros((len(bottom), len(left)), np.bool_)
    blocks = np.array([(0, len(left), 0, len(bottom))])
    while len(blocks):
        x0, x1, y0, y1 = blocks.T
        boxes = shapely.box(left[x0], bottom[y0], right[x1 - 1], top[y1 - 1])
        inside = np.asarray(shapely.covers(room, boxes), np.bool_)
        for begin, end, low, high in blocks[inside].tolist():
            free[low:high, begin:end] = True
        rest = ~inside & ((x1 - x0 > 1) | (y1 - y0 > 1))
        rest[rest] = shapely.intersects(room, boxes[rest])
        blocks = _quarters(blocks[rest])
    return free


def _quarters(blocks: NDArray[np.intp]) -> NDArray[np.intp]:
    """Each block of cells ``(x0, x1, y0, y1)`` in four, or in two where it is one cell wide."""
    x0, x1, y0, y1 = blocks.T
    x, y = (x0 + x1) // 2, (y0 + y1) // 2
    parts = [(x0, x, y0, y), (x, x1, y0, y), (x0, x, y, y1), (x, x1, y, y1)]
    found = np.concatenate([np.column_stack(part) for part in parts])
    return found[(found[:, 0] < found[:, 1]) & (found[:, 2] < found[:, 3])]


def _blocks(free: NDArray[np.bool_], xs: NDArray[np.float64], ys: NDArray[np.float64]) -> Iterator[Box]:
    """Blocks of free cells: for each line across the sheet, the largest that reaches up to it."""
    floors = np.zeros(free.shape[1])
    going = np.zeros(free.shape[1], np.bool_)
    for row in range(free.shape[0]):
        floors = np.where(free[row], np.where(going, floors, ys[row]), ys[row + 1])
        going = free[row]
        best = _best_under(floors.tolist(), xs.tolist(), float(ys[row + 1]))
        if best is not None:
            yield best


def _best_under(floors: list[float], xs: list[float], top: float) -> Box | None:
    """The largest block that reaches up to ``top``."""
    best: Box | None = None
    stack: list[tuple[float, float]] = []
    for left, floor in zip(xs, [*floors, top], strict=True):
        start = left
        while stack and stack[-1][1] < floor:
            start, bottom = stack.pop()
            block = Box(start, bottom, left, top)
            if best is None or block.area > best.area + SAME_LENGTH_MM:
                best = block
        if floor < top and (not stack or stack[-1][1] > floor):
            stack.append((start, floor))
    return best


def _largest(blocks: Iterable[Box | None]) -> Box | None:
    """The first block that none is larger than, rounding aside."""
    best: Box | None = None
    for block in blocks:
        if block and (best is None or block.area > best.area + SAME_LENGTH_MM):
            best = block
    return best


def _apart(blocks: Iterable[Box]) -> list[Box]:
    """The largest block, and others that may grow larger and share no more than a part of its metal."""
    found: list[Box] = []
    for block in sorted(blocks, key=attrgetter("area"), reverse=True):
        if found and block.area < LEAST_RIVAL * found[0].area:
            break
        if all(_shared(block, other) < MOST_SHARED for other in found):
            found.append(block)
        if len(found) == PLACES:
            break
    return found


LEAST_RIVAL = 0.6
"""Smaller blocks, over the largest, are not grown."""

MOST_SHARED = 0.6
"""Share of what two blocks cover together that both cover; beyond, they grow into the same rectangle."""


def _shared(a: Box, b: Box) -> float:
    length = max(min(a.right, b.right) - max(a.left, b.left), 0.0)
    width = max(min(a.top, b.top) - max(a.bottom, b.bottom), 0.0)
    both = length * width
    return both / (a.area + b.area - both)


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
        limits, most = _lines_between(np.array(start), edges, along=along)
        if not (limits @ np.array(start) < most).all():
            break
        before, best = best, max(best, _largest_within(start, limits, most), key=attrgetter("area"))
        if best.area <= before.area * (1.0 + SAME_AREA):
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


def _lines_between(sides: Floats, edges: Floats, *, along: bool) -> tuple[Floats, Floats]:
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
