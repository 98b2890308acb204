"""Shapes that need no drawing: read from the few words of a row, and built from a few sizes."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import assert_never

from sheetplan.drawings.shape_table import SAMPLE_SIZES, ShapeWord
from sheetplan.model.outline import Loop, Outline, Vertex
from sheetplan.shapes import to_polygon
from sheetplan.shapes.loops import circle_loop
from sheetplan.trade.lengths import parse_length
from sheetplan.trade.units import SAME_LENGTH_MM, Units

# Shapes that need no drawing, built from a few sizes in plain trade words.
#
# All sizes are in mm; length along x, width along y. Each builder raises `NoShape` with one
# plain sentence where the sizes make no shape.

QUARTER = math.tan(math.pi / 8.0)
"""Bulge of a quarter circle."""

COLUMN_OF = {
    "bolt_hole": "Holes", "slot_length": "Holes", "slot_width": "Holes", "inside": "Inside", "top": "Inside",
    "leg": "Inside", "length": "Length", "width": "Width", "diameter": "Length",
}  # fmt: skip
"""The column of the page Parts in which each size is written; a diameter stands in Width as well."""


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


def trapezoid(length: float, width: float, top: float) -> Outline:
    """Two level edges, ``length`` below and ``top`` above in its middle, ``width`` apart."""
    _above_zero(length=length, width=width, top=top)
    start = (length - top) / 2.0
    left = min(0.0, start)
    points = ((-left, 0.0), (length - left, 0.0), (start + top - left, width), (start - left, width))
    return Outline(Loop(tuple((x, y, 0.0) for x, y in points)))


def ell(length: float, width: float, leg: float) -> Outline:
    """An L: a leg along the length and one along the width, both as wide as ``leg``."""
    _above_zero(length=length, width=width, leg=leg)
    if leg >= min(length, width):
        what = "legs of {0:g} fill an L of {2:g} x {1:g} {unit}"
        raise NoShape(what, leg, length, width, column="Inside")
    points = ((0.0, 0.0), (length, 0.0), (length, leg), (leg, leg), (leg, width), (0.0, width))
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


def tab(length: float, width: float, *, hole: float | None = None) -> Outline:
    """A tab for welding on: square at the left, half a disc at the right, a hole in that disc's middle.

    ``length`` is over all, ``hole`` a diameter. Common practice, no source.
    """
    _above_zero(length=length, width=width)
    radius = width / 2.0
    straight = length - radius
    if straight <= SAME_LENGTH_MM:
        what = "a tab of {1:g} x {0:g} {unit} has no straight part: its round end is {2:g} long"
        raise NoShape(what, length, width, radius, column="Length")
    outer = Loop(((0.0, 0.0, 0.0), (straight, 0.0, 1.0), (straight, width, 0.0), (0.0, width, 0.0)))
    if hole is None:
        return Outline(outer)
    _above_zero(bolt_hole=hole)
    return _sound(Outline(outer, (circle_loop(straight, radius, hole / 2.0),)))


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
            raise NoShape(what, value, column=COLUMN_OF[name])


def _sound(outline: Outline) -> Outline:
    """The outline, if its holes lie in its metal and clear of each other."""
    solid = to_polygon(outline.outer, 0.01)
    holes = [to_polygon(hole, 0.01) for hole in outline.holes]
    if any(not solid.contains_properly(hole) for hole in holes):
        raise NoShape("a hole reaches the edge of the part", column="Holes")
    if any(a.intersects(b) for i, a in enumerate(holes) for b in holes[i + 1 :]):
        raise NoShape("two holes run into each other", column="Holes")
    return outline


# Quick shapes as a planner writes them in a row of the book: a shape's name and a few words.
#
# ``Corner``: ``r 1/2`` rounds the corners, ``clip 1/2`` clips them.
# ``Holes``: ``4 x 9/16 at 1`` is one hole of 9/16 in each corner, 1 from the edges; ``1 x 2`` one in the
# middle; ``5 by 2 x 9/16 at 1`` five along and two across; ``6 x 9/16 on 8`` six on a bolt circle of 8;
# ``2 slots 3 x 9/16 at 1`` two slots 3 long and 9/16 wide, 1 from the ends. ``1 x 9/16`` of a tab is in the
# middle of its round end.


@dataclass(frozen=True, slots=True)
class QuickRow:
    """The cells of a row that make a quick shape; lengths in mm, texts as written, empty where blank.

    ``inside`` is a ring's inside diameter, a trapezoid's top edge or an L's leg.
    """

    shape: ShapeWord
    length: float
    width: float
    inside: float | None = None
    corner: str = ""
    holes: str = ""


MOST_MM = 999.0
"""Holes, corners and insets of a metre are no part of a text: `3.175` is never 3175 mm there."""

IN_CORNERS, ON_CIRCLE = "4 x {hole} at {inset}", "6 x {hole} on {circle}"
IN_STRAP, IN_TAB = "2 slots {slot} x {hole} at {inset}", "1 x {hole}"

CORNER = re.compile(r"(radius|r|clip|c)(?![a-z])\s*(.+)", re.IGNORECASE)
ROUND = re.compile(
    r"(?P<count>[0-9]{1,4})(\s*by\s*(?P<rows>[0-9]{1,4}))?\s*x\s*(?P<size>.+?)"
    r"(\s+at\s+(?P<inset>.+)|\s+on\s+(?P<circle>.+))?",
    re.IGNORECASE,
)
SLOTS = re.compile(
    r"((?P<count>[0-9]{1,4})\s+)?slots?\s+(?P<length>.+?)\s*x\s*(?P<width>.+?)\s+at\s+(?P<inset>.+)",
    re.IGNORECASE,
)


def quick_outline(row: QuickRow, units: Units) -> Outline:
    """The outline of a quick shape.

    Raises
    ------
    NoShape
        With one plain sentence, where a word is not understood or the sizes make no shape.
    """
    with _written_in("Corner"):
        radius, clip = _corner(row.corner, units)
    _only_where_used(row, radius)
    match row.shape:
        case ShapeWord.RECTANGLE:
            with _written_in("Holes"):
                bolts = _bolts(row.holes, units) if row.holes.strip() else None
            return plate(row.length, row.width, radius=radius, clip=clip, bolts=bolts)
        case ShapeWord.DISC:
            return _disc(row, units)
        case ShapeWord.RING:
            return _ring(row, units)
        case ShapeWord.GUSSET:
            return gusset(row.length, row.width, clip=clip)
        case ShapeWord.TRAPEZOID:
            return trapezoid(row.length, row.width, _inside(row, "top edge"))
        case ShapeWord.ELL:
            return ell(row.length, row.width, _inside(row, "leg's width"))
        case ShapeWord.STRAP:
            return _strap(row, units)
        case ShapeWord.TAB:
            return _tab(row, units)
        case _:
            assert_never(row.shape)


@contextmanager
def _written_in(column: str) -> Iterator[None]:
    """Whatever cannot be read here is to blame on this column."""
    try:
        yield
    except ValueError as reason:
        raise NoShape(str(reason), column=column) from reason


def _only_where_used(row: QuickRow, radius: float) -> None:
    """A cell that the shape has no use for is a mistake, not an ornament."""
    uses = {
        ShapeWord.RECTANGLE: "corner holes", ShapeWord.DISC: "holes", ShapeWord.RING: "inside holes",
        ShapeWord.GUSSET: "corner", ShapeWord.TRAPEZOID: "inside", ShapeWord.ELL: "inside",
        ShapeWord.STRAP: "holes", ShapeWord.TAB: "holes",
    }.get(row.shape, "")  # fmt: skip
    given = {"corner": row.corner.strip(), "inside": row.inside, "holes": row.holes.strip()}
    for name, value in given.items():
        if value and name not in uses:
            column = name.capitalize()
            raise NoShape(f"{_one(row.shape)} takes nothing in the column {column}", column=column)
    if row.shape is ShapeWord.GUSSET and radius:
        what = "the corner of a gusset is clipped, not rounded: write clip and its size"
        raise NoShape(what, column="Corner")


def _corner(text: str, units: Units) -> tuple[float, float]:
    """Radius and clip, one of them 0."""
    if not text.strip():
        return 0.0, 0.0
    words = CORNER.fullmatch(text.strip())
    if not words:
        said = _for_example("r {corner} to round it or clip {corner} to clip it", units)
        raise ValueError(f"`{text.strip()}` is no corner; write {said}")
    size = parse_length(words[2], units, MOST_MM)
    return (size, 0.0) if words[1].lower().startswith("r") else (0.0, size)


def _bolts(text: str, units: Units) -> Bolts:
    found = ROUND.fullmatch(text.strip())
    if not found or found["circle"]:
        raise ValueError(_not_holes(text, IN_CORNERS, units))
    along, across = _rows(int(found["count"]), found["rows"])
    if not found["inset"] and (along, across) != (1, 1):
        said = _for_example(IN_CORNERS, units)
        raise ValueError(f"`{text.strip()}` does not say how far from the edges; write {said}, say")
    inset = parse_length(found["inset"], units, MOST_MM) if found["inset"] else 0.0
    return Bolts(parse_length(found["size"], units, MOST_MM), inset, along, across)


def _rows(count: int, rows: str | None) -> tuple[int, int]:
    """Holes along and across: 4 stands for 2 by 2, 1 for the middle, other numbers for one row."""
    if rows:
        return count, int(rows)
    return (2, 2) if count == 4 else (count, 1)


def _disc(row: QuickRow, units: Units) -> Outline:
    diameter = _same_both_ways(row)
    if not row.holes.strip():
        return disc(diameter)
    with _written_in("Holes"):
        count, size, circle = _bolt_circle(row.holes, units)
        if count > 1 and not circle:
            said = _for_example(ON_CIRCLE, units)
            raise ValueError(f"`{row.holes.strip()}` does not say on which circle; write {said}, say")
    return disc(diameter, bolts=count, bolt_diameter=size, circle=circle)


def _ring(row: QuickRow, units: Units) -> Outline:
    diameter, inside = _same_both_ways(row), _inside(row, "inside diameter")
    if not row.holes.strip():
        return ring(diameter, inside)
    with _written_in("Holes"):
        count, size, circle = _bolt_circle(row.holes, units)
    return ring(diameter, inside, bolts=count, bolt_diameter=size, circle=circle)


def _bolt_circle(text: str, units: Units) -> tuple[int, float, float]:
    """Count and diameter of the holes, and the diameter of their circle, 0 where it is not said."""
    found = ROUND.fullmatch(text.strip())
    if not found or found["rows"] or found["inset"]:
        raise ValueError(_not_holes(text, ON_CIRCLE, units))
    circle = parse_length(found["circle"], units, MOST_MM) if found["circle"] else 0.0
    return int(found["count"]), parse_length(found["size"], units, MOST_MM), circle


def _strap(row: QuickRow, units: Units) -> Outline:
    with _written_in("Holes"):
        found = SLOTS.fullmatch(row.holes.strip())
        if not found:
            raise ValueError(_not_holes(row.holes, IN_STRAP, units))
        sizes = [parse_length(found[name], units, MOST_MM) for name in ("length", "width", "inset")]
    count = int(found["count"] or 1)
    return strap(row.length, row.width, sizes[0], sizes[1], inset=sizes[2], slots=count)


def _tab(row: QuickRow, units: Units) -> Outline:
    if not row.holes.strip():
        return tab(row.length, row.width)
    with _written_in("Holes"):
        found = ROUND.fullmatch(row.holes.strip())
        if not found or int(found["count"]) != 1 or found["rows"] or found["inset"] or found["circle"]:
            raise ValueError(_not_holes(row.holes, IN_TAB, units))
        hole = parse_length(found["size"], units, MOST_MM)
    return tab(row.length, row.width, hole=hole)


def _not_holes(text: str, example: str, units: Units) -> str:
    said = _for_example(example, units)
    return f"`{text.strip()}` in the column Holes is not understood here; write {said}, say"


def _for_example(words: str, units: Units) -> str:
    """Words with sizes as a book in these units would have them."""
    return words.format(**SAMPLE_SIZES[units])


def _same_both_ways(row: QuickRow) -> float:
    if abs(row.length - row.width) > SAME_LENGTH_MM:  # 12" may stand beside 304.8
        what = f"{_one(row.shape)} is as wide as it is long, and here width and length differ"
        raise NoShape(what, column="Width")
    return row.length


def _inside(row: QuickRow, what: str) -> float:
    if row.inside is None:
        raise NoShape(f"{_one(row.shape)} needs its {what} in the column Inside", column="Inside")
    return row.inside


def _one(shape: ShapeWord) -> str:
    return f"an {shape.value}" if shape is ShapeWord.ELL else f"a {shape.value}"
