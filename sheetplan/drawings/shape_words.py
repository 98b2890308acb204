"""The names of shapes that need no drawing; light to import, for pages and drop-downs."""

from __future__ import annotations

from enum import StrEnum


class ShapeWord(StrEnum):
    """Shapes that need no drawing, by the words of the trade."""

    RECTANGLE = "rectangle"
    DISC = "disc"
    RING = "ring"
    GUSSET = "gusset"
    TRAPEZOID = "trapezoid"
    ELL = "L"
    STRAP = "slotted strap"
