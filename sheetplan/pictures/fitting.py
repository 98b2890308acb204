"""Rings of seen points as lines and arcs.

A ring is broken into chords where it bends (D. Douglas, T. Peucker, Algorithms for the reduction of the
number of points, Cartographica 10, 1973); runs of chords that one circle fits become an arc (I. Kåsa, A
circle fitting procedure, 1976), runs on one line a line; each is fitted to its points but those near its
ends, and corners are where neighbours meet.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetplan.model.outline import Loop
from sheetplan.pictures.marks import Array, opencv

LEAST_CHORDS = 3
"""Chords that make an arc."""

MOST_BEND = np.radians(80.0)
"""A sharper bend between chords is a corner, never an arc."""

LARGEST_MM = 4000.0
"""Radius: what is flatter is a line."""

SHARP_BEND = 0.5
"""Sine of the bend from which on two lines make a corner."""

ROUND_END_MM = 4.0
"""Near a corner the picture is soft: points this near an end do not count."""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A line or an arc of a ring: its points from the first to the last index (which may wrap).

    Of a line ``at`` is a point on it and ``way`` its direction; of an arc ``at`` is its centre, ``radius``
    is positive where it turns to the left. ``taped`` says that it lies through points by tape.
    """

    first: int
    last: int
    at: Array
    way: Array
    radius: float = 0.0
    taped: bool = False

    def off(self, points: Array) -> Array:
        """How far points lie from it, to its right, mm."""
        if self.radius:
            return np.asarray(np.sign(self.radius) * (np.hypot(*(points - self.at).T) - abs(self.radius)))
        return np.asarray((points - self.at) @ np.array((self.way[1], -self.way[0])))

    def onto(self, point: Array) -> Array:
        """The nearest point of the whole line or circle."""
        if self.radius:
            away = point - self.at
            return np.asarray(self.at + abs(self.radius) * away / max(float(np.hypot(*away)), 1e-9))
        return np.asarray(self.at + ((point - self.at) @ self.way) * self.way)


@dataclass(frozen=True, slots=True)
class Fitted:
    """A ring as a loop, its pieces in order, and how far it strays from the points that are sure, mm."""

    loop: Loop
    pieces: tuple[Piece, ...]
    stray: float


def fit_ring(points: Array, sure: NDArray[np.bool_], within: float) -> Fitted:
    """Lines and arcs for a ring, metal on its left.

    Parameters
    ----------
    points : array, shape (n, 2)
        In the plane, mm, about equally far apart.
    sure : array of bool
        Which of them count.
    within : float
        How far points may scatter about a piece, mm.
    """
    whole = _circle(points[sure]) if sure.sum() >= 12 else None
    if whole is not None and np.percentile(np.abs(_ring_off(whole, points[sure])), 92) < within:
        return _disc(points, sure, whole)
    breaks = _breaks(points, 1.3 * within)
    runs = _runs(points, sure, breaks, within)
    pieces = [_piece(points, sure, first, last, arc=arc) for first, last, arc in runs]
    return _joined(points, sure, _without_bevels(points, _without_gaps(points, pieces)))


GAP_STEPS, GAP_SHARE = 2.5, 1.5
"""Points so many steps apart have a gap between them; a corner may lie there, so many of its widths off."""


def _without_gaps(points: Array, pieces: list[Piece]) -> list[Piece]:
    """Without lines over what nobody saw, where the two beside them meet near by."""
    step = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    kept = list(pieces)
    for piece in pieces:
        wide = float(np.hypot(*(points[piece.last] - points[piece.first])))
        alone = (piece.last - piece.first) % len(points) == 1 and not piece.radius
        if not alone or wide < GAP_STEPS * step or len(kept) < 4:
            continue
        at = kept.index(piece)
        before, after = kept[at - 1], kept[(at + 1) % len(kept)]
        middle = (points[piece.first] + points[piece.last]) / 2.0
        met = _crossing(before, after, middle)
        if met is not None and np.hypot(*(met - middle)) < GAP_SHARE * wide:
            del kept[at]
    return kept


BEVEL_MM, MOST_BEVELS = 6.0, 3
"""So few straight pieces, together across less than this between two others at a corner, are the corner, seen
softly: one across it, or the dent that is left of the tip of a narrow opening.
"""


def _without_bevels(points: Array, pieces: list[Piece]) -> list[Piece]:
    left_out: set[int] = set()
    for i in range(len(pieces)):
        for more in range(1, min(MOST_BEVELS, len(pieces) - 3) + 1):
            places = [(i + j) % len(pieces) for j in range(more + 2)]
            if _is_bevel(points, [pieces[j] for j in places]):
                left_out.update(places[1:-1])
    kept = [piece for i, piece in enumerate(pieces) if i not in left_out]
    return kept if len(kept) >= 3 else pieces


def _is_bevel(points: Array, pieces: list[Piece]) -> bool:
    """Whether the pieces between the first and the last are all that is seen of the corner of these two."""
    before, *between, after = pieces
    if any(piece.radius for piece in pieces):
        return False
    bend = abs(float(before.way[0] * after.way[1] - before.way[1] * after.way[0]))
    if len(between) == 1:
        across = float(np.hypot(*(points[between[0].last] - points[between[0].first])))
    else:
        across = float(np.hypot(*(points[after.first] - points[before.last])))
        sides = (float(np.hypot(*(points[side.last] - points[side.first]))) for side in (before, after))
        if min(sides) < BEVEL_MM:
            return False
    return across < BEVEL_MM and bend > SHARP_BEND


SOFT_STEPS = 3.2
"""Times the distance of a ring's points: a shorter piece at a corner may be all that is left of a tip."""


def soft_tips(fitted: Fitted, points: Array) -> list[tuple[Array, Array]]:
    """Short pieces across corners, maybe tips seen softly: their middles, and where the tips may be."""
    step = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    pieces, tips = fitted.pieces, []
    for before, piece, after in zip(pieces[-1:] + pieces, pieces, pieces[1:] + pieces[:1], strict=False):
        bend = abs(float(before.way[0] * after.way[1] - before.way[1] * after.way[0]))
        across = points[piece.last] - points[piece.first]
        short = float(np.hypot(*across)) < SOFT_STEPS * step and piece is not before
        if short and not (before.radius or after.radius) and bend > SHARP_BEND:
            middle = (points[piece.first] + points[piece.last]) / 2.0
            tip = _crossing(before, after, middle)
            if tip is not None:
                tips.append((middle, tip))
    return tips


NARROW_MM = 20.0
"""What interrupts a line or circle for less than this may be a slat, rust or a shadow at the edge."""

_GOES_ON = 8
"""Points on either side of it that tell that the line or circle goes on."""


def interruptions(fitted: Fitted, points: Array, within: float) -> list[tuple[float, Array]]:
    """What stands out of a line or circle that goes on behind, either way: how far (mm), and where."""
    pieces, count, found = fitted.pieces, len(points), []
    for i, before in enumerate(pieces):
        ahead = points[_between(before.last - _GOES_ON, before.last, count)]
        for skip in range(2, min(8, len(pieces))):
            after = pieces[(i + skip) % len(pieces)]
            if np.hypot(*(points[after.first] - points[before.last])) > NARROW_MM:
                break
            behind = points[_between(after.first, after.first + _GOES_ON, count)]
            goes_on = (np.median(np.abs(piece.off(some))) for piece in (before, after)
                       for some in (ahead, behind))  # fmt: skip
            if max(goes_on) < within:
                gap = points[_between(before.last, after.first, count)]
                found.append((float(np.abs(before.off(gap)).max()), gap))
    return found


TAPE_NEAR_MM = 15.0
"""Points by tape as near as this to a straight piece are taken for its own."""


def refit(fitted: Fitted, points: Array, sure: NDArray[np.bool_], taped: Array, unclear: list[int]) -> Fitted:
    """Straight pieces that are not clear, laid through two points by tape or more where there are any."""
    pieces = list(fitted.pieces)
    for number in unclear:
        piece = pieces[number]
        if piece.radius or len(pieces) < 2:
            continue
        along = (taped - piece.at) @ piece.way
        ends = sorted(float((points[i] - piece.at) @ piece.way) for i in (piece.first, piece.last))
        near = np.abs(piece.off(taped)) < TAPE_NEAR_MM
        near &= (along > ends[0] - TAPE_NEAR_MM) & (along < ends[1] + TAPE_NEAR_MM)
        if near.sum() >= 2 and np.ptp(along[near]) > 0.5 * (ends[1] - ends[0]):
            line = _line(taped[near][np.argsort(along[near])])
            pieces[number] = Piece(piece.first, piece.last, line.at, line.way, taped=True)
    return _joined(points, sure, pieces) if len(pieces) > 1 else fitted


def _breaks(points: Array, within: float) -> list[int]:
    """Where chords begin, from the beginning of the longest on."""
    cv2 = opencv()
    kept = cv2.approxPolyDP(points.astype(np.float32).reshape(-1, 1, 2), within, closed=True).reshape(-1, 2)
    at = sorted({int(np.hypot(*(points - one).T).argmin()) for one in kept})
    lengths = [np.hypot(*(points[b] - points[a])) for a, b in zip(at, at[1:] + at[:1], strict=True)]
    start = int(np.argmax(lengths))
    return at[start:] + at[:start]


def _between(first: int, last: int, count: int) -> NDArray[np.intp]:
    return np.arange(first, last + 1 if last > first else last + count + 1) % count


def _runs(
    points: Array, sure: NDArray[np.bool_], breaks: list[int], within: float
) -> list[tuple[int, int, bool]]:
    """Chords put together, greedily: as long an arc as fits, else as long a line."""
    count, ends = len(points), [*breaks, breaks[0]]
    chords = np.diff(points[ends], axis=0)
    ways = np.arctan2(chords[:, 1], chords[:, 0])
    bends = np.abs((np.diff(ways) + np.pi) % (2.0 * np.pi) - np.pi)
    runs, i, total = [], 0, len(chords)
    while i < total:
        take, arc = 1, False
        j = i + 1
        while j < total and bends[j - 1] < MOST_BEND:
            j += 1
            some = _between(ends[i], ends[j], count)
            some = some[sure[some]]
            if len(some) < 5:
                continue
            if np.percentile(np.abs(_line(points[some]).off(points[some])), 97) < within:
                take, arc = j - i, False
            elif j - i >= LEAST_CHORDS and _fits_arc(points[some], within):
                take, arc = j - i, True
            elif j - i > LEAST_CHORDS + 2:
                break
        runs.append((ends[i], ends[i + take], arc))
        i += take
    return runs


def _fits_arc(some: Array, within: float) -> bool:
    circle = _circle(some)
    return bool(
        circle is not None
        and circle[2] < LARGEST_MM
        and np.percentile(np.abs(_ring_off(circle, some)), 97) < within
    )


def _circle(points: Array) -> tuple[float, float, float] | None:
    """Centre and radius by least squares, then by two steps on the true distance (Gauss-Newton)."""
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    sums, _, rank, _ = np.linalg.lstsq(np.column_stack((x, y, np.ones(len(x)))), x**2 + y**2, rcond=None)
    if rank < 3:
        return None
    a, b, r = (
        sums[0] / 2.0,
        sums[1] / 2.0,
        float(np.sqrt(max(sums[2] + (sums[0] ** 2 + sums[1] ** 2) / 4.0, 0))),
    )
    for _ in range(5):
        far = np.maximum(np.hypot(x - a, y - b), 1e-9)
        off = far - r
        weight = np.minimum(1.0, 2.0 * np.median(np.abs(off)) / np.maximum(np.abs(off), 1e-9))
        slopes = np.column_stack(((a - x) / far, (b - y) / far, -np.ones(len(x)))) * weight[:, None]
        step = np.linalg.lstsq(slopes, -off * weight, rcond=None)[0]
        a, b, r = a + step[0], b + step[1], r + step[2]
    return float(a + middle[0]), float(b + middle[1]), float(r)


def _ring_off(circle: tuple[float, float, float], points: Array) -> Array:
    return np.asarray(np.hypot(points[:, 0] - circle[0], points[:, 1] - circle[1]) - circle[2])


def _line(points: Array) -> Piece:
    """By least squares on the distance, odd points weighed less."""
    weight = np.ones(len(points))
    for _ in range(4):
        at = np.average(points, axis=0, weights=weight)
        way = np.linalg.svd((points - at) * np.sqrt(weight)[:, None], full_matrices=False)[2][0]
        off = np.abs((points - at) @ np.array((way[1], -way[0])))
        weight = np.minimum(1.0, 2.0 * np.median(off) / np.maximum(off, 1e-9)) + 1e-6
    if (points[-1] - points[0]) @ way < 0.0:
        way = -way
    return Piece(0, 0, at, way)


def _piece(points: Array, sure: NDArray[np.bool_], first: int, last: int, *, arc: bool) -> Piece:
    some = _between(first, last, len(points))
    apart = np.minimum(
        np.hypot(*(points[some] - points[first]).T), np.hypot(*(points[some] - points[last]).T)
    )
    length = np.hypot(*np.diff(points[some], axis=0).T).sum()
    kept = some[sure[some] & (apart > min(ROUND_END_MM, 0.25 * length))]
    if len(kept) < (6 if arc else 3):
        kept = some
    circle = _circle(points[kept]) if arc else None
    if circle is None:
        line = _line(points[kept])
        return Piece(first, last, line.at, line.way)
    centre = np.array(circle[:2])
    left = _swept(points[kept], centre) > 0.0
    return Piece(first, last, centre, np.zeros(2), circle[2] if left else -circle[2])


def _swept(points: Array, centre: Array) -> float:
    """How far points in order go round a centre, radians, counter-clockwise."""
    away = points - centre
    a, b = away[:-1], away[1:]
    return float(np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)).sum())


def _disc(points: Array, sure: NDArray[np.bool_], circle: tuple[float, float, float]) -> Fitted:
    x, y, r = circle
    way = 1.0 if signed(points) > 0.0 else -1.0
    loop = Loop(((x - r, y, way), (x + r, y, way)))
    piece = Piece(0, 0, np.array((x, y)), np.zeros(2), way * r)
    return Fitted(loop, (piece,), _stray([piece], [np.arange(len(points))], points, sure))


def signed(points: Array) -> float:
    """Area of a closed chain, positive counter-clockwise."""
    x, y = points.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2.0)


def _joined(points: Array, sure: NDArray[np.bool_], pieces: list[Piece]) -> Fitted:
    # A corner in a gap is as far from the points on both sides of it.
    steps = np.hypot(*(points - np.roll(points, 1, axis=0)).T)
    gaps = np.maximum(steps, np.roll(steps, -1))
    corners = [
        _corner(before, piece, points[piece.first], CORNER_MM + GAP_SHARE * float(gaps[piece.first]))
        for before, piece in zip(pieces[-1:] + pieces, pieces, strict=False)
    ]
    spans = [_between(piece.first, piece.last, len(points)) for piece in pieces]
    vertices = []
    for piece, span, start, end in zip(pieces, spans, corners, corners[1:] + corners[:1], strict=True):
        bulge = 0.0
        if piece.radius:
            turn = _swept(np.array((start, end)), piece.at)
            # As often round as the points go: of a short arc the corners may lie the other way round.
            turn += 2.0 * np.pi * round((_swept(points[span], piece.at) - turn) / (2.0 * np.pi))
            bulge = float(np.tan(turn / 4.0))
        vertices.append((float(start[0]), float(start[1]), bulge))
    return Fitted(Loop(tuple(vertices)), tuple(pieces), _stray(pieces, spans, points, sure))


def _stray(
    pieces: list[Piece], spans: list[NDArray[np.intp]], points: Array, sure: NDArray[np.bool_]
) -> float:
    """How far a piece's points, a few together, lie from it at most."""
    worst = 0.0
    for piece, span in zip(pieces, spans, strict=True):
        if piece.taped:
            continue
        inner = span[3:-3] if len(span) > 16 else span[len(span) // 4 : len(span) - len(span) // 4]
        inner = inner[sure[inner]]
        if len(inner) >= 3:
            off = piece.off(points[inner])
            width = min(9, len(off))
            means = np.convolve(off, np.ones(width) / width, "valid")
            worst = max(worst, float(np.percentile(np.abs(means), 98)))
    return worst


CORNER_MM = 15.0
"""Pieces that meet farther from points that were seen than this run into each other smoothly."""


def _corner(before: Piece, after: Piece, near: Array, within: float) -> Array:
    """Where two pieces meet, near a point; where they run into each other smoothly, between them."""
    point = near.copy()
    for _ in range(30):
        moved = _crossing(before, after, point)
        if moved is None or np.hypot(*(moved - near)) > within:
            return np.asarray((before.onto(near) + after.onto(near)) / 2.0)
        if np.hypot(*(moved - point)) < 1e-9:
            break
        point = moved
    return point


def _crossing(before: Piece, after: Piece, point: Array) -> Array | None:
    """One of Newton's steps: the meeting of the tangents at the nearest points."""
    rows, sides = [], []
    for piece in (before, after):
        on = piece.onto(point)
        if piece.radius:
            normal = (on - piece.at) / abs(piece.radius)
        else:
            normal = np.array((piece.way[1], -piece.way[0]))
        rows.append(normal)
        sides.append(normal @ on)
    square = np.array(rows)
    if abs(np.linalg.det(square)) < 0.12:
        return None
    return np.asarray(np.linalg.solve(square, np.array(sides)))
