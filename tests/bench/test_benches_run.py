"""Each benchmark of one gauge still runs, on its first instance, and what it lays stands up to the check."""

import importlib

import pytest

from tests.bench.options import Options
from tests.bench.rows import solve_one

SECONDS = 0.3


@pytest.mark.parametrize("name", ["rectangles_several_sizes", "scale", "irregular_bins"])
def test_a_benchmark_runs(name: str) -> None:
    options = Options(seconds=SECONDS)
    try:
        first = importlib.import_module(f"tests.bench.{name}").instances(options)[0]
    except SystemExit as told:
        pytest.skip(str(told))
    row = solve_one(name, first, options)
    assert row["faults"] == 0
    assert float(str(row["seconds"])) > 0.0
