"""Layouts as the searches pass them on, poses and exact positions in the view; to placements and back.

Parts that stay are marked from the maps that are there already if they lie on the lattice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sheetplan.model.plan import Placement
from sheetplan.model.turns import same_turn
from sheetplan.packing.outlines.bottom_left import Stage, mark_contacts
from sheetplan.packing.outlines.compaction import Floats
from sheetplan.packing.outlines.field import FIT_SLACK_MM, Field
from sheetplan.packing.outlines.no_fit import Ints
from sheetplan.packing.outlines.setup import Setup


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """Poses and the positions of their references in mm, shape (n, 2). Two are equal if they are one."""

    pose: Ints
    at: Floats


def laid_of_rows(setup: Setup, placed: Ints) -> Laid:
    """The layout that rows (pose, x, y; lattice positions) of a construction stand for."""
    return Laid(placed[:, 0].copy(), np.asarray(placed[:, 1:] * setup.step, np.float64))


def length_of(setup: Setup, laid: Laid) -> float:
    """How much of the length a layout uses, mm."""
    return float((laid.at[:, 0] + setup.boxes[laid.pose, 2] * setup.step).max(initial=0.0))


def width_of(setup: Setup, laid: Laid) -> float:
    """How much of the width a layout uses, mm."""
    return float((laid.at[:, 1] + setup.boxes[laid.pose, 3] * setup.step).max(initial=0.0))


def counts_of(setup: Setup, laid: Laid) -> Ints:
    """Pieces of each shape in a layout."""
    return np.bincount(setup.pose_shape[laid.pose], minlength=len(setup.areas)).astype(np.int64)


def placements_of(setup: Setup, field: Field, laid: Laid) -> tuple[Placement, ...]:
    """The placements that a layout stands for."""
    return tuple(
        _placement(setup, field, int(pose), float(x), float(y))
        for pose, (x, y) in zip(laid.pose, laid.at, strict=True)
    )


def _placement(setup: Setup, field: Field, pose: int, x: float, y: float) -> Placement:
    """The placement of a pose whose reference lies at ``(x, y)`` mm in the view."""
    way = setup.pose_set.poses[pose]
    name = setup.pose_set.shapes[way.shape].name
    across = -x if field.view.flip_x else x
    up = -y if field.view.flip_y else y
    return Placement(name, field.corner[0] + across, field.corner[1] + up, way.turn, way.mirrored)


def laid_of(setup: Setup, field: Field, placements: Sequence[Placement]) -> Laid:
    """The layout of placements that came from one of this setup."""
    rows = [_row(setup, field, placement) for placement in placements]
    pose = np.array([pose for pose, _, _ in rows], np.int64)
    return Laid(pose, np.array([(x, y) for _, x, y in rows], np.float64).reshape(-1, 2))


def _row(setup: Setup, field: Field, placement: Placement) -> tuple[int, float, float]:
    across, up = placement.x - field.corner[0], placement.y - field.corner[1]
    pose = pose_of(setup, placement)
    if pose is None:
        raise ValueError(f"{placement} lies in no pose that is packed")
    return pose, -across if field.view.flip_x else across, -up if field.view.flip_y else up


def pose_of(setup: Setup, placement: Placement) -> int | None:
    """The pose that a placement lies in, if it is one of those kept apart."""
    for number, pose in enumerate(setup.pose_set.poses):
        named = setup.pose_set.shapes[pose.shape].name == placement.part
        if named and pose.mirrored == placement.mirrored and same_turn(pose.turn, placement.turn):
            return number
    return None


def on_lattice(
    setup: Setup, field: Field, keep: Sequence[Placement]
) -> tuple[Ints, tuple[Placement, ...]]:
    """Rows (pose, x, y) of the placements that lie on the lattice, and the other placements."""
    rows = []
    others = []
    for placement in keep:
        row = _lattice_row(setup, field, placement)
        if row is None:
            others.append(placement)
        else:
            rows.append(row)
    return np.array(rows, np.int64).reshape(-1, 3), tuple(others)


def _lattice_row(setup: Setup, field: Field, placement: Placement) -> tuple[int, int, int] | None:
    pose = pose_of(setup, placement)
    if pose is None:
        return None
    across, up = placement.x - field.corner[0], placement.y - field.corner[1]
    x = (-across if field.view.flip_x else across) / setup.step
    y = (-up if field.view.flip_y else up) / setup.step
    if max(abs(x - round(x)), abs(y - round(y))) * setup.step > FIT_SLACK_MM:
        return None
    return pose, round(x), round(y)


def with_kept(stage: Stage, rows: Ints) -> Stage:
    """The stage with pieces that stay; another one, the given stage is left as it is."""
    words = stage.grid.words.copy()
    everyone = np.ones(words.shape[0], np.bool_)
    for pose, x, y in rows:
        mark_contacts(words, stage.grid, stage.runs, int(pose), int(x), int(y), everyone)
    return stage._replace(grid=stage.grid._replace(words=words))
