"""From layouts in the view to placements in the sheet frame, and back."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sheetplan.model.plan import Placement
from sheetplan.model.turns import same_turn
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.laid import Laid
from sheetplan.packing.outlines.setup import Setup


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
