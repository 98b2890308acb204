"""A book with some hundred remnants in the rack, each with a record of old cuts: time of every phase.

The book has one gauge, so that all remnants compete for its orders.
"""

from __future__ import annotations

import random
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from sheetplan.app.check import check_book
from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import drawing_name, known_name, known_text
from sheetplan.model import Loop, Remnant, rectangle
from sheetplan.planning import RunOptions, plan_job
from sheetplan.planning.progress import quiet
from sheetplan.rack.record import PastCut, Record
from sheetplan.rack.record_dxf import record_drawing, settled
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from tests.app.cut_book import DAY, planned_book, record_cut
from tests.bench.options import Options

INCH = 25.4
SECONDS = 10.0


def instances(options: Options) -> tuple[str, ...]:
    return ("0", "50", "500")


def record(number: int, chance: random.Random) -> Record:
    """A sheet with odd cuts from its lower left, the right end free."""
    length, width = 96 * INCH, 48 * INCH
    cuts = []
    for column in range(chance.randint(1, 5)):
        for row in range(chance.randint(1, 4)):
            x, y, r = (5 + 10 * column) * INCH, (5 + 10 * row) * INCH, chance.uniform(1, 4.5) * INCH
            cuts.append(PastCut(Loop(((x - r, y, 1.0), (x + r, y, 1.0)))))
    edge = rectangle(length, width).outer
    plain = Record(f"R-{number:03d}", "mild steel", Thickness(3.416, "10 ga"), edge, tuple(cuts))
    return settled(plain, Units.INCH)


def filled(folder: Path, count: int, seed: int) -> Path:
    chance = random.Random(seed)
    rows: list[dict[str, object]] = []
    rack = folder / "rack"
    for sub in ("known", "steps"):
        (rack / sub).mkdir(parents=True, exist_ok=True)
    for number in range(1, count + 1):
        made = record(number, chance)
        drawing = record_drawing(made, Units.INCH, None)
        (rack / drawing_name(made)).write_bytes(drawing)
        (rack / known_name(made.tag)).write_text(known_text(made, drawing), encoding="utf-8")
        value = round(chance.uniform(10, 60), 2)
        metal = {"Material": "mild steel", "Thickness": "10 ga", "Width": 48, "Length": 96}
        rows.append({"Tag": made.tag, **metal, "Value": value})
    return planned_book(folder, plates=60, remnants=rows, plan_it=False)


def solve(instance: str, options: Options) -> dict[str, object]:
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        book = filled(Path(folder), int(instance), options.seed)
        made = time.perf_counter()
        job = check_book(book).job
        checked = time.perf_counter()
        assert job is not None
        seconds = options.seconds or SECONDS
        plan_job(job, RunOptions(seconds))
        searched = time.perf_counter()
        outcome = plan_book(
            book, PlanAsked(DAY, seconds=seconds, seed=1), stop=lambda: False, report=quiet, workers=1
        )  # fmt: skip
        planned = time.perf_counter()
        assert outcome.plan is not None
        record_cut(book, CutAsked("L1"), today=DAY)
        cut = time.perf_counter()
        layouts = [layout for group in outcome.plan.groups for layout in group.layouts]
        return {
            "remnants": len(job.remnants),
            "asked s": seconds,
            "search s": searched - checked,
            "whole run s": planned - searched,
            "read and check s": checked - made,
            "record a cut s": cut - planned,
            "layouts": len(layouts),
            "on remnants": sum(isinstance(layout.sheet, Remnant) for layout in layouts),
            "cost": outcome.plan.groups[0].cost,
            "made s": made - start,
        }


def summary(rows: Sequence[dict[str, object]], options: Options) -> list[str]:
    return []
