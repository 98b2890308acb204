"""Compile the kernels, or fetch their machine code from the last time."""

from __future__ import annotations

import numpy as np

from sheetplan.packing.kernel import Types, new_desk
from sheetplan.packing.kernel_chance import chance_of
from sheetplan.packing.kernel_plan_search import search_plans
from sheetplan.packing.kernel_pricing import price_layouts
from sheetplan.packing.kernel_sequence import Supplies


def make_ready() -> None:
    """Run every kernel once on a tiny order.

    The first run after installation compiles for up to a minute and keeps the result beside the
    modules; later ones take a moment.
    """
    one, side = np.ones(1, np.int64), np.array([10], np.int64)
    types = Types(side, side, np.array([True]))
    blank = np.array([[0, 0, 20, 20]], np.int64)
    supplies = Supplies(blank, np.array([0, 1], np.int64), np.array([400.0]), np.array([1.0]), one)
    worth = np.array([100.0])
    desk = new_desk(1, 4)
    price_layouts(blank, types, one, worth, 1, 1, chance_of(1), desk)
    search_plans(supplies, types, one, worth, 1.0, 2, 1, chance_of(1), desk)
