"""Compile the kernels, or fetch their machine code from the last time."""

from __future__ import annotations

import hashlib
from pathlib import Path

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

    The first run after installation compiles for a minute or two and keeps the result beside the
    modules; later ones take a moment.
    """
    one, side = np.ones(1, np.int64), np.array([10], np.int64)
    types = Types(side, side, np.array([True]))
    blank = np.array([[0, 0, 20, 20]], np.int64)
    supplies = Supplies(blank, np.array([0, 1], np.int64), np.array([400.0]), np.array([1.0]), one)
    worth = np.array([100.0])
    desk = new_desk(1, 4)
    forget_stale()
    price_layouts(blank, types, one, worth, 1, 1, chance_of(1), desk)
    search_plans(supplies, types, one, worth, 1.0, 2, 1, chance_of(1), desk)
    market = Market(supplies, types, worth, worth, 10)
    start, best, trial = new_sheets(2, 1, 1), new_sheets(2, 1, 1), new_sheets(2, 1, 1)
    refill(market, one, start, best, trial, 0, 10.0, 1, chance_of(1), desk)
    strip_layout(one, one, worth, 2, 2, side, side, np.empty((4, 3), np.int64), desk.work)
    fits_exactly(side, side, types.turnable, 20, 20, 1)
    view = View(Ways(side, side, one - 1, one - 1), types, one - 1)
    rows, piles = Rows(2 * side, 2 * side, one - 1), new_piles(1, 4)
    fill_row(0, rows, piles, view, one.copy(), worth, worth, 1.0, chance_of(1), desk)
    move_strips(rows, piles, (view, view), one.copy(), worth, 1, chance_of(1), desk)


def forget_stale() -> None:
    """Drop machine code that was made from other sources than those that lie here now.

    numba looks at the file of a function alone, but a kernel holds the code of those that it calls
    in other files. A place that cannot be written keeps nothing, so there is nothing to drop.
    """
    folder = Path(__file__).parent
    cache = folder / "__pycache__"
    sources = b"".join(path.read_bytes() for path in sorted(folder.glob("kernel*.py")))
    mark, now = cache / "kernels.mark", hashlib.sha256(sources).hexdigest()
    try:
        if mark.exists() and mark.read_text(encoding="ascii") == now:
            return
        for path in [*cache.glob("kernel*.nbi"), *cache.glob("kernel*.nbc")]:
            path.unlink(missing_ok=True)
        mark.write_text(now, encoding="ascii")
    except OSError:
        return
