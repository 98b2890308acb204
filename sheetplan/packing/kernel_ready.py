"""Compile the kernels, or fetch their machine code from the last time."""

from __future__ import annotations

import numpy as np

from sheetplan.packing.kernel import Types, new_desk
from sheetplan.packing.kernel_chance import chance_of
from sheetplan.packing.kernel_exact import fits_exactly
from sheetplan.packing.kernel_plan_search import search_plans
from sheetplan.packing.kernel_pricing import price_layouts
from sheetplan.packing.kernel_refill import Market, new_sheets, refill
from sheetplan.packing.kernel_sequence import Supplies
from sheetplan.packing.kernel_strip_laying import View, Ways
from sheetplan.packing.kernel_strip_moves import Rows, fill_row, move_strips, new_piles
from sheetplan.packing.kernel_strips import strip_layout


def make_ready() -> None:
    """Run every kernel once on a tiny order.

    The first run after installation compiles for a minute and keeps the result beside the modules;
    later ones take a moment.
    """
    make_boxes_ready()
    make_strips_ready()


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
    fits_exactly(side, side, types.turnable, 20, 20, 1)


def make_strips_ready() -> None:
    """The kernels that move strips among sheets: a third of the work, and none in common but small ones."""
    one, side = np.ones(1, np.int64), np.array([10], np.int64)
    types = Types(side, side, np.array([True]))
    worth, desk = np.array([100.0]), new_desk(1, 4)
    view = View(Ways(side, side, one - 1, one - 1), types, one - 1)
    rows, piles = Rows(2 * side, 2 * side, one - 1), new_piles(1, 4)
    fill_row(0, rows, piles, view, one.copy(), worth, worth, 1.0, chance_of(1), desk)
    move_strips(rows, piles, (view, view), one.copy(), worth, 1, chance_of(1), desk)
