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
from sheetplan.pages.marks import Words

LARGEST = 10.0
SMALLEST = 5.5
"""Points. Below this a number cannot be read on paper at arm's length."""

STEP = 0.5

EASY = 7.0
"""Points. At this size a number is read at ease, so it is not turned or broken to be larger still."""

GAIN = 1.3
"""How much larger a turned or broken name must come out to be worth turning the head or reading on."""

AIR = 1.0
"""Points kept free between a number and the edge of its part."""

FULL = 0.999
"""Metal that fills its box to this share is a rectangle: what does not fit in its middle fits nowhere."""

LINE_SHARE = 0.95
"""Height kept free for one line over the size of the type: capitals and figures, and tails."""


BREAKS = " -_/.,"
"""A long name may be broken after one of these into two lines."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where words stand: the centre of their lines, the type size, and whether they read upwards."""

    lines: tuple[str, ...]
    x: float
    y: float
    size: float
    upward: bool = False

    def words(self, dx: float, dy: float, ink: str) -> Iterator[Words]:
        """The lines as marks, moved to a part's place."""
        leading = LINE_SHARE * self.size
        first = (len(self.lines) - 1) / 2 * leading
        for number, line in enumerate(self.lines):
            down = number * leading - first
            x, y = (self.x + down, self.y) if self.upward else (self.x, self.y - down)
            yield Words(line, x + dx, y + dy, self.size, ink, upward=self.upward)


def spot_for(
    text: str, metal: shapely.Polygon, largest: float = LARGEST, may_break: bool = False
) -> Spot | None:
    """The best spot for a text on a part, or None where even the smallest type does not fit.

    Parameters
    ----------
    text : str
        What is to stand there.
    metal : shapely.Polygon
        The part in points, holes taken out.
    largest : float
        Type size in points to start from.
    may_break : bool
        Whether the text may stand in two lines where one does not fit at ease.
    """
    places = list(_places(metal))
    shapely.prepare(metal)
    best = None
    for lines in [(text,), *_broken(text)] if may_break else [(text,)]:
        for upward in (False, True):
            found = _largest(metal, places, lines, largest, upward)
            # What comes first reads more easily, so what comes later must bring a clear gain.
            if found and (best is None or found.size >= best.size * GAIN):
                best = found
            if best and best.size >= EASY:
                return best
    return best


def _broken(text: str) -> Iterator[tuple[str, ...]]:
    """The text in two lines, broken where the longer one comes out shortest; nothing if it has no breaks."""
    halves = [
        (text[: place + 1].rstrip(), text[place + 1 :].lstrip())
        for place, letter in enumerate(text[:-1])
        if letter in BREAKS and text[: place + 1].strip(BREAKS)
    ]
    if halves:
        yield min(halves, key=lambda lines: max(text_width(line, 1.0) for line in lines))


def _largest(
    metal: shapely.Polygon,
    places: Sequence[tuple[float, float]],
    lines: tuple[str, ...],
    largest: float,
    upward: bool,
) -> Spot | None:
    """The largest type at which the lines fit somewhere."""
    wide = max(text_width(line, 1.0) for line in lines)
    high = LINE_SHARE * len(lines)
    size = largest
    while size >= SMALLEST:
        along, across = wide * size / 2 + AIR, high * size / 2 + AIR
        found = _first_free(metal, places, *((across, along) if upward else (along, across)))
        if found:
            return Spot(lines, *found, size, upward)
        size -= STEP
    return None


def _places(metal: shapely.Polygon) -> Iterator[tuple[float, float]]:
    """Centres worth trying: of the box, of the metal, of its widest place, then a coarse grid."""
    left, bottom, right, top = metal.bounds
    yield (left + right) / 2, (bottom + top) / 2
    if metal.area >= FULL * (right - left) * (top - bottom):
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
