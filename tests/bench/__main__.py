"""Runs a benchmark by name and prints its rows as they come."""

import argparse
import importlib
import json
import pkgutil
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from types import ModuleType

import tests.bench
from tests.bench.options import Options
from tests.bench.rows import Row, solve_one


def names() -> list[str]:
    helpers = {"__main__", "options", "rows"}
    return sorted(m.name for m in pkgutil.iter_modules(tests.bench.__path__) if is_benchmark(m.name, helpers))


def is_benchmark(name: str, helpers: set[str]) -> bool:
    source = Path(tests.bench.__path__[0]) / f"{name}.py"
    return name not in helpers and "\ndef instances(" in source.read_text(encoding="utf-8")


def rows_of(name: str, wanted: Sequence[str], options: Options) -> Iterator[Row]:
    if options.workers == 1:
        for instance in wanted:
            yield solve_one(name, instance, options)
        return
    with ProcessPoolExecutor(options.workers, mp_context=get_context("spawn")) as pool:
        yield from pool.map(solve_one, [name] * len(wanted), wanted, [options] * len(wanted))


def shown(value: object) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def run(name: str, options: Options) -> list[Row]:
    bench: ModuleType = importlib.import_module(f"tests.bench.{name}")
    wanted = [i for i in bench.instances(options) if not options.only or options.only in i]
    rows: list[Row] = []
    for row in rows_of(name, wanted, options):
        rows.append(row)
        print("  ".join(f"{key} {shown(value)}" for key, value in row.items()), flush=True)
    for line in bench.summary(rows, options):
        print(line)
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("name", choices=names())
    parser.add_argument("--data", type=Path)
    parser.add_argument("--seconds", type=float)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="part of an instance's name")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--json", type=Path)
    told = parser.parse_args()
    rows = run(told.name, Options(told.data, told.seconds, told.seed, told.only, told.workers))
    if told.json:
        told.json.write_text(json.dumps(rows, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
