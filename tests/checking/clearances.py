"""The least clear distances of a layout, by the exact distances of the check."""

import math
from collections.abc import Mapping

from sheetplan.checking.layouts import edge_clearances, near_pairs, stands_of
from sheetplan.model import Layout, Part
from sheetplan.model.job import edge_of


def least_gap(layout: Layout, parts: Mapping[str, Part], reach: float) -> float | None:
    """Between two parts, or a part and an old cut, mm; None where nothing comes within ``reach``."""
    apart = near_pairs(stands_of(layout, parts), reach).apart
    least = float(apart.min(initial=math.inf))
    return least if math.isfinite(least) else None


def least_margin(layout: Layout, parts: Mapping[str, Part]) -> float:
    """Between a part and the edge of the sheet, mm."""
    return float(edge_clearances(stands_of(layout, parts), edge_of(layout.sheet)).min())
