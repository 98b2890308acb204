"""A month of drawn parts as a book with its drawings, by seed: what writing a plan has to cope with.

Invented dock hardware as shops draw it: plates with rounded corners, holes, slots and cut-out lettering,
rings and discs, angle brackets, frames with windows, and plates whose edge is a spline of 20 to 400 points.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ezdxf
import numpy as np

from tests.nasty.books.plain import Rows, write_book

if TYPE_CHECKING:
    from ezdxf.layouts import Modelspace

GAUGES = (
    ("mild steel", "10 ga"), ("mild steel", '3/16"'), ("mild steel", '1/4"'),
    ("mild steel", '3/8"'), ("aluminium 5052", '1/8"'), ("aluminium 5052", '1/4"'),
)  # fmt: skip
SERIES = {"mild steel": ("carbon steel", 0.2836), "aluminium 5052": ("aluminium", 0.0968)}
SHEETS = ((48, 96), (48, 120), (60, 120))
"""Width and length in inches."""
WORDS = ("DOCK 7", "PORT", "BERTH", "NO WAKE", "SLIP B", "TIDE")

Draw = Callable[["Modelspace", random.Random, float, float], None]
"""Draws a part of about so much length and width, in inches."""


def drawn_book(folder: Path, pieces: int, types: int, seed: int = 1) -> Path:
    """Write the book and a drawing of each type into a folder, and return the book's path."""
    (folder / "drawings").mkdir(parents=True, exist_ok=True)
    dice = random.Random(seed)
    counts = _counts(dice, pieces, types)
    rows = _rows(seed)
    for number, count in enumerate(counts):
        name, key = f"DH-{number:03d}", GAUGES[number % len(GAUGES)]
        kind = list(KINDS)[number % len(KINDS)]
        _drawing(folder / "drawings" / f"{name}.dxf", KINDS[kind], dice)
        gauge = {"Material": key[0], "Thickness": key[1]}
        drawing = {"Drawing": f"drawings/{name}.dxf", "Drawn in": "in"}
        rows["Parts"].append({"Part": name, "Description": kind, **gauge, **drawing})
        if number % 3:
            rows["Orders"].append({"Order": f"H-{number:03d}", "Item": name, "Quantity": count})
        else:
            rows["Kits"].append({"Kit": f"kit {number:03d}", "Part": name, "Quantity": 1})
            order = {"Order": f"H-{number:03d}", "Item": f"kit {number:03d}", "Quantity": count}
            rows["Orders"].append(order)
    return write_book(folder / "b.xlsx", rows)


def _counts(dice: random.Random, pieces: int, types: int) -> list[int]:
    weights = [dice.lognormvariate(0.0, 0.6) for _ in range(types)]
    counts = [max(1, round(pieces * weight / sum(weights))) for weight in weights]
    counts[counts.index(max(counts))] += pieces - sum(counts)
    return counts


def _rows(seed: int) -> Rows:
    gauges = [{"Material": metal, "Thickness": text} for metal, text in GAUGES]
    stock = [
        {**gauge, "Sheet": f"S{number}-{width}x{length}", "Width": width, "Length": length,
         "On hand": 2 * (length == 96), "Price": round(width * length / 30), "Order multiple": 1}
        for number, gauge in enumerate(gauges)
        for width, length in SHEETS
    ]  # fmt: skip
    return {
        "Settings": [{"Setting": "Units", "Value": "in"}, {"Setting": "Seed", "Value": seed}],
        "Materials": [
            {"Material": name, "Gauge system": series, "Density": density}
            for name, (series, density) in SERIES.items()
        ],
        "Cutting": [{**gauge, "Kerf": 0.06, "Gap": 0.25, "Margin": 0.5, "Feed": 90} for gauge in gauges],
        "Parts": [], "Kits": [], "Orders": [], "Stock": stock, "Remnants": [],
    }  # fmt: skip


def _drawing(path: Path, draw: Draw, dice: random.Random) -> None:
    document = ezdxf.new("R2000")
    long = math.exp(dice.uniform(math.log(6.0), math.log(44.0)))
    draw(document.modelspace(), dice, long, long * dice.uniform(0.35, 1.0))
    document.saveas(path)


def _closed(space: Modelspace, points: list[Any]) -> None:
    space.add_lwpolyline(points, format="xyb", close=True)


def _rounded(space: Modelspace, left: float, bottom: float, right: float, top: float, radius: float) -> None:
    """A rectangle with round corners, as lines and arcs of one polyline."""
    bulge, r = math.tan(math.pi / 8.0), radius
    _closed(space, [
        (left + r, bottom, 0), (right - r, bottom, bulge), (right, bottom + r, 0), (right, top - r, bulge),
        (right - r, top, 0), (left + r, top, bulge), (left, top - r, 0), (left, bottom + r, bulge),
    ])  # fmt: skip


def _plate(space: Modelspace, dice: random.Random, long: float, wide: float) -> None:
    _rounded(space, 0, 0, long, wide, 0.15 * wide)
    inset, radius = 0.2 * wide, 0.06 * wide
    for x in (inset, long - inset):
        for y in (inset, wide - inset):
            space.add_circle((x, y), radius)


def _slotted(space: Modelspace, dice: random.Random, long: float, wide: float) -> None:
    _rounded(space, 0, 0, long, wide, 0.1 * wide)
    for share in (0.3, 0.7):
        y, half = share * wide, 0.07 * wide
        _closed(space, [
            (0.2 * long, y - half, 0), (0.8 * long, y - half, 1), (0.8 * long, y + half, 0),
            (0.2 * long, y + half, 1),
        ])  # fmt: skip


def _lettered(space: Modelspace, dice: random.Random, long: float, wide: float) -> None:
    """A plate with a word cut out, its letters as straight pieces, as most programs give them away."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    _rounded(space, 0, 0, long, wide, 0.1 * wide)
    path = TextPath((0, 0), dice.choice(WORDS), size=10, prop=FontProperties(family="DejaVu Sans"))
    rings = [ring for ring in path.to_polygons() if len(ring) > 3]
    # The inside of a letter would fall out: stencils leave it away.
    outer = [ring for ring in rings if _turning(ring) == _turning(rings[0])]
    right = max(float(ring[:, 0].max()) for ring in outer)
    scale = min(0.8 * long / right, 0.5 * wide / 10.0)
    for ring in outer:
        points = ring[:-1] * scale + (0.1 * long, 0.3 * wide)
        _closed(space, [(x, y, 0) for x, y in points.tolist()])


def _turning(ring: Any) -> bool:
    x, y = ring[:-1].T
    return bool((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() > 0.0)


def _ring(space: Modelspace, dice: random.Random, long: float, wide: float) -> None:
    space.add_circle((0, 0), long / 2)
    space.add_circle((0, 0), long / 2 * dice.uniform(0.4, 0.8))


def _disc(space: Modelspace, dice: random.Random, long: float, wide: float) -> None:
    radius = wide / 2
    space.add_circle((0, 0), radius)
    for number in range(6):
        angle = number * math.pi / 3.0
        space.add_circle((0.7 * radius * math.cos(angle), 0.7 * radius * math.sin(angle)), 0.08 * radius)


def _bracket(space: Modelspace, dice: random.Random, long: float, wide: float) -> None:
    leg = 0.3 * wide
    _closed(space, [(0, 0, 0), (long, 0, 0), (long, leg, 0), (leg, leg, 0), (leg, wide, 0), (0, wide, 0)])
    space.add_circle((leg / 2, leg / 2), leg / 5)
    space.add_circle((long - leg / 2, leg / 2), leg / 5)


def _window(space: Modelspace, dice: random.Random, long: float, wide: float) -> None:
    _closed(space, [(0, 0, 0), (long, 0, 0), (long, wide, 0), (0, wide, 0)])
    _rounded(space, 0.2 * long, 0.2 * wide, 0.8 * long, 0.8 * wide, 0.1 * wide)


def _shell(space: Modelspace, dice: random.Random, long: float, wide: float) -> None:
    """A U, round at its closed end."""
    thick = 0.25 * wide
    _closed(space, [
        (0, 0, 0), (long - wide / 2, 0, 1), (long - wide / 2, wide, 0), (0, wide, 0), (0, wide - thick, 0),
        (long - wide / 2, wide - thick, -1), (long - wide / 2, thick, 0), (0, thick, 0),
    ])  # fmt: skip


def _spline(space: Modelspace, dice: random.Random, long: float, wide: float) -> None:
    """A wavy edge, drawn as one closed spline through many points, with a bore."""
    count = round(math.exp(dice.uniform(math.log(20.0), math.log(400.0))))
    waves, depth = dice.randint(3, 7), dice.uniform(0.05, 0.15)
    points = []
    for number in range(count):
        angle = 2.0 * math.pi * number / count
        radius = 1.0 + depth * math.sin(waves * angle)
        points.append((long / 2 * radius * math.cos(angle), wide / 2 * radius * math.sin(angle)))
    space.add_spline([*points, points[0]])
    space.add_circle((0, 0), 0.12 * wide)


KINDS: dict[str, Draw] = {
    "plate": _plate, "lettered plate": _lettered, "ring": _ring, "bracket": _bracket, "wavy plate": _spline,
    "slotted plate": _slotted, "disc": _disc, "frame": _window, "shell": _shell,
}  # fmt: skip
