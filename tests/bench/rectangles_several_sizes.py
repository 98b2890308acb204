"""Rectangles on sheets of several sizes and costs, fixed orientation, least total cost.

Instances of Pisinger and Sigurd, "The two-dimensional bin packing problem with variable bin sizes
and costs", Discrete Optimization 2 (2005), after the classes of Berkey and Wang (1987) and
Martello and Vigo (1998); published by ESICUP under CC0. No optimal costs come with them, so the
gap is to a bound that is proven here: ``gap %`` to the best bound, for which the benchmark allows
itself more time after the run, ``own gap %`` to the one that the run itself comes to in its seconds.
"""

import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from statistics import mean

from sheetplan.model import CuttingRule, Job, Material, Order, Part, SheetSize, rectangle
from sheetplan.planning.bounds.combinations import Combinations, cheapest_possible
from sheetplan.planning.bounds.model import boxes_model
from sheetplan.planning.bounds.patterns import pattern_bound
from sheetplan.planning.bounds.relaxation import Relaxation, whole_sheets
from sheetplan.trade.thickness import Thickness
from tests.bench.gauge_run import run_gauge
from tests.bench.options import Options
from tests.bench.plain_settings import plain_settings
from tests.bench.rectpack_best import rectpack_best

SECONDS = 5.0
RECTPACK_SECONDS = 10.0
BOUND_SECONDS = 40.0
BOUND_TRIALS = 10_000_000
WORST_MEAN_GAP = 0.038

PLATE = Thickness(1.0, "1 mm")


def instances(options: Options) -> Sequence[str]:
    folder = options.folder("rectangles_several_sizes")
    return sorted((path.stem for path in folder.glob("MB_Class_*.txt")), key=by_number)


def by_number(name: str) -> list[int]:
    return [int(word) for word in name.split("_") if word.isdigit()]


def read(path: Path) -> Job:
    """A job from a file: counts; sheets (length, width, 1, cost); pieces (number, length, width, 1)."""
    rows = [[int(word) for word in line.split()] for line in path.read_text().splitlines() if line.strip()]
    pieces, sizes = rows[0][:2]
    counts = Counter((length, width) for _, length, width, *_ in rows[1 + sizes : 1 + sizes + pieces])
    made = [Part(f"{x} x {y}", "Metal", PLATE, rectangle(x, y), turns=(0.0,)) for x, y in counts]
    parts = {part.name: part for part in made}
    orders = tuple(Order(name, name, n) for name, n in zip(parts, counts.values(), strict=True))
    stock = tuple(
        SheetSize(f"{length} x {width}", "Metal", PLATE, length, width, price=float(cost))
        for length, width, _, cost in rows[1 : 1 + sizes]
    )
    rule = CuttingRule("Metal", PLATE, 0.0, 0.0, 0.0)
    return Job(plain_settings(), {"Metal": Material("Metal", "", 1.0)}, (rule,), parts, {}, orders, stock)


def solve(instance: str, options: Options) -> dict[str, object]:
    job = read(options.folder("rectangles_several_sizes") / f"{instance}.txt")
    run = run_gauge(job, options.seconds or SECONDS, options.seed)
    other, variants = rectpack_best(run.problem, RECTPACK_SECONDS)
    own = run.search.bound
    end = time.process_time() + BOUND_SECONDS
    relaxation = Relaxation(run.problem, run.search.penalty)
    relaxation.tighten_fully()
    third, two_thirds = end - BOUND_SECONDS * 2 / 3, end - BOUND_SECONDS / 3
    cost = run.plan.measure
    whole = whole_sheets(relaxation, cost, 10**12, lambda: time.process_time() > third)
    inside = pattern_bound(run.search, 10**12, lambda: time.process_time() > two_thirds, BOUND_TRIALS)
    bound, _ = cheapest_possible(
        run.problem, cost, 10**12, proven=max(own, whole, inside),
        learned=Combinations(boxes_model(run.problem)), halt=lambda: time.process_time() > end,
    )  # fmt: skip
    return {
        "instance": instance,
        "cost": run.plan.cost,
        "bound": bound,
        "own gap %": 100 * (cost / own - 1),
        "gap %": 100 * (cost / bound - 1),
        "rectpack": other,
        "rectpack gap %": 100 * (other / bound - 1),
        "variants": variants,
        "seconds": run.seconds,
        "faults": run.faults,
    }


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    gap, theirs = (mean(float(str(row[key])) for row in rows) for key in ("gap %", "rectpack gap %"))
    worse = [row["instance"] for row in rows if float(str(row["cost"])) > float(str(row["rectpack"])) + 1e-6]
    proven = sum(1 for row in rows if float(str(row["gap %"])) < 1e-6)
    return (
        f"{len(rows)} instances, mean gap {gap:.2f} % (bar {100 * WORST_MEAN_GAP}), rectpack {theirs:.2f} %",
        f"proven best {proven}; worse than rectpack's best on {len(worse)}: {worse}",
        f"longest {max(float(str(row['seconds'])) for row in rows):.1f} s",
    )
