"""True shapes behind the words of the search: supplies, types and counts in, columns out.

Discs and rings of one size lie in staggered rows, each in the hollows of the one before, the densest way.
Where a row more would fit if the rows came closer, the discs of a row are moved apart until it does. Rows
along the sheet and across it are both tried. Densest by rows: Lagrange, 1773, for lattices; Thue, 1910, for
all arrangements in the plane; from memory. In a bounded sheet other arrangements may hold a disc more.

Choices
-------
Rows of each round type alone are in the pool before the master prices pieces, and stand against the
construction where a layout of one round type alone is asked for: a mixed sheet seldom holds discs as densely.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from sheetplan.model.job import Part
from sheetplan.model.plan import Placement
from sheetplan.model.turns import allowed_turns
from sheetplan.packing import Blank, Item
from sheetplan.packing.maxrects import Floats, Ints, box_areas
from sheetplan.packing.rectangles import datum_frame, nm_down, nm_up
from sheetplan.packing.sheet_packer import Metal
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.progress import Stop, never
from sheetplan.planning.search.state import Column
from sheetplan.shapes import Box, Side, as_circle, box, is_rectangle, place, to_polygon
from sheetplan.trade.units import SAME_LENGTH_MM

if TYPE_CHECKING:
    from sheetplan.packing.outlines import OutlinePacker

Centres = list[tuple[float, float]]

class Effort(NamedTuple):
    """How hard a sheet is filled: so many constructions, then pieces put in one by one for so many looks."""

    constructions: int
    looks: int = 0
    halt: Stop = never


ROUNDING = 1e-9
"""A width divided into equal parts holds one part more than division says, but for rounding."""

Laidout = tuple[tuple[Placement, ...], ...]
"""What lies on each of some sheets."""

CALL_LOOKS = 30_000
"""What asking for a layout counts as work beside the laying: some tenths of a millisecond."""

LOOK_CELLS = 58
"""Cells of maps that the overlap search reads in the time of a look."""

MOST_PACKERS = 16
"""Gauges that a process keeps prepared: a month has rarely more whose shapes waste their boxes."""

AREA_BOUND_MM = 0.05
"""How finely outlines are flattened where only their area is wanted."""

MANY_DISCS = 5
"""Fewer round pieces of a type lie in no rows to speak of."""

WORTH_A_TRIAL, WORTH_IDLE_TIME = 0.88, 0.97
"""Share of the boxes' area that the shapes fill; beyond the first there is little to gain, so that boxes come
first, and beyond the second nothing.
"""


def discs_in_rows(blank: Blank, item: Item) -> tuple[Placement, ...]:
    """As many pieces of a round part as are wanted and rows hold; none on an odd or partly cut blank."""
    circle = as_circle(item.part.outline.outer)
    if circle is None or blank.cuts or not is_rectangle(blank.edge):
        return ()
    edge, (x, y, radius) = box(blank.edge), circle
    pitch = 2.0 * radius + blank.gap + blank.extra_gap + SAME_LENGTH_MM
    lost = 2.0 * (blank.margin + radius) + SAME_LENGTH_MM
    length, width = edge.length - lost, edge.width - lost
    upright = [(along, up) for up, along in _best(width, length, pitch)]
    ways = [way[: item.available] for way in (_best(length, width, pitch), upright)]
    centres = max(ways, key=lambda way: (len(way), _free_share(way, length, width)))
    turn = allowed_turns(item.part)[0]
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    from_edge = lost / 2.0
    right, upper = "RIGHT" in blank.datum.name, "UPPER" in blank.datum.name
    across = [_across(along, edge.left, edge.right, from_edge, backwards=right) for along, _ in centres]
    up = [_across(up, edge.bottom, edge.top, from_edge, backwards=upper) for _, up in centres]
    return tuple(
        Placement(item.part.name, at_x - (x * cos - y * sin), at_y - (x * sin + y * cos), turn)
        for at_x, at_y in zip(across, up, strict=True)
    )


def most_discs(blank: Blank, part: Part) -> int | None:
    """The number of pieces of a round part that no arrangement on a blank exceeds; None of other parts.

    Points of a convex region that lie at least 1 apart are at most 2 / sqrt(3) times its area, plus half its
    perimeter, plus 1: H. Groemer, Math. Z. 73 (1960), and N. Oler, Acta Math. 105 (1961); from memory.
    """
    circle = as_circle(part.outline.outer)
    if circle is None or not is_rectangle(blank.edge):
        return None
    edge, radius = box(blank.edge), circle[2]
    pitch = 2.0 * radius + blank.gap - SAME_LENGTH_MM
    lost = 2.0 * (blank.margin + radius - SAME_LENGTH_MM)
    length, width = edge.length - lost, edge.width - lost
    if min(length, width) < 0.0:
        return 0
    points = 2.0 / math.sqrt(3.0) * length * width / pitch**2 + (length + width) / pitch + 1.0
    return math.floor(points * (1.0 + ROUNDING))


def _free_share(centres: Centres, length: float, width: float) -> float:
    """The share of a sheet that lies beyond the last row, whole, for the rack."""
    if not centres or min(length, width) <= 0.0:
        return 0.0
    return 1.0 - min(max(x for x, _ in centres) / length, max(y for _, y in centres) / width)


def _across(place: float, low: float, high: float, from_edge: float, *, backwards: bool) -> float:
    """A place on the sheet, counted from the side of the datum."""
    return high - from_edge - place if backwards else low + from_edge + place


def _best(length: float, width: float, pitch: float) -> Centres:
    """Centres in a rectangle of the rows along it that hold most."""
    if min(length, width) < 0.0:
        return []
    return max((_rows(length, width, *spacing) for spacing in _spacings(width, pitch)), key=len)


def _spacings(width: float, pitch: float) -> Iterator[tuple[float, float]]:
    """How far discs of a row, and rows, lie apart: as close as can be, or closer rows of looser discs."""
    closest = pitch * math.sqrt(0.75)
    yield pitch, closest
    for gaps in range(math.floor(width / closest) + 1, math.floor(2.0 * width / pitch) + 1):
        apart = width / gaps
        yield max(pitch, 2.0 * math.sqrt(pitch * pitch - apart * apart)), apart


def _rows(length: float, width: float, pitch: float, apart: float) -> Centres:
    centres = []
    for row in range(math.floor(width / apart + ROUNDING) + 1):
        first = pitch / 2.0 if row % 2 else 0.0
        count = math.floor((length - first) / pitch) + 1 if first <= length else 0
        centres += [(first + pitch * k, apart * row) for k in range(count)]
    return centres


def filled_share(problem: BoxProblem, gap: float) -> float:
    """The share of their boxes that the shapes fill: the less, the sooner true-shape packing pays."""
    boxes = float((problem.wanted * box_areas(problem.types)).sum())
    return float((problem.wanted * grown_areas(problem, gap)).sum()) / max(boxes, 1e-300)


class ShapeFiller:
    """Fills the supplies of one gauge with true shapes; ``looks`` counts the work done."""

    def __init__(self, problem: BoxProblem, gap: float, areas: Floats | None = None) -> None:
        self.problem, self.gap = problem, gap
        self.parts = tuple(made.part for made in problem.boxes)
        self.types = {part.name: t for t, part in enumerate(self.parts)}
        self.packer = _packer_of(self.parts)
        self.areas = grown_areas(problem, gap) if areas is None else areas
        self.looks = 0
        self._extents: dict[tuple[int, float, bool], Box] = {}

    def __reduce__(self) -> tuple[type[ShapeFiller], tuple[BoxProblem, float, Floats]]:
        """In another process it is prepared anew: what is prepared is larger than what it is made of."""
        return ShapeFiller, (self.problem, self.gap, self.areas)

    def column(
        self, s: int, available: Ints, values: Floats, seed: int, effort: Effort
    ) -> Column | None:
        """A layout of great value on one supply; None where nothing fits."""
        placements = self.fill(self.problem.choices[s].blank, available, values, seed, effort)
        return self._column(s, placements)

    def improved(
        self, column: Column, available: Ints, values: Floats, seed: int, rounds: int
    ) -> Column | None:
        """A layout of more value, sought from a known one on its supply by ruin and recreate."""
        assert column.made is not None
        blank, items = self.problem.choices[column.supply].blank, self._items(available, values)
        start = column.made.placements
        before = self.packer.work
        placements = self.packer.fill(blank, items, seed=seed, start=start, rounds=rounds)
        self._count(before)
        return self._column(column.supply, placements)

    def _column(self, s: int, placements: tuple[Placement, ...]) -> Column | None:
        if not placements:
            return None
        cut = self.cut(s, placements)
        return Column(s, cut.counts(len(self.parts)), made=cut)

    def of_discs(self) -> list[Column]:
        """Rows of each round type alone, on every supply; a mixed sheet seldom holds discs as densely."""
        found = []
        for t in np.flatnonzero(self.problem.wanted >= MANY_DISCS):
            item = Item(self.parts[t], int(self.problem.wanted[t]), 1.0)
            for s, supply in enumerate(self.problem.choices):
                placements = discs_in_rows(supply.blank, item)
                if placements:
                    cut = self.cut(s, placements)
                    found.append(Column(s, cut.counts(len(self.parts)), made=cut))
        return found

    def fill(
        self, blank: Blank, available: Ints, values: Floats, seed: int, effort: Effort,
        keep: Sequence[Placement] = (),
    ) -> tuple[Placement, ...]:  # fmt: skip
        """New placements on one blank beside those that stay."""
        items = self._items(available, values)
        if not items:
            return ()
        before = self.packer.work
        placements = self.packer.fill(
            blank, items, seed=seed, effort=effort.constructions, keep=keep,
            work=effort.looks * LOOK_CELLS, halt=effort.halt,
        )
        if len(items) == 1 and not keep:
            rows = discs_in_rows(blank, items[0])
            # Rows are easier to cut, but without them the sheet of the last pieces leaves more together.
            tidier = len(rows) == len(placements) < items[0].available
            placements = rows if tidier or len(rows) > len(placements) else placements
        self._count(before)
        return placements

    def _count(self, before: int) -> None:
        """Take note of the packer's work since a moment."""
        self.looks += CALL_LOOKS + (self.packer.work - before) // LOOK_CELLS

    def _items(self, available: Ints, values: Floats) -> list[Item]:
        return [Item(self.parts[t], int(available[t]), float(values[t])) for t in np.flatnonzero(available)]

    def packed(
        self, sheets: Sequence[tuple[int, float]], wanted: Ints, seed: int, looks: int, halt: Stop,
        start: Laidout = (),
    ) -> tuple[Laidout, float]:  # fmt: skip
        """All wanted pieces on given sheets (supply, mm kept free at the far end), if that can be done.

        Returns what lies on each sheet, and the share of the pieces' area that was left over. ``start`` is
        what an earlier attempt returned, to go on from.
        """
        metal = [Metal(self.problem.choices[s].blank, reserved) for s, reserved in sheets]
        items = [Item(self.parts[t], int(wanted[t]), 1.0) for t in np.flatnonzero(wanted)]
        before = self.packer.work
        found = self.packer.fill_all(metal, items, seed=seed, work=looks * LOOK_CELLS, halt=halt, start=start)
        self._count(before)
        return found.placements, found.left

    def cut(self, s: int, placements: tuple[Placement, ...], repeats: int = 1) -> Cut:
        """A sheet of true shapes."""
        rows = np.zeros((len(placements), 4), np.int64)
        rows[:, 0] = [self.types[placement.part] for placement in placements]
        frame, gap = datum_frame(self.problem.choices[s].blank), nm_up(self.gap)
        around = np.zeros((len(placements), 4), np.int64)
        for row, placed in zip(around, placements, strict=True):
            extent = self._extent(self.types[placed.part], placed.turn, mirrored=placed.mirrored)
            left, right = frame.span_x(placed.x + extent.left, placed.x + extent.right)
            low, high = frame.span_y(placed.y + extent.bottom, placed.y + extent.top)
            row[:2] = nm_down(left), nm_down(low)
            row[2:] = nm_up(right) + gap - row[0], nm_up(high) + gap - row[1]
        return Cut(s, rows, repeats, placements, around)

    def _extent(self, t: int, turn: float, *, mirrored: bool) -> Box:
        """The box round a part as it lies, about its own origin, mm."""
        key = t, turn, mirrored
        if key not in self._extents:
            lying = place(self.parts[t].outline, Placement("", 0.0, 0.0, turn, mirrored))
            self._extents[key] = box(lying.outer)
        return self._extents[key]


def grown_areas(problem: BoxProblem, gap: float) -> Floats:
    """Area that a piece of each type takes at least, half the gap all round it (nm2).

    Pieces grown by half the gap lie apart within the sheet less its margin grown by as much, so
    these areas add up to at most that of the free box of a supply. Arcs are taken on the inside.
    """
    grown = [
        to_polygon(made.part.outline, AREA_BOUND_MM, Side.IN).buffer(gap / 2.0) for made in problem.boxes
    ]
    return np.array([shapely.area(polygon) for polygon in grown]) * 1e12


@lru_cache(maxsize=MOST_PACKERS)
def _packer_of(parts: tuple[Part, ...]) -> OutlinePacker:
    """The packer of some parts; what it prepares serves every question about them in this process.

    Its answers depend on the parts and the question alone, so that remembering it changes none.
    """
    from sheetplan.packing.outlines import OutlinePacker  # compiled kernels that plain boxes never need

    return OutlinePacker(parts)
