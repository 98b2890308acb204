"""A year of seeded months over six gauges, with remnants used and without, side by side.

Each month's orders are planned, every layout is cut, what is left goes back to the rack as a record. Every
layout on a remnant is judged against all earlier cuts on its sheet on the true outlines, and at the end the
cuts of every sheet are laid over one another with shapely: nothing may have been cut twice.

"""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import shapely

from sheetplan.checking import check_plan
from sheetplan.model import (
    CuttingRule,
    Job,
    Loop,
    Material,
    Order,
    Outline,
    Part,
    Remnant,
    Settings,
    SheetSize,
    rectangle,
)
from sheetplan.planning import RunOptions, plan_job
from sheetplan.rack.cut import CutFacts, Cutting, new_sheet
from sheetplan.rack.free_space import free_rectangle
from sheetplan.rack.kept_plan import PlannedLayout
from sheetplan.rack.record import Record, as_remnant, outermost
from sheetplan.shapes import Side, area, to_polygon
from sheetplan.trade.thickness import Thickness
from tests.bench.options import Options

INCH = 25.4
GAUGES = ("16 ga", "14 ga", "12 ga", "10 ga", "3/16 in", "1/4 in")
MM = (1.519, 1.897, 2.657, 3.416, 4.763, 6.35)
STEEL = Material("mild steel", "carbon steel", 7850.0)
SETTINGS = Settings(
    least_remnant_length=12 * INCH, least_remnant_width=12 * INCH, crop_remnants=False
)  # fmt: skip
"""Sheets go back with their old cuts, so that nothing may be cut twice."""
KG_LB = 2.2046


def circle(x: float, y: float, radius: float) -> Loop:
    return Loop(((x - radius, y, 1.0), (x + radius, y, 1.0)))


def outlines(chance: random.Random) -> Outline:
    """A bracket: a rectangle, an L, a disc with a hole or a plate with a window."""
    length, width = chance.uniform(6, 30) * INCH, chance.uniform(4, 18) * INCH
    kind = chance.random()
    if kind < 0.5:
        return rectangle(length, width)
    if kind < 0.7:
        a, b = 0.4 * length, 0.4 * width
        return Outline(Loop((
            (0, 0, 0), (length, 0, 0), (length, b, 0), (a, b, 0), (a, width, 0), (0, width, 0),
        )))  # fmt: skip
    if kind < 0.85:
        radius = width / 2
        return Outline(circle(radius, radius, radius), (circle(radius, radius, radius * 0.6),))
    hole = Loop((
        (0.2 * length, 0.2 * width, 0), (0.8 * length, 0.2 * width, 0),
        (0.8 * length, 0.8 * width, 0), (0.2 * length, 0.8 * width, 0),
    ))  # fmt: skip
    return Outline(rectangle(length, width).outer, (hole,))


@dataclass
class Yard:
    """One way of working: the rack as it is, and sums over the year."""

    use_remnants: bool
    rack: dict[str, tuple[Record, float]] = field(default_factory=dict)
    retired: list[Record] = field(default_factory=list)
    bought: Counter[str] = field(default_factory=Counter)
    bought_kg: float = 0.0
    parts_kg: float = 0.0
    on_remnants: int = 0
    layouts: int = 0
    slowest: float = 0.0
    born: dict[str, int] = field(default_factory=dict)
    ages_used: list[int] = field(default_factory=list)
    counts: list[int] = field(default_factory=list)
    next_tag: int = 1


def shop(seed: int) -> tuple[list[Part], list[SheetSize], list[CuttingRule]]:
    chance = random.Random(seed)
    parts, stock, rules = [], [], []
    for text, mm in zip(GAUGES, MM, strict=True):
        thickness = Thickness(mm, text)
        for number in range(8):
            parts.append(Part(f"{text} P{number}", STEEL.name, thickness, outlines(chance)))
        price = 96 * 48 * INCH**2 * mm * 7850e-9 * 1.6
        stock.append(SheetSize(f"{text} 4x8", STEEL.name, thickness, 96 * INCH, 48 * INCH, price=price))
        rules.append(CuttingRule(STEEL.name, thickness, kerf=1.2, gap=5.0, margin=6.0))
    return parts, stock, rules


def month_orders(parts: list[Part], month: int, seed: int) -> tuple[Order, ...]:
    """Some of the parts each month: not every gauge fills whole sheets."""
    chance = random.Random(seed * 100 + month)
    chosen = [part for part in parts if chance.random() < 0.4]
    return tuple(Order(f"M{month}", part.name, chance.randint(2, 12)) for part in chosen)


def run_month(yard: Yard, month: int, seed: int, seconds: float, shop_made: tuple) -> None:
    parts, stock, rules = shop_made
    remnants = tuple(
        as_remnant(record, Remnant(tag, record.material, record.thickness, record.edge, value=value))
        for tag, (record, value) in sorted(yard.rack.items())
    )
    job = Job(
        SETTINGS, {STEEL.name: STEEL}, tuple(rules), {p.name: p for p in parts}, {},
        month_orders(parts, month, seed), tuple(stock), remnants if yard.use_remnants else (),
    )  # fmt: skip
    start = time.perf_counter()
    plan = plan_job(job, RunOptions(seconds, seed))
    yard.slowest = max(yard.slowest, time.perf_counter() - start)
    faults = check_plan(plan)
    assert not faults, faults[:3]
    for group in plan.groups:
        assert not group.short, group.short
        for layout in group.layouts:
            yard.layouts += 1
            for _ in range(layout.repeats):
                cut(yard, month, PlannedLayout(replace(layout, repeats=1), group.group), job)
    yard.counts.append(len(yard.rack))


def cut(yard: Yard, month: int, planned: PlannedLayout, job: Job) -> None:
    sheet, group = planned.layout.sheet, planned.group
    kg = group.thickness.mm * 7850e-9
    yard.parts_kg += sum(area(job.parts[p.part].outline) for p in planned.layout.placements) * kg
    if isinstance(sheet, Remnant):
        base, value = yard.rack.pop(sheet.tag)
        tag, whole = sheet.tag, room_area(base, group.rule.gap)
        yard.on_remnants += 1
        yard.ages_used.append(month - yard.born[tag])
    else:
        base, tag, value = new_sheet(sheet, SETTINGS.datum), "", sheet.price
        whole = sheet.length * sheet.width
        yard.bought[sheet.name] += 1
        yard.bought_kg += sheet.length * sheet.width * kg
    facts = CutFacts(month, f"2026-{month:02d}-15", "YEAR")
    after = Cutting(planned.group.rule, job.parts, SETTINGS).after(base, planned.layout, facts)
    kept = [(after.sheet, after.room)] if after.room else []
    for record, room in (*kept, *((k.record, k.room) for k in after.drop_outs)):
        name = tag if record is after.sheet and tag else f"R-{yard.next_tag:03d}"
        if name != tag:
            yard.next_tag += 1
            yard.born[name] = month
        share = room.length * room.width / whole if whole else 0.0
        yard.rack[name] = (replace(record, tag=name), value * min(1.0, share) * 0.9)
    if not after.room:
        yard.retired.append(after.sheet)


def room_area(record: Record, gap: float) -> float:
    room = free_rectangle(record.edge, [cut.loop for cut in outermost(record.cuts)], gap)
    return room.length * room.width if room else 0.0


def worst_overlap(record: Record) -> float:
    """Largest area that two cuts of a sheet share, mm2, cuts from one layout's holes aside."""
    cuts = outermost(record.cuts)
    polygons = [to_polygon(cut.loop, 0.01, Side.IN) for cut in cuts]
    first, second = shapely.STRtree(polygons).query(polygons, predicate="intersects")
    shared = [polygons[a].intersection(polygons[b]).area for a, b in zip(first, second, strict=True) if a < b]
    edge = to_polygon(record.edge, 0.01, Side.OUT)
    outside = [polygon.difference(edge).area for polygon in polygons]
    return max([0.0, *shared, *outside])


WAYS = ("remnants used", "remnants left alone")
SECONDS = 2.0
"""Time for each month's plan of six gauges."""

MONTHS = 12


def instances(options: Options) -> tuple[str, ...]:
    return WAYS


def solve(instance: str, options: Options) -> dict[str, object]:
    yard = Yard(instance == WAYS[0])
    made = shop(options.seed)
    for month in range(1, MONTHS + 1):
        run_month(yard, month, options.seed, options.seconds or SECONDS, made)
    sheets = [record for record, _ in yard.rack.values()] + yard.retired
    overlap = max(worst_overlap(record) for record in sheets)
    assert overlap < SAME_AREA, f"something was cut twice: {overlap} mm2"
    left_kg = sum(record.metal_left * record.thickness.mm * 7850e-9 for record, _ in yard.rack.values())
    ages = yard.ages_used
    return {
        "way": instance,
        "sheets bought": sum(yard.bought.values()),
        "bought lb": yard.bought_kg * KG_LB,
        "parts lb": yard.parts_kg * KG_LB,
        "in rack lb": left_kg * KG_LB,
        "waste lb": (yard.bought_kg - yard.parts_kg - left_kg) * KG_LB,
        "parts over bought": yard.parts_kg / yard.bought_kg,
        "layouts": yard.layouts,
        "on remnants": yard.on_remnants,
        "in rack": len(yard.rack),
        "most in rack": max(yard.counts),
        "mean age when used": sum(ages) / len(ages) if ages else 0.0,
        "oldest in rack": max((MONTHS - yard.born[tag] for tag in yard.rack), default=0),
        "most visits to a sheet": max(len({cut.step for cut in record.cuts}) for record in sheets),
        "worst overlap mm2": overlap,
        "sheets judged": len(sheets),
        "slowest plan s": yard.slowest,
    }


SAME_AREA = 1e-3
"""Shared area that is rounding, mm2: a thousandth of a thousandth of a finger nail."""


def summary(rows: Sequence[dict[str, object]], options: Options) -> list[str]:
    if len(rows) < 2:
        return []
    saved = 1.0 - float(str(rows[0]["bought lb"])) / float(str(rows[1]["bought lb"]))
    return [f"{saved:.1%} less metal bought when remnants are used"]
