"""From layouts in the view to placements in the sheet frame."""

from __future__ import annotations

from sheetplan.model.plan import Placement
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
