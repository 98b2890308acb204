"""The true-shape packer as planning sees it."""

from __future__ import annotations

from collections.abc import Sequence

from sheetplan.model.job import Part
from sheetplan.model.plan import Placement
from sheetplan.packing.outlines.orders import OrderSearch
from sheetplan.packing.outlines.poses import View, view_from
from sheetplan.packing.outlines.reading import placements_of
from sheetplan.packing.outlines.setup import Setup, field_of_blank, setup_of_parts
from sheetplan.packing.sheet_packer import Blank, Item


class OutlinePacker:
    """Fills one sheet with true outlines (see `sheetplan.packing.SheetPacker`).

    Parameters
    ----------
    parts
        All parts that items or kept placements will ever name. What is prepared depends on them,
        so that an answer depends on these parts and the call alone, whatever was asked before.
    """

    def __init__(self, parts: Sequence[Part]) -> None:
        self._parts = tuple(parts)
        self._number = {part.name: k for k, part in enumerate(self._parts)}
        self._setups: dict[tuple[float, View], Setup] = {}

    def setup(self, gap: float, view: View) -> Setup:
        """What is prepared for a gap and a datum corner; made when first asked for."""
        if (gap, view) not in self._setups:
            self._setups[gap, view] = setup_of_parts(self._parts, gap, view)
        return self._setups[gap, view]

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
        view = view_from(blank.datum)
        setup = self.setup(blank.gap, view)
        field = field_of_blank(blank, view, [(self._parts[self._number[p.part]], p) for p in keep])
        available = [0] * len(self._parts)
        values = [0.0] * len(self._parts)
        for item in items:
            available[self._number[item.part.name]] = item.available
            values[self._number[item.part.name]] = item.value
        trial = OrderSearch(setup, field, available, values, seed).run(effort)
        return placements_of(setup, field, trial.placed)
