"""Compile the kernels of true shapes, or fetch their machine code from the last time."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sheetplan.model.outline import Loop, Outline
from sheetplan.packing.outlines.chance import new_chance
from sheetplan.packing.outlines.crowding import MANNER, Crowding, loose_maps
from sheetplan.packing.outlines.field import make_field
from sheetplan.packing.outlines.orders import OrderSearch
from sheetplan.packing.outlines.overlap_search import separate
from sheetplan.packing.outlines.poses import Shape, View
from sheetplan.packing.outlines.recreating import recreated, wares_of
from sheetplan.packing.outlines.setup import make_setup
from sheetplan.shapes import Side, to_polygon

Say = Callable[[float, str], None]
"""Takes how far it has come, from 0 to 1, and a sentence."""

CORNER = Outline(Loop(((0.0, 0.0, 0.0), (20.0, 0.0, 0.0), (0.0, 10.0, 0.0))))
STEP_MM = 2.0


def make_ready(say: Say) -> None:
    """Run every kernel once on a tiny sheet.

    The first run after installation compiles for up to a minute and keeps the result beside the
    modules; later ones take a moment. What goes on is said before each step, so that it never
    looks like a hang.
    """
    solid = to_polygon(CORNER, 0.1, Side.OUT)
    say(0.0, "Making true shapes ready: the first time takes up to a minute (maps)")
    setup = make_setup([Shape("corner", solid, (0.0, 90.0, 180.0, 270.0))], 2.0, View(), STEP_MM)
    say(0.3, "Making true shapes ready: the first time takes up to a minute (placing)")
    field = make_field(to_polygon(Outline(CORNER.outer), 0.1).buffer(30.0), 1.0, View(), [(solid, 2.0)])
    laid = OrderSearch(setup, field, setup.stage(field), [3], [1.0], 1).run(2).laid
    wares = wares_of(setup, np.array([4], np.int64), np.array([1.0]))
    laid = recreated(setup, setup.stage(field), laid, wares, 1, new_chance(1))
    say(0.6, "Making true shapes ready: the first time takes up to a minute (searching)")
    maps = loose_maps(setup)
    crowding = Crowding(lambda: maps, field)
    crowd = crowding.crowd(laid)
    # Everything on one spot, so that the search has work to do.
    crowd.x[crowd.moves], crowd.y[crowd.moves] = np.int64(5), np.int64(5)
    separate(crowding.depths, crowd, crowding.room, new_chance(1), MANNER, 10_000)
    crowding.press.press(laid.pose, laid.at, STEP_MM, 0.0)
    say(1.0, "True shapes are ready")
