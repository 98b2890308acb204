"""Pairs: a part that tucks into its own half-turn, found once and placed as one unit.

Gussets, angles and trapezoids fill much more of their common box in twos than alone. Of all
lattice shifts at which the half-turned piece touches the first one, those are kept whose
common box is smallest.
"""

from __future__ import annotations

import numpy as np

from sheetplan.packing.outlines.contacts import Contacts, Ints, key_of, quarter_turned_map
from sheetplan.packing.outlines.growing import Edges
from sheetplan.packing.outlines.poses import Pose
from sheetplan.packing.outlines.units import Unit, Variant

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
