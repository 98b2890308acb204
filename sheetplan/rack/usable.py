"""How far a sheet in the rack can be used: metal that hangs on too little, what lies on it, and whether it
was seen.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import shapely

from sheetplan.model.job import CuttingRule, Job, Material, Remnant, SheetSize
from sheetplan.model.outline import Loop
from sheetplan.model.problem import Problem, Weight
from sheetplan.rack.step import Step
from sheetplan.shapes import Side, area, box, is_rectangle, to_polygon
from sheetplan.trade.thickness import same
from sheetplan.trade.units import SAME_LENGTH_MM, Units, weight_kg

# Metal of an old skeleton that hangs on too little: plans leave it out.
#
# Terms
# web
#     What an earlier cut has left standing beside another cut or the edge; `CuttingRule.least_web` is the
#     narrowest that holds.
# main piece
#     The largest piece of metal that holds together by webs no narrower than that. Islands that hang on
#     narrower ones may have sagged, bent or gone.
#
# Metal at least one web wide is found by drawing all metal in by half a web and letting it out again (the
# opening of mathematical morphology: Serra, "Image Analysis and Mathematical Morphology", 1982, from
# memory). What that takes off corners, and strips too narrow for any part, hold nothing anyway and are not
# told.

FINE_MM = 0.05
"""Flattening error, always on the side of less metal."""

ROUND = 16
"""Pieces to a quarter turn of the drawing in and letting out."""

Rows = Mapping[str, int]


def with_hanging(job: Job, rows: Rows) -> tuple[Job, list[Problem]]:
    """The job without metal that hangs on too little, and a note for each remnant that has some.

    ``rows`` are the rows of the page Remnants by tag.
    """
    kept, notes = [], []
    for remnant in job.remnants:
        rule = next((one for one in job.rules if _is_for(one, remnant)), None)
        loops = hanging(remnant, rule.least_web, rule.gap) if rule else ()
        if rule is None or not loops:
            kept.append(remnant)
            continue
        kept.append(replace(remnant, cuts=(*remnant.cuts, *loops), hanging=len(loops)))
        notes.append(_note(remnant, len(loops), rule.least_web, job.settings.units, rows.get(remnant.tag)))
    return (replace(job, remnants=tuple(kept)) if notes else job), notes


def _is_for(rule: CuttingRule, remnant: Remnant) -> bool:
    return rule.material == remnant.material and same(rule.thickness, remnant.thickness)


def _note(remnant: Remnant, count: int, web: float, units: Units, row: int | None) -> Problem:
    pieces = "a piece of its metal hangs" if count == 1 else f"{count} pieces of its metal hang"
    return Problem(
        "Remnants", row, f"A{row}" if row else None,
        f"{remnant.tag}: {pieces} on webs narrower than Least web on the page Cutting "
        f"({web / units.length_mm:.4g} {units.value}), and no part is laid there.",
        "Nothing, or cut such pieces off and give each a tag of its own.", Weight.NOTE,
    )  # fmt: skip


def hanging(remnant: Remnant, web: float, gap: float) -> tuple[Loop, ...]:
    """Pieces of a remnant that hang on webs narrower than ``web`` and could hold a part at ``gap`` from all.

    Each is a loop that covers it; none where the remnant holds together. All in mm.
    """
    if web <= 0.0 or not _has_narrow_web(remnant, web):
        return ()
    gone = shapely.union_all([to_polygon(cut, FINE_MM, Side.OUT) for cut in remnant.cuts])
    metal = to_polygon(remnant.edge, FINE_MM, Side.IN).difference(gone)
    half = web / 2.0 - SAME_LENGTH_MM
    pieces = shapely.get_parts(metal.buffer(-half, ROUND))
    if len(pieces) < 2:
        return ()
    main = max(pieces, key=shapely.area).buffer(half + FINE_MM, ROUND)
    lost = shapely.get_parts(metal.difference(main))
    return tuple(_loop(piece) for piece in lost if not piece.buffer(-gap, ROUND).is_empty)


def _has_narrow_web(remnant: Remnant, web: float) -> bool:
    """Whether it may have a web narrower than that; a quick look that says yes too often."""
    if not is_rectangle(remnant.edge):
        return True
    rings = [to_polygon(cut, FINE_MM, Side.OUT).boundary for cut in remnant.cuts]
    rings.append(to_polygon(remnant.edge, FINE_MM).boundary)
    first, second = shapely.STRtree(rings).query(rings, predicate="dwithin", distance=web)
    return bool((first != second).any())


def _loop(piece: Any) -> Loop:
    """The outline of a piece, openings in it included."""
    points = shapely.get_coordinates(piece.exterior.simplify(FINE_MM))[:-1]
    return Loop(tuple((float(x), float(y), 0.0) for x, y in points))


# What lies on a remnant in its pile: its weight, and what moving it costs.
#
# The book says how many sheets lie above a remnant. Those that it names itself, remnants at the same
# rack place with fewer sheets above them, are weighed; the others are taken to be full sheets on hand of
# the kind that lies there, or of the remnant's own gauge. Where those are not alike the heaviest is meant,
# since people lift by this weight.

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
    return [_weight(remnant, around.area, job.materials)]


def _on_hand(sheets: Sequence[SheetSize]) -> list[SheetSize]:
    return [sheet for sheet in sheets if sheet.on_hand > sheet.on_order]


def _weight(sheet: SheetSize | Remnant, metal: float, materials: Mapping[str, Material]) -> float:
    material = materials.get(sheet.material)
    return weight_kg(metal, sheet.thickness.mm, material.density) if material else 0.0


# Counts of the rack: which sheets were seen on which day, and which were missed twice.
#
# A count says nothing of a sheet that came to the rack later. One that two counts in a row did not see is
# asked about until it is seen, or its row says that it is gone; it is planned on all the same, since that is
# the planner's to say.

KEPT = 12
"""Counts that are kept: a year of monthly ones."""

ASKED_AFTER = 2
"""So many counts in a row that did not see a sheet have it asked about."""


@dataclass(frozen=True, slots=True)
class Count:
    """One walk along the rack: its day, as ``2026-11-27``, and the tags seen."""

    day: str
    seen: frozenset[str]


def with_count(counts: Iterable[Count], new: Count) -> tuple[Count, ...]:
    """The counts by day with one more; one of the same day is replaced, the oldest go."""
    others = (one for one in counts if one.day != new.day)
    return tuple(sorted((*others, new), key=lambda one: one.day)[-KEPT:])


def counts_text(counts: Iterable[Count]) -> str:
    """Counts as a file's text."""
    value = {"format": 1, "counts": [{"day": one.day, "seen": sorted(one.seen)} for one in counts]}
    return json.dumps(value, ensure_ascii=False, indent=1) + "\n"


def counts_of(text: str) -> tuple[Count, ...]:
    """The counts that `counts_text` wrote, by day; ValueError where the text is damaged."""
    try:
        found = [
            Count(str(one["day"]), frozenset(map(str, one["seen"]))) for one in json.loads(text)["counts"]
        ]
    except (KeyError, TypeError) as error:
        raise ValueError(str(error)) from error
    return tuple(sorted(found, key=lambda one: one.day))


def missed_twice(
    remnants: Iterable[Remnant], counts: Sequence[Count], steps: Iterable[Step]
) -> Iterator[tuple[Remnant, str]]:
    """Sheets that the last counts did not see, though they were in the rack by then, and the days."""
    last = counts[-ASKED_AFTER:]
    if len(last) < ASKED_AFTER:
        return
    came: dict[str, str] = {}
    for step in steps:
        # One that was cut again lay there before: the first step that left it is when it came.
        for tag in step.left:
            came[tag] = min(came.get(tag, step.date), step.date)
    for remnant in remnants:
        if not any(remnant.tag in one.seen for one in last) and came.get(remnant.tag, "") < last[0].day:
            yield remnant, " and ".join(one.day for one in last)
