"""A month for a large shop through the real command: time, memory, signs of life, and stops at three moments.

20,000 pieces of 300 types over 15 gauges with 40 sheet sizes and 200 remnants, set beside 2,000 and
6,000 pieces of as many types. Memory is that of the command and its helper processes together. A stop
is over when the plan is found and checked: what follows is figures, drawings and pages.
"""

from __future__ import annotations

import json
import math
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
from tests.hard.command import COMMAND, ROOT, environment
from tests.nasty.books.plain import write_book

TYPES, GAUGES, SIZES, REMNANTS = 300, 15, 40, 200
SECONDS = 20.0
MOST_MEGABYTES = 4096.0
MOST_STOP_SECONDS = 3.0
STOP_AT = {
    "stopped early": ("sheets in", SECONDS),
    "stopped midway": ("the cheapest possible so far", 3.0 * SECONDS),
    "stopped late": ("Finishing", SECONDS),
}
"""Words of the line at which the run is told to stop, and the seconds asked, so that it comes there.

The first plan of a gauge, the end of a round of the search, the first gauge that has its choices.
"""

SEARCHED, WRITING = "Checking every layout", "Adding up weights"
"""Lines that end the search, and the search with its check and its answers."""


def instances(options: Options) -> Sequence[str]:
    return ("2,000", "6,000", "20,000", *(f"20,000 {moment}" for moment in STOP_AT))


@dataclass(frozen=True, slots=True)
class Line:
    """A line with the second it came; processor time of the command itself by then, and with its helpers."""

    at: float
    worked: float
    text: str
    together: float = 0.0


@dataclass(slots=True)
class Watched:
    """What was seen of a run: its lines, most memory, processor time of all its processes."""

    lines: list[Line] = field(default_factory=list)
    megabytes: float = 0.0
    worked: float = 0.0
    seconds: float = 0.0
    code: int | None = None
    stopped: Line | None = None

    def first(self, word: str) -> Line:
        """The first line with the word."""
        return next(line for line in self.lines if word in line.text)

    @property
    def silence(self) -> float:
        """The longest time between two lines."""
        times = [0.0, *(line.at for line in self.lines), self.seconds]
        return max(late - early for early, late in pairwise(times))


def solve(instance: str, options: Options) -> dict[str, object]:
    number, _, moment = instance.partition(" ")
    word, seconds = STOP_AT.get(moment, (None, options.seconds or SECONDS))
    pieces = int(number.replace(",", ""))
    with tempfile.TemporaryDirectory(prefix="load-") as folder:
        rows = load_rows(pieces, TYPES, GAUGES, SIZES, REMNANTS, options.seed)
        book = write_book(Path(folder) / "b.xlsx", rows)
        told = ["plan", book.name, "--seconds", str(seconds), "--json", "plan.json"]
        workers = ["--workers", str(options.workers)]
        seen = watched([*told, *workers], Path(folder), word)
        if seen.code != 0:
            raise SystemExit(f"ended with {seen.code}: {[line.text for line in seen.lines[-5:]]}")
        record: dict[str, Any] = json.loads((Path(folder) / "plan.json").read_text(encoding="utf-8"))
    totals = record["totals"]
    # Bounds are in what a plan counts, not in what its sheets cost: the record says how far above it is.
    bounded = [group for group in record["groups"] if group["within"] is not None]
    row = {
        "instance": instance,
        "pieces": totals["pieces"],
        "layouts": sum(len(group["layouts"]) for group in record["groups"]),
        "sheets": totals["sheets_used"],
        "cost": sum(group["sheet_cost"] for group in record["groups"]),
        "short": sum(sum(group["short"].values()) for group in record["groups"]),
        "gap %": gap_of(bounded),
        "searched s": seen.first(SEARCHED).at,
        "stopped early": record["stopped_early"],
        "seconds": seen.seconds,
        "processor s": seen.worked,
        "MB": seen.megabytes,
        "silence s": seen.silence,
        "lines": len(seen.lines),
    }
    if seen.stopped is not None:
        over = seen.first(WRITING)
        row |= {"stopped after": seen.stopped.text, "stop s": over.at - seen.stopped.at}
        row |= {"stop processor s": over.worked - seen.stopped.worked}
    return row


def gap_of(groups: Sequence[dict[str, Any]]) -> float:
    """Per cent by which groups count more than is proven, weighted by their bounds; NaN where none is."""
    bounds = sum(float(group["bound"]) for group in groups)
    if bounds <= 0.0:
        return math.nan
    return 100.0 * sum(float(group["within"]) * float(group["bound"]) for group in groups) / bounds


def watched(
    arguments: Sequence[str], folder: Path, stop_at: str | None = None, root: Path = ROOT
) -> Watched:
    """Run the command, note each line when it comes, and press Ctrl-C at the first with some words.

    ``root`` is where the package lies.
    """
    seen, begun, before = Watched(), time.monotonic(), _children_worked()
    child = subprocess.Popen(
        [*COMMAND, *arguments], cwd=folder,
        env=environment(PYTHONUNBUFFERED="1", PYTHONPATH=str(root)),
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip
    assert child.stdout is not None
    os.set_blocking(child.stdout.fileno(), False)
    process, rest = psutil.Process(child.pid), b""
    with selectors.DefaultSelector() as waiting:
        waiting.register(child.stdout, selectors.EVENT_READ)
        while True:
            waiting.select(0.05)
            now = time.monotonic() - begun
            data = child.stdout.read()
            if data == b"":
                break
            *lines, rest = (rest + (data or b"")).split(b"\n")
            worked = _worked(process)
            together = worked + sum(map(_worked, _helpers_of(process))) if lines else 0.0
            seen.lines += [Line(now, worked, line.decode(errors="replace"), together) for line in lines]
            met = [line for line in seen.lines if stop_at is not None and stop_at in line.text]
            if met and seen.stopped is None:
                child.send_signal(signal.SIGINT)
                seen.stopped = Line(now, worked, met[0].text)
            seen.megabytes = max(seen.megabytes, _megabytes(process))
    seen.code = child.wait()
    seen.seconds = time.monotonic() - begun
    seen.worked = _children_worked() - before
    return seen


def _helpers_of(process: psutil.Process) -> list[psutil.Process]:
    try:
        return list(process.children(recursive=True))
    except psutil.Error:
        return []


def _worked(process: psutil.Process) -> float:
    """Processor time of the command without its helpers; 0 once it has ended."""
    try:
        used = process.cpu_times()
    except psutil.Error:
        return 0.0
    return float(used.user + used.system)


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
    large = by_name.get("20,000")
    said = []
    if large:
        said.append(
            f"20,000 pieces: {large['seconds']:.0f} s, {large['MB']:.0f} MB (bar {MOST_MEGABYTES:.0f}), "
            f"longest silence {large['silence s']:.1f} s"
        )
        for other in ("2,000", "6,000"):
            if other in by_name:
                growth = {
                    what: float(str(large[what])) / float(str(by_name[other][what]))
                    for what in ("cost", "layouts", "processor s")
                }
                times = ", ".join(f"{what} {grown:.1f} times" for what, grown in growth.items())
                said.append(f"against {other} pieces: {times}")
    for moment in STOP_AT:
        row = by_name.get(f"20,000 {moment}")
        if row:
            said.append(
                f"{moment}: over after {row['stop s']:.1f} s (bar {MOST_STOP_SECONDS:.0f}), "
                f"{row['stop processor s']:.1f} s of the processor"
            )
    return said
