"""Where a part's number goes in a picture: on its metal, as large as fits, or a short key instead.

Terms
-----
name
    The part's own number, such as ``CB-101``.
letter
    Of the kit that the part is cut for, before its name or key where it fits.
key
    A short number that stands for the name where the name does not fit; lists beside the picture
    say which is which.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely

from sheetplan.pages.drawing.lettering import text_width
from sheetplan.pages.drawing.marks import Words

LARGEST = 10.0
SMALLEST = 5.5
"""Points. Below this a number cannot be read on paper at arm's length."""

STEP = 0.5

EASY = 7.0
"""Points. At this size a number is read at ease, so it is not turned or broken to be larger still."""

LETTERED = 6.0
"""Points. As small as this a name with its letter is better than a larger one without."""

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
    """Where words stand: the centre of their lines, the type size, and whether they read upwards.

    ``letter`` stands in bold before the first line.
    """

    lines: tuple[str, ...]
    x: float
    y: float
    size: float
    upward: bool = False
    letter: str = ""

    def words(self, dx: float, dy: float, ink: str) -> Iterator[Words]:
        """The lines as marks, moved to a part's place."""
        leading = LINE_SHARE * self.size
        first = (len(self.lines) - 1) / 2 * leading
        for number, line in enumerate(self.lines):
            down = number * leading - first
            letter = self.letter if number == 0 else ""
            before = _line_width("", letter) * self.size
            wide = _line_width(line, letter) * self.size
            for said, along, bold in (
                (letter, (text_width(letter, self.size, bold=True) - wide) / 2, True),
                (line, before / 2, False),
            ):  # fmt: skip
                x, y = (self.x + down, self.y + along) if self.upward else (self.x + along, self.y - down)
                if said:
                    yield Words(said, x + dx, y + dy, self.size, ink, upward=self.upward, bold=bold)


LETTER_GAP = 0.3
"""Between a letter and the name behind it, over the size of the type."""


def _line_width(line: str, letter: str = "") -> float:
    """Width of a line with the letter before it, over the size of the type."""
    wide = text_width(line, 1.0)
    return wide + (text_width(letter, 1.0, bold=True) + LETTER_GAP if letter else 0.0)


def spot_for(
    text: str, metal: shapely.Polygon, largest: float = LARGEST, *, may_break: bool = False, letter: str = ""
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
    letter : str
        What stands before the text where both fit, at `LETTERED` points at least.
    """
    places = list(_places(metal))
    shapely.prepare(metal)
    bare = _best(text, metal, places, largest, may_break=may_break)
    if not letter or bare is None:
        return bare
    lettered = _best(text, metal, places, largest, may_break=may_break, letter=letter)
    return lettered if lettered is not None and lettered.size >= LETTERED else bare


def _best(
    text: str, metal: shapely.Polygon, places: Sequence[tuple[float, float]], largest: float,
    *, may_break: bool, letter: str = "",
) -> Spot | None:  # fmt: skip
    best = None
    for lines in [(text,), *_broken(text)] if may_break else [(text,)]:
        for upward in (False, True):
            found = _largest(metal, places, lines, largest, upward=upward, letter=letter)
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
    *, upward: bool,
    letter: str,
) -> Spot | None:
    """The largest type at which the lines fit somewhere."""
    wide = max(_line_width(line, "" if number else letter) for number, line in enumerate(lines))
    high = LINE_SHARE * len(lines)
    size = largest
    while size >= SMALLEST:
        along, across = wide * size / 2 + AIR, high * size / 2 + AIR
        found = _first_free(metal, places, *((across, along) if upward else (along, across)))
        if found:
            return Spot(lines, *found, size, upward, letter)
        size -= STEP
    return None


GRID = 8
"""Into so many parts a part is divided each way where its middle is taken up."""


def _places(metal: shapely.Polygon) -> Iterator[tuple[float, float]]:
    """Centres worth trying: of box, metal, its widest place, its arms, then a coarse grid."""
    left, bottom, right, top = metal.bounds
    yield (left + right) / 2, (bottom + top) / 2
    if metal.area >= FULL * (right - left) * (top - bottom):
        return
    yield metal.centroid.x, metal.centroid.y
    widest = shapely.maximum_inscribed_circle(metal, tolerance=max(0.5, (right - left) / 100)).coords[0]
    yield widest[0], widest[1]
    yield from _middles(metal)
    for row in range(1, GRID):
        for column in range(1, GRID):
            yield left + (right - left) * column / GRID, bottom + (top - bottom) * row / GRID


def _middles(metal: shapely.Polygon) -> Iterator[tuple[float, float]]:
    """Points midway between the edges of each arm, the most central first: thin arms have no other room."""
    left, bottom, right, top = metal.bounds
    across = [(bottom + (top - bottom) * row / GRID) for row in range(1, GRID)]
    along = [(left + (right - left) * column / GRID) for column in range(1, GRID)]
    cuts = [
        *(shapely.LineString(((left, y), (right, y))) for y in across),
        *(shapely.LineString(((x, bottom), (x, top))) for x in along),
    ]
    pieces = shapely.get_parts(shapely.intersection(cuts, metal))
    middles = [((a + c) / 2, (b + d) / 2) for a, b, c, d in shapely.bounds(pieces).tolist()]
    x, y = (left + right) / 2, (bottom + top) / 2
    yield from sorted(middles, key=lambda at: (round(abs(at[0] - x) + abs(at[1] - y), 6), at))


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
