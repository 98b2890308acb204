"""The true-shape packer as planning sees it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from sheetplan.model.job import Part
from sheetplan.model.plan import Placement
from sheetplan.packing.outlines.construct import Stage
from sheetplan.packing.outlines.crowding import LooseMaps, loose_maps
from sheetplan.packing.outlines.emptying import Emptying
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.filling import PASS_WORK, filled_up
from sheetplan.packing.outlines.keeping import on_lattice, with_kept
from sheetplan.packing.outlines.orders import OrderSearch
from sheetplan.packing.outlines.poses import View, view_from
from sheetplan.packing.outlines.reading import placements_of
from sheetplan.packing.outlines.setup import Setup, field_of_blank, setup_of_parts
from sheetplan.packing.outlines.sheets import SheetsFiller
from sheetplan.packing.sheet_packer import Blank, Item

SEARCH_FROM = 40
"""From this effort on, half of it goes into adding pieces to the best construction."""

MOST_GROUNDS = 64
"""Blanks whose grids are remembered: each is a megabyte or so."""

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
        self._maps: dict[tuple[float, View], LooseMaps] = {}
        self._grounds: dict[Blank, tuple[Field, Stage]] = {}

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
        setup = self._setup(blank)
        field, stage = self._ground(blank, keep)
        available, values = self._columns(items)
        searching = effort // 2 if effort >= SEARCH_FROM else 0
        laid = OrderSearch(setup, field, stage, available, values, seed).run(effort - searching).laid
        if searching:
            whole = self._field(blank, keep)
            laid = filled_up(
                setup, whole, self._loose(blank), laid, available, values, seed, searching
            )
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
        setup = self._setup(blank)
        field, stage = self._ground(blank, ())
        available, _ = self._columns(items)
        searching = effort // 2 if effort >= SEARCH_FROM else 0
        filler = SheetsFiller(setup, field, stage, available, seed)
        batches = filler.vary(effort - searching, stop).batches
        if searching and not stop():
            emptying = Emptying(setup, field, self._loose(blank), batches, seed)
            batches = emptying.run(searching * PASS_WORK * SHEETS_FACTOR, stop)
        return tuple(Pattern(placements_of(setup, field, b.laid), b.repeats) for b in batches)

    def stands_on_lattice(self, blank: Blank, keep: Sequence[Placement]) -> bool:
        """Whether all placements lie as this packer lays pieces, so that adding beside them is quick."""
        field, _ = self._ground(blank, ())
        return not on_lattice(self._setup(blank), field, keep)[1]

    def _ground(self, blank: Blank, keep: Sequence[Placement]) -> tuple[Field, Stage]:
        """The field of a blank and where each pose may stand on it beside the placements that stay."""
        setup = self._setup(blank)
        if blank not in self._grounds:
            if len(self._grounds) >= MOST_GROUNDS:
                del self._grounds[next(iter(self._grounds))]
            field = self._field(blank, ())
            self._grounds[blank] = field, setup.stage(field)
        field, stage = self._grounds[blank]
        if not keep:
            return field, stage
        rows, others = on_lattice(setup, field, keep)
        if others:
            field = self._field(blank, others)
            stage = setup.stage(field)
        return field, with_kept(stage, rows)

    def _field(self, blank: Blank, keep: Sequence[Placement]) -> Field:
        stay = [(self._parts[self._number[placement.part]], placement) for placement in keep]
        return field_of_blank(blank, view_from(blank.datum), stay)

    def _columns(self, items: Sequence[Item]) -> tuple[list[int], list[float]]:
        """Pieces and values by part number; parts that are not among the items have none."""
        available = [0] * len(self._parts)
        values = [0.0] * len(self._parts)
        for item in items:
            available[self._number[item.part.name]] = item.available
            values[self._number[item.part.name]] = item.value
        return available, values

    def _setup(self, blank: Blank) -> Setup:
        key = blank.gap, view_from(blank.datum)
        if key not in self._setups:
            self._setups[key] = setup_of_parts(self._parts, *key)
        return self._setups[key]

    def _loose(self, blank: Blank) -> LooseMaps:
        key = blank.gap, view_from(blank.datum)
        if key not in self._maps:
            self._maps[key] = loose_maps(self._setup(blank))
        return self._maps[key]
