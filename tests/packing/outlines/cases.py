"""Random parts and sheets: outlines with arcs and holes, old cuts, odd edges, any turns."""

import math
from dataclasses import dataclass

from hypothesis import strategies as st

from sheetplan.model import Corner, Grain, Loop, Outline, Part, rectangle
from sheetplan.packing import Blank, Item
from sheetplan.shapes import area, settle
from tests.packing.outlines.shop import PLATE, circle, loop, ring

SQUARE = (0.0, 90.0, 180.0, 270.0)
TURNS = ((0.0,), (0.0, 180.0), SQUARE, SQUARE, (0.0, 30.0, 75.0), tuple(45.0 * k for k in range(8)))


@dataclass(frozen=True)
class Case:
    blank: Blank
    items: tuple[Item, ...]
    seed: int
    effort: int

    @property
    def parts(self) -> tuple[Part, ...]:
        return tuple(item.part for item in self.items)


@st.composite
def stars(draw: st.DrawFn) -> Outline:
    """A polygon about its middle, hollow or bulging, some of its sides arcs."""
    count = draw(st.integers(3, 8))
    radii = draw(st.lists(st.floats(20.0, 90.0), min_size=count, max_size=count))
    bulges = draw(st.lists(st.sampled_from([0.0, 0.0, 0.15, -0.1]), min_size=count, max_size=count))
    around = [2.0 * math.pi * k / count for k in range(count)]
    straight = min(radii) < 0.6 * max(radii)
    corners = [
        (r * math.cos(a), r * math.sin(a), 0.0 if straight else b)
        for r, a, b in zip(radii, around, bulges, strict=True)
    ]
    return settle(Outline(Loop(tuple(corners))))


@st.composite
def frames(draw: st.DrawFn) -> Outline:
    length, width = draw(st.floats(60.0, 200.0)), draw(st.floats(60.0, 200.0))
    web = draw(st.floats(8.0, 20.0))
    inner = loop((web, web), (length - web, web), (length - web, width - web), (web, width - web), unit=1.0)
    return Outline(rectangle(length, width).outer, (inner,))


@st.composite
def angles(draw: st.DrawFn) -> Outline:
    length, width = draw(st.floats(40.0, 160.0)), draw(st.floats(40.0, 160.0))
    leg = draw(st.floats(8.0, 30.0))
    return Outline(loop((0, 0), (length, 0), (length, leg), (leg, leg), (leg, width), (0, width), unit=1.0))


@st.composite
def rings(draw: st.DrawFn) -> Outline:
    radius = draw(st.floats(1.0, 4.0))
    return ring(radius, radius * draw(st.floats(0.3, 0.9)))


@st.composite
def slivers(draw: st.DrawFn) -> Outline:
    return rectangle(draw(st.floats(50.0, 250.0)), draw(st.floats(1.0, 5.0)))


outlines = st.one_of(stars(), frames(), angles(), rings(), slivers())


@st.composite
def parts_of(draw: st.DrawFn) -> tuple[Part, ...]:
    shapes = draw(st.lists(outlines, min_size=1, max_size=4))
    return tuple(
        Part(
            f"part {k}", "mild steel", PLATE, shape, turns=draw(st.sampled_from(TURNS)),
            grain=draw(st.sampled_from([Grain.NONE, Grain.NONE, Grain.LENGTH])),
            may_mirror=draw(st.booleans()),
        )
        for k, shape in enumerate(shapes)
    )  # fmt: skip


@st.composite
def blanks(draw: st.DrawFn) -> Blank:
    length, width = draw(st.floats(300.0, 700.0)), draw(st.floats(250.0, 450.0))
    kind = draw(st.sampled_from(["plain", "plain", "cut", "corner off"]))
    edge = rectangle(length, width).outer
    if kind == "corner off":
        edge = loop((0, 0), (length, 0), (length, 0.4 * width), (0.5 * length, width), (0, width), unit=1.0)
    cuts: tuple[Loop, ...] = ()
    if kind == "cut":
        x, y = draw(st.floats(0.2, 0.8)) * length, draw(st.floats(0.2, 0.8)) * width
        cuts = (circle(x, y, draw(st.floats(20.0, 90.0)), unit=1.0),)
    gap, margin = draw(st.floats(0.0, 12.0)), draw(st.floats(0.0, 15.0))
    return Blank(edge, cuts, margin, gap, draw(st.sampled_from(list(Corner))))


@st.composite
def cases(draw: st.DrawFn) -> Case:
    parts = draw(parts_of())
    items = tuple(Item(part, draw(st.integers(1, 6)), area(part.outline)) for part in parts)
    effort = draw(st.sampled_from([1, 1, 1, 5, 44]))
    return Case(draw(blanks()), items, draw(st.integers(0, 99)), effort)
