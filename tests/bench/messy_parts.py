"""Kits of messy real-looking drawings, made from a seed: an invented harbour workshop's dock hardware.

Terms
-----
chords, arcs
    How a drawing gives a smooth curve: as straight spans from point to point, or as arcs over two spans.
corners
    Vertices of one closed outline: 30 to 2,000 where it came from a spline.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from sheetplan.model import (
    CuttingRule,
    Job,
    Kit,
    Loop,
    Material,
    Order,
    Outline,
    Part,
    Settings,
    SheetSize,
    rectangle,
)
from sheetplan.shapes import Side, circle_loop, flatten, settle, size
from sheetplan.trade.thickness import Thickness

INCH = 25.4
TYPES = 150
PIECES = 1900

FEWEST_CORNERS, MOST_CORNERS = 30, 2000

ROUND = math.tan(math.pi / 8)
"""The bulge of a quarter circle."""

MONEY_A_KG = 1.6
DENSITY = 7850.0
METAL = "mild steel"

MOST_A_KIT = 14
"""Part types of one kit."""

Corner = tuple[float, float]
Points = list[Corner]


@dataclass(frozen=True, slots=True)
class Gauge:
    """A thickness, its rule and its sheets (length, width, on hand), all mm; sizes drawn in ``unit`` mm."""

    thickness: Thickness
    gap: float
    margin: float
    unit: float
    sheets: tuple[tuple[float, float, int], ...]


def _inches(*sheets: tuple[float, float, int]) -> tuple[tuple[float, float, int], ...]:
    return tuple((length * INCH, width * INCH, on_hand) for length, width, on_hand in sheets)


GAUGES = (
    Gauge(Thickness(3.0, "3 mm"), 5.0, 8.0, 1.0, ((2500, 1250, 4), (3000, 1500, 2), (2000, 1000, 5))),
    Gauge(Thickness(5.0, "5 mm"), 6.0, 10.0, 1.0, ((3000, 1500, 3), (2500, 1250, 1))),
    Gauge(Thickness(8.0, "8 mm"), 8.0, 10.0, 1.0, ((2500, 1250, 0), (2000, 1000, 3), (4000, 2000, 1))),
    Gauge(
        Thickness(0.1345 * INCH, "10 ga"), 0.25 * INCH, 0.5 * INCH, INCH,
        _inches((96, 48, 3), (120, 60, 1), (120, 48, 2)),
    ),
    Gauge(
        Thickness(3 / 16 * INCH, "3/16 in"), 0.25 * INCH, 0.5 * INCH, INCH,
        _inches((96, 48, 2), (120, 60, 0)),
    ),
    Gauge(
        Thickness(1 / 4 * INCH, "1/4 in"), 3 / 8 * INCH, 0.5 * INCH, INCH,
        _inches((96, 48, 0), (144, 60, 1), (120, 48, 2)),
    ),
)  # fmt: skip


def corners_of_a_spline(rng: random.Random) -> int:
    """How many corners a spline came with: few more likely than many."""
    return round(math.exp(rng.uniform(math.log(FEWEST_CORNERS), math.log(MOST_CORNERS))))


def chords(points: Sequence[Corner]) -> Loop:
    """A closed chain of straight spans."""
    return Loop(tuple((x, y, 0.0) for x, y in points))


def arcs_through(points: Sequence[Corner]) -> Loop:
    """A closed chain of arcs over two spans each; an even number of points."""
    vertices = []
    for k in range(0, len(points), 2):
        (x0, y0), (xm, ym), (x1, y1) = points[k], points[k + 1], points[(k + 2) % len(points)]
        chord = math.dist((x0, y0), (x1, y1))
        # Twice the rise over the chord; to the right of the chord where the arc turns counter-clockwise.
        rise = ((y1 - y0) * (xm - x0) - (x1 - x0) * (ym - y0)) / chord
        vertices.append((x0, y0, 2.0 * rise / chord))
    return Loop(tuple(vertices))


def _drawn(points: Points, rng: random.Random) -> Loop:
    """A smooth curve as a drawing gives it: as chords or as arcs."""
    return arcs_through(points) if len(points) % 2 == 0 and rng.random() < 0.4 else chords(points)


def _redrawn(loop: Loop, rng: random.Random) -> Loop:
    """A loop of arcs, some of them exported as chords of one precision or another."""
    if rng.random() < 0.5:
        return loop
    return chords([(float(x), float(y)) for x, y in flatten(loop, rng.choice((0.005, 0.02, 0.1)), Side.ON)])


def _circle(x: float, y: float, radius: float, rng: random.Random) -> Loop:
    return _redrawn(circle_loop(x, y, radius), rng)


def _shell(side: float, rng: random.Random) -> Outline:
    """U-shaped: two legs and a round bottom."""
    wide, deep = side, side * rng.uniform(0.8, 1.6)
    radius, wall = wide / 2.0, wide * rng.uniform(0.08, 0.18)
    deep = max(deep, radius + wall)
    return Outline(
        _redrawn(
            Loop(
                (
                    (0.0, radius, 1.0), (wide, radius, 0.0), (wide, deep, 0.0), (wide - wall, deep, 0.0),
                    (wide - wall, radius, -1.0), (wall, radius, 0.0), (wall, deep, 0.0), (0.0, deep, 0.0),
                )
            ),
            rng,
        )
    )  # fmt: skip


def _rounded(x: float, y: float, wide: float, tall: float, radius: float) -> Loop:
    """An upright rectangle with round corners."""
    r = radius
    return Loop(
        (
            (x + r, y, 0.0), (x + wide - r, y, ROUND), (x + wide, y + r, 0.0),
            (x + wide, y + tall - r, ROUND), (x + wide - r, y + tall, 0.0), (x + r, y + tall, ROUND),
            (x, y + tall - r, 0.0), (x, y + r, ROUND),
        )
    )  # fmt: skip


def _frame(side: float, rng: random.Random) -> Outline:
    """A plate with one to four windows in a row."""
    windows = rng.randint(1, 4)
    tall, web = side * rng.uniform(0.5, 0.9), side * rng.uniform(0.05, 0.1)
    span = side * rng.uniform(0.6, 1.0)
    wide = windows * span + (windows + 1) * web
    scale = 1.6 * side / wide if wide > 1.6 * side else 1.0
    wide, span, web, tall = wide * scale, span * scale, web * scale, max(tall * scale, 4.0 * web)
    r = web * 0.8
    return Outline(
        _redrawn(_rounded(0.0, 0.0, wide, tall, r), rng),
        tuple(
            _redrawn(_rounded(web + k * (span + web), web, span, tall - 2.0 * web, r), rng)
            for k in range(windows)
        ),
    )


def _ring(side: float, rng: random.Random) -> Outline:
    radius = side / 2.0
    return Outline(_circle(0.0, 0.0, radius, rng), (_circle(0.0, 0.0, radius * rng.uniform(0.5, 0.85), rng),))


def _disc(side: float, rng: random.Random) -> Outline:
    """A disc with a circle of bolt holes."""
    radius, bolts = side / 2.0, rng.randint(0, 8)
    holes = []
    for k in range(bolts):
        angle = 2.0 * math.pi * k / bolts
        x, y = 0.75 * radius * math.cos(angle), 0.75 * radius * math.sin(angle)
        holes.append(_circle(x, y, 0.06 * radius, rng))
    return Outline(_circle(0.0, 0.0, radius, rng), tuple(holes))


def _bracket(side: float, rng: random.Random) -> Outline:
    """Two legs at a right angle, a round inner corner and a hole in each leg."""
    up, leg = side * rng.uniform(0.6, 1.2), side * rng.uniform(0.16, 0.3)
    r = leg * rng.uniform(0.3, 1.2)
    outer = Loop(
        (
            (0.0, 0.0, 0.0), (side, 0.0, 0.0), (side, leg, 0.0), (leg + r, leg, -ROUND),
            (leg, leg + r, 0.0), (leg, max(up, leg + 1.5 * r), 0.0), (0.0, max(up, leg + 1.5 * r), 0.0),
        )
    )  # fmt: skip
    hole = 0.22 * leg
    return Outline(
        _redrawn(outer, rng),
        (_circle(side - leg, leg / 2, hole, rng), _circle(leg / 2, max(up, leg + 1.5 * r) - leg, hole, rng)),
    )


def _foot(side: float, rng: random.Random) -> Outline:
    """A flat sole under a waved back."""
    count = corners_of_a_spline(rng)
    tall = side * rng.uniform(0.25, 0.5)
    waves, deep = rng.randint(1, 4), rng.uniform(0.1, 0.35)
    back = []
    for k in range(count - 1):
        share = k / (count - 2)
        lift = math.sin(math.pi * share) ** 0.5 if 0.0 < share < 1.0 else 0.0
        wave = 1.0 - deep + deep * math.cos(2.0 * math.pi * waves * share)
        back.append((side * (1.0 - share), 0.15 * tall + 0.85 * tall * lift * wave))
    return Outline(chords([(0.0, 0.0), (side, 0.0), *back]))


def _spline(side: float, rng: random.Random) -> Outline:
    """A closed wavy curve about its middle, some with a window of the same kind."""
    count = corners_of_a_spline(rng)
    waves = [(n, rng.uniform(0.0, 0.7) / n**1.3, rng.uniform(0.0, 2.0 * math.pi)) for n in range(2, 8)]
    whole = 1.3 + sum(depth for _, depth, _ in waves)

    def curve(share: float, corners: int) -> Points:
        points = []
        for k in range(corners):
            angle = 2.0 * math.pi * k / corners
            radius = 1.3 + sum(depth * math.cos(n * angle + phase) for n, depth, phase in waves)
            radius *= share * side / 2.0 / whole
            points.append((radius * math.cos(angle), radius * math.sin(angle)))
        return points

    holes = (_drawn(curve(rng.uniform(0.4, 0.75), count), rng),) if rng.random() < 0.3 else ()
    return Outline(_drawn(curve(1.0, count), rng), holes)


def _hook(side: float, rng: random.Random) -> Outline:
    """A band along a smooth bent middle line, round at both ends: cleats and hooks."""
    count = max(12, corners_of_a_spline(rng) // 2)
    sweep, band = rng.uniform(1.2, 1.6) * math.pi, rng.uniform(0.08, 0.16)
    inner, outer = [], []
    for k in range(count):
        share = k / (count - 1)
        angle = sweep * share
        radius = 0.5 * (1.0 - 0.35 * share)
        half = band / 2.0 * math.sin(math.pi * (0.12 + 0.76 * share)) ** 0.5
        cos, sin = math.cos(angle), math.sin(angle)
        outer.append((side * (radius + half) * cos, side * (radius + half) * sin))
        inner.append((side * (radius - half) * cos, side * (radius - half) * sin))
    return Outline(chords([*outer, *reversed(inner)]))


def _glyph(x: float, y: float, tall: float, rng: random.Random) -> tuple[list[Loop], float]:
    """A sign of an invented stencil alphabet as closed outlines, and how wide it is."""
    bar, kind = 0.16 * tall, rng.randrange(5)
    if kind == 0:
        return [chords([(x, y), (x + bar, y), (x + bar, y + tall), (x, y + tall)])], bar
    if kind == 1:
        wide = 0.6 * tall
        foot = [(x, y), (x + wide, y), (x + wide, y + bar), (x + bar, y + bar), (x + bar, y + tall)]
        return [chords([*foot, (x, y + tall)])], wide
    if kind == 2:
        wide, mid = 0.66 * tall, x + 0.33 * tall
        return [
            chords([(mid - bar / 2, y), (mid + bar / 2, y), (mid + bar / 2, y + tall - 1.4 * bar),
                    (mid - bar / 2, y + tall - 1.4 * bar)]),
            chords([(x, y + tall - bar), (x + wide, y + tall - bar), (x + wide, y + tall), (x, y + tall)]),
        ], wide  # fmt: skip
    radius = tall / 2.0
    if kind == 3:
        # Two half moons, so that the middle does not fall out.
        found = []
        for sign in (-1.0, 1.0):
            span = [math.radians(10.0 + 160.0 * k / 24) for k in range(25)]
            rim = [(radius * sign * math.sin(a), radius * math.cos(a)) for a in span]
            core = [(dx * (1.0 - bar / radius), dy * (1.0 - bar / radius)) for dx, dy in reversed(rim)]
            found.append(chords([(x + radius + dx, y + radius + dy) for dx, dy in [*rim, *core]]))
        return found, tall
    count = rng.randint(24, 120)
    snake = []
    for side in (1.0, -1.0):
        for k in range(count):
            share = k / (count - 1) if side > 0.0 else 1.0 - k / (count - 1)
            middle = 0.3 * tall + 0.2 * tall * math.sin(2.0 * math.pi * share)
            snake.append((x + middle + side * bar / 2.0, y + tall * share))
    return [chords(snake)], 0.66 * tall


def _lettered(side: float, rng: random.Random) -> Outline:
    """A plate with a line or two of lettering cut through it."""
    tall = side * rng.uniform(0.3, 0.6)
    lines = rng.randint(1, 2)
    letter = min(tall / (lines + 1), side / 6.0) * 0.7
    holes: list[Loop] = []
    for line in range(lines):
        x, y = letter, (line + 0.5) * tall / lines - letter / 2.0
        while x < side - 2.0 * letter:
            loops, wide = _glyph(x, y, letter, rng)
            holes += loops
            x += wide + 0.3 * letter
    return Outline(_redrawn(_rounded(0.0, 0.0, side, tall, 0.1 * tall), rng), tuple(holes))


def _plate(side: float, rng: random.Random) -> Outline:
    return rectangle(side, side * rng.uniform(0.3, 1.0))


Maker = Callable[[float, random.Random], Outline]

MAKERS: Mapping[str, tuple[Maker, float, float, float]] = {
    "shell": (_shell, 160.0, 840.0, 1.2),
    "frame": (_frame, 200.0, 900.0, 1.2),
    "ring": (_ring, 120.0, 640.0, 1.0),
    "disc": (_disc, 60.0, 420.0, 1.0),
    "bracket": (_bracket, 110.0, 560.0, 1.4),
    "foot": (_foot, 130.0, 640.0, 1.0),
    "fairlead": (_spline, 110.0, 760.0, 1.8),
    "hook": (_hook, 140.0, 620.0, 1.0),
    "name plate": (_lettered, 180.0, 820.0, 1.0),
    "plate": (_plate, 70.0, 560.0, 0.4),
}
"""Maker of each kind of part, its least and greatest size in mm, and how often it comes."""


def outline_of(kind: str, unit: float, rng: random.Random) -> Outline:
    """An outline of a kind; its size is drawn, rounded as a shop of that unit does (``unit`` mm)."""
    maker, least, most, _ = MAKERS[kind]
    side = math.exp(rng.uniform(math.log(least), math.log(most)))
    step = 5.0 if unit == 1.0 else unit / 4.0
    return settle(maker(round(side / step) * step, rng))


def messy_parts(gauge: Gauge, types: int, rng: random.Random) -> tuple[Part, ...]:
    """Part types of one gauge, each small enough for its least sheet."""
    kinds, weights = list(MAKERS), [weight for *_, weight in MAKERS.values()]
    length, width = min((min(s[:2]), max(s[:2])) for s in gauge.sheets)
    made: list[Part] = []
    while len(made) < types:
        kind = rng.choices(kinds, weights)[0]
        outline = outline_of(kind, gauge.unit, rng)
        if max(size(outline)) > min(length, width) - 2.0 * gauge.margin:
            continue
        name = f"{kind} {len(made) + 1} {gauge.thickness.text}"
        made.append(Part(name, METAL, gauge.thickness, outline))
    return tuple(made)


def messy_job(seed: int, types: int = TYPES, pieces: int = PIECES, gauges: int = len(GAUGES)) -> Job:
    """A month of messy kits.

    Parameters
    ----------
    seed
        Everything left to chance comes from it alone.
    types, pieces
        Part types and pieces of all gauges together.
    gauges
        So many of `GAUGES`, the first ones.
    """
    rng = random.Random(seed)
    used = GAUGES[:gauges]
    parts: dict[str, Part] = {}
    for number, gauge in enumerate(used):
        share = types * (number + 1) // gauges - types * number // gauges
        parts |= {part.name: part for part in messy_parts(gauge, share, rng)}
    kits, orders = _ordered(list(parts), pieces, rng)
    return Job(
        Settings(),
        {METAL: Material(METAL, "carbon steel", DENSITY)},
        tuple(CuttingRule(METAL, g.thickness, 0.0, g.gap, g.margin) for g in used),
        parts,
        kits,
        orders,
        tuple(sheet for gauge in used for sheet in _stock(gauge, rng)),
    )


def _stock(gauge: Gauge, rng: random.Random) -> list[SheetSize]:
    """The gauge's sheets by the price of their weight, a few per cent up or down."""
    found = []
    for length, width, on_hand in gauge.sheets:
        kilos = length * width * gauge.thickness.mm * 1e-9 * DENSITY
        price = round(kilos * MONEY_A_KG * rng.uniform(0.96, 1.06), 2)
        name = f"{length / gauge.unit:g} x {width / gauge.unit:g} {gauge.thickness.text}"
        found.append(SheetSize(name, METAL, gauge.thickness, length, width, on_hand, price))
    return found


def _ordered(
    names: Sequence[str], pieces: int, rng: random.Random
) -> tuple[dict[str, Kit], tuple[Order, ...]]:
    """Kits across all gauges, each part in one of them, and loose pieces up to the asked number."""
    shuffled = list(names)
    rng.shuffle(shuffled)
    kits: dict[str, Kit] = {}
    orders: list[Order] = []
    left = pieces
    # Half a kit's fill on average: what is missing to the asked number is ordered loose.
    mean = max(1.0, pieces / len(names) / 2.0)
    for first in range(0, len(shuffled), MOST_A_KIT):
        some = shuffled[first : first + MOST_A_KIT]
        kit = Kit(f"kit {len(kits) + 1}", {name: rng.choice((1, 1, 1, 2, 2, 4)) for name in some})
        quantity = max(1, min(round(mean * rng.uniform(0.4, 1.2)), left // sum(kit.parts.values())))
        left -= quantity * sum(kit.parts.values())
        if left < 0:
            raise ValueError(f"{pieces} pieces are too few for {len(names)} types")
        kits[kit.name] = kit
        orders.append(Order(kit.name, kit.name, quantity))
    loose: dict[str, int] = {}
    while left:
        name = rng.choice(shuffled)
        some = min(left, rng.randint(1, 8))
        loose[name] = loose.get(name, 0) + some
        left -= some
    orders += [Order(f"loose {name}", name, number) for name, number in loose.items()]
    return kits, tuple(orders)
