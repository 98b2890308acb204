"""What lies on a remnant in its pile: its weight, and what moving it costs.

The book says how many sheets lie above a remnant. Those that it names itself, remnants at the same
rack place with fewer sheets above them, are weighed; the others are taken to be full sheets on hand of
the kind that lies there, or of the remnant's own gauge. Where those are not alike the heaviest is meant,
since people lift by this weight.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sheetplan.model.job import Job, Material, Remnant, SheetSize
from sheetplan.shapes import area, box
from sheetplan.trade.likeness import same
from sheetplan.trade.units import weight_kg

SAME_WEIGHT_KG = 0.001
"""Sheets that differ by less than a gram weigh the same: that is arithmetic."""


def with_piles(job: Job) -> Job:
    """The job with what lies on each remnant weighed and priced."""
    if not any(remnant.above for remnant in job.remnants):
        return job
    price = job.settings.moving_cost
    remnants = []
    for remnant in job.remnants:
        weight, is_most = weight_above(remnant, job)
        cost = weight * price
        remnants.append(replace(remnant, weight_above=weight, moving_cost=cost, is_most=is_most))
    return replace(job, remnants=tuple(remnants))


def weight_above(remnant: Remnant, job: Job) -> tuple[float, bool]:
    """What lies on a remnant, kg, and whether that is the most it may be, as far as the book says.

    0 where the book does not say that anything lies there.
    """
    if not remnant.above:
        return 0.0, False
    named = _named_above(remnant, job.remnants)
    known = [_remnant_weight(one, job.materials) for one in list(named.values())[: remnant.above]]
    unknown = remnant.above - len(known)
    if not unknown:
        return sum(known), False
    weights = sorted(_full_weights(remnant, job))
    return sum(known) + unknown * weights[-1], weights[-1] - weights[0] > SAME_WEIGHT_KG


def _named_above(remnant: Remnant, remnants: Sequence[Remnant]) -> Mapping[int, Remnant]:
    """Remnants higher in the same pile, by how many sheets lie on them."""
    assert remnant.above is not None, "asked for one that lies under others"
    place = remnant.rack_place.strip().lower()
    return {
        one.above: one for one in remnants
        if place and one.above is not None and one.above < remnant.above
        and one.rack_place.strip().lower() == place
    }  # fmt: skip


def _remnant_weight(remnant: Remnant, materials: Mapping[str, Material]) -> float:
    metal = area(remnant.edge) - sum(map(area, remnant.old_cuts))
    return _weight(remnant, metal, materials)


def _full_weights(remnant: Remnant, job: Job) -> list[float]:
    """Full sheets that may lie on it: as lie at the same place, or of the same gauge, or of the same size.

    Sizes with none on hand lie nowhere, and count only where no other is known.
    """
    place = remnant.rack_place.strip().lower()
    there = [sheet for sheet in job.stock if place and sheet.rack_place.strip().lower() == place]
    alike = [
        sheet for sheet in job.stock
        if sheet.material == remnant.material and same(sheet.thickness, remnant.thickness)
    ]  # fmt: skip
    sheets = _on_hand(there) or _on_hand(alike) or there or alike
    if sheets:
        return [_weight(sheet, sheet.length * sheet.width, job.materials) for sheet in sheets]
    around = box(remnant.edge)
    return [_weight(remnant, around.length * around.width, job.materials)]


def _on_hand(sheets: Sequence[SheetSize]) -> list[SheetSize]:
    return [sheet for sheet in sheets if sheet.on_hand > sheet.on_order]


def _weight(sheet: SheetSize | Remnant, metal: float, materials: Mapping[str, Material]) -> float:
    material = materials.get(sheet.material)
    return weight_kg(metal, sheet.thickness.mm, material.density) if material else 0.0
