"""Random books planned, looked at with other eyes, and planned again: nothing drifts, nothing grows.

Each book is in inches or millimetres, with kits, grain, spares, remnants, order multiples, buying
limits, orders that only go in if they fit, and names in all spellings. Asked of each:

- the plan passes the independent check (a run that does not ends in CheckFailed);
- pieces in the drawings, pieces on the page Made and pieces asked for agree;
- after more plans than are kept, neither the folder nor the book has grown beyond those kept.
"""

from __future__ import annotations

import random
import sys
import traceback
from collections import Counter
from pathlib import Path
from typing import Any

from sheetplan.app.folders import EARLIER_KEPT
from sheetplan.app.plan import PlanOutcome, plan_book
from sheetplan.checking import check_plan
from sheetplan.model import Weight
from tests.hard.book_fuzz import TODAY
from tests.hard.hostile_texts import TEXTS
from tests.hard.looking import link_faults, snapshot
from tests.hard.options import told
from tests.hard.watching import Outcome, outcomes, peak_megabytes, tell
from tests.nasty.books.plain import Rows, write_book

SECONDS = 120.0
"""Longest that one book may take for its plans, on a busy machine."""

METALS = (
    ("mild steel", "carbon steel", "10 ga", "3 mm"),
    ("mild steel", "carbon steel", '1/4"', "6 mm"),
    ("aluminium 5052", "aluminium", '1/8"', "3 mm"),
    ("stainless 304", "stainless steel", "14 ga", "2 mm"),
)
SERIES = {name: series for name, series, *_ in METALS}
PLANS = EARLIER_KEPT + 2
"""How often each book is planned again: more often than earlier plans are kept."""

DENSITY = {"mild steel": (0.2836, 7850), "aluminium 5052": (0.0968, 2680), "stainless 304": (0.29, 8000)}


def random_rows(dice: random.Random) -> Rows:
    """A good book; what it asks for can be made unless a buying limit is too small."""
    metric = dice.random() < 0.5
    scale = 25 if metric else 1
    metals = dice.sample(METALS, dice.randint(1, len(METALS)))
    rows: Rows = {
        "Settings": [
            {"Setting": "Units", "Value": "mm" if metric else "in"},
            {"Setting": "Seed", "Value": dice.randint(0, 99)},
            {"Setting": "Datum corner", "Value": dice.choice(("lower left", "upper left", "lower right"))},
        ],
        "Materials": [
            {"Material": name, "Gauge system": SERIES[name], "Density": d[metric]}
            for name, d in DENSITY.items() if any(m[0] == name for m in metals)
        ],
        "Cutting": [], "Parts": [], "Kits": [], "Orders": [], "Stock": [], "Remnants": [],
    }  # fmt: skip
    for number, (material, _, inch, mm) in enumerate(metals):
        gauge: dict[str, Any] = {"Material": material, "Thickness": mm if metric else inch}
        gap, margin = dice.choice((0.125, 0.25)) * scale, dice.choice((0, 0.5)) * scale
        rows["Cutting"].append({**gauge, "Kerf": 0.06 * scale, "Gap": gap, "Margin": margin})
        names = [_name(dice, f"P{number}{i}") for i in range(dice.randint(1, 6))]
        for name in names:
            size = {"Width": dice.randint(8, 160) / 8 * scale, "Length": dice.randint(8, 240) / 8 * scale}
            some = {"Grain": dice.choice(("any", "any", "along length")), "Spare": dice.choice((0, 0, 3))}
            rows["Parts"].append({"Part": name, **gauge, **size, **some})
        kit = _name(dice, f"K{number}")
        for name in dice.sample(names, dice.randint(1, len(names))):
            rows["Kits"].append({"Kit": kit, "Part": name, "Quantity": dice.randint(1, 3)})
        for item in (kit, *names):
            must = dice.choice(("must", "must", "if it fits"))
            order = {"Order": f"H-{number}-{len(rows['Orders'])}", "Item": item, "Must": must}
            rows["Orders"].append({**order, "Quantity": dice.randint(1, 25)})
        for width, length in dice.sample(((48, 96), (48, 120), (60, 120)), dice.randint(1, 3)):
            sheet = {"Width": width * scale, "Length": length * scale, "Price": width * length / 40}
            sheet["On hand"], sheet["Order multiple"] = dice.choice((0, 0, 2)), dice.choice((1, 1, 5))
            if dice.random() < 0.2:
                sheet["Most to buy"] = dice.randint(0, 10)
            rows["Stock"].append({"Sheet": f"S{number}-{width}x{length}", **gauge, **sheet})
        for tag in range(dice.randint(0, 3)):
            piece = {"Width": dice.randint(10, 40) * scale, "Length": dice.randint(10, 60) * scale}
            rows["Remnants"].append({"Tag": f"R-{number}{tag}", **gauge, **piece})
    return rows


def _name(dice: random.Random, plain: str) -> str:
    return plain if dice.random() < 0.7 else f"{plain} {dice.choice(TEXTS)}"[:110]


def plan(book: Path) -> PlanOutcome:
    return plan_book(
        book, today=TODAY, seconds=0.2, seed=None, stop=lambda: False, report=lambda _: None, workers=1
    )


def one(seed: int, case: int, folder: Path) -> Outcome:
    """One book, planned again and again."""
    book = write_book(folder / "b.xlsx", random_rows(random.Random(f"{seed} {case}")))
    outcome: Outcome = {"kind": "planned", "megabytes": peak_megabytes()}
    try:
        first = plan(book)
        if first.plan is None:
            stops = [str(p) for p in first.problems if p.weight is Weight.STOPS]
            return outcome | {"kind": "problems", "fault": f"a good book was stopped: {stops[:3]}"}
        faults = plan_faults(first) + link_faults(book)
        sizes = []
        for _ in range(PLANS):
            again = plan(book)
            assert again.plan is not None
            faults += plan_faults(again)
            sizes.append((book.stat().st_size, len(snapshot(folder))))
        faults += link_faults(book)
        # A slow machine may stop a search early, so that a plan differs and the one before is kept.
        if sizes[-1][0] > 1.2 * sizes[0][0] or sizes[-1][1] > (2 + EARLIER_KEPT) * sizes[0][1]:
            faults.append(f"book and folder grow: {sizes}")
    except Exception:
        faults = [traceback.format_exc()[-1500:]]
    return outcome | {"fault": "\n".join(faults)}


def plan_faults(outcome: PlanOutcome) -> list[str]:
    """What does not add up in a plan, counted anew from its layouts and its orders."""
    plan = outcome.plan
    assert plan is not None
    faults = [str(fault) for fault in check_plan(plan)]
    made: Counter[str] = Counter()
    asked: Counter[str] = Counter()
    short: Counter[str] = Counter()
    for group in plan.groups:
        short.update(group.short)
        for layout in group.layouts:
            for placement in layout.placements:
                made[placement.part] += layout.repeats
    for order in plan.job.orders:
        kit = plan.job.kits.get(order.item)
        for part, count in (kit.parts if kit else {order.item: 1}).items():
            asked[part] += count * order.quantity * order.must
    for part, count in asked.items():
        if made[part] + short[part] < count:
            faults.append(
                f"{count} of {part} must be made, {made[part]} are, {short[part]} are said to be short"
            )
    return faults


def main() -> int:
    options = told(__doc__, count=300)
    return len(tell(outcomes("tests.hard.soak", 0, options.count, options.seed, SECONDS), every=20)) > 0


if __name__ == "__main__":
    sys.exit(main())
