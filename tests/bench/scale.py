"""Shop-like order books of 500, 2,000 and 6,000 pieces, on one sheet size and on six with limited counts."""

from collections.abc import Sequence
from statistics import mean

import psutil

from tests.bench.gauge_run import run_gauge
from tests.bench.options import Options
from tests.bench.rectpack_best import rectpack_best
from tests.bench.shop_jobs import shop_job

SEEDS = {500: 10, 2000: 3, 6000: 3}
"""Jobs of each kind: more of few pieces, where a single sheet above the bound is many per cent."""

BARS = {500: (0.5, 5.0, 2.0), 2000: (1.0, 10.0, 1.0), 6000: (2.0, 15.0, 0.5)}
"""Pieces: most seconds to a complete plan and to the final one, greatest mean gap in per cent."""

RECTPACK_SECONDS = 15.0


def instances(options: Options) -> Sequence[str]:
    kinds = [(pieces, sizes) for pieces in BARS for sizes in (1, 6)]
    return [f"{pieces}-{sizes}-{seed}" for pieces, sizes in kinds for seed in range(SEEDS[pieces])]


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
        "gap %": 100 * (run.plan.measure / bound - 1),
        "first gap %": 100 * (run.first_cost / bound - 1),
        "first s": run.first_seconds,
        "seconds": run.seconds,
        "faults": run.faults,
        "layouts before": run.layouts_before,
        "layouts": len(run.plan.layouts),
        "rectpack gap %": 100 * (other / bound - 1),
        "variants": variants,
        "MB": memory,
    }


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    """For each count of pieces, on one size, on six and on both: figures beside bars, and what missed them.

    A job of few pieces on one size has so few sheets that a single one above the bound is several per cent.
    """
    lines = []
    for pieces, (first, final, gap) in BARS.items():
        for sizes in ("1", "6", ""):
            mine = [row for row in rows if str(row["instance"]).startswith(f"{pieces}-{sizes}")]
            if not mine:
                continue
            before, after = _mean(mine, "layouts before"), _mean(mine, "layouts")
            lines.append(
                f"{pieces} pieces, {sizes or 'one and six'} size{'' if sizes == '1' else 's'}: "
                f"first plan {_most(mine, 'first s'):.2f} s (bar {first}, "
                f"missed by {_over(mine, 'first s', first)}), "
                f"final {_most(mine, 'seconds'):.1f} s (bar {final}, "
                f"missed by {_over(mine, 'seconds', final)}), "
                f"mean gap {_mean(mine, 'gap %'):.2f} % (bar {gap}, above it {_over(mine, 'gap %', gap)} "
                f"of {len(mine)}), rectpack's best {_mean(mine, 'rectpack gap %'):.2f} %, "
                f"dearer than rectpack {sum(map(_dearer, mine))}, "
                f"layouts {before:.1f} -> {after:.1f}"
            )
    return lines


def _dearer(row: dict[str, object]) -> bool:
    return _number(row, "gap %") > _number(row, "rectpack gap %")


def _number(row: dict[str, object], key: str) -> float:
    return float(str(row[key]))


def _over(rows: Sequence[dict[str, object]], key: str, bar: float) -> int:
    return sum(_number(row, key) > bar for row in rows)


def _mean(rows: Sequence[dict[str, object]], key: str) -> float:
    return mean(_number(row, key) for row in rows)


def _most(rows: Sequence[dict[str, object]], key: str) -> float:
    return max(_number(row, key) for row in rows)
