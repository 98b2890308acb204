"""True shapes behind the words of the search: supplies, types and counts in, columns out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from sheetplan.model.job import Part
from sheetplan.model.outline import Loop, Outline, rectangle
from sheetplan.model.plan import Placement
from sheetplan.packing import Blank, Item
from sheetplan.packing.kernel import Ints
from sheetplan.packing.kernel_sequence import Floats, box_areas
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.discs_in_rows import discs_in_rows
from sheetplan.planning.search import Column
from sheetplan.shapes import Side, to_polygon
from sheetplan.trade.thickness import Thickness

PIECE_LOOKS = 1_300
"""What placing one true shape in one pass counts as work."""

AREA_BOUND_MM = 0.05
"""How finely outlines are flattened where only their area is wanted."""


MANY_DISCS = 5
"""Fewer round pieces of a type lie in no rows to speak of."""

WORTH_A_TRIAL = 0.88
"""Share of the boxes' area that the shapes fill; beyond it there is little to gain."""


def shapes_may_pay(problem: BoxProblem, gap: float) -> bool:
    """Whether shapes fill so little of their boxes that true-shape packing may pay."""
    boxes = float((problem.wanted * box_areas(problem.types)).sum())
    shapes = float((problem.wanted * grown_areas(problem, gap)).sum())
    return shapes < WORTH_A_TRIAL * boxes


class ShapeFiller:
    """Fills the supplies of one gauge with true shapes; ``looks`` counts the work done."""

    def __init__(self, problem: BoxProblem, gap: float) -> None:
        from sheetplan.packing.outlines import OutlinePacker  # compiled kernels that plain boxes never need

        self.problem, self.gap = problem, gap
        self.parts = [made.part for made in problem.boxes]
        self.types = {part.name: t for t, part in enumerate(self.parts)}
        self.packer = OutlinePacker(self.parts)
        self.areas = grown_areas(problem, gap)
        self.looks = 0

    def __reduce__(self) -> tuple[type[ShapeFiller], tuple[BoxProblem, float]]:
        """In another process it is prepared anew: what is prepared is larger than what it is made of."""
        return ShapeFiller, (self.problem, self.gap)

    def column(self, s: int, available: Ints, values: Floats, seed: int, effort: int) -> Column | None:
        """A layout of great value on one supply; None where nothing fits."""
        placements = self.fill(self.problem.choices[s].blank, available, values, seed, effort)
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
        self, blank: Blank, available: Ints, values: Floats, seed: int, effort: int,
        keep: Sequence[Placement] = (),
    ) -> tuple[Placement, ...]:  # fmt: skip
        """New placements on one blank beside those that stay."""
        items = [Item(self.parts[t], int(available[t]), float(values[t])) for t in np.flatnonzero(available)]
        if not items:
            return ()
        placements = self.packer.fill(blank, items, seed=seed, effort=effort, keep=keep)
        if len(items) == 1 and not keep:
            rows = discs_in_rows(blank, items[0])
            # Rows are easier to cut, but without them the sheet of the last pieces leaves more together.
            tidier = len(rows) == len(placements) < items[0].available
            placements = rows if tidier or len(rows) > len(placements) else placements
        self.looks += PIECE_LOOKS * effort * (len(placements) + 10)
        return placements

    def cut(self, s: int, placements: tuple[Placement, ...], repeats: int = 1) -> Cut:
        """A sheet of true shapes."""
        rows = np.zeros((len(placements), 4), np.int64)
        rows[:, 0] = [self.types[placement.part] for placement in placements]
        return Cut(s, rows, repeats, placements)

    def add(self, cut: Cut, blank: Blank, available: Ints) -> Cut:
        """What fits of so many more pieces beside what lies on a sheet of true shapes.

        ``blank`` is that of the cut's supply: the supplies of another aim are numbered differently.
        """
        more = self.fill(blank, available, self.areas, 1, 2, cut.placements)
        return self.cut(cut.supply, (*cut.placements, *more), cut.repeats) if more else cut


def grown_areas(problem: BoxProblem, gap: float) -> Floats:
    """Area that a piece of each type takes at least, half the gap all round it (nm2).

    Pieces grown by half the gap lie apart within the sheet less its margin grown by as much, so
    these areas add up to at most that of the free box of a supply. Arcs are taken on the inside.
    """
    grown = [
        to_polygon(made.part.outline, AREA_BOUND_MM, Side.IN).buffer(gap / 2.0) for made in problem.boxes
    ]
    return np.array([shapely.area(polygon) for polygon in grown]) * 1e12


def make_shapes_ready() -> None:
    """Compile the kernels of true shapes, or fetch their machine code from the last time."""
    from sheetplan.packing.outlines import OutlinePacker

    corner = Outline(Loop(((0.0, 0.0, 0.0), (20.0, 0.0, 0.0), (0.0, 10.0, 0.0))))
    part = Part("Corner", "Metal", Thickness(1.0, "1 mm"), corner)
    blank = Blank(rectangle(60.0, 40.0).outer, (), 1.0, 1.0)
    OutlinePacker([part]).fill(blank, [Item(part, 3, 1.0)], seed=1, effort=2)
