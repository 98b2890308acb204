"""What is prepared once for the parts of a gauge: poses, contacts, units; and once per sheet: its field."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.model.job import Part
from sheetplan.model.outline import Loop
from sheetplan.model.plan import Placement
from sheetplan.packing.outlines.construct import Stage
from sheetplan.packing.outlines.contacts import Contacts, Ints, Runs
from sheetplan.packing.outlines.field import Field, make_field, start_grid
from sheetplan.packing.outlines.growing import TOUCH_SLACK_MM, Edges, grown
from sheetplan.packing.outlines.lattice import best_step
from sheetplan.packing.outlines.pairs import pair_units
from sheetplan.packing.outlines.poses import PoseSet, Shape, View, make_poses, pose_boxes
from sheetplan.packing.outlines.solids import cut_polygon, edge_polygon, part_shapes
from sheetplan.packing.outlines.units import Unit, Units, as_columns, single
from sheetplan.packing.sheet_packer import Blank
from sheetplan.shapes import Side, place, size, to_polygon
from sheetplan.trade.units import SAME_LENGTH_MM

EDGE_BOUND_MM = 0.05
"""Arcs of sheet edges and old cuts are flattened within this, to the safe side."""


@dataclass(frozen=True, slots=True)
class Setup:
    """Shapes in one view with one gap on one lattice. ``areas`` are the solids' areas per shape, mm2."""

    step: float
    pose_set: PoseSet
    contacts: Contacts
    runs: Runs
    units: tuple[Unit, ...]
    columns: Units
    boxes: Edges
    pose_shape: Ints
    areas: NDArray[np.float64]

    def stage(self, field: Field) -> Stage:
        """The setup on one field, ready for `construct`."""
        return Stage(start_grid(field, self.pose_set, self.step), self.runs, self.columns, self.boxes)


def make_setup(shapes: Sequence[Shape], gap: float, view: View, step: float) -> Setup:
    """Prepare shapes for packing."""
    pose_set = make_poses(shapes, gap, view)
    contacts = Contacts(pose_set, step)
    units = (*(single(pose_set, k) for k in range(len(shapes))), *pair_units(contacts))
    return Setup(
        step,
        pose_set,
        contacts,
        contacts.runs(),
        units,
        as_columns(units),
        pose_boxes(pose_set.poses) / step,
        np.array([pose.shape for pose in pose_set.poses], np.int64),
        np.array([shape.solid.area for shape in shapes]),
    )


def setup_of_parts(parts: Sequence[Part], gap: float, view: View) -> Setup:
    """Prepare parts for packing on the lattice that suits them."""
    step = best_step([size(part.outline) for part in parts], gap)
    return make_setup(part_shapes(parts, step, gap), gap, view, step)


def field_of_blank(blank: Blank, view: View, keep: Sequence[tuple[Part, Placement]]) -> Field:
    """What of a blank may be used: its edge less the margin, clear of old cuts and of parts that stay."""
    obstacles: list[tuple[shapely.Geometry, float]] = [
        (_old_cut(cut, blank.extra_gap), blank.gap) for cut in blank.cuts
    ]
    for part, placement in keep:
        obstacles.append((to_polygon(place(part.outline, placement), EDGE_BOUND_MM, Side.OUT), blank.gap))
    return make_field(edge_polygon(blank.edge, EDGE_BOUND_MM), blank.margin, view, obstacles)


def _old_cut(cut: Loop, extra: float) -> shapely.Geometry:
    """An old cut with the extra metal that is kept clear of it."""
    solid = cut_polygon(cut, EDGE_BOUND_MM)
    return grown(solid, extra + TOUCH_SLACK_MM) if extra > SAME_LENGTH_MM else solid
