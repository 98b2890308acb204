"""Parts that stay: those on the lattice are marked from the maps that are there already."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sheetplan.model.plan import Placement
from sheetplan.packing.outlines.construct import Stage, mark_contacts
from sheetplan.packing.outlines.contacts import Ints
from sheetplan.packing.outlines.field import FIT_SLACK_MM, Field
from sheetplan.packing.outlines.reading import pose_of
from sheetplan.packing.outlines.setup import Setup


def on_lattice(
    setup: Setup, field: Field, keep: Sequence[Placement]
) -> tuple[Ints, tuple[Placement, ...]]:
    """Rows (pose, x, y) of the placements that lie on the lattice, and the other placements."""
    rows = []
    others = []
    for placement in keep:
        row = _row(setup, field, placement)
        if row is None:
            others.append(placement)
        else:
            rows.append(row)
    return np.array(rows, np.int64).reshape(-1, 3), tuple(others)


def _row(setup: Setup, field: Field, placement: Placement) -> tuple[int, int, int] | None:
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
