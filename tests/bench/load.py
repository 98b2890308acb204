"""A month for a large shop through the real command: time, memory, signs of life, and a stop in the middle.

20,000 pieces of 300 types over 15 gauges with 40 sheet sizes and 200 remnants, set beside 2,000 and
6,000 pieces of as many types. Memory is that of the command and its helper processes together.
"""

from __future__ import annotations

import json
import os
import resource
import selectors
import signal
import subprocess
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import psutil

from tests.bench.load_book import load_rows
from tests.bench.options import Options
from tests.hard.command import COMMAND, environment
from tests.nasty.books.plain import write_book

TYPES, GAUGES, SIZES, REMNANTS = 300, 15, 40, 200
SECONDS = 20.0
MOST_MEGABYTES = 4096.0
MOST_STOP_SECONDS = 3.0
STOPPED = "-stop"
STOP_AT = 0.4
"""Share of the time asked at which the run is told to stop."""


def instances(options: Options) -> Sequence[str]:
    return ("2,000", "6,000", "20,000", "20,000" + STOPPED)


@dataclass(slots=True)
class Watched:
    """What was seen of a run: lines with the second they came, most memory, processor time."""

    lines: list[tuple[float, str]] = field(default_factory=list)
    megabytes: float = 0.0
    worked: float = 0.0
    seconds: float = 0.0
    code: int | None = None
    stopped_at: float | None = None

    def first(self, word: str) -> float:
        """When a line with the word came."""
        return next(at for at, line in self.lines if word in line)

    @property
    def silence(self) -> float:
        """The longest time between two lines."""
        times = [0.0, *(at for at, _ in self.lines), self.seconds]
        return max(late - early for early, late in pairwise(times))


def solve(instance: str, options: Options) -> dict[str, object]:
    pieces = int(instance.removesuffix(STOPPED).replace(",", ""))
    seconds = options.seconds or SECONDS
    with tempfile.TemporaryDirectory(prefix="load-") as folder:
        rows = load_rows(pieces, TYPES, GAUGES, SIZES, REMNANTS, options.seed)
        book = write_book(Path(folder) / "b.xlsx", rows)
        told = ["plan", book.name, "--seconds", str(seconds), "--json", "plan.json"]
        workers = ["--workers", str(options.workers)] if options.workers > 1 else []
        seen = watched([*told, *workers], Path(folder), seconds * STOP_AT if STOPPED in instance else None)
        if seen.code != 0:
            raise SystemExit(f"ended with {seen.code}: {seen.lines[-5:]}")
        record: dict[str, Any] = json.loads((Path(folder) / "plan.json").read_text(encoding="utf-8"))
    totals = record["totals"]
    bound = sum(group["bound"] or 0.0 for group in record["groups"])
    cost = sum(group["sheet_cost"] for group in record["groups"])
    searched = seen.first("Checking every layout")
    return {
        "instance": instance,
        "pieces": totals["pieces"],
        "layouts": sum(len(group["layouts"]) for group in record["groups"]),
        "sheets": totals["sheets_used"],
        "short": sum(sum(group["short"].values()) for group in record["groups"]),
        "gap %": 100 * (cost / bound - 1),
        "searched s": searched,
        "stop s": searched - seen.stopped_at if seen.stopped_at is not None else 0.0,
        "stopped early": record["stopped_early"],
        "seconds": seen.seconds,
        "processor s": seen.worked,
        "MB": seen.megabytes,
        "silence s": seen.silence,
        "lines": len(seen.lines),
    }


def watched(arguments: Sequence[str], folder: Path, stop_after: float | None) -> Watched:
    """Run the command, note each line when it comes, and press Ctrl-C so long after the search began."""
    seen, begun, before = Watched(), time.monotonic(), _children_worked()
    child = subprocess.Popen(
        [*COMMAND, *arguments], cwd=folder, env=environment(PYTHONUNBUFFERED="1"),
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip
    assert child.stdout is not None
    os.set_blocking(child.stdout.fileno(), False)
    process, rest = psutil.Process(child.pid), b""
    searching = None
    with selectors.DefaultSelector() as waiting:
        waiting.register(child.stdout, selectors.EVENT_READ)
        while True:
            waiting.select(0.1)
            now = time.monotonic() - begun
            data = child.stdout.read()
            if data == b"":
                break
            *lines, rest = (rest + (data or b"")).split(b"\n")
            seen.lines += [(now, line.decode(errors="replace")) for line in lines]
            if searching is None and any("Reading" in line for _, line in seen.lines):
                searching = now
            asked = stop_after is not None and searching is not None and now - searching > stop_after
            if asked and seen.stopped_at is None:
                child.send_signal(signal.SIGINT)
                seen.stopped_at = now
            seen.megabytes = max(seen.megabytes, _megabytes(process))
    seen.code = child.wait()
    seen.seconds = time.monotonic() - begun
    seen.worked = _children_worked() - before
    return seen


def _children_worked() -> float:
    """Processor time of all children that have ended, theirs included."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _megabytes(process: psutil.Process) -> float:
    """Memory of the command and its helpers together."""
    try:
        return sum(one.memory_info().rss for one in (process, *process.children(recursive=True))) / 2**20
    except psutil.Error:
        return 0.0


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    by_name = {str(row["instance"]): row for row in rows}
    large, stopped = by_name.get("20,000"), by_name.get("20,000" + STOPPED)
    said = []
    if large:
        said.append(
            f"20,000 pieces: {large['seconds']:.0f} s, {large['MB']:.0f} MB (bar {MOST_MEGABYTES:.0f}), "
            f"longest silence {large['silence s']:.1f} s"
        )
        for other in ("2,000", "6,000"):
            if other in by_name:
                growth = float(str(large["processor s"])) / float(str(by_name[other]["processor s"]))
                said.append(f"processor time against {other} pieces: {growth:.1f} times")
    if stopped:
        said.append(f"told to stop: over after {stopped['stop s']:.1f} s (bar {MOST_STOP_SECONDS:.0f})")
    return said
