"""What is prepared once for the parts of a gauge (lattice, poses, contacts, units) and once per sheet.

Lattice: a step that divides the gap wastes nothing between parts whose sizes are whole steps, and sizes in
a shop mostly are round numbers. So the candidates are whole fractions of the gap and round
numbers of both systems; the one that wastes least on the given sizes wins.

Pairs: gussets, angles and trapezoids fill much more of their common box in twos than alone. Of all
lattice shifts at which the half-turned piece touches the first one, those are kept whose
common box is smallest; such a pair is placed as one unit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.model.job import Part
from sheetplan.model.outline import Loop
from sheetplan.model.plan import Placement
from sheetplan.packing.outlines.bottom_left import Stage, Unit, Units, Variant, as_columns, single
from sheetplan.packing.outlines.field import Field, make_field, start_grid
from sheetplan.packing.outlines.no_fit import Contacts, Ints, Runs, key_of, quarter_turned_map
from sheetplan.packing.outlines.poses import (
    TOUCH_SLACK_MM,
    Edges,
    Pose,
    PoseSet,
    Shape,
    View,
    grown,
    make_poses,
    pose_boxes,
)
from sheetplan.packing.outlines.solids import cut_polygon, edge_polygon, part_shapes
from sheetplan.packing.sheet_packer import Blank
from sheetplan.shapes import Side, place, size, to_polygon
from sheetplan.trade.units import MM_PER_INCH, SAME_LENGTH_MM

STEPS_ACROSS = 48.0
"""Wanted steps across a middling part: finer costs time and gains little (tried on shop parts)."""

FINEST_MM = 0.5
COARSEST_MM = 10.0

ROUND_MM = (0.5, 1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 10.0)
ROUND_INCH = (1 / 32, 1 / 16, 1 / 8, 3 / 16, 1 / 4, 3 / 8)

COARSE_COST = 0.002
"""Share of metal that a step as large as wanted is thought to cost where parts are not boxes."""

MOST_CELLS = 600e6
"""Cells of the maps of all pairs of parts together, in four turns: beyond it runs take hundreds of megabytes.

Tried on 120 messy types: 1.4 per cent less metal than with a quarter of it, where the step was twice as wide.
"""

SPREAD = 1.6
"""Candidates lie within this factor of the wanted step."""


def _candidates(wanted: float, gap: float) -> list[float]:
    steps = [*ROUND_MM, *(inch * MM_PER_INCH for inch in ROUND_INCH)]
    if gap > 0.0:
        steps += [gap / k for k in range(1, max(1, math.ceil(gap * SPREAD / wanted)) + 1)]
    return sorted({s for s in steps if wanted / SPREAD <= s <= wanted * SPREAD}) or [wanted]


def _waste(step: float, gap: float, sizes: Sequence[tuple[float, float]]) -> float:
    """Mean share of metal that rounding the pitch of the sizes up to whole steps costs."""
    lost = 0.0
    for sides in sizes:
        for side in sides:
            pitch = side + gap
            lost += math.ceil(pitch / step - 1e-6) * step / pitch - 1.0
    return lost / len(sizes)


def _map_area(sizes: Sequence[tuple[float, float]], gap: float) -> float:
    """Area in mm2 of the maps of all pairs of sizes, in four turns: each spans both parts side by side."""
    count = len(sizes)
    side = sum((a + b) / 2.0 + gap for a, b in sizes) / count
    return 4.0 * (count * (count + 1) / 2.0) * (2.0 * side) ** 2


def best_step(sizes: Sequence[tuple[float, float]], gap: float) -> float:
    """The lattice step in mm for parts of the given box sizes (length, width) and gap, all mm."""
    middling = math.exp(sum(math.log(a * b) for a, b in sizes) / (2 * len(sizes)))
    wanted = min(max(middling / STEPS_ACROSS, FINEST_MM), COARSEST_MM)
    wanted = max(wanted, SPREAD * math.sqrt(_map_area(sizes, gap) / MOST_CELLS))
    return min(
        _candidates(wanted, gap),
        key=lambda step: (_waste(step, gap, sizes) + COARSE_COST * step / wanted, step),
    )


WORTH_A_PAIR = 0.93
"""A pair's box (with the gap) is at most this share of two single boxes, or the pair is not used."""

KEPT_SHIFTS = 2
"""So many of the tightest shifts of each turn are variants."""

NEAR_STEPS = 3
"""Kept shifts differ by at least so many steps."""


def pair_units(contacts: Contacts) -> tuple[Unit, ...]:
    """A unit of two pieces for each shape that gains by it."""
    units = []
    for shape, numbers in enumerate(contacts.pose_set.of_shape):
        variants: list[Variant] = []
        for first in numbers:
            variants += _tucked(contacts, first, numbers)
        if variants:
            units.append(Unit(shape, tuple(variants)))
    return tuple(units)


def _tucked(contacts: Contacts, first: int, numbers: tuple[int, ...]) -> list[Variant]:
    """The tightest pairs of a pose with its own half-turn, each pair from one of its two poses only."""
    poses = contacts.pose_set.poses
    one = poses[first]
    for other in numbers:
        two = poses[other]
        if two.family == one.family and (two.quarter - one.quarter) % 4 == 2 and first < other:
            shifts = _touching_shifts(contacts, one, two)
            return [
                Variant(((first, 0, 0), (other, int(dx), int(dy))))
                for dx, dy in _tightest(one, two, shifts, contacts.step, contacts.pose_set.gap)
            ]
    return []


def _touching_shifts(contacts: Contacts, one: Pose, two: Pose) -> Ints:
    """Free shifts next to forbidden ones, shape (n, 2), in steps."""
    key, quarter = key_of(one, two)
    held = quarter_turned_map(contacts.map(key), quarter)
    marks = np.pad(held.marks, 1).astype(np.bool_)
    near = np.zeros_like(marks)
    near[1:] |= marks[:-1]
    near[:-1] |= marks[1:]
    near[:, 1:] |= marks[:, :-1]
    near[:, :-1] |= marks[:, 1:]
    shifts: Ints = np.argwhere(near & ~marks) + np.array((held.ox - 1, held.oy - 1))
    return shifts


def _tightest(one: Pose, two: Pose, shifts: Ints, step: float, gap: float) -> list[tuple[int, int]]:
    """The shifts with the smallest common boxes, some steps apart, if they are small enough."""
    moved: Edges = np.array(two.box)[None, :] + np.tile(shifts, 2) * step
    low = np.minimum(moved[:, :2], one.box[:2])
    high = np.maximum(moved[:, 2:], one.box[2:])
    areas = np.prod(high - low + gap, axis=1)
    alone = (one.box[2] - one.box[0] + gap) * (one.box[3] - one.box[1] + gap)
    kept: list[tuple[int, int]] = []
    for k in np.argsort(areas, kind="stable"):
        if areas[k] > WORTH_A_PAIR * 2.0 * alone or len(kept) == KEPT_SHIFTS:
            break
        x, y = int(shifts[k, 0]), int(shifts[k, 1])
        if all(max(abs(x - a), abs(y - b)) >= NEAR_STEPS for a, b in kept):
            kept.append((x, y))
    return kept


EDGE_BOUND_MM = 0.05
"""Arcs of sheet edges and old cuts are flattened within this, to the safe side."""


CONSTRUCTION_WORK, ROUND_WORK = 2_300, 1_450
"""Work for each piece and pose of a construction, and of a round of ruin and recreate, in cells of maps read.

Measured on jobs of 3 to 62 pieces a sheet and 21 to 85 poses, where the time of a round differs 60 times: by
these figures all but one of 13 come out within a factor of 1.8 of their time.
"""


CALL_WORK = 600_000
"""Work of asking for some of them at once: a tenth of a millisecond."""


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

    def work_of(self, pieces: int, constructions: int = 0, rounds: int = 0) -> int:
        """Work of constructions that lay so many pieces, and of rounds of ruin and recreate among as many.

        In cells of maps read: both mark each piece on the grid of each pose.
        """
        per_piece = constructions * CONSTRUCTION_WORK + rounds * ROUND_WORK
        return CALL_WORK + per_piece * len(self.pose_shape) * (pieces + 1)

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
