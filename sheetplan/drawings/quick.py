"""Shapes that need no drawing, built from a few sizes in plain trade words.

All sizes are in mm; length along x, width along y. Each builder raises `NoShape` with one
plain sentence where the sizes make no shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetplan.model.outline import Loop, Outline, Vertex
from sheetplan.shapes import to_polygon
from sheetplan.shapes.plain import circle_loop
from sheetplan.trade.units import SAME_LENGTH_MM, Units

QUARTER = math.tan(math.pi / 8.0)
"""Bulge of a quarter circle."""

COLUMN_OF = {
    "bolt_hole": "Holes", "slot_length": "Holes", "slot_width": "Holes", "inside": "Inside", "top": "Inside",
    "leg": "Inside", "upright": "Inside", "length": "Length", "width": "Width",
}  # fmt: skip
"""The column of the page Parts in which each size is written."""


class NoShape(ValueError):
    """Sizes or words that make no shape.

    ``what`` may have places for ``lengths``, which are in mm, and for their ``{unit}``; ``column`` is
    the column of the page Parts that is to blame, empty where it is the shape as a whole.
    """

    def __init__(self, what: str, *lengths: float, column: str = "") -> None:
        self.what, self.lengths, self.column = what, lengths, column
        super().__init__(self.said(Units.MM))

    def said(self, units: Units) -> str:
        """The sentence, with its lengths in these units."""
        if not self.lengths:
            return self.what
        return self.what.format(*(length / units.length_mm for length in self.lengths), unit=units.value)


@dataclass(frozen=True, slots=True)
class Bolts:
    """Bolt holes of one diameter in rows: ``inset`` from the edges to the outer holes' middles.

    ``along`` holes in each row and ``across`` rows; 2 by 2 is one in each corner. One by one is a
    single hole in the middle.
    """

    diameter: float
    inset: float
    along: int = 2
    across: int = 2


def plate(
    length: float, width: float, *, radius: float = 0.0, clip: float = 0.0, bolts: Bolts | None = None
) -> Outline:
    """A rectangle, its corners square, rounded by ``radius`` or clipped by ``clip`` both ways."""
    _above_zero(length=length, width=width)
    if radius and clip:
        raise NoShape("corners are rounded or clipped, not both", column="Corner")
    corner = radius or clip
    if not 0.0 <= corner <= min(length, width) / 2.0 + SAME_LENGTH_MM:
        raise NoShape(
            "a corner of {0:g} does not fit a plate of {2:g} x {1:g} {unit}", corner, length, width,
            column="Corner",
        )  # fmt: skip
    outer = Loop(_cornered(length, width, corner, QUARTER if radius else 0.0))
    holes = _bolt_holes(length, width, bolts) if bolts else ()
    return _sound(Outline(outer, holes))


def disc(diameter: float, *, bolts: int = 0, bolt_diameter: float = 0.0, circle: float = 0.0) -> Outline:
    """A round blank; ``bolts`` holes on a bolt circle of diameter ``circle``, a single one in the middle."""
    _above_zero(diameter=diameter)
    radius = diameter / 2.0
    holes = _on_circle(radius, bolts, bolt_diameter, circle / 2.0)
    return _sound(Outline(circle_loop(radius, radius, radius), holes))


def ring(
    diameter: float, inside: float, *, bolts: int = 0, bolt_diameter: float = 0.0, circle: float = 0.0
) -> Outline:
    """A ring or flange; ``bolts`` holes on a bolt circle of diameter ``circle`` (by default midway)."""
    _above_zero(diameter=diameter, inside=inside)
    if inside >= diameter:
        what = "the inside of {:g} does not fit in a ring of {:g} {unit}"
        raise NoShape(what, inside, diameter, column="Inside")
    radius, reach = diameter / 2.0, (circle or (diameter + inside) / 2.0) / 2.0
    holes = (circle_loop(radius, radius, inside / 2.0), *_on_circle(radius, bolts, bolt_diameter, reach))
    return _sound(Outline(circle_loop(radius, radius, radius), holes))


def _on_circle(middle: float, count: int, diameter: float, reach: float) -> tuple[Loop, ...]:
    """Holes evenly round the point (middle, middle), the first to the right of it."""
    if not count:
        return ()
    _above_zero(bolt_hole=diameter)
    turns = (2.0 * math.pi * number / count for number in range(count))
    return tuple(
        circle_loop(middle + reach * math.cos(turn), middle + reach * math.sin(turn), diameter / 2.0)
        for turn in turns
    )


def gusset(length: float, width: float, *, clip: float = 0.0) -> Outline:
    """A right triangle, the right angle at the lower left, where ``clip`` takes off the corner."""
    _above_zero(length=length, width=width)
    if not 0.0 <= clip < min(length, width):
        raise NoShape(
            "a clip of {0:g} does not fit a gusset of {2:g} x {1:g} {unit}", clip, length, width,
            column="Corner",
        )  # fmt: skip
    heel: tuple[Vertex, ...] = ((0.0, 0.0, 0.0),) if not clip else ((0.0, clip, 0.0), (clip, 0.0, 0.0))
    return Outline(Loop((*heel, (length, 0.0, 0.0), (0.0, width, 0.0))))


def trapezoid(length: float, width: float, top: float, *, shift: float | None = None) -> Outline:
    """Two level edges, ``length`` below and ``top`` above, ``width`` apart.

    ``shift`` moves the top edge from the left end; by default it stands in the middle.
    """
    _above_zero(length=length, width=width, top=top)
    start = (length - top) / 2.0 if shift is None else shift
    left = min(0.0, start)
    points = ((-left, 0.0), (length - left, 0.0), (start + top - left, width), (start - left, width))
    return Outline(Loop(tuple((x, y, 0.0) for x, y in points)))


def ell(length: float, width: float, leg: float, upright: float | None = None) -> Outline:
    """An L: a leg of width ``leg`` along the length, and an upright (as wide by default)."""
    stem = leg if upright is None else upright
    _above_zero(length=length, width=width, leg=leg, upright=stem)
    if leg >= width or stem >= length:
        raise NoShape(
            "legs of {0:g} and {1:g} fill an L of {3:g} x {2:g} {unit}", leg, stem, length, width,
            column="Inside",
        )  # fmt: skip
    points = ((0.0, 0.0), (length, 0.0), (length, leg), (stem, leg), (stem, width), (0.0, width))
    return Outline(Loop(tuple((x, y, 0.0) for x, y in points)))


def strap(
    length: float, width: float, slot_length: float, slot_width: float, *, inset: float, slots: int = 2
) -> Outline:
    """A strap with round-ended slots along it, ``inset`` from its ends to the outer slots' near ends.

    A single slot stands ``inset`` from the left end. A slot as long as it is wide is a round hole.
    """
    _above_zero(length=length, width=width, slot_length=slot_length, slot_width=slot_width)
    if slot_length < slot_width - SAME_LENGTH_MM:
        what = "a slot {:g} long cannot be {:g} {unit} wide"
        raise NoShape(what, slot_length, slot_width, column="Holes")
    bottom = (width - slot_width) / 2.0
    if slots < 1:
        raise NoShape("slots are counted from 1", column="Holes")
    step = (length - 2.0 * inset - slot_length) / (slots - 1) if slots > 1 else 0.0
    starts = [inset + k * step for k in range(slots)]
    holes = tuple(_slot(start, bottom, slot_length, slot_width) for start in starts)
    return _sound(Outline(Loop(_cornered(length, width, 0.0, 0.0)), holes))


def _cornered(length: float, width: float, corner: float, bulge: float) -> tuple[Vertex, ...]:
    if not corner:
        return ((0.0, 0.0, 0.0), (length, 0.0, 0.0), (length, width, 0.0), (0.0, width, 0.0))
    far, high = length - corner, width - corner
    points = (
        (corner, 0.0, 0.0), (far, 0.0, bulge), (length, corner, 0.0), (length, high, bulge),
        (far, width, 0.0), (corner, width, bulge), (0.0, high, 0.0), (0.0, corner, bulge),
    )  # fmt: skip
    # A side that the corners use up wholly leaves a vertex twice.
    return tuple(p for p, q in zip(points, points[1:] + points[:1], strict=True) if p[:2] != q[:2])


def _slot(left: float, bottom: float, length: float, width: float) -> Loop:
    radius = width / 2.0
    if length <= width + SAME_LENGTH_MM:
        return circle_loop(left + radius, bottom + radius, radius)
    near, far, top = left + radius, left + length - radius, bottom + width
    return Loop(((near, bottom, 0.0), (far, bottom, 1.0), (far, top, 0.0), (near, top, 1.0)))


def _bolt_holes(length: float, width: float, bolts: Bolts) -> tuple[Loop, ...]:
    _above_zero(bolt_hole=bolts.diameter)
    if bolts.along < 1 or bolts.across < 1:
        raise NoShape("bolt holes are counted from 1 each way", column="Holes")
    xs, ys = _spread(length, bolts.inset, bolts.along), _spread(width, bolts.inset, bolts.across)
    return tuple(circle_loop(x, y, bolts.diameter / 2.0) for y in ys for x in xs)


def _spread(extent: float, inset: float, count: int) -> list[float]:
    if count == 1:
        return [extent / 2.0]
    step = (extent - 2.0 * inset) / (count - 1)
    return [inset + k * step for k in range(count)]


def _above_zero(**sizes: float) -> None:
    for name, value in sizes.items():
        if not (math.isfinite(value) and value > SAME_LENGTH_MM):
            what = f"the {name.replace('_', ' ')} must be more than 0, not {{:g}}"
            raise NoShape(what, value, column=COLUMN_OF.get(name, ""))


def _sound(outline: Outline) -> Outline:
    """The outline, if its holes lie in its metal and clear of each other."""
    solid = to_polygon(outline.outer, 0.01)
    holes = [to_polygon(hole, 0.01) for hole in outline.holes]
    if any(not solid.contains_properly(hole) for hole in holes):
        raise NoShape("a hole reaches the edge of the part", column="Holes")
    if any(a.intersects(b) for i, a in enumerate(holes) for b in holes[i + 1 :]):
        raise NoShape("two holes run into each other", column="Holes")
    return outline
