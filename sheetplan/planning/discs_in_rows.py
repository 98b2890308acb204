"""Discs and rings in staggered rows, each in the hollows of the one before: the densest way for one size.

Where a row more would fit if the rows came closer, the discs of a row are moved apart until it does. Rows
along the sheet and across it are both tried. Densest by rows: Lagrange, 1773, for lattices; Thue, 1910, for
all arrangements in the plane; from memory. In a bounded sheet other arrangements may hold a disc more.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from sheetplan.model.job import Part
from sheetplan.model.plan import Placement
from sheetplan.model.turns import allowed_turns
from sheetplan.packing import Blank, Item
from sheetplan.shapes import as_circle, box, is_rectangle
from sheetplan.trade.units import SAME_LENGTH_MM

Centres = list[tuple[float, float]]


def discs_in_rows(blank: Blank, item: Item) -> tuple[Placement, ...]:
    """As many pieces of a round part as are wanted and rows hold; none on an odd or partly cut blank."""
    circle = as_circle(item.part.outline.outer)
    if circle is None or blank.cuts or not is_rectangle(blank.edge):
        return ()
    edge, (x, y, radius) = box(blank.edge), circle
    pitch = 2.0 * radius + blank.gap + blank.extra_gap + SAME_LENGTH_MM
    lost = 2.0 * (blank.margin + radius) + SAME_LENGTH_MM
    length, width = edge.length - lost, edge.width - lost
    upright = [(along, up) for up, along in _best(width, length, pitch)]
    ways = [way[: item.available] for way in (_best(length, width, pitch), upright)]
    centres = max(ways, key=lambda way: (len(way), _free_share(way, length, width)))
    turn = allowed_turns(item.part)[0]
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    from_edge = lost / 2.0
    right, upper = "RIGHT" in blank.datum.name, "UPPER" in blank.datum.name
    across = [_across(along, edge.left, edge.right, from_edge, right) for along, _ in centres]
    up = [_across(up, edge.bottom, edge.top, from_edge, upper) for _, up in centres]
    return tuple(
        Placement(item.part.name, at_x - (x * cos - y * sin), at_y - (x * sin + y * cos), turn)
        for at_x, at_y in zip(across, up, strict=True)
    )


def most_discs(blank: Blank, part: Part) -> int | None:
    """The number of pieces of a round part that no arrangement on a blank exceeds; None of other parts.

    Points of a convex region that lie at least 1 apart are at most 2 / sqrt(3) times its area, plus half its
    perimeter, plus 1: H. Groemer, Math. Z. 73 (1960), and N. Oler, Acta Math. 105 (1961); from memory.
    """
    circle = as_circle(part.outline.outer)
    if circle is None or not is_rectangle(blank.edge):
        return None
    edge, radius = box(blank.edge), circle[2]
    pitch = 2.0 * radius + blank.gap - SAME_LENGTH_MM
    lost = 2.0 * (blank.margin + radius - SAME_LENGTH_MM)
    length, width = edge.length - lost, edge.width - lost
    if min(length, width) < 0.0:
        return 0
    points = 2.0 / math.sqrt(3.0) * length * width / pitch**2 + (length + width) / pitch + 1.0
    return math.floor(points * (1.0 + ROUNDING))


def _free_share(centres: Centres, length: float, width: float) -> float:
    """The share of a sheet that lies beyond the last row, whole, for the rack."""
    if not centres or min(length, width) <= 0.0:
        return 0.0
    return 1.0 - min(max(x for x, _ in centres) / length, max(y for _, y in centres) / width)


def _across(place: float, low: float, high: float, from_edge: float, backwards: bool) -> float:
    """A place on the sheet, counted from the side of the datum."""
    return high - from_edge - place if backwards else low + from_edge + place


def _best(length: float, width: float, pitch: float) -> Centres:
    """Centres in a rectangle of the rows along it that hold most."""
    if min(length, width) < 0.0:
        return []
    return max((_rows(length, width, *spacing) for spacing in _spacings(width, pitch)), key=len)


def _spacings(width: float, pitch: float) -> Iterator[tuple[float, float]]:
    """How far discs of a row, and rows, lie apart: as close as can be, or closer rows of looser discs."""
    closest = pitch * math.sqrt(0.75)
    yield pitch, closest
    for gaps in range(math.floor(width / closest) + 1, math.floor(2.0 * width / pitch) + 1):
        apart = width / gaps
        yield max(pitch, 2.0 * math.sqrt(pitch * pitch - apart * apart)), apart


def _rows(length: float, width: float, pitch: float, apart: float) -> Centres:
    centres = []
    for row in range(math.floor(width / apart + ROUNDING) + 1):
        first = pitch / 2.0 if row % 2 else 0.0
        count = math.floor((length - first) / pitch) + 1 if first <= length else 0
        centres += [(first + pitch * k, apart * row) for k in range(count)]
    return centres


ROUNDING = 1e-9
"""A width divided into equal parts holds one part more than division says, but for rounding."""
