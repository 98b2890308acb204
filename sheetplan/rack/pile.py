"""What lies on a remnant in its pile: its weight, and what moving it costs.

The book says how many sheets lie above a remnant. Those that it names itself, remnants at the same
rack place with fewer sheets above them, are weighed; the others are taken to be full sheets of the
kind that lies there, or of the remnant's own gauge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from statistics import fmean

from sheetplan.model.job import Job, Material, Remnant, SheetSize
from sheetplan.shapes import area, box
from sheetplan.trade.likeness import same
from sheetplan.trade.units import weight_kg


def with_piles(job: Job) -> Job:
    """The job with what lies on each remnant weighed and priced."""
    if not any(remnant.above for remnant in job.remnants):
        return job
    price = job.settings.moving_cost
    remnants = []
    for remnant in job.remnants:
        weight = weight_above(remnant, job)
        remnants.append(replace(remnant, weight_above=weight, moving_cost=weight * price))
    return replace(job, remnants=tuple(remnants))


def weight_above(remnant: Remnant, job: Job) -> float:
    """What lies on a remnant, kg; 0 where the book does not say that anything does."""
    if not remnant.above:
        return 0.0
    named = _named_above(remnant, job.remnants)
    known = [_remnant_weight(one, job.materials) for one in list(named.values())[: remnant.above]]
    return sum(known) + (remnant.above - len(known)) * _usual_weight(remnant, job)


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
    metal = area(remnant.edge) - sum(map(area, remnant.cuts))
    return _weight(remnant, metal, materials)


def _usual_weight(remnant: Remnant, job: Job) -> float:
    """One full sheet of the pile: as lies at the same place, or of the same gauge, or of the same size."""
    place = remnant.rack_place.strip().lower()
    there = [sheet for sheet in job.stock if place and sheet.rack_place.strip().lower() == place]
    alike = [
        sheet for sheet in job.stock
        if sheet.material == remnant.material and same(sheet.thickness, remnant.thickness)
    ]  # fmt: skip
    sheets = there or alike
    if sheets:
        return fmean(_weight(sheet, sheet.length * sheet.width, job.materials) for sheet in sheets)
    around = box(remnant.edge)
    return _weight(remnant, around.length * around.width, job.materials)


def _weight(sheet: SheetSize | Remnant, metal: float, materials: Mapping[str, Material]) -> float:
    material = materials.get(sheet.material)
    return weight_kg(metal, sheet.thickness.mm, material.density) if material else 0.0
