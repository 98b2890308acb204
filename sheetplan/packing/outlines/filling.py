"""One sheet, as much value as can be put on it: constructions first, then pieces added one by one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sheetplan.packing.outlines.chance import new_chance
from sheetplan.packing.outlines.crowding import LooseMaps
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.insertion import Insertion
from sheetplan.packing.outlines.laid import Laid, counts_of
from sheetplan.packing.outlines.setup import Setup

PASS_WORK = 4_000_000
"""Work of the search that counts as one pass, in cells of maps read: some milliseconds."""

TRIES = 2
"""A shape is offered so often before it is left alone."""


def filled_up(
    setup: Setup,
    field: Field,
    maps: LooseMaps,
    laid: Laid,
    available: Sequence[int],
    values: Sequence[float],
    seed: int,
    passes: int,
) -> Laid:
    """A layout with pieces added, the dearest metal first, within so many passes."""
    insertion = Insertion(maps, field)
    chance = new_chance(seed)
    left = np.array(available, np.int64) - counts_of(setup, laid)
    density = np.array(values) / setup.areas
    order = sorted((k for k in range(len(left)) if values[k] > 0.0), key=lambda k: (-density[k], k))
    tries = [0] * len(left)
    end = passes * PASS_WORK
    while insertion.work < end:
        open_ = [k for k in order if left[k] > 0 and tries[k] < TRIES]
        if not open_:
            break
        shape = min(open_, key=lambda k: tries[k])
        more = insertion.add(laid, shape, chance, end - insertion.work)
        if more is None:
            tries[shape] += 1
            insertion.work += PASS_WORK // 20
        else:
            laid = more
            left[shape] -= 1
    return laid
