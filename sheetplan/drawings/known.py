"""Outlines known again: as copies within drawings, and by their shape since the last reading."""

from __future__ import annotations

import json
import math
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from sheetplan.drawings.reading.drawing import READER_VERSION, outline_from_json
from sheetplan.drawings.reading.findings import plain
from sheetplan.drawings.reading.report import DrawnPart
from sheetplan.model.outline import Outline
from sheetplan.shapes import apart, area, as_circle, flatten, flatten_stroke, perimeter, size
from sheetplan.trade.sentences import counted
from sheetplan.trade.units import Units

# Outlines that are one and the same part, however they lie in the drawing: turned, or turned over.

FLAT_COPY_MM = 0.002

SAME_COPY_MM = 0.01
"""Copies nowhere further apart than this are one part: a turned copy of a curve gets turned arcs."""

MOST_TRIED = 200
"""Ways to lay one outline on another that are tried: more has only what is as good as round."""


@dataclass(frozen=True, slots=True)
class Laid:
    """An outline as points round its middle, for laying it on others."""

    rings: tuple[np.ndarray, ...]
    area: float
    length: float

    @staticmethod
    def of(outline: Outline) -> Laid:
        """Flattened, its box's area centre in the middle."""
        rings = [np.asarray(flatten(loop, FLAT_COPY_MM)) for loop in (outline.outer, *outline.holes)]
        middle = np.array(shapely.Polygon(rings[0]).centroid.coords[0])
        return Laid(
            tuple(ring - middle for ring in rings),
            area(outline),
            sum(perimeter(loop) for loop in (outline.outer, *outline.holes)),
        )

    def like(self, other: Laid) -> bool:
        """Whether both may be one part, by what no turning changes."""
        slack = SAME_COPY_MM * max(self.length, other.length)
        return (
            len(self.rings) == len(other.rings)
            and abs(self.area - other.area) <= slack
            and abs(self.length - other.length) <= 0.01 * self.length + SAME_COPY_MM
        )

    @property
    def line(self) -> shapely.MultiLineString:
        """All its rings."""
        return shapely.MultiLineString([np.vstack([ring, ring[:1]]) for ring in self.rings])

    @property
    def mirrored(self) -> Laid:
        """The outline turned over."""
        return Laid(tuple(ring * (-1.0, 1.0) for ring in self.rings), self.area, self.length)


def same_part(first: Outline, second: Outline) -> str | None:
    """How the second is the first: `turned` (or as it is), `mirrored`, or None where it is another part."""
    return "turned" if first == second else _how(Laid.of(first), Laid.of(second))


def _how(one: Laid, other: Laid) -> str | None:
    if not one.like(other):
        return None
    if _lies_on(one, other):
        return "turned"
    return "mirrored" if _lies_on(one, other.mirrored) else None


def _lies_on(one: Laid, other: Laid) -> bool:
    """Whether one is the other, turned about its middle."""
    line = one.line
    for ring in range(len(one.rings)):
        own = np.hypot(*one.rings[ring].T)
        at = int(own.argmax())
        if own[at] - own.min() <= SAME_COPY_MM and ring < len(one.rings) - 1:
            continue  # round about the middle: any turn fits, so another ring has to say which
        return any(_near(line, other, turn) for turn in _turns(one.rings[ring][at], other))
    return False


def _turns(point: np.ndarray, other: Laid) -> list[float]:
    """Angles that bring a point of the other, as far from the middle, onto the point."""
    radius, angle = math.hypot(*point), math.atan2(point[1], point[0])
    points = np.vstack(other.rings)
    near = points[np.abs(np.hypot(*points.T) - radius) <= SAME_COPY_MM]
    turns: list[float] = []
    for x, y in near.tolist():
        turn = (angle - math.atan2(y, x)) % (2.0 * math.pi)
        if all(abs(turn - known) * radius > SAME_COPY_MM / 4.0 for known in turns):
            turns.append(turn)
        if len(turns) >= MOST_TRIED:
            break
    return turns


def _near(line: shapely.MultiLineString, other: Laid, turn: float) -> bool:
    cos, sin = math.cos(turn), math.sin(turn)
    matrix = np.array([[cos, sin], [-sin, cos]])
    turned = shapely.MultiLineString([np.vstack([ring, ring[:1]]) @ matrix for ring in other.rings])
    if shapely.distance(shapely.points(turned.geoms[0].coords[0]), line) > SAME_COPY_MM:
        return False
    if shapely.hausdorff_distance(line, turned) > SAME_COPY_MM:
        return False
    # That distance is measured from corners alone, which may lie on sides of quite another outline.
    apart_area = _solid(line).symmetric_difference(_solid(turned)).area
    return bool(apart_area <= SAME_COPY_MM * (line.length + turned.length))


def _solid(rings: shapely.MultiLineString) -> shapely.Polygon:
    """The metal within rings, the first of which is the outer one."""
    outer, *holes = rings.geoms
    return shapely.Polygon(outer.coords, [hole.coords for hole in holes])


@dataclass(frozen=True, slots=True)
class Copies:
    """Outlines that are one part, by index: the first, those as it is or turned, those mirrored."""

    first: int
    turned: tuple[int, ...]
    mirrored: tuple[int, ...]

    @property
    def all(self) -> tuple[int, ...]:
        """All of them, in order."""
        return tuple(sorted((self.first, *self.turned, *self.mirrored)))


def copies(outlines: Sequence[Outline], kinds: Sequence[object]) -> tuple[Copies, ...]:
    """Group outlines of one kind (metal and thickness) that are one part."""
    found: list[tuple[int, Laid, object, list[int], list[int]]] = []
    for i, (outline, kind) in enumerate(zip(outlines, kinds, strict=True)):
        own = Laid.of(outline)
        for first, laid, known, turned, mirrored in found:
            if known != kind or not laid.like(own):
                continue
            how = "turned" if outlines[first] == outline else _how(laid, own)
            if how is not None:
                (turned if how == "turned" else mirrored).append(i)
                break
        else:
            found.append((i, own, kind, [], []))
    return tuple(Copies(first, tuple(turned), tuple(mirrored)) for first, _, _, turned, mirrored in found)


# An outline known again by its shape, whatever number it has in its file, and told when it changed.
#
# Kept for each part that was planned: what its row names, and the outline that this stood for.
#
# An outline's number in its file is only how it was named first.

FORMAT = 1

SAME_MM = 0.02
"""Outlines nowhere further apart than this are one: what programs round when they save a drawing again."""

OTHER_READER_MM = 0.15
"""The same, where the outline was kept by a version that puts other arcs in the place of curves."""

CURVES_SINCE = 6
"""The first version of the reader that puts the arcs in the place of curves that this one does."""

FLAT_MM = 0.002

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class KnownOutline:
    """What a part's row named as its drawing, the outline it stood for, and by which reader it was read."""

    drawing: str
    outline: Outline
    reader: int = READER_VERSION
    stands: bool = False
    """Whether it is used whatever its drawing shows by now: for what was cut before the drawing changed."""

    def is_still(self, outline: Outline) -> bool:
        """Whether an outline is the one that is known."""
        own = SAME_MM if self.reader >= CURVES_SINCE else OTHER_READER_MM
        if outline == self.outline:
            return True
        sides = zip(size(outline), size(self.outline), strict=True)
        return all(abs(a - b) <= 2.0 * own for a, b in sides) and difference(outline, self.outline) <= own

    def among(self, parts: Sequence[DrawnPart]) -> DrawnPart | None:
        """The outline of a file that is the known one, the first where several are."""
        return next((part for part in parts if self.is_still(part.outline)), None)


KnownOutlines = Mapping[str, KnownOutline]
"""By the name of the part, as names are compared."""


def same_text(first: str, second: str) -> bool:
    """Whether two cells name one drawing."""
    return _plain_text(first) == _plain_text(second)


def _plain_text(text: str) -> str:
    return unicodedata.normalize("NFC", "".join(text.split())).replace("\\", "/")


def difference(first: Outline, second: Outline) -> float:
    """How far two outlines stray from one another at most, mm; infinite where holes or marks differ."""
    if (len(first.holes), bool(first.marks)) != (len(second.holes), bool(second.marks)):
        return float("inf")
    away = apart(_rings(first), _rings(second))
    return max(away, apart(_strokes(first), _strokes(second))) if first.marks else away


def _rings(outline: Outline) -> list[Array]:
    flat = [np.asarray(flatten(loop, FLAT_MM)) for loop in (outline.outer, *outline.holes)]
    return [np.vstack([ring, ring[:1]]) for ring in flat]


def _strokes(outline: Outline) -> list[Array]:
    return [np.asarray(flatten_stroke(mark, FLAT_MM)) for mark in outline.marks]


def outline_words(outline: Outline, units: Units, places: int = 3) -> str:
    """An outline in a few words: `90 x 95 mm with 3 holes`, `a disc of 40 mm`; sizes to so many decimals."""
    unit = units.length_mm
    circle = as_circle(outline.outer)
    length, width = (plain(round(side / unit, places)) for side in size(outline))
    what = f"a disc of {length} {units.value}" if circle else f"{length} x {width} {units.value}"
    holes = f" with {counted(len(outline.holes), 'hole')}" if outline.holes else ""
    return what + holes


def change_words(before: Outline, now: Outline, units: Units) -> str:
    """What became of an outline: `it was 90 x 95 mm with 3 holes and is now a disc of 40 mm`."""
    was, is_now = outline_words(before, units), outline_words(now, units)
    if was != is_now:
        return f"it was {was} and is now {is_now}"
    square = units.length_mm**2
    areas = f"area {area(before) / square:.3f} then, {area(now) / square:.3f} {units.value}2 now"
    return f"it is still {was}, but its lines have moved ({areas})"


def known_text(known: KnownOutlines) -> str:
    """The outlines as the text of the file that is kept beside the book."""
    entries = {
        name: {"drawing": one.drawing, "reader": one.reader, "outline": asdict(one.outline)}
        for name, one in sorted(known.items())
    }
    return json.dumps({"format": FORMAT, "parts": entries}, ensure_ascii=False) + "\n"


def known_of(text: str) -> dict[str, KnownOutline]:
    """The outlines again.

    Raises
    ------
    ValueError
        If this is not such a text, or one of a later form.
    """
    try:
        data = json.loads(text)
        if data["format"] != FORMAT:
            raise ValueError("it is of a later form")
        parts = data["parts"].items()
        return {
            str(name): KnownOutline(one["drawing"], outline_from_json(one["outline"]), int(one["reader"]))
            for name, one in parts
        }
    except (KeyError, TypeError, AttributeError) as reason:
        raise ValueError("it is damaged") from reason
