"""Shop-like order books of 500, 2,000 and 6,000 pieces, on one sheet size and on six with limited counts."""

from collections.abc import Sequence
from statistics import mean

import psutil

from tests.bench.gauge_run import run_gauge
from tests.bench.options import Options
from tests.bench.rectpack_best import rectpack_best
from tests.bench.shop_jobs import shop_job

SEEDS = 3
BARS = {500: (0.5, 5.0, 2.0), 2000: (1.0, 10.0, 1.0), 6000: (2.0, 15.0, 0.5)}
"""Pieces: most seconds to a complete plan and to the final one, greatest mean gap in per cent."""

RECTPACK_SECONDS = 30.0


def instances(options: Options) -> Sequence[str]:
    return [f"{pieces}-{sizes}-{seed}" for pieces in BARS for sizes in (1, 6) for seed in range(SEEDS)]


def solve(instance: str, options: Options) -> dict[str, object]:
    pieces, sizes, number = (int(word) for word in instance.split("-"))
    job = shop_job(pieces, sizes, number)
    run = run_gauge(job, options.seconds or BARS[pieces][1], options.seed)
    memory = psutil.Process().memory_info().rss / 2**20
    other, variants = rectpack_best(run.problem, RECTPACK_SECONDS)
    bound = run.search.bound
    return {
        "instance": instance,
        "types": len(run.problem.boxes),
        "sheets": sum(layout.repeats for layout in run.plan.layouts),
        "cost": run.plan.cost,
        "bound": bound,
        "gap %": 100 * (run.plan.cost / bound - 1),
        "first gap %": 100 * (run.first_cost / bound - 1),
        "first s": run.first_seconds,
        "seconds": run.seconds,
        "layouts before": run.layouts_before,
        "layouts": len(run.plan.layouts),
        "rectpack gap %": 100 * (other / bound - 1),
        "variants": variants,
        "MB": memory,
    }


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    lines = []
    for pieces, (first, final, gap) in BARS.items():
        mine = [row for row in rows if str(row["instance"]).startswith(f"{pieces}-")]
        if mine:
            lines.append(
                f"{pieces} pieces: first plan {_most(mine, 'first s'):.2f} s (bar {first}), "
                f"final {_most(mine, 'seconds'):.1f} s (bar {final}), "
                f"mean gap {_mean(mine, 'gap %'):.2f} % (bar {gap}), "
                f"rectpack's best {_mean(mine, 'rectpack gap %'):.2f} %, "
                f"layouts {_mean(mine, 'layouts before'):.1f} -> {_mean(mine, 'layouts'):.1f}"
            )
    return lines


def _mean(rows: Sequence[dict[str, object]], key: str) -> float:
    return mean(float(str(row[key])) for row in rows)


def _most(rows: Sequence[dict[str, object]], key: str) -> float:
    return max(float(str(row[key])) for row in rows)
