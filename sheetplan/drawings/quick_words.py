"""Quick shapes as a planner writes them in a row of the book: a shape's name and a few words.

``Corner``: ``r 1/2`` rounds the corners, ``clip 1/2`` clips them.
``Holes``: ``4 x 9/16 at 1`` is one hole of 9/16 in each corner, 1 from the edges; ``1 x 2`` one in the
middle; ``5 by 2 x 9/16 at 1`` five along and two across; ``6 x 9/16 on 8`` six on a bolt circle of 8;
``2 slots 3 x 9/16 at 1`` two slots 3 long and 9/16 wide, 1 from the ends.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import assert_never

from sheetplan.drawings import quick
from sheetplan.drawings.quick import NoShape
from sheetplan.drawings.shape_table import SAMPLE_SIZES
from sheetplan.drawings.shape_words import ShapeWord
from sheetplan.model.outline import Outline
from sheetplan.trade.lengths import parse_length
from sheetplan.trade.units import Units


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
IN_STRAP = "2 slots {slot} x {hole} at {inset}"

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
            return quick.plate(row.length, row.width, radius=radius, clip=clip, bolts=bolts)
        case ShapeWord.DISC:
            return _disc(row, units)
        case ShapeWord.RING:
            return _ring(row, units)
        case ShapeWord.GUSSET:
            return quick.gusset(row.length, row.width, clip=clip)
        case ShapeWord.TRAPEZOID:
            return quick.trapezoid(row.length, row.width, _inside(row, "top edge"))
        case ShapeWord.ELL:
            return quick.ell(row.length, row.width, _inside(row, "leg's width"))
        case ShapeWord.STRAP:
            return _strap(row, units)
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
        ShapeWord.STRAP: "holes",
    }.get(row.shape, "")  # fmt: skip
    given = {"corner": row.corner.strip(), "inside": row.inside, "holes": row.holes.strip()}
    for name, value in given.items():
        if value and name not in uses:
            column = name.capitalize()
            raise NoShape(f"a {row.shape.value} takes nothing in the column {column}", column=column)
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


def _bolts(text: str, units: Units) -> quick.Bolts:
    found = ROUND.fullmatch(text.strip())
    if not found or found["circle"]:
        raise ValueError(_not_holes(text, IN_CORNERS, units))
    along, across = _rows(int(found["count"]), found["rows"])
    if not found["inset"] and (along, across) != (1, 1):
        said = _for_example(IN_CORNERS, units)
        raise ValueError(f"`{text.strip()}` does not say how far from the edges; write {said}, say")
    inset = parse_length(found["inset"], units, MOST_MM) if found["inset"] else 0.0
    return quick.Bolts(parse_length(found["size"], units, MOST_MM), inset, along, across)


def _rows(count: int, rows: str | None) -> tuple[int, int]:
    """Holes along and across: 4 stands for 2 by 2, 1 for the middle, other numbers for one row."""
    if rows:
        return count, int(rows)
    return (2, 2) if count == 4 else (count, 1)


def _disc(row: QuickRow, units: Units) -> Outline:
    diameter = _same_both_ways(row)
    if not row.holes.strip():
        return quick.disc(diameter)
    with _written_in("Holes"):
        count, size, circle = _bolt_circle(row.holes, units)
        if count > 1 and not circle:
            said = _for_example(ON_CIRCLE, units)
            raise ValueError(f"`{row.holes.strip()}` does not say on which circle; write {said}, say")
    return quick.disc(diameter, bolts=count, bolt_diameter=size, circle=circle)


def _ring(row: QuickRow, units: Units) -> Outline:
    diameter, inside = _same_both_ways(row), _inside(row, "inside diameter")
    if not row.holes.strip():
        return quick.ring(diameter, inside)
    with _written_in("Holes"):
        count, size, circle = _bolt_circle(row.holes, units)
    return quick.ring(diameter, inside, bolts=count, bolt_diameter=size, circle=circle)


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
    return quick.strap(row.length, row.width, sizes[0], sizes[1], inset=sizes[2], slots=count)


def _not_holes(text: str, example: str, units: Units) -> str:
    said = _for_example(example, units)
    return f"`{text.strip()}` in the column Holes is not understood here; write {said}, say"


def _for_example(words: str, units: Units) -> str:
    """Words with sizes as a book in these units would have them."""
    return words.format(**SAMPLE_SIZES[units])


def _same_both_ways(row: QuickRow) -> float:
    if abs(row.length - row.width) > 1e-9:
        what = f"a {row.shape.value} is as wide as it is long, and here width and length differ"
        raise NoShape(what, column="Width")
    return row.length


def _inside(row: QuickRow, what: str) -> float:
    if row.inside is None:
        raise NoShape(f"a {row.shape.value} needs its {what} in the column Inside", column="Inside")
    return row.inside
