"""Cases that are run one after another in a process of their own, so that a hang or a crash is one result.

The child says each case's outcome in a line of JSON. A case that takes longer than the limit ends
the child with a stack trace; a new child goes on behind it.
"""

from __future__ import annotations

import faulthandler
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from tests.ready import make_ready

Outcome = dict[str, Any]
"""What came of a case: ``case``, ``kind``, ``seconds``; ``fault`` says what must not be."""

MEMORY = 3 * 1024**3
"""Address space of a child: libraries take 1 GiB of it before any work, the rest is for the case."""


def outcomes(module: str, first: int, count: int, seed: int, limit: float) -> Iterator[Outcome]:
    """Run ``module.one(seed, case, folder)`` for every case; children that die are replaced."""
    make_ready()  # no case pays for compiling
    case, end = first, first + count
    while case < end:
        with tempfile.TemporaryFile("w+") as trace:
            child = subprocess.Popen(
                [sys.executable, "-m", "tests.hard.watching", module, *map(str, (case, end, seed, limit))],
                stdout=subprocess.PIPE, stderr=trace, text=True, cwd=Path(__file__).parents[2],
            )  # fmt: skip
            assert child.stdout is not None
            for line in child.stdout:
                outcome = json.loads(line)
                case = outcome["case"] + 1
                yield outcome
            if child.wait() != 0 and case < end:
                trace.seek(0)
                fault = f"the process ended with {child.returncode}: {trace.read()[-1500:]}"
                yield {"case": case, "kind": "ended", "seconds": limit, "fault": fault}
                case += 1


def main(module: str, first: int, end: int, seed: int, limit: float) -> None:
    """Be the child: one line for each case."""
    import importlib

    one: Callable[[int, int, Path], Outcome] = importlib.import_module(module).one
    said = sys.stdout
    sys.stdout = sys.stderr
    _limit_memory()
    for case in range(first, end):
        with tempfile.TemporaryDirectory(prefix="hard-") as folder:
            # The first case also pays for imports and for kernels from the cache.
            faulthandler.dump_traceback_later(limit + (60.0 if case == first else 0.0), exit=True)
            begun = time.monotonic()
            outcome = one(seed, case, Path(folder))
            outcome["seconds"] = round(time.monotonic() - begun, 3)
            faulthandler.cancel_dump_traceback_later()
        print(json.dumps({"case": case, **outcome}), file=said, flush=True)


def _limit_memory() -> None:
    if sys.platform != "win32":
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))


def peak_megabytes() -> float:
    """Most memory that this process has held, in MB; 0 where the system does not say."""
    if sys.platform == "win32":
        return 0.0
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def tell(found: Iterator[Outcome], every: int = 100) -> list[Outcome]:
    """Print faults as they come and sums at the end; return the faults."""
    kinds: dict[str, int] = {}
    faults, slowest = [], (0.0, -1)
    for number, outcome in enumerate(found, start=1):
        kinds[outcome["kind"]] = kinds.get(outcome["kind"], 0) + 1
        slowest = max(slowest, (outcome["seconds"], outcome["case"]))
        if outcome.get("fault"):
            faults.append(outcome)
            print(f"case {outcome['case']}: {outcome.get('what', '')}\n{outcome['fault']}", flush=True)
        if number % every == 0:
            print(f"{number} cases, {len(faults)} faults", flush=True)
    print(f"{sum(kinds.values())} cases, {len(faults)} faults; {kinds}")
    print(f"slowest {slowest[0]} s (case {slowest[1]})")
    return faults


if __name__ == "__main__":
    main(sys.argv[1], *map(int, sys.argv[2:5]), float(sys.argv[5]))
