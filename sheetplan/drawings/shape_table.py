"""Shapes that need no drawing: their names, and what each takes in the columns of the page Parts.

Light to import, for pages and drop-downs.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from sheetplan.trade.units import Units


class ShapeWord(StrEnum):
    """Shapes that need no drawing, by the words of the trade."""

    RECTANGLE = "rectangle"
    DISC = "disc"
    RING = "ring"
    GUSSET = "gusset"
    TRAPEZOID = "trapezoid"
    ELL = "L"
    STRAP = "slotted strap"
    TAB = "tab"


# The page Shapes of the book shows this table; what stands before a colon may be written in the column.

_IN_CORNERS = "4 x {hole} at {inset}: one in each corner, {inset} from both edges"
_IN_ROWS = "5 by 2 x {hole} at {inset}: five along the length, two across"
_IN_MIDDLE = "1 x {bore}: one in the middle"
_ON_CIRCLE = "6 x {hole} on {circle}: six on a bolt circle of {circle}"
_IN_ROUND = "1 x {hole}: one at the middle of the round"


@dataclass(frozen=True, slots=True)
class ShapeLine:
    """One shape: what its two sizes are, and what may be written in Inside, Corner and Holes."""

    shape: ShapeWord
    sizes: str
    inside: str = ""
    corner: tuple[str, ...] = ()
    holes: tuple[str, ...] = ()


_LINES = (
    ShapeLine(
        ShapeWord.RECTANGLE, "Its two sides.", "",
        ("r {corner}: all four rounded", "clip {corner}: all four clipped"),
        (_IN_CORNERS, _IN_ROWS, _IN_MIDDLE),
    ),
    ShapeLine(ShapeWord.DISC, "The diameter, in both.", "", (), (_ON_CIRCLE, _IN_MIDDLE)),
    ShapeLine(
        ShapeWord.RING, "The outside diameter, in both. Also for flanges.", "The inside diameter.", (),
        (_ON_CIRCLE, "6 x {hole}: six, midway between inside and outside"),
    ),
    ShapeLine(
        ShapeWord.GUSSET, "The two sides that meet at the right angle.", "",
        ("clip {corner}: the right angle's corner clipped",),
    ),
    ShapeLine(ShapeWord.TRAPEZOID, "Width: the height. Length: the long edge.", "The short edge opposite."),
    ShapeLine(ShapeWord.ELL, "Over all, both ways.", "The width of both legs."),
    ShapeLine(
        ShapeWord.STRAP, "Its two sides.", "", (),
        ("2 slots {slot} x {hole} at {inset}: two, {slot} long and {hole} wide, {inset} from the ends",),
    ),
    ShapeLine(
        ShapeWord.TAB, "Width: across, twice the round's radius. Length: from the square end to the top of "
        "the round one.", "", (), (_IN_ROUND,),
    ),
)  # fmt: skip

SAMPLE_SIZES = {
    Units.INCH: {"hole": "9/16", "inset": "1", "circle": "8", "bore": "2", "corner": "1/2", "slot": "3"},
    Units.MM: {"hole": "14", "inset": "25", "circle": "200", "bore": "50", "corner": "12", "slot": "75"},
}
"""Sizes for an example of a hole, a corner and so on, as they are written in a book of these units."""


def shape_table(units: Units) -> tuple[ShapeLine, ...]:
    """One line for each shape, its examples in the book's units."""

    def said(texts: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(text.format(**SAMPLE_SIZES[units]) for text in texts)

    return tuple(
        ShapeLine(line.shape, line.sizes, line.inside, said(line.corner), said(line.holes)) for line in _LINES
    )
