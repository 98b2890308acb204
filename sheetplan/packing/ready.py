"""Compile the kernels, or fetch their machine code: every one is run once on something tiny.

The first run after installation compiles for a minute and keeps the result beside the modules; later ones
take a moment.
"""

from __future__ import annotations

import numpy as np

from sheetplan.model.outline import Loop, Outline
from sheetplan.packing.exact_fit import fits_exactly
from sheetplan.packing.guillotine import StripView, Ways, strip_layout
from sheetplan.packing.guillotine_lns import Rows, fill_row, move_strips, new_piles
from sheetplan.packing.maxrects import Supplies, Types, new_desk
from sheetplan.packing.maxrects_search import price_layouts, search_plans
from sheetplan.packing.outlines.crowding import MANNER, Crowding, loose_maps
from sheetplan.packing.outlines.field import make_field
from sheetplan.packing.outlines.orders import OrderSearch
from sheetplan.packing.outlines.overlap_search import NO_BARS, separate
from sheetplan.packing.outlines.poses import Shape, View
from sheetplan.packing.outlines.recreating import recreated, wares_of
from sheetplan.packing.outlines.setup import make_setup
from sheetplan.packing.rectangles import maximal_blocks
from sheetplan.packing.rng import chance_of, new_chance
from sheetplan.packing.ruin_recreate import Market, new_sheets, refill
from sheetplan.shapes import Side, to_polygon


def make_boxes_ready() -> None:
    """The kernels of trial and error, of pricing, and of ruin and recreate."""
    one, side = np.ones(1, np.int64), np.array([10], np.int64)
    types = Types(side, side, np.array([True]))
    blank = np.array([[0, 0, 20, 20]], np.int64)
    supplies = Supplies(blank, np.array([0, 1], np.int64), np.array([400.0]), np.array([1.0]), one)
    worth = np.array([100.0])
    desk = new_desk(1, 4)
    price_layouts(blank, types, one, worth, 1, 1, chance_of(1), desk)
    search_plans(supplies, types, one, worth, 1.0, 2, 1, chance_of(1), desk)
    market = Market(supplies, types, worth, worth, 10)
    start, best, trial = new_sheets(2, 1, 1), new_sheets(2, 1, 1), new_sheets(2, 1, 1)
    refill(market, one, start, best, trial, 0, 10.0, 1, chance_of(1), desk)
    strip_layout(one, one, worth, 2, 2, side, side, np.empty((4, 3), np.int64), desk.work)
    maximal_blocks(np.array([[True]]))
    fits_exactly(side, side, types.turnable, 20, 20, 1)


def make_strips_ready() -> None:
    """The kernels that move strips among sheets: a third of the work, and none in common but small ones."""
    one, side = np.ones(1, np.int64), np.array([10], np.int64)
    types = Types(side, side, np.array([True]))
    worth, desk = np.array([100.0]), new_desk(1, 4)
    view = StripView(Ways(side, side, one - 1, one - 1), types, one - 1)
    rows, piles = Rows(2 * side, 2 * side, one - 1), new_piles(1, 4)
    fill_row(0, rows, piles, view, one.copy(), worth, worth, 1.0, chance_of(1), desk)
    move_strips(rows, piles, (view, view), one.copy(), worth, 1, chance_of(1), desk)


CORNER = Outline(Loop(((0.0, 0.0, 0.0), (20.0, 0.0, 0.0), (0.0, 10.0, 0.0))))
STEP_MM = 2.0


def make_shapes_ready() -> None:
    """The kernels of true shapes: maps, placing, searching."""
    solid = to_polygon(CORNER, 0.1, Side.OUT)
    setup = make_setup([Shape("corner", solid, (0.0, 90.0, 180.0, 270.0))], 2.0, View(), STEP_MM)
    field = make_field(to_polygon(Outline(CORNER.outer), 0.1).buffer(30.0), 1.0, View(), [(solid, 2.0)])
    laid = OrderSearch(setup, field, setup.stage(field), [3], [1.0], 1).run(2).laid
    wares = wares_of(setup, np.array([4], np.int64), np.array([1.0]))
    laid = recreated(setup, setup.stage(field), laid, wares, 1, new_chance(1))
    maps = loose_maps(setup)
    crowding = Crowding(lambda: maps, field)
    crowd = crowding.crowd(laid)
    # Everything on one spot, so that the search has work to do.
    crowd.x[crowd.moves], crowd.y[crowd.moves] = np.int64(5), np.int64(5)
    separate(crowding.depths, crowd, crowding.room, new_chance(1), MANNER, NO_BARS, 10_000)
    crowding.press.press(laid.pose, laid.at, STEP_MM, 0.0)
