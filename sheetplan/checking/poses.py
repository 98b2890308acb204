"""Everything solid on one sheet: parts as placed and old cuts, ready to be measured.

Terms
-----
pose
    An outline turned (and mirrored) but not yet moved. Hundreds of pieces share a few poses, so
    each pose is prepared once.
stand
    A pose at its place on the sheet. Old cuts come after the parts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from sheetplan.checking.curves import Column, Curves, Index, curves_of, joined
from sheetplan.model.job import Part, Remnant
from sheetplan.model.outline import Outline
from sheetplan.model.plan import Layout, Placement
from sheetplan.shapes import box, place, to_polygon
from sheetplan.trade.units import SAME_LENGTH_MM

FLAT_MM = SAME_LENGTH_MM / 2.0
"""How finely a pose is flattened where inside must be told from outside: below any tolerance."""


class Pose:
    """An outline in its own frame, as curves for distances and as a polygon for inside tests."""

    def __init__(self, outline: Outline) -> None:
        self.outline = outline
        self.curves = curves_of(outline)
        self.box = box(outline)

    @cached_property
    def polygon(self) -> shapely.Geometry:
        """The metal, flattened to `FLAT_MM`."""
        polygon = to_polygon(self.outline, FLAT_MM)
        shapely.prepare(polygon)
        return polygon


@dataclass(frozen=True)
class Stands:
    """The stands of one sheet as columns; ``parts`` of them are parts, the rest old cuts.

    ``boxes`` has shape (n, 4): left, bottom, right, top. ``first`` and ``count`` say which rows of
    ``curves`` belong to each stand's pose, before ``(dx, dy)`` is added.
    """

    poses: list[Pose]
    pose: Index
    dx: Column
    dy: Column
    boxes: Column
    curves: Curves
    first: Index
    count: Index
    parts: int

    def __len__(self) -> int:
        return len(self.pose)

    def moved_curves(self, rows: Index, stands: Index) -> Curves:
        """Rows of ``curves``, each moved to the place of its own stand."""
        return self.curves.take(rows).moved(self.dx[stands], self.dy[stands])

    def polygon(self, stand: int) -> shapely.Geometry:
        """The metal of one stand at its place."""
        shift = np.array((self.dx[stand], self.dy[stand]))
        return shapely.transform(self.poses[self.pose[stand]].polygon, lambda points: points + shift)


def stands_of(layout: Layout, parts: Mapping[str, Part]) -> Stands:
    """All parts and old cuts of a layout; every part of it must be known."""
    poses: list[Pose] = []
    known: dict[tuple[str, float, bool], int] = {}
    pose, shifts = [], []
    for placement in layout.placements:
        key = (placement.part, placement.turn, placement.mirrored)
        if key not in known:
            known[key] = len(poses)
            unmoved = Placement(placement.part, 0.0, 0.0, placement.turn, placement.mirrored)
            poses.append(Pose(place(parts[placement.part].outline, unmoved)))
        pose.append(known[key])
        shifts.append((placement.x, placement.y))
    cuts = layout.sheet.cuts if isinstance(layout.sheet, Remnant) else ()
    for cut in cuts:
        pose.append(len(poses))
        poses.append(Pose(Outline(cut)))
        shifts.append((0.0, 0.0))
    return _columns(poses, pose, shifts, len(layout.placements))


def _columns(poses: list[Pose], pose: list[int], shifts: list[tuple[float, float]], parts: int) -> Stands:
    counts = np.array([len(one.curves) for one in poses], dtype=np.int64)
    firsts = np.concatenate(([0], np.cumsum(counts)[:-1])).astype(np.int64)
    index = np.array(pose, dtype=np.int64)
    dx, dy = np.array(shifts, dtype=np.float64).reshape(-1, 2).T
    boxes = np.array([one.box for one in poses]).reshape(-1, 4)[index]
    return Stands(
        poses, index, dx, dy, boxes + np.column_stack((dx, dy, dx, dy)),
        joined([one.curves for one in poses]), firsts[index], counts[index], parts,
    )  # fmt: skip
