"""One row of a benchmark, worked out here or in another process."""

import importlib

from tests.bench.options import Options

Row = dict[str, object]


def solve_one(name: str, instance: str, options: Options) -> Row:
    """The figures of one instance."""
    row: Row = importlib.import_module(f"tests.bench.{name}").solve(instance, options)
    return row
