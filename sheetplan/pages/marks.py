"""A drawing as values, replayed by one painter for each kind of file.

Terms
-----
drawing
    A list of marks on a white rectangle, in points (1/72 in), x to the right and y up, (0, 0) at
    the lower left corner.
area
    Closed rings: the first is the outline, the others are holes in it.
words
    One line of text, upright or turned a quarter to read upwards; its place is the middle of
    its left edge, its centre, or the middle of its right edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Point = tuple[float, float]
Ring = tuple[Point, ...]


class Hold(StrEnum):
    """Which end of the words stands at their point, along the way they read."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True, slots=True)
class Area:
    """Filled rings with an edge; either may be left out. Colours as ``#RRGGBB``, widths in points."""

    rings: tuple[Ring, ...]
    fill: str | None = None
    edge: str | None = None
    edge_width: float = 0.6
    dashes: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """An open chain of points."""

    points: Ring
    ink: str
    width: float = 0.6
    dashes: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text in points; ``upward`` turns it a quarter counter-clockwise."""

    text: str
    x: float
    y: float
    size: float
    ink: str
    hold: Hold = Hold.MIDDLE
    upward: bool = False
    bold: bool = False


Mark = Area | Line | Words


@dataclass(frozen=True, slots=True)
class Drawing:
    """Marks in the order in which they are painted, and what they show in one sentence."""

    width: float
    height: float
    marks: tuple[Mark, ...]
    alt: str


def box(left: float, bottom: float, right: float, top: float) -> Ring:
    """The corners of an upright rectangle."""
    return ((left, bottom), (right, bottom), (right, top), (left, top))
