"""Where a part's number goes in a picture: on its metal, as large as fits, or a short key instead.

Terms
-----
name
    The part's own number, such as ``CB-101``.
key
    A short number that stands for the name where the name does not fit; lists beside the picture
    say which is which.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely

from sheetplan.pages.lettering import text_width

LARGEST = 10.0
SMALLEST = 5.5
"""Points. Below this a number cannot be read on paper at arm's length."""

STEP = 0.5

EASY = 7.0
"""Points. At this size a number is read at ease, so it is not turned to be larger still."""

TURNED_GAIN = 1.3
"""How much larger a turned number must come out to be worth turning the head."""

AIR = 1.0
"""Points kept free between a number and the edge of its part."""

LINE_SHARE = 0.95
"""Height kept free for one line over the size of the type: capitals and figures, and tails."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where words stand: their centre, the type size, and whether they read upwards."""

    x: float
    y: float
    size: float
    upward: bool = False


def spot_for(text: str, metal: shapely.Polygon, largest: float = LARGEST) -> Spot | None:
    """The best spot for one line of text on a part, or None where even the smallest type does not fit.

    Parameters
    ----------
    text : str
        What is to stand there.
    metal : shapely.Polygon
        The part in points, holes taken out.
    largest : float
        Type size in points to start from.
    """
    places = list(_places(metal))
    shapely.prepare(metal)
    wide = text_width(text, 1.0)
    across = _largest(metal, places, wide, largest, upward=False)
    if across and across.size >= EASY:
        return across
    up = _largest(metal, places, wide, largest, upward=True)
    if across is None or (up and up.size >= across.size * TURNED_GAIN):
        return up
    return across


def _largest(
    metal: shapely.Polygon, places: Sequence[tuple[float, float]], wide: float, largest: float, upward: bool
) -> Spot | None:
    """The largest type that fits somewhere; ``wide`` is the text's width at a size of one point."""
    size = largest
    while size >= SMALLEST:
        along, across = wide * size / 2 + AIR, LINE_SHARE * size / 2 + AIR
        found = _first_free(metal, places, *((across, along) if upward else (along, across)))
        if found:
            return Spot(*found, size, upward)
        size -= STEP
    return None


def _places(metal: shapely.Polygon) -> Iterator[tuple[float, float]]:
    """Centres worth trying: of the box, of the metal, of its widest place, then a coarse grid."""
    left, bottom, right, top = metal.bounds
    yield (left + right) / 2, (bottom + top) / 2
    if len(metal.exterior.coords) == 5 and not metal.interiors:
        return
    yield metal.centroid.x, metal.centroid.y
    widest = shapely.maximum_inscribed_circle(metal, tolerance=max(0.5, (right - left) / 100)).coords[0]
    yield widest[0], widest[1]
    for row in range(1, 8):
        for column in range(1, 8):
            yield left + (right - left) * column / 8, bottom + (top - bottom) * row / 8


def _first_free(
    metal: shapely.Polygon, places: Sequence[tuple[float, float]], half_x: float, half_y: float
) -> tuple[float, float] | None:
    left, bottom, right, top = metal.bounds
    if 2 * half_x > right - left or 2 * half_y > top - bottom:
        return None
    boxes = shapely.box(*_corners(places, half_x, half_y))
    free = shapely.contains(metal, boxes)
    for place, is_free in zip(places, free, strict=True):
        if is_free:
            return place
    return None


def _corners(
    places: Sequence[tuple[float, float]], half_x: float, half_y: float
) -> tuple[list[float], list[float], list[float], list[float]]:
    return (
        [x - half_x for x, _ in places],
        [y - half_y for _, y in places],
        [x + half_x for x, _ in places],
        [y + half_y for _, y in places],
    )
