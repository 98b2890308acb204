"""Whether everything lies on the sheet, with the margin clear."""

from __future__ import annotations

import numpy as np
import shapely

from sheetplan.checking.curves import Column, Index, curves_of
from sheetplan.checking.distances import distances
from sheetplan.checking.poses import Pose, Stands
from sheetplan.model.outline import Loop, Outline
from sheetplan.shapes import box, is_rectangle
from sheetplan.trade.units import SAME_LENGTH_MM


def edge_clearances(stands: Stands, edge: Loop) -> Column:
    """Clear metal between each part and the sheet's edge, mm; below 0 where it sticks out.

    On an odd remnant a part that sticks out, or touches the edge, has -infinity or 0.
    """
    parts = np.arange(stands.parts)
    around = box(edge)
    left, bottom, right, top = stands.boxes[parts].T
    to_box = np.minimum.reduce((
        left - around.left, bottom - around.bottom, around.right - right, around.top - top,
    ))  # fmt: skip
    return to_box if is_rectangle(edge) else np.minimum(to_box, _to_odd_edge(stands, parts, edge))


def _to_odd_edge(stands: Stands, parts: Index, edge: Loop) -> Column:
    """Exact distances to each piece of the edge; outside is told by one point of each part."""
    sheet = Pose(Outline(edge))
    pieces = curves_of(Outline(edge))
    clear = np.full(len(parts), np.inf)
    for stand in parts:
        rows = np.arange(stands.first[stand], stands.first[stand] + stands.count[stand])
        own = stands.moved_curves(rows, np.full(len(rows), stand))
        mine, theirs = np.divmod(np.arange(len(rows) * len(pieces)), len(pieces))
        clear[stand] = distances(own.take(mine), pieces.take(theirs)).min()
        if clear[stand] <= SAME_LENGTH_MM:
            outside = stands.polygon(int(stand)).difference(sheet.polygon).buffer(-SAME_LENGTH_MM)
            clear[stand] = 0.0 if outside.is_empty else -np.inf
        elif not shapely.contains_xy(sheet.polygon, own.x0[0], own.y0[0]):
            clear[stand] = -np.inf
    return clear


def short_of(clear: Column, margin: float) -> list[int]:
    """The parts with less than the margin; a distance that is no number is less than any margin."""
    return np.flatnonzero(~(clear >= margin - SAME_LENGTH_MM)).tolist()
