"""Draw the demo's parts that no quick shape makes: outlines of our own for an invented harbour workshop.

One set of shapes serves both books: what is an inch in one is 25 mm in the other, and holes are of
the drill sizes that each shop has. ``build.py`` calls this; a test draws them again and compares.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from ezdxf.document import Drawing

from sheetplan.app.new import DEMO_DRAWINGS
from sheetplan.drawings.writing.dxf import dxf_bytes
from sheetplan.trade.units import Units

Point = tuple[float, float]
Vertex = tuple[float, float, float]
"""x, y and the bulge towards the next vertex: the tangent of a quarter of the arc's angle."""

Hole = tuple[float, float, float]
"""x, y and diameter."""

Shape = tuple[Sequence[Sequence[Vertex]], Sequence[Hole]]
"""Closed loops, the outer one first, and round holes."""

STEP = {Units.INCH: 1.0, Units.MM: 25.0}
SMALL_BOLT = {Units.INCH: 9 / 16, Units.MM: 14 / 25}
LARGE_BOLT = {Units.INCH: 11 / 16, Units.MM: 18 / 25}
"""Clearance holes for 1/2 and 5/8 in bolts, or M12 and M16 (common practice, no source)."""

QUARTER = math.tan(math.pi / 8)
DIGITS = {Units.INCH: 6, Units.MM: 4}


def belt(*discs: tuple[float, float, float]) -> list[Vertex]:
    """The outline of a belt laid tight around discs (x, y, radius) that are named counter-clockwise."""
    tangents = []
    for (x, y, r), (u, v, s) in zip(discs, discs[1:] + discs[:1], strict=True):
        tangents.append(math.atan2(v - y, u - x) - math.acos((r - s) / math.hypot(u - x, v - y)))
    found: list[Vertex] = []
    for k, (x, y, r) in enumerate(discs):
        start, end = tangents[k - 1], tangents[k]
        bulge = math.tan((end - start) % (2 * math.pi) / 4)
        found.append((x + r * math.cos(start), y + r * math.sin(start), bulge))
        found.append((x + r * math.cos(end), y + r * math.sin(end), 0.0))
    return found


def rounded(left: float, bottom: float, length: float, width: float, radius: float) -> list[Vertex]:
    """A rectangle with round corners."""
    right, top, r = left + length, bottom + width, radius
    return belt(
        (left + r, bottom + r, r), (right - r, bottom + r, r), (right - r, top - r, r), (left + r, top - r, r)
    )


def cleat_base(units: Units) -> Shape:
    """A lozenge with round ends, 16 x 10, for base, backing plate and shim alike."""
    below, above = ((6.5, 1.5, 1.5), (9.5, 1.5, 1.5)), ((9.5, 8.5, 1.5), (6.5, 8.5, 1.5))
    edge = belt((2.5, 5, 2.5), *below, (13.5, 5, 2.5), *above)
    bolt = LARGE_BOLT[units]
    return [edge], [(x, y, bolt) for x, y in ((6.5, 1.75), (9.5, 1.75), (9.5, 8.25), (6.5, 8.25))]


def hinge_leaf(units: Units) -> Shape:
    """A strap hinge's leaf, 24 x 8: its edges sweep in from the knuckle to a round nose."""
    edge = [(0, 0, 0), (3.5, 0, -0.1), (22.5, 2.5, 1), (22.5, 5.5, -0.1), (3.5, 8, 0), (0, 8, 0)]
    bolt = LARGE_BOLT[units]
    return [edge], [(2, 2, bolt), (2, 6, bolt), (9, 4, bolt), (15.5, 4, bolt), (22.25, 4, bolt)]


def ladder_arm(units: Units) -> Shape:
    """A swept arm that holds a ladder off the wall: an arc of 18, 3 1/2 wide, with round ends."""
    half, radius, arm = 3.5 / 2, 18.0, math.radians(43)
    across, low = radius * math.sin(arm), radius * math.cos(arm)
    middle, base = across + half, -low + half

    def at(r: float, side: int) -> Point:
        return middle + side * r * math.sin(arm), base + r * math.cos(arm)

    sweep = math.tan(arm / 2)
    edge = [
        (*at(radius + half, 1), sweep), (*at(radius + half, -1), 1),
        (*at(radius - half, -1), -sweep), (*at(radius - half, 1), 1),
    ]  # fmt: skip
    bolt = LARGE_BOLT[units]
    return [edge], [(*at(radius, 1), bolt), (*at(radius, -1), bolt)]


def ladder_wall_plate(units: Units) -> Shape:
    """A plate that narrows upwards, 15 x 7 1/2."""
    corners = ((1.5, 1.5), (13.5, 1.5), (10, 6), (5, 6))
    return [belt(*((x, y, 1.5) for x, y in corners))], [(x, y, SMALL_BOLT[units]) for x, y in corners]


def chain_guide_cheek(units: Units) -> Shape:
    """A fork with a round throat for the chain, 14 x 11."""
    edge = [
        (1.5, 0, 0), (12.5, 0, 0), (14, 1.5, 0), (14, 11, 0), (11.5, 11, 0), (10.5, 6, -1), (3.5, 6, 0),
        (2.5, 11, 0), (0, 11, 0), (0, 1.5, 0),
    ]  # fmt: skip
    return [edge], [(2, 1.5, SMALL_BOLT[units]), (12, 1.5, SMALL_BOLT[units])]


def chain_guide_saddle(units: Units) -> Shape:
    """A quarter of a ring over which the chain runs, 14 x 14."""
    edge = [(10.5, 0, 0), (14, 0, QUARTER), (0, 14, 0), (0, 10.5, -QUARTER)]
    middle, turns = 12.25, (0.12, math.pi / 4, math.pi / 2 - 0.12)
    return [edge], [(middle * math.cos(t), middle * math.sin(t), SMALL_BOLT[units]) for t in turns]


def fender_frame(units: Units) -> Shape:
    """A frame that carries a fender's pad, 40 x 30, with a window of 28 x 18."""
    holes = [(x, y, LARGE_BOLT[units]) for x in (3.0, 20.0, 37.0) for y in (3.0, 27.0)]
    return [rounded(0, 0, 40, 30, 2), rounded(6, 6, 28, 18, 2)], holes


def slipway_roller_cheek(units: Units) -> Shape:
    """A cheek that carries a roller's axle, 36 x 11, the axle's boss on top."""
    axle = {Units.INCH: 2.5, Units.MM: 2.4}[units]
    feet = [(x, 1.75, LARGE_BOLT[units]) for x in (3.0, 33.0)]
    return [belt((1, 1, 1), (35, 1, 1), (18, 7.5, 3.5))], [(18, 7.5, axle), *feet]


def winch_guard(units: Units) -> Shape:
    """A guard, 34 x 22, round at the rope's end, with a window to watch the drum."""
    edge = [(0, 0, 0), (26, 0, 8 / 11), (26, 22, 0), (0, 22, 0)]
    corners = ((1, 1), (1, 21), (25, 1), (25, 21))
    return [edge], [(20, 11, 10), *((x, y, SMALL_BOLT[units]) for x, y in corners)]


SHAPES: Mapping[str, Callable[[Units], Shape]] = {
    made.__name__: made
    for made in (
        cleat_base, hinge_leaf, ladder_arm, ladder_wall_plate, chain_guide_cheek, chain_guide_saddle,
        fender_frame, slipway_roller_cheek, winch_guard,
    )
}  # fmt: skip


def drawing(shape: Shape, units: Units) -> bytes:
    """A shape as a DXF of R2000 in the book's lengths."""
    step, digits = STEP[units], DIGITS[units]

    def length(value: float) -> float:
        return round(value * step, digits) + 0.0

    document = Drawing.new("R2000")
    space = document.modelspace()
    loops, holes = shape
    for loop in loops:
        points = [(length(x), length(y), bulge) for x, y, bulge in loop]
        space.add_lwpolyline(points, format="xyb", close=True)
    for x, y, diameter in holes:
        space.add_circle((length(x), length(y)), length(diameter / 2))
    return dxf_bytes(document, units)


def drawings(units: Units) -> dict[str, bytes]:
    """Every drawing of a demo by its file's name."""
    return {f"{name}.dxf": drawing(make(units), units) for name, make in SHAPES.items()}


def draw_all(folder: Path) -> None:
    """Write the drawings of both demos below a folder."""
    for units in Units:
        (folder / DEMO_DRAWINGS[units]).mkdir(exist_ok=True)
        for name, data in drawings(units).items():
            (folder / DEMO_DRAWINGS[units] / name).write_bytes(data)
