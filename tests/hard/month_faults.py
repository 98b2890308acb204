"""Runs of ``month`` killed at random moments: the book is as it was or as it should be, never between.

A warm process forks a run for each attempt. After each kill one run that is left alone gives the same
book as if nothing had happened, and leaves nothing half done behind.
"""

from __future__ import annotations

import json
import random
import sys
import tempfile
import time
from pathlib import Path

from sheetplan.app.month import month_of
from sheetplan.app.new import template_path
from sheetplan.planning.progress import quiet
from sheetplan.trade.units import Units
from tests.hard.faults import forked
from tests.hard.looking import snapshot
from tests.hard.options import told

MONTHS = ("2026-10", "2026-11")
"""Balanced in turn, so that each run has something new to write."""


def balance(book: Path, month: str) -> None:
    """A whole run in this process."""
    assert month_of(book, month, report=quiet).metals is not None


def kills(folder: Path, count: int, seed: int) -> dict[str, int]:
    """Kill so many runs; sums of how they ended."""
    dice = random.Random(seed)
    book = folder / "b.xlsx"
    book.write_bytes(template_path(demo=True, units=Units.INCH).read_bytes())
    states: dict[str, bytes] = {}
    for month in (*MONTHS, *MONTHS):  # what a page leaves in the book's formats is there from the second on
        balance(book, month)
        states[month] = book.read_bytes()
    begun = time.perf_counter()
    assert forked(lambda: balance(book, MONTHS[0]), 60.0)
    warm = time.perf_counter() - begun
    now, sums = MONTHS[0], {"finished": 0, "as before": 0, "as after": 0}
    for attempt in range(count):
        wanted = MONTHS[1 - MONTHS.index(now)]
        share = dice.uniform(0.0, 1.1) if attempt % 2 else dice.uniform(0.7, 1.1)
        done = forked(lambda month=wanted: balance(book, month), share * warm)  # type: ignore[misc]
        warm *= 0.95 if done else 1.03
        data = book.read_bytes()
        assert data in (states[now], states[wanted]), f"attempt {attempt}: the book of neither run"
        assert not done or data == states[wanted]
        sums["finished" if done else "as after" if data == states[wanted] else "as before"] += 1
        balance(book, wanted)
        assert book.read_bytes() == states[wanted], f"attempt {attempt}: the next run gives another book"
        now = wanted
    pictures = {"layouts", *(f"layouts/month-{month}.html" for month in MONTHS)}
    stray = sorted(snapshot(folder).keys() - {"b.xlsx", "b.backup.xlsx", ".b.backup.json"} - pictures)
    assert not stray, f"left behind: {stray}"
    return sums


def main() -> int:
    options = told(__doc__, count=100)
    with tempfile.TemporaryDirectory(prefix="hard-") as folder:
        print(json.dumps(kills(Path(folder), options.count, options.seed)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
