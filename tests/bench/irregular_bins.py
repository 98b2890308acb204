"""Convex outlines on as few square sheets as possible: jigsaws without slack, optima known.

Instances of Terashima-Marin, Ross, Farias-Zarate, Lopez-Camacho and Valenzuela-Rendon 2010 (Annals
of Operations Research 179), published by ESICUP under CC0. Pieces lie as they are given.
"""

import time
from collections.abc import Sequence

from sheetplan.packing.outlines.emptying import Emptying
from sheetplan.packing.outlines.sheets import SheetsFiller

from sheetplan.packing.outlines.crowding import loose_maps
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.poses import View
from tests.bench.options import Options
from tests.bench.outline_data import faults_of, optimum, placed, read_bins, setup_for

SECONDS = 10.0
STEP_MM = 4.0
ORDERS_SHARE = 0.3
SLICE_WORK = 50_000_000


def instances(options: Options) -> Sequence[str]:
    folder = options.folder("irregular_bins")
    return sorted(path.stem for path in folder.glob("T????.txt") if (folder / f"Op{path.name}").exists())


def solve(instance: str, options: Options) -> dict[str, object]:
    begun = time.monotonic()
    seconds = options.seconds or SECONDS
    folder = options.folder("irregular_bins")
    parts, length, width = read_bins(folder / f"{instance}.txt")
    setup = setup_for(parts, STEP_MM)
    field = Field(length, width, (0.0, 0.0), View())
    orders_end, end = begun + ORDERS_SHARE * seconds, begun + seconds
    filler = SheetsFiller(setup, field, setup.stage(field), [1] * len(parts), options.seed)
    sheets = filler.vary(1, lambda: False)
    first = sum(batch.repeats for batch in sheets.batches)
    while time.monotonic() < orders_end:
        sheets = filler.vary(20, lambda: time.monotonic() > orders_end)
    emptying = Emptying(setup, field, loose_maps(setup), sheets.batches, options.seed)
    while time.monotonic() < end:
        emptying.run(SLICE_WORK, lambda: time.monotonic() > end)
    layouts = [placed(setup, field, batch.laid) for batch in emptying.batches]
    faults = [fault for layout in layouts for fault in faults_of(parts, layout, length, width)]
    if sorted(p.part for layout in layouts for p in layout) != sorted(p.name for p in parts):
        faults.append("not every piece once")
    best = optimum(folder / f"Op{instance}.txt")
    return {
        "instance": instance,
        "pieces": len(parts),
        "sheets": len(layouts),
        "optimum": best,
        "above": len(layouts) - best,
        "first": first,
        "seconds": time.monotonic() - begun,
        "faults": len(faults),
    }


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    def total(key: str) -> int:
        return sum(int(str(row[key])) for row in rows)

    return [
        f"{total('sheets')} sheets over {len(rows)} instances, optima {total('optimum')}; "
        f"first plans {total('first')}; faults {total('faults')}"
    ]
