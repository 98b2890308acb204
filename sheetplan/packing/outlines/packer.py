"""The true-shape packer as planning sees it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from sheetplan.model.job import Part
from sheetplan.model.plan import Placement
from sheetplan.packing.outlines.crowding import loose_depths
from sheetplan.packing.outlines.depths import Depths
from sheetplan.packing.outlines.emptying import Emptying
from sheetplan.packing.outlines.filling import PASS_WORK, filled_up
from sheetplan.packing.outlines.orders import OrderSearch
from sheetplan.packing.outlines.poses import View, view_from
from sheetplan.packing.outlines.reading import placements_of
from sheetplan.packing.outlines.setup import Setup, field_of_blank, setup_of_parts
from sheetplan.packing.outlines.sheets import SheetsFiller
from sheetplan.packing.sheet_packer import Blank, Item

SEARCH_FROM = 40
"""From this effort on, half of it goes into adding pieces to the best construction."""

SHEETS_FACTOR = 4
"""A pass over many sheets is so many times the work of a pass over one."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """One arrangement and how many equal sheets are cut by it."""

    placements: tuple[Placement, ...]
    repeats: int


def never() -> bool:
    """A stop that never comes."""
    return False


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
        self._depths: dict[tuple[float, View], Depths] = {}

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
        setup = self._setup(blank.gap, view)
        field = field_of_blank(blank, view, [(self._parts[self._number[p.part]], p) for p in keep])
        available, values = self._columns(items)
        searching = effort // 2 if effort >= SEARCH_FROM else 0
        laid = OrderSearch(setup, field, available, values, seed).run(effort - searching).laid
        if searching:
            depths = self._loose(blank.gap, view)
            laid = filled_up(setup, field, depths, laid, available, values, seed, searching)
        return placements_of(setup, field, laid)

    def fill_sheets(
        self,
        blank: Blank,
        items: Sequence[Item],
        *,
        seed: int,
        effort: int = 1,
        stop: Callable[[], bool] = never,
    ) -> tuple[Pattern, ...]:
        """Put all pieces on as few equal blanks as can be found; values do not matter here.

        Parameters
        ----------
        blank, items, seed
            As for `fill`.
        effort
            Passes: one makes a complete set of sheets at once; more try other orders, and from
            some tens on, half of them empty the emptiest sheet into the others.
        stop
            Asked between steps; True ends the search with the best sheets so far.

        Returns
        -------
        tuple of Pattern
            In the order of filling, the emptiest last. Pieces that fit on no blank are left out.
        """
        view = view_from(blank.datum)
        setup = self._setup(blank.gap, view)
        field = field_of_blank(blank, view, ())
        available, _ = self._columns(items)
        searching = effort // 2 if effort >= SEARCH_FROM else 0
        batches = SheetsFiller(setup, field, available, seed).vary(effort - searching, stop).batches
        if searching and not stop():
            emptying = Emptying(setup, field, self._loose(blank.gap, view), batches, seed)
            batches = emptying.run(searching * PASS_WORK * SHEETS_FACTOR, stop)
        return tuple(Pattern(placements_of(setup, field, b.laid), b.repeats) for b in batches)

    def _columns(self, items: Sequence[Item]) -> tuple[list[int], list[float]]:
        """Pieces and values by part number; parts that are not among the items have none."""
        available = [0] * len(self._parts)
        values = [0.0] * len(self._parts)
        for item in items:
            available[self._number[item.part.name]] = item.available
            values[self._number[item.part.name]] = item.value
        return available, values

    def _setup(self, gap: float, view: View) -> Setup:
        if (gap, view) not in self._setups:
            self._setups[gap, view] = setup_of_parts(self._parts, gap, view)
        return self._setups[gap, view]

    def _loose(self, gap: float, view: View) -> Depths:
        if (gap, view) not in self._depths:
            self._depths[gap, view] = loose_depths(self._setup(gap, view))
        return self._depths[gap, view]

