"""Seeded edits of drawings after a plan: each is told, or the part is what it was.

    python -m tests.hard.drawing_edits --count 100 --seed 1
"""

from __future__ import annotations

import argparse
import math
import random
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import shapely

from sheetplan.app.check import CheckOutcome, check_tables
from sheetplan.app.known_outlines import remember
from sheetplan.drawings.known import SAME_MM
from sheetplan.model.outline import Outline
from sheetplan.shapes import to_polygon
from tests.nasty.books.plain import plain_rows, tables_of
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


def draw(things: list[Thing]) -> Callable[[Any], None]:
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


def add(things: list[Thing], rng: random.Random) -> list[Thing]:
    x = rng.choice([-300.0, 1000.0, 150.0])
    return [Thing(rng.choice(KINDS), x, rng.choice([0.0, 400.0])), *things]


def take(things: list[Thing], rng: random.Random) -> list[Thing]:
    gone = rng.randrange(len(things))
    return [thing for i, thing in enumerate(things) if i != gone]


def one(change: Callable[[Thing, random.Random], Thing]) -> Callable:
    """An edit of one thing of the drawing."""

    def edit(things: list[Thing], rng: random.Random) -> list[Thing]:
        at = rng.randrange(len(things))
        return [change(thing, rng) if i == at else thing for i, thing in enumerate(things)]

    return edit


EDITS: dict[str, Callable[[list[Thing], random.Random], list[Thing]]] = {
    "outline added": add,
    "outline deleted": take,
    "all moved": lambda things, rng: [replace(t, x=t.x + 33.3, y=t.y - 7.1) for t in things],
    "order of drawing": lambda things, rng: rng.sample(things, len(things)),
    "one moved": one(lambda t, rng: replace(t, x=t.x + rng.choice([-900.0, 2000.0]))),
    "one scaled": one(lambda t, rng: replace(t, scale=rng.choice([0.5, 1.001, 1.05, 25.4]))),
    "one turned": one(lambda t, rng: replace(t, turn=rng.choice([90.0, 180.0, 1.0]))),
    "one mirrored": one(lambda t, rng: replace(t, mirrored=True)),
    "hole moved": one(lambda t, rng: replace(t, shift=rng.choice([0.01, 0.05, 0.5, 3.0]))),
    "hole of another size": one(lambda t, rng: replace(t, hole=rng.choice([5.9, 6.02, 8.0]))),
    "hole gone": one(lambda t, rng: replace(t, hole=0.0)),
    "another thing": one(lambda t, rng: replace(t, kind=rng.choice(KINDS))),
    "on a layer that is not cut": one(lambda t, rng: replace(t, layer="NOTES")),
    "saved again": lambda things, rng: [replace(t, x=t.x + 1e-7) for t in things],
}


def checked(folder: Path, numbers: int) -> CheckOutcome:
    rows = plain_rows()
    kept = {key: rows["Parts"][0][key] for key in ("Material", "Thickness")}
    rows["Parts"] += [{**kept, "Part": f"K-{i}", "Drawing": f"kit.dxf#{i}"} for i in range(1, numbers + 1)]
    return check_tables(tables_of(rows), folder / "book.xlsx")


def edited(folder: Path, seed: int) -> str:
    """Plan a kit, edit its drawing, check again; says what became of it, and fails where nothing was said."""
    rng = random.Random(seed)
    things = [Thing(kind, 150.0 * i, 0.0) for i, kind in enumerate(KINDS)]
    drawing = folder / "kit.dxf"
    drawing.write_bytes(dxf(space(draw(things))))
    first = checked(folder, len(things))
    assert first.job is not None, first.problems
    remember(folder / "book.xlsx", first.outlines)
    planned = {name: part.outline for name, part in first.job.parts.items() if name.startswith("K-")}
    name = rng.choice(list(EDITS))
    drawing.write_bytes(dxf(space(draw(EDITS[name](things, rng)))))
    again = checked(folder, len(things))
    assert again.job is not None, again.problems
    lines = [problem.what for problem in again.problems]
    said = "nothing to say"
    for part, outline in planned.items():
        cell = f"kit.dxf#{part[2:]}"
        if part not in again.job.parts:
            assert any(cell in line or "cannot be used" in line for line in lines), (name, part, lines)
            said = "told"
        else:
            assert strays(outline, again.job.parts[part].outline) <= SAME_MM, (name, part, lines)
    moved = any("it is the same" in line for line in lines)
    return f"{name}: {said}{', others under other numbers' if moved else ''}"


def strays(first: Outline, second: Outline) -> float:
    """How far two outlines stray from one another, by polygons of their own."""
    one, other = to_polygon(first, 0.001), to_polygon(second, 0.001)
    return float(shapely.hausdorff_distance(one.boundary, other.boundary))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    found: Counter[str] = Counter()
    for seed in range(asked.seed, asked.seed + asked.count):
        with tempfile.TemporaryDirectory() as folder:
            found[edited(Path(folder), seed)] += 1
    for what, times in sorted(found.items()):
        print(f"{times:4d}  {what}")


if __name__ == "__main__":
    main()
