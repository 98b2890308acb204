"""Metal of an old skeleton that hangs on too little: plans leave it out.

Terms
-----
web
    What an earlier cut has left standing beside another cut or the edge; `CuttingRule.least_web` is the
    narrowest that holds.
main piece
    The largest piece of metal that holds together by webs no narrower than that. Islands that hang on
    narrower ones may have sagged, bent or gone.

Metal at least one web wide is found by drawing all metal in by half a web and letting it out again (the
opening of mathematical morphology: Serra, "Image Analysis and Mathematical Morphology", 1982, from memory).
What that takes off corners, and strips too narrow for any part, hold nothing anyway and are not told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import shapely

from sheetplan.model.job import CuttingRule, Job, Remnant
from sheetplan.model.outline import Loop
from sheetplan.model.problem import Problem, Weight
from sheetplan.shapes import Side, is_rectangle, to_polygon
from sheetplan.trade.likeness import same
from sheetplan.trade.units import SAME_LENGTH_MM, Units

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
