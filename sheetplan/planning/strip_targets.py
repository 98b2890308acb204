"""Which sheets to try to fill: the cheapest whose area has room for the pieces, more or less full."""

from __future__ import annotations

import highspy
import numpy as np

from sheetplan.packing.kernel import Flags, Ints
from sheetplan.packing.kernel_sequence import Floats
from sheetplan.packing.linear import INFINITY, add_column, add_row, column_values, new_model
from sheetplan.planning.search import Picks, Search
from sheetplan.planning.solution import SAME_COST

FILLS = (0.97, 0.98, 0.986, 0.99, 0.993, 0.996, 0.998)
"""How full the sheets of a target would have to be, the easiest first."""

MOST_SHEETS = 60
"""Sheets of a target; larger orders are served well enough by the linear master."""


def targets_of(search: Search, plain: Flags, kept: Picks, wanted: Ints) -> list[Ints]:
    """Sheets by supply, dearest first: the cheapest that have the area, none as dear as the best plan's."""
    supplies = search.problem.supplies
    paid = sum(search.costs[n] * repeats for n, repeats in kept.items())
    needed = float((wanted * search.areas).sum())
    found: dict[bytes, tuple[float, Ints]] = {}
    for fill in FILLS:
        sheets = _cheapest(supplies.costs, supplies.areas, np.where(plain, supplies.limits, 0), needed / fill)
        if sheets is None or sheets.sum() > MOST_SHEETS:
            continue
        cost = paid + float((sheets * supplies.costs).sum())
        if search.bound * (1.0 - SAME_COST) <= cost < search.score.cost * (1.0 - SAME_COST):
            found[sheets.tobytes()] = (cost, sheets)
    return [sheets for _, sheets in sorted(found.values(), key=lambda pair: -pair[0])]


def _cheapest(costs: Floats, areas: Floats, limits: Ints, needed: float) -> Ints | None:
    """Whole sheets of least cost with so much area; None where there is not so much."""
    model = new_model()
    for s, (cost, limit) in enumerate(zip(costs, limits, strict=True)):
        add_column(model, float(cost), float(limit), (), ())
        model.changeColIntegrality(s, highspy.HighsVarType.kInteger)
    add_row(model, 1.0, INFINITY, range(len(areas)), (areas / needed).tolist())
    model.run()
    if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return np.rint(column_values(model)).astype(np.int64)
