"""Seeded edits of drawings after a plan: each is told, or the part is what it was.

    python -m tests.hard.drawing_edits --count 100 --seed 1

The book is planned, the drawing edited, and then the book is checked, its layouts are squared, cut, and
locked in a new plan. Nothing of a changed part may be planned, locked, squared or cut without a word; what
is used all the same is held against the outline of the first plan by polygons of its own.
"""

from __future__ import annotations

import datetime
import math
import os
import random
import shutil
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import shapely

from sheetplan.app.check import CheckOutcome, check_book, check_tables
from sheetplan.app.making.drawings import remember
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut import record_cuts
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.square import Measured, square
from sheetplan.checking import check_plan
from sheetplan.drawings.known import SAME_MM
from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes
from sheetplan.model import Part, Plan
from sheetplan.model.outline import Outline
from sheetplan.planning import never, quiet
from sheetplan.shapes import area, to_polygon
from sheetplan.trade.units import Units
from tests.hard.options import told as options
from tests.nasty.books.plain import Rows, plain_rows, tables_of, write_book
from tests.nasty.drawings_making import dxf, space

KINDS = ("wheel", "arm", "plate", "disc", "hook")


@dataclass(frozen=True)
class Thing:
    """One outline in the drawing: what it is, where, how large, and how it lies."""

    kind: str
    x: float
    y: float
    scale: float = 1.0
    turn: float = 0.0
    mirrored: bool = False
    hole: float = 6.0
    shift: float = 0.0
    layer: str = "0"

    def at(self, x: float, y: float) -> tuple[float, float]:
        cos, sin = math.cos(math.radians(self.turn)), math.sin(math.radians(self.turn))
        x, y = x * self.scale * (-1.0 if self.mirrored else 1.0), y * self.scale
        return self.x + x * cos - y * sin, self.y + x * sin + y * cos


CORNERS = {
    "arm": [(0, 0), (80, 0), (80, 20), (30, 24), (0, 40)],
    "plate": [(0, 0), (90, 0), (90, 95), (0, 95)],
    "hook": [(0, 0), (60, 0), (60, 50), (45, 50), (45, 15), (0, 15)],
}


@dataclass(frozen=True)
class Drawing:
    """What is drawn, and the unit that the file says ($INSUNITS)."""

    things: tuple[Thing, ...]
    unit: int = 4

    def bytes(self) -> bytes:
        return dxf(space(draw(self.things)), unit=self.unit)


def draw(things: Sequence[Thing]) -> Callable[[Any], None]:
    def drawn(msp: Any) -> None:
        for thing in things:
            on = {"layer": thing.layer}
            if thing.kind in CORNERS:
                corners = [thing.at(*corner) for corner in CORNERS[thing.kind]]
                msp.add_lwpolyline(corners, close=True, dxfattribs=on)
                hole = thing.at(12.0 + thing.shift, 8.0)
            else:
                radius = (50 if thing.kind == "wheel" else 20) * thing.scale
                msp.add_circle((thing.x, thing.y), radius, dxfattribs=on)
                hole = (thing.x + thing.shift, thing.y)
            if thing.hole:
                msp.add_circle(hole, thing.hole * thing.scale / 2.0, dxfattribs=on)

    return drawn


def things(change: Callable[[list[Thing], random.Random], list[Thing]]) -> Edit:
    """An edit of what is drawn."""
    return lambda drawing, rng: replace(drawing, things=tuple(change(list(drawing.things), rng)))


def one(change: Callable[[Thing, random.Random], Thing]) -> Edit:
    """An edit of one thing of the drawing."""

    def edit(drawn: list[Thing], rng: random.Random) -> list[Thing]:
        at = rng.randrange(len(drawn))
        return [change(thing, rng) if i == at else thing for i, thing in enumerate(drawn)]

    return things(edit)


def add(drawn: list[Thing], rng: random.Random) -> list[Thing]:
    x = rng.choice([-300.0, 1000.0, 150.0])
    return [Thing(rng.choice(KINDS), x, rng.choice([0.0, 400.0])), *drawn]


def take(drawn: list[Thing], rng: random.Random) -> list[Thing]:
    gone = rng.randrange(len(drawn))
    return [thing for i, thing in enumerate(drawn) if i != gone]


def swap(drawn: list[Thing], rng: random.Random) -> list[Thing]:
    first, second = rng.sample(range(len(drawn)), 2)
    there = {first: drawn[second], second: drawn[first]}
    return [replace(t, x=there.get(i, t).x, y=there.get(i, t).y) for i, t in enumerate(drawn)]


def layers(drawn: list[Thing], rng: random.Random) -> list[Thing]:
    name = rng.choice(["CUT", "3MM", "NOTES"])
    return [replace(thing, layer=name) for thing in drawn]


Edit = Callable[[Drawing, random.Random], Drawing]

EDITS: dict[str, Edit] = {
    "circle added on the left": things(lambda drawn, _: [Thing("disc", -300.0, 0.0, hole=0.0), *drawn]),
    "outline added": things(add),
    "outline deleted": things(take),
    "two swapped": things(swap),
    "all moved": things(lambda drawn, _: [replace(t, x=t.x + 33.3, y=t.y - 7.1) for t in drawn]),
    "order of drawing": things(lambda drawn, rng: rng.sample(drawn, len(drawn))),
    "saved again": things(lambda drawn, _: [replace(t, x=t.x + 1e-7) for t in drawn]),
    "layer renamed": things(layers),
    "another unit": lambda drawing, rng: replace(drawing, unit=rng.choice([0, 1, 5, 6])),
    "one moved": one(lambda t, rng: replace(t, x=t.x + rng.choice([-900.0, 2000.0]))),
    "one resized": one(lambda t, rng: replace(t, scale=rng.choice([0.5, 1.001, 1.05, 25.4]))),
    "one turned": one(lambda t, rng: replace(t, turn=rng.choice([90.0, 180.0, 1.0]))),
    "one mirrored": one(lambda t, _: replace(t, mirrored=True)),
    "hole moved": one(lambda t, rng: replace(t, shift=rng.choice([0.01, 0.05, 0.5, 3.0]))),
    "hole of another size": one(lambda t, rng: replace(t, hole=rng.choice([5.9, 6.02, 8.0]))),
    "hole gone": one(lambda t, _: replace(t, hole=0.0)),
    "another thing": one(lambda t, rng: replace(t, kind=rng.choice(KINDS))),
    "on a layer that is not cut": one(lambda t, _: replace(t, layer="NOTES")),
}

FIRST = Drawing(tuple(Thing(kind, 150.0 * i, 0.0) for i, kind in enumerate(KINDS)))
DAY = datetime.date(2026, 11, 2)
NAMES = [f"K-{number}" for number in range(1, len(KINDS) + 1)]


def rows(*, ordered: bool) -> Rows:
    """A book of the drawing's outlines, in inches; two of each ``ordered``, or others alone."""
    made = plain_rows()
    kept = {key: made["Parts"][0][key] for key in ("Material", "Thickness")}
    made["Parts"] += [{**kept, "Part": name, "Drawing": f"kit.dxf#{name[2:]}"} for name in NAMES]
    if ordered:
        made["Orders"] = [{"Order": "X", "Item": name, "Quantity": 2} for name in NAMES]
    return made


def edited(folder: Path, seed: int) -> str:
    """Keep the outlines of a kit, edit its drawing, check again; fails where nothing was said."""
    rng = random.Random(seed)
    tables, drawing, book = tables_of(rows(ordered=False)), folder / "kit.dxf", folder / "book.xlsx"
    drawing.write_bytes(FIRST.bytes())
    first = check_tables(tables, book)
    assert first.job is not None, first.problems
    remember(book, first.outlines)
    name = rng.choice(list(EDITS))
    drawing.write_bytes(EDITS[name](FIRST, rng).bytes())
    told, moved = said(name, check_tables(tables, book), first.job.parts)
    return f"{name}: {'told' if told else 'harmless'}{', others under other numbers' if moved else ''}"


def said(edit: str, outcome: CheckOutcome, parts: Mapping[str, Part]) -> tuple[set[str], bool]:
    """Parts that cannot be used after an edit, each told; the others are what they were."""
    assert outcome.job is not None, outcome.problems
    lines = [problem.what for problem in outcome.problems]
    told = set(NAMES) - outcome.job.parts.keys()
    for part in told:
        cell = f"kit.dxf#{part[2:]}"
        assert any(cell in line or "cannot be used" in line for line in lines), (edit, part, lines)
    for part in set(NAMES) - told:
        astray = strays(parts[part].outline, outcome.job.parts[part].outline)
        assert astray <= SAME_MM, (edit, part, astray, lines)
    return told, any("it is the same" in line for line in lines)


def planned(folder: Path) -> Plan:
    """The book and its drawing in a folder, planned."""
    folder.mkdir()
    (folder / "kit.dxf").write_bytes(FIRST.bytes())
    outcome = plan_here(write_book(folder / "book.xlsx", rows(ordered=True)))
    assert outcome.plan is not None, outcome.problems
    return outcome.plan


def plan_here(book: Path, locks: tuple[str, ...] = ()) -> PlanOutcome:
    return plan_book(
        book, PlanAsked(DAY, seconds=0.3, seed=1, locks=locks), stop=never, report=quiet, workers=1
    )  # fmt: skip


def followed(first: Path, plan: Plan, folder: Path, seed: int) -> str:
    """Edit the drawing of a planned book, then check, square, cut and plan with locks, each on a copy."""
    rng = random.Random(seed)
    name = rng.choice(list(EDITS))

    def copied(step: str) -> Path:
        shutil.copytree(first, folder / step)
        return folder / step / "book.xlsx"

    data = EDITS[name](FIRST, rng).bytes()
    steps = {step: copied(step) for step in ("square", "cut", "lock", "anew")}
    for book in steps.values():
        (book.parent / "kit.dxf").write_bytes(data)
    unordered = check_tables(tables_of(rows(ordered=False)), steps["cut"])
    told, moved = said(name, unordered, plan.job.parts)
    assert check_book(steps["cut"], DAY).stops == bool(told)
    layouts = [layout for group in plan.groups for layout in group.layouts]
    for layout in layouts:
        touched = told & {placed.part for placed in layout.placements}
        why = why_not_squared(steps["square"], layout.tag)
        assert bool(why) == bool(touched), (name, layout.tag, touched, why)
        assert all(part in why for part in touched), (name, why)
        for done in record_cuts(steps["cut"], [CutAsked(layout.tag)], today=DAY):
            assert all(part in done.step.note for part in touched), (name, touched, done.step.note)
    for step, locks in (("lock", ("all",)), ("anew", ())):
        stopped = stops_or_plans(steps[step], locks, plan.job.parts)
        assert stopped == bool(told), (name, step, told)
    return f"{name}: {'told, stopped, refused and logged' if told else 'harmless'}" + (
        ", others under other numbers" if moved else ""
    )


def why_not_squared(book: Path, tag: str) -> str:
    """Why a layout is refused on the table; empty where it is squared."""
    try:
        square(book, tag, Measured((0.0, 0.0), angle=1.0))
    except Refused as refused:
        return refused.what
    return ""


def stops_or_plans(book: Path, locks: tuple[str, ...], parts: Mapping[str, Part]) -> bool:
    """Whether a plan is stopped; one that is made has what the first one had, also in its drawings."""
    before = book.read_bytes()
    outcome = plan_here(book, locks)
    if outcome.plan is None:
        assert outcome.problems
        assert before != book.read_bytes()  # the page Problems is renewed
        return True
    assert check_plan(outcome.plan) == ()
    assert outcome.drawings is not None
    for group in outcome.plan.groups:
        for layout in group.layouts:
            own = [parts[placed.part].outline for placed in layout.placements]
            for placed, outline in zip(layout.placements, own, strict=True):
                assert strays(outline, outcome.plan.job.parts[placed.part].outline) <= SAME_MM
            [path] = outcome.drawings.glob(f"*-{layout.tag}_*.dxf")
            report = read_bytes(path.name, path.read_bytes(), ReadingChoices(Units.INCH), time.process_time)
            drawn, metal = (sum(map(area, some)) for some in ((p.outline for p in report.parts), own))
            assert abs(drawn - metal) < 1e-4 * metal, (path.name, drawn, metal)
    return False


def strays(first: Outline, second: Outline) -> float:
    """How far two outlines stray from one another, by polygons of their own."""
    one, other = to_polygon(first, 0.001), to_polygon(second, 0.001)
    return float(shapely.hausdorff_distance(one.boundary, other.boundary, densify=0.1))


def main() -> None:
    asked = options(__doc__, count=100)
    found: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as home:
        os.environ["XDG_CACHE_HOME"] = home
        first = Path(home) / "first"
        plan = planned(first)
        for seed in range(asked.seed, asked.seed + asked.count):
            if asked.only in (None, seed):
                with tempfile.TemporaryDirectory() as folder:
                    found[followed(first, plan, Path(folder), seed)] += 1
    for what, times in sorted(found.items()):
        print(f"{times:4d}  {what}")


if __name__ == "__main__":
    main()
