"""What a search keeps of moving strips from one slice of its work to the next (see `strip_moving`)."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from sheetplan.packing.kernel import Desk, Ints
from sheetplan.packing.kernel_chance import Chance
from sheetplan.packing.kernel_strip_laying import View
from sheetplan.packing.kernel_strip_moves import Piles, Rows


@dataclass(slots=True)
class Attempt:
    """One target under way: its sheets, what lies on them, what is left over."""

    supplies: Ints
    rows: Rows
    piles: Piles
    over: Ints
    chance: Chance


@dataclass(slots=True)
class Moving:
    """All targets of a search, cheapest last; the one under way may last until a share of the whole work.

    Of its attempts the one under way has taken ``spent`` looks, the best has left ``least`` of a sheet over.
    """

    kept: Mapping[int, int]
    views: tuple[View, View]
    cell: int
    desk: Desk
    targets: list[Ints]
    at: int = 0
    until: float = 0.0
    attempt: Attempt | None = None
    spent: int = 0
    best: Attempt | None = None
    least: float = math.inf
