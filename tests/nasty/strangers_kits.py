"""Folders of drawings as strangers make them, seeded, with a list of what is in them.

Thickness stands in layers, folders or file names, or nowhere; copies are turned and mirrored; edges
double back; fold lines are open; curves are splines of 10 to 3,000 knots; files are in inches,
millimetres, or say nothing; names are composed or decomposed.
"""

from __future__ import annotations

import math
import random
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from ezdxf.math import BSpline

from tests.nasty.drawings_making import dxf

Corner = tuple[float, float]

THICKNESSES = {
    "3 mm": ("3_millimeter", "3MM", "t=3mm", "3 mm plates"),
    "1.5 mm": ("1p5mm", "1.5mm_covers", "1,5 mm"),
    "6 mm": ("6MM_ENDCAPS", "6mm", "6-mm"),
    "10 ga": ("10ga", "10 GA galv", "GA10"),
    "0.1345 in": (".1345", "steel .1345"),
}
"""How names say a thickness, and how the book then has it."""

WORDS = ("arm", "größe", "cap", "rib", "Bügel", "tab", "web", "côté")


@dataclass(frozen=True)
class Shape:
    """An outline in mm: corners, or a spline's control polygon where ``knots``; round holes; and a fold-back
    on its first edge."""

    corners: tuple[Corner, ...]
    holes: tuple[tuple[float, float, float], ...]
    knots: int = 0
    fold: float = 0.0

    def at(self, turn: float, mirrored: bool) -> Callable[[float, float], Corner]:
        cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))

        def placed(x: float, y: float) -> Corner:
            x = -x if mirrored else x
            return x * cos - y * sin, x * sin + y * cos

        return placed


@dataclass
class Stated:
    """What the generator says of one part: thickness (empty where not said), area, holes, size, copies."""

    file: str
    thickness: str
    area: float
    holes: int
    size: Corner
    copies: int
    doubtful: bool
    close: float = 1e-6


@dataclass
class Kit:
    """A folder that was written."""

    folder: Path
    parts: list[Stated] = field(default_factory=list)
    refused: list[Stated] = field(default_factory=list)
    """Outlines that cannot be used: a line in the metal of each."""


def shape(rng: random.Random) -> Shape:
    """A polygon that is no copy of another, or a splined outline."""
    length, width = rng.randrange(400, 3000) / 10.0, rng.randrange(300, 1500) / 10.0
    if rng.random() < 0.25:
        knots = rng.choice([10, 40, 200, 800, 3000])
        lobes, deep = rng.randrange(2, 6), rng.uniform(0.03, 0.15)
        angle = np.linspace(0.0, 2.0 * math.pi, knots + 1)
        radius = length / 2.0 * (1.0 + deep * np.sin(lobes * angle) + 0.05 * np.cos(angle))
        xs, ys = (radius * np.cos(angle)).tolist(), (radius * np.sin(angle)).tolist()
        return Shape(tuple(zip(xs, ys, strict=True)), ((length * 0.1, 0.0, 4.0),), knots=knots)
    cut = rng.uniform(0.15, 0.6)
    corners = ((0.0, 0.0), (length, 0.0), (length, width * cut), (length * cut, width), (0.0, width))
    holes = tuple((10.0 + 12.0 * i, 9.0 + i, rng.choice([2.5, 3.0, 4.0])) for i in range(rng.randrange(3)))
    return Shape(corners, holes, fold=rng.choice([0.0, 0.0, rng.uniform(0.0, 0.5)]))


def draw(msp: Any, one: Shape, place: tuple[float, float, float, bool], layer: str, unit: float) -> None:
    """One copy: x, y, turn, mirrored."""
    x0, y0, turn, mirrored = place
    moved = one.at(turn, mirrored)

    def at(x: float, y: float) -> Corner:
        px, py = moved(x, y)
        return (px + x0) / unit, (py + y0) / unit

    on = {"layer": layer}
    if one.knots:
        spline = BSpline([(*at(x, y), 0.0) for x, y in one.corners])
        msp.add_spline(dxfattribs=on).apply_construction_tool(spline)
    else:
        corners = list(one.corners)
        if one.fold:
            half = corners[1][0] * 0.5
            corners[1:1] = [(half + one.fold, 0.0), (half, 0.0)]
        loop(msp, [at(x, y) for x, y in corners], layer)
    for x, y, radius in one.holes:
        msp.add_circle(at(x, y), radius / unit, dxfattribs=on)


def loop(msp: Any, corners: list[Corner], layer: str) -> None:
    """A closed polyline of the kind that the file's version has."""
    add = msp.add_polyline2d if msp.doc.dxfversion == "AC1009" else msp.add_lwpolyline
    add(corners, close=True, dxfattribs={"layer": layer})


def write_kits(home: Path, files: int, seed: int) -> Kit:
    """Write that many drawings below a folder."""
    rng = random.Random(seed)
    kit = Kit(home)
    home.mkdir(parents=True, exist_ok=True)
    for number in range(files):
        _write(kit, rng, number)
    return kit


def _write(kit: Kit, rng: random.Random, number: int) -> None:
    """One drawing: one to three parts with copies, and now and then a flaw that refuses one of them."""
    said = rng.choice(["layer", "folder", "file", "nowhere"])
    thickness = rng.choice(list(THICKNESSES))
    text = rng.choice(THICKNESSES[thickness])
    form = rng.choice(["NFC", "NFD"])
    stem = f"{rng.choice(WORDS)}_k{number}"
    stem = f"{stem} {text}" if said == "file" else stem
    sub = f"{text} set k{number}" if said == "folder" else ""
    name = unicodedata.normalize(form, "/".join(filter(None, (sub, f"{stem}.dxf"))))
    layer = text.replace("=", "-").replace(",", ".") if said == "layer" else "0"
    if said == "layer" and "=" in text:
        layer = text.replace("=", " ")
    unit_code, unit = rng.choice([(4, 1.0), (4, 1.0), (1, 25.4), (0, 1.0)])
    shapes = [shape(rng) for _ in range(rng.randrange(1, 4))]
    if unit_code == 0 and any(one.knots for one in shapes):
        unit_code = 4
    placed: list[tuple[Shape, tuple[float, float, float, bool]]] = []
    rows = []
    x = 0.0
    for one in shapes:
        copies = rng.choice([1, 1, 2, 4])
        mirrored = copies > 1 and rng.random() < 0.3
        for i in range(copies):
            turn = 0.0 if i == 0 else rng.choice([90.0, 180.0, 37.0])
            placed.append((one, (x, 0.0, turn, mirrored and i == copies - 1)))
            x += 800.0
        doubtful = said == "nowhere" or unit_code == 0 or mirrored
        rows.append(_stated(one, name, "" if said == "nowhere" else thickness, copies, doubtful))
    flaw = rng.random()

    def drawn(document: Any) -> None:
        msp = document.modelspace()
        for one, place in placed:
            draw(msp, one, place, layer, unit)
        if flaw < 0.1:
            msp.add_line((-900.0 / unit, 0.0), (-850.0 / unit, 10.0), dxfattribs={"layer": layer})
        elif flaw < 0.2:
            msp.add_line((x / unit + 10, 5), (x / unit + 60, 15), dxfattribs={"layer": layer})
            corners = ((0, -50), (400, -50), (400, 400), (0, 400))
            loop(msp, [((x + dx) / unit, dy / unit) for dx, dy in corners], layer)

    path = kit.folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    data = dxf(drawn, version="R2000" if unit_code else "R12", unit=unit_code)
    path.write_bytes(data)
    if flaw < 0.1:
        for row in rows:
            row.doubtful = True
    elif flaw < 0.2:
        unsaid = "" if said == "nowhere" else thickness
        kit.refused.append(Stated(name, unsaid, 400.0 * 450.0, 0, (400.0, 450.0), 1, doubtful=True))
    kit.parts += rows


def _stated(one: Shape, name: str, thickness: str, copies: int, doubtful: bool) -> Stated:
    """Area and size of the exact shape: of a splined one by a fine polygon of the exact curve."""
    corners = list(one.corners)
    if one.knots:
        spline = BSpline([(x, y, 0.0) for x, y in corners])
        low, high = spline.knots()[0], spline.knots()[-1]
        corners = [(p.x, p.y) for p in spline.points(np.linspace(low, high, 6 * one.knots + 4000).tolist())]
    solid = shapely.Polygon(corners)
    left, bottom, right, top = solid.bounds
    metal = solid.area - sum(math.pi * radius**2 for _, _, radius in one.holes)
    # An arc may lie 0.05 mm off the curve all along it.
    close = 0.05 * solid.length if one.knots else 1e-4 * solid.area + 0.1
    size = (right - left, top - bottom)
    return Stated(name, thickness, metal, len(one.holes), size, copies, doubtful, close)
