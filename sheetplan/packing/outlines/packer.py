"""The true-shape packer as planning sees it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.model.job import Part
from sheetplan.model.plan import Placement
from sheetplan.packing.outlines.crowding import Crowding, LooseMaps, loose_maps
from sheetplan.packing.outlines.filling import FixedBins, Ground, filled_up
from sheetplan.packing.outlines.laid import laid_of, on_lattice, placements_of, with_kept
from sheetplan.packing.outlines.no_fit import Ints
from sheetplan.packing.outlines.orders import OrderSearch
from sheetplan.packing.outlines.poses import View, view_from
from sheetplan.packing.outlines.recreating import recreated, rows_on_lattice, wares_of
from sheetplan.packing.outlines.setup import Setup, field_of_blank, setup_of_parts
from sheetplan.packing.rng import new_chance
from sheetplan.packing.sheet_packer import Blank, Item, Metal

Halt = Callable[[], bool]

MOST_GROUNDS = 64
"""Sheets that are remembered ready for filling: each takes a megabyte or so."""


@dataclass(frozen=True, slots=True)
class Packed:
    """What lies on each of some sheets, and the share of the pieces' area left over."""

    placements: tuple[tuple[Placement, ...], ...]
    left: float


def never() -> bool:
    """A stop that never comes."""
    return False


class OutlinePacker:
    """Fills sheets with true outlines (see `sheetplan.packing.SheetPacker`).

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
        self._grounds: dict[Metal, Ground] = {}
        self._areas: dict[float, NDArray[np.float64]] = {}
        self.work = 0
        """Work done so far, in cells of maps read."""

    def fill(
        self,
        blank: Blank,
        items: Sequence[Item],
        *,
        seed: int,
        effort: int = 1,
        keep: Sequence[Placement] = (),
        rounds: int = 0,
        start: Sequence[Placement] = (),
        work: int = 0,
        halt: Halt = never,
    ) -> tuple[Placement, ...]:
        """Place pieces on a blank; see `sheetplan.packing.SheetPacker.fill`.

        After ``effort`` constructions come so many ``rounds`` of ruin and recreate, from ``start`` in their
        place where that lies on the lattice; then pieces are put in one by one for so much ``work``, in
        cells of maps read.
        """
        setup = self._setup(blank)
        ground = self._with_kept(blank, keep) if keep else self._ground(Metal(blank))
        available, values = self._columns(items)
        field, before = ground.crowding.field, ground.crowding.work
        begun = laid_of(setup, field, start) if start else None
        if begun is None or rows_on_lattice(setup, begun) is None:
            search = OrderSearch(setup, field, ground.stage, available.tolist(), values.tolist(), seed)
            begun = search.run(effort).laid
            self.work += setup.work_of(len(begun.pose), constructions=effort)
        wares = wares_of(setup, available, values)
        laid = recreated(setup, ground.stage, begun, wares, rounds, new_chance(seed))
        if work and len(laid.pose) < available.sum():
            laid = filled_up(ground, laid, available, values, new_chance(seed), work, halt)
        self.work += setup.work_of(len(laid.pose), rounds=rounds) + ground.crowding.work - before
        return placements_of(setup, field, laid)

    def fill_all(
        self,
        sheets: Sequence[Metal],
        items: Sequence[Item],
        *,
        seed: int,
        work: int,
        halt: Halt = never,
        start: Sequence[Sequence[Placement]] = (),
    ) -> Packed:
        """Place all pieces on given sheets, as far as so much ``work`` (cells of maps read) goes.

        Parameters
        ----------
        sheets
            One entry a sheet; blanks have the same gap and datum corner.
        items, seed
            As for `fill`; values do not matter.
        halt
            Asked between steps; True ends the attempt under way.
        start
            What an earlier attempt laid on each of the sheets, to go on from.
        """
        setup = self._setup(sheets[0].blank)
        grounds = [self._ground(sheet) for sheet in sheets]
        available, _ = self._columns(items)
        search = FixedBins(grounds, available, self._grown(sheets[0].blank), seed)
        before = search.work
        laids = [laid_of(setup, g.crowding.field, placed) for g, placed in zip(grounds, start, strict=False)]
        found = search.attempt(work, halt, laids)
        self.work += search.work - before
        placed = tuple(
            placements_of(setup, ground.crowding.field, laid)
            for ground, laid in zip(grounds, found.laids, strict=True)
        )
        return Packed(placed, found.share)

    def stands_on_lattice(self, blank: Blank, keep: Sequence[Placement]) -> bool:
        """Whether all placements lie as this packer constructs, so that adding beside them is quick."""
        field = self._ground(Metal(blank)).crowding.field
        return not on_lattice(self._setup(blank), field, keep)[1]

    def _ground(self, metal: Metal) -> Ground:
        """A sheet ready for filling."""
        if metal not in self._grounds:
            if len(self._grounds) >= MOST_GROUNDS:
                del self._grounds[next(iter(self._grounds))]
            field = field_of_blank(metal.blank, view_from(metal.blank.datum), ())
            field = replace(field, length=field.length - metal.reserved)
            setup = self._setup(metal.blank)
            crowding = Crowding(lambda: self._loose(metal.blank), field)
            self._grounds[metal] = Ground(setup, setup.stage(field), crowding)
        return self._grounds[metal]

    def _with_kept(self, blank: Blank, keep: Sequence[Placement]) -> Ground:
        """A sheet on which some placements stay: on the lattice where they lie on it, else as obstacles."""
        ground, setup = self._ground(Metal(blank)), self._setup(blank)
        rows, others = on_lattice(setup, ground.crowding.field, keep)
        view = view_from(blank.datum)
        stay = [(self._parts[self._number[placement.part]], placement) for placement in keep]
        off = [(self._parts[self._number[placement.part]], placement) for placement in others]
        stage = setup.stage(field_of_blank(blank, view, off)) if off else ground.stage
        whole = field_of_blank(blank, view, stay)
        return Ground(setup, with_kept(stage, rows), Crowding(lambda: self._loose(blank), whole))

    def _columns(self, items: Sequence[Item]) -> tuple[Ints, NDArray[np.float64]]:
        """Pieces and values by part number; parts that are not among the items have none."""
        available = np.zeros(len(self._parts), np.int64)
        values = np.zeros(len(self._parts), np.float64)
        for item in items:
            available[self._number[item.part.name]] = item.available
            values[self._number[item.part.name]] = item.value
        return available, values

    def _grown(self, blank: Blank) -> NDArray[np.float64]:
        """What a piece of each part takes at least, with half the gap round it, mm2."""
        if blank.gap not in self._areas:
            solids = [shape.solid for shape in self._setup(blank).pose_set.shapes]
            self._areas[blank.gap] = shapely.area(shapely.buffer(solids, blank.gap / 2.0))
        return self._areas[blank.gap]

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
