"""Convex outlines on as few square sheets as possible: jigsaws without slack, optima known.

Instances of Terashima-Marin, Ross, Farias-Zarate, Lopez-Camacho and Valenzuela-Rendon 2010 (Annals
of Operations Research 179), published by ESICUP under CC0. Pieces lie as they are given. Planned as a
user's book is, on one core.
"""

import time
from collections import Counter
from collections.abc import Sequence

from sheetplan.checking import check_plan
from sheetplan.model import Job, Order, SheetSize
from sheetplan.planning import RunOptions, plan_job, quiet
from sheetplan.planning.readying import make_kernels_ready
from tests.bench.options import Options
from tests.bench.outline_data import METAL, PLATE, RULE, optimum, read_bins
from tests.bench.plain_settings import plain_settings

SECONDS = 10.0


def instances(options: Options) -> Sequence[str]:
    folder = options.folder("irregular_bins")
    return sorted(path.stem for path in folder.glob("T????.txt") if (folder / f"Op{path.name}").exists())


def solve(instance: str, options: Options) -> dict[str, object]:
    folder = options.folder("irregular_bins")
    job = book(instance, options)
    seconds = options.seconds or SECONDS
    make_kernels_ready(shapes=True, report=quiet)
    begun = time.monotonic()
    plan = plan_job(job, RunOptions(seconds, options.seed))
    spent = time.monotonic() - begun
    layouts = [layout for group in plan.groups for layout in group.layouts]
    made = Counter[str]()
    for layout in layouts:
        for placement in layout.placements:
            made[placement.part] += layout.repeats
    faults = len(check_plan(plan)) + (made != Counter(order.item for order in job.orders))
    sheets, best = sum(layout.repeats for layout in layouts), optimum(folder / f"Op{instance}.txt")
    return {
        "instance": instance,
        "pieces": len(job.parts),
        "sheets": sheets,
        "optimum": best,
        "above": sheets - best,
        "seconds": spent,
        "faults": faults,
    }


def book(instance: str, options: Options) -> Job:
    """One piece of each part, on sheets of price 1, so that sheets are counted."""
    parts, length, width = read_bins(options.folder("irregular_bins") / f"{instance}.txt")
    sheet = SheetSize("sheet", METAL.name, PLATE, length, width, price=1.0)
    orders = tuple(Order(part.name, part.name, 1) for part in parts)
    made = {part.name: part for part in parts}
    return Job(plain_settings(), {METAL.name: METAL}, (RULE,), made, {}, orders, (sheet,))


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    def total(key: str) -> int:
        return sum(int(str(row[key])) for row in rows)

    missed = sum(int(str(row["above"])) > 0 for row in rows)
    return [
        f"{total('sheets')} sheets over {len(rows)} instances, optima {total('optimum')}, "
        f"missed on {missed}; faults {total('faults')}"
    ]
