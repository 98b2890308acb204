"""Boxes on one sheet, behind the protocol that true shapes share: parts as boxes, blanks as free rectangles.

A sixty-fourth of an inch and a hundredth of a millimetre are both whole numbers of nanometres,
so sums of gaps and sides are exact and a sheet that five strips fill to the edge takes five.

Terms
-----
upright box
    What a part takes up at its base turn, grown by the gap at the far sides.
mate
    The turn a quarter from the base turn, where the part allows it.
datum frame
    The blank's box seen from its datum corner: that corner at (0, 0), lengths in nanometres.
    Packing towards (0, 0) there is packing towards the datum corner on the sheet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.model.job import Part
from sheetplan.model.outline import Loop
from sheetplan.model.plan import Placement
from sheetplan.model.turns import allowed_turns, same_turn
from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.maxrects import FREE_LIMIT, Desk, Ints, Recipe, Types, cut_free, fill_sheet, new_desk
from sheetplan.packing.maxrects_search import price_layouts
from sheetplan.packing.rng import chance_of
from sheetplan.packing.sheet_packer import Blank, Item
from sheetplan.shapes import Side, box, is_rectangle, place, to_polygon, turn

NM_PER_MM = 1_000_000

ROUNDING_NM = 0.05
"""Lengths this close to a whole nanometre are that nanometre: the dust of converted inches."""


def nm_up(length_mm: float) -> int:
    """Whole nanometres that are not less than a length (for parts and gaps).

    >>> nm_up(25.4 / 64)
    396875
    """
    return math.ceil(length_mm * NM_PER_MM - ROUNDING_NM)


def nm_down(length_mm: float) -> int:
    """Whole nanometres that are not more than a length (for sheets)."""
    return math.floor(length_mm * NM_PER_MM + ROUNDING_NM)


@dataclass(frozen=True, slots=True)
class Posture:
    """A part at one turn: the turn, and where its box lies when its origin is at (0, 0); mm."""

    turn: float
    left: float
    bottom: float
    length: float
    width: float


@dataclass(frozen=True, slots=True)
class PartBox:
    """A part as a box: its base posture, its mate, and the grown sides of the base in nanometres."""

    part: Part
    base: Posture
    mate: Posture | None
    length: int
    width: int

    def posture(self, turned: bool) -> Posture:
        """How the part lies when the box lies as is or a quarter turned."""
        return self.mate if turned and self.mate else self.base


def _posture(part: Part, degrees: float) -> Posture:
    around = box(turn(part.outline.outer, degrees))
    return Posture(degrees, around.left, around.bottom, around.length, around.width)


def box_of(part: Part, gap: float) -> PartBox | None:
    """The least box that the part's turns allow, or None where grain and turns leave no turn at all."""
    postures = [_posture(part, degrees) for degrees in allowed_turns(part)]
    if not postures:
        return None
    base = min(postures, key=lambda p: (round(p.length * p.width, 3), p.turn))
    mate = next((p for p in postures if same_turn(p.turn - base.turn, 90.0, 180.0)), None)
    return PartBox(part, base, mate, nm_up(base.length + gap), nm_up(base.width + gap))


EDGE_BOUND_MM = 0.01
"""How far a curved edge may be moved inwards when it is made straight-sided."""

GRID_LINES = 40
"""Lines across a blank of odd shape on which free rectangles may begin and end, besides its corners."""


@dataclass(frozen=True, slots=True)
class DatumFrame:
    """The blank's box in the sheet frame (mm) and which way its axes run."""

    left: float
    bottom: float
    right: float
    top: float
    from_right: bool
    from_top: bool

    def span_x(self, low: float, high: float) -> tuple[float, float]:
        """An interval along x of the sheet frame, seen in this one."""
        if self.from_right:
            return self.right - high, self.right - low
        return low - self.left, high - self.left

    def span_y(self, low: float, high: float) -> tuple[float, float]:
        """An interval along y of the sheet frame, seen in this one."""
        if self.from_top:
            return self.top - high, self.top - low
        return low - self.bottom, high - self.bottom

    def origin(self, x: int, y: int, posture: Posture) -> tuple[float, float]:
        """Where the part's own origin lies on the sheet (mm) when its box starts at ``(x, y)`` here."""
        near_x, near_y = x / NM_PER_MM, y / NM_PER_MM
        left = self.right - near_x - posture.length if self.from_right else self.left + near_x
        bottom = self.top - near_y - posture.width if self.from_top else self.bottom + near_y
        return left - posture.left, bottom - posture.bottom


def datum_frame(blank: Blank) -> DatumFrame:
    """The frame of a blank."""
    around = box(blank.edge)
    return DatumFrame(*around, blank.datum.is_right, blank.datum.is_upper)


def free_rectangles(blank: Blank) -> Ints:
    """Maximal free rectangles (x, y, length, width) for boxes grown by the gap, shape (k, 4).

    Empty where the margin leaves nothing. Old cuts take out their boxes, which is safe and may
    lose metal round a slanted cut; so does an edge that is not a rectangle.
    """
    frame = datum_frame(blank)
    gap = nm_up(blank.gap)
    inside = _plain(blank, frame) if is_rectangle(blank.edge) else _odd(blank, frame)
    inside = inside[(inside[:, 2] > 0) & (inside[:, 3] > 0)]
    inside[:, 2:] += gap
    return _without_cuts(inside, blank, frame, gap)


def _plain(blank: Blank, frame: DatumFrame) -> Ints:
    margin = nm_up(blank.margin)
    length, width = nm_down(frame.right - frame.left), nm_down(frame.top - frame.bottom)
    return np.array([[margin, margin, length - 2 * margin, width - 2 * margin]], np.int64)


def _odd(blank: Blank, frame: DatumFrame) -> Ints:
    """Rectangles inside an edge of any shape, on lines through its corners and between them."""
    metal = to_polygon(blank.edge, EDGE_BOUND_MM, Side.IN).buffer(-blank.margin, join_style="mitre")
    if metal.is_empty:
        return np.empty((0, 4), np.int64)
    xs, ys = _lines(metal, 0), _lines(metal, 1)
    cells = shapely.box(xs[:-1, None], ys[None, :-1], xs[1:, None], ys[None, 1:])
    shapely.prepare(metal)
    inside = shapely.covers(metal.buffer(1.0 / NM_PER_MM), cells)
    rows = []
    for i0, i1, j0, j1 in maximal_blocks(inside).tolist():
        x0, x1 = frame.span_x(xs[i0], xs[i1])
        y0, y1 = frame.span_y(ys[j0], ys[j1])
        rows.append((nm_up(x0), nm_up(y0), nm_down(x1) - nm_up(x0), nm_down(y1) - nm_up(y0)))
    rows.sort(key=lambda row: -float(row[2]) * float(row[3]))
    return np.array(rows[: FREE_LIMIT // 2], np.int64).reshape(-1, 4)


def _lines(metal: shapely.Geometry, axis: int) -> NDArray[np.float64]:
    corners = shapely.get_coordinates(metal)[:, axis]
    even = np.linspace(corners.min(), corners.max(), GRID_LINES)
    if len(corners) > GRID_LINES:
        corners = corners[:: len(corners) // GRID_LINES + 1]
    lines: NDArray[np.float64] = np.unique(np.concatenate((even, corners)).round(6))
    return lines


@compiled
def maximal_blocks(inside: NDArray[np.bool_]) -> Ints:
    """Blocks (i0, i1, j0, j1) of true cells, ends exclusive, that no larger block contains; shape (n, 4)."""
    rows, columns = inside.shape
    blocks = np.empty((64, 4), np.int64)
    count = 0
    for first in range(rows):
        all_of = inside[first].copy()
        for last in range(first, rows):
            all_of &= inside[last]
            start = -1
            for j in range(columns + 1):
                if j < columns and all_of[j]:
                    start = j if start < 0 else start
                    continue
                if start < 0:
                    continue
                above = first > 0 and inside[first - 1, start:j].all()
                below = last + 1 < rows and inside[last + 1, start:j].all()
                if not above and not below:
                    if count == blocks.shape[0]:
                        blocks = np.concatenate((blocks, blocks))
                    blocks[count, 0], blocks[count, 1] = first, last + 1
                    blocks[count, 2], blocks[count, 3] = start, j
                    count += 1
                start = -1
            if not all_of.any():
                break
    return blocks[:count]


def _without_cuts(inside: Ints, blank: Blank, frame: DatumFrame, gap: int) -> Ints:
    free, fresh = np.empty((FREE_LIMIT, 4), np.int64), np.empty((FREE_LIMIT, 4), np.int64)
    count = len(inside)
    free[:count] = inside
    extra = nm_up(blank.extra_gap)
    for cut in blank.cuts:
        x0, x1, y0, y1 = _spans(cut, frame)
        x0, x1, y0, y1 = x0 - extra, x1 + extra, y0 - extra, y1 + extra
        count = cut_free(free, count, fresh, x0, y0, x1 - x0 + gap, y1 - y0 + gap, gap + 1)
    return free[:count].copy()


def _spans(cut: Loop, frame: DatumFrame) -> tuple[int, int, int, int]:
    around = box(cut)
    x0, x1 = frame.span_x(around.left, around.right)
    y0, y1 = frame.span_y(around.bottom, around.top)
    return nm_down(x0), nm_up(x1), nm_down(y0), nm_up(y1)


PASS_LOOKS = 20_000
"""Looks that one pass of effort stands for: about one construction of a sheet of plates."""


class BoxPacker:
    """Places parts by their boxes; remembers nothing between calls.

    Parameters
    ----------
    parts
        All parts that kept placements will ever name.
    """

    def __init__(self, parts: Sequence[Part]) -> None:
        self._parts = {part.name: part for part in parts}

    def fill(
        self,
        blank: Blank,
        items: Sequence[Item],
        *,
        seed: int,
        effort: int = 1,
        keep: Sequence[Placement] = (),
    ) -> tuple[Placement, ...]:
        """Place pieces on a blank; see `sheetplan.packing.SheetPacker.fill`."""
        boxes = [(item, made) for item in items if (made := box_of(item.part, blank.gap)) is not None]
        frame = datum_frame(blank)
        free = self._free_beside(blank, frame, keep)
        if not boxes or not len(free):
            return ()
        types = types_of([made for _, made in boxes])
        available = np.array([item.available for item, _ in boxes], np.int64)
        values = np.array([item.value for item, _ in boxes], np.float64)
        desk = new_desk(len(boxes), _most(free, types, available))
        chance = chance_of(seed, effort)
        kept = price_layouts(free, types, available, values, 1, effort * PASS_LOOKS, chance, desk)
        if kept.values[0] < 0.0:
            return ()
        recipe = Recipe(kept.orders[0], kept.caps[0], int(kept.rules[0]), kept.least)
        placed = fill_sheet(free, types, kept.usable, recipe, desk)
        return _placements([made for _, made in boxes], desk, placed, frame)

    def _free_beside(self, blank: Blank, frame: DatumFrame, keep: Sequence[Placement]) -> Ints:
        """Free rectangles once the boxes of the kept placements are taken out."""
        free, fresh = np.empty((FREE_LIMIT, 4), np.int64), np.empty((FREE_LIMIT, 4), np.int64)
        inside = free_rectangles(blank)
        count, gap = len(inside), nm_up(blank.gap)
        free[:count] = inside
        for placement in keep:
            around = box(place(self._parts[placement.part].outline.outer, placement))
            x0, x1 = frame.span_x(around.left, around.right)
            y0, y1 = frame.span_y(around.bottom, around.top)
            length, width = nm_up(x1) - nm_down(x0) + gap, nm_up(y1) - nm_down(y0) + gap
            count = cut_free(free, count, fresh, nm_down(x0), nm_down(y0), length, width, gap + 1)
        return free[:count].copy()


def types_of(boxes: Sequence[PartBox]) -> Types:
    """Box types as columns."""
    return Types(
        np.array([made.length for made in boxes], np.int64),
        np.array([made.width for made in boxes], np.int64),
        np.array([made.mate is not None for made in boxes], np.bool_),
    )


def _most(free: Ints, types: Types, available: Ints) -> int:
    """How many boxes could be placed at most."""
    area = float((free[:, 2].astype(float) * free[:, 3].astype(float)).sum())
    least = float((types.lengths.astype(float) * types.widths.astype(float)).min())
    return max(1, min(int(available.sum()), int(area / least) + 1))


def _placements(
    boxes: Sequence[PartBox], desk: Desk, placed: int, frame: DatumFrame
) -> tuple[Placement, ...]:
    found = []
    for t, x, y, turned in desk.boxes[:placed].tolist():
        posture = boxes[t].posture(bool(turned))
        left, bottom = frame.origin(x, y, posture)
        found.append(Placement(boxes[t].part.name, left, bottom, posture.turn))
    return tuple(found)
