"""Whether a part can be cut well: holes, slots, webs, corners and size against how it is cut.

The limits are common practice on plasma and similar tables, without a published source; a shop's
own cut chart comes before them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import shapely

from sheetplan.drawings.reading.findings import Finding, Says, plain
from sheetplan.model.job import CuttingRule
from sheetplan.model.outline import Loop, Outline, Stroke
from sheetplan.shapes import as_circle, oriented, size, to_polygon
from sheetplan.shapes.arcs import Piece, pieces
from sheetplan.trade.sentences import counted
from sheetplan.trade.units import SAME_LENGTH_MM, Units

FLAT_MM = 0.01
"""How finely outlines are flattened here: far below what can be cut."""

SLATS_MM = 76.2
"""Parts no longer than this (3 in) may tip or fall between the slats of a table. Common practice."""

SHARP_DEGREES = 20.0
"""Inside corners that turn by less are hardly seen to be rounded."""

MOST_TOLD = 6
"""Places of one kind that are listed; more are counted."""

KNOWN = 256
"""Judged outlines that are remembered: more than a month has that are no plain plates."""


@dataclass(frozen=True, slots=True)
class CutLimits:
    """What a part is judged against, mm: kerf, smallest hole, narrowest web between cuts; 0 for no limit."""

    kerf: float
    least_hole: float
    least_web: float


def cut_limits(rule: CuttingRule) -> CutLimits:
    """The limits of a cutting rule; where it states none, there is none."""
    return CutLimits(rule.kerf, rule.least_hole, rule.least_web)


@lru_cache(maxsize=KNOWN)
def judge(outline: Outline, limits: CutLimits, units: Units) -> tuple[Finding, ...]:
    """What to know before this part is cut; places are in the part's own frame, book's units.

    Remembered, since every cut that is recorded reads the book anew and most parts are as they were.
    """
    say = _Saying(units)
    return (
        *_holes(outline, limits, say),
        *_webs(outline, limits, say),
        *_notches(outline, limits, say),
        *_corners(outline, limits, say),
        *_small(outline, say),
    )


def small_holes_marked(outline: Outline, limits: CutLimits) -> Outline:
    """The outline with holes that are not cut through turned into centre marks, to be drilled.

    Those are the holes below the least, and those no wider than the kerf.
    """
    kept, marks = [], list(outline.marks)
    for hole in outline.holes:
        if _surely_wider(hole, max(limits.least_hole, limits.kerf)):
            kept.append(hole)
            continue
        x, y, width = _widest(hole)
        if width < limits.least_hole - SAME_LENGTH_MM or width <= limits.kerf:
            marks += centre_mark(x, y, width / 2.0)
        else:
            kept.append(hole)
    return Outline(outline.outer, tuple(kept), tuple(marks))


def centre_mark(x: float, y: float, reach: float) -> tuple[Stroke, Stroke]:
    """A cross of two strokes."""
    level = Stroke(((x - reach, y, 0.0), (x + reach, y, 0.0)))
    return level, Stroke(((x, y - reach, 0.0), (x, y + reach, 0.0)))


class _Saying:
    """Findings in the book's units."""

    def __init__(self, units: Units) -> None:
        self.units = units

    def length(self, mm: float) -> str:
        return f"{plain(mm / self.units.length_mm)} {self.units.value}"

    def __call__(self, says: Says, what: str, at: tuple[float, float] | None = None) -> Finding:
        unit = self.units.length_mm
        return Finding(says, what, (at[0] / unit, at[1] / unit) if at else None)


def _widest(hole: Loop) -> tuple[float, float, float]:
    """Middle and diameter of the largest circle in a hole."""
    circle = as_circle(hole)
    if circle:
        return circle[0], circle[1], 2.0 * circle[2]
    spoke = shapely.maximum_inscribed_circle(to_polygon(hole, FLAT_MM), FLAT_MM)
    x, y = spoke.coords[0]
    return x, y, 2.0 * spoke.length


def _surely_wider(hole: Loop, width: float) -> bool:
    """Whether a circle of that diameter and some more fits in a hole; quick, and False where it is close.

    GEOS 3.14 takes an even polygon inward beyond its middle and out again at the other side, so the place
    that is found is measured.
    """
    space = to_polygon(hole, FLAT_MM)
    core = space.buffer(-(width / 2.0 + 2.0 * FLAT_MM) * ROUND_ENOUGH)
    if core.is_empty:
        return False
    middle = core.representative_point()
    return bool(space.contains(middle)) and space.exterior.distance(middle) >= width / 2.0 + FLAT_MM


ROUND_ENOUGH = 1.01
"""A buffer's round corners are cut into straight ones, which lie nearer by a share of less than this."""


def _holes(outline: Outline, limits: CutLimits, say: _Saying) -> Iterator[Finding]:
    small = []
    for hole in outline.holes:
        if _surely_wider(hole, max(limits.kerf, limits.least_hole)):
            continue
        x, y, width = _widest(hole)
        if width <= limits.kerf:
            what = f"a hole {say.length(width)} wide is narrower than the kerf of {say.length(limits.kerf)}"
            yield say(Says.WRONG, what, (x, y))
        elif width < limits.least_hole - SAME_LENGTH_MM:
            small.append((width, x, y))
    if small:
        width, x, y = min(small, key=lambda one: (round(one[0], 4), one[1:]))
        what = f"{counted(len(small), 'hole')} below the least of {say.length(limits.least_hole)}, "
        yield say(Says.ASKED, what + f"the smallest {say.length(width)}", (x, y))


def _webs(outline: Outline, limits: CutLimits, say: _Saying) -> Iterator[Finding]:
    """Metal between two cuts, and necks of the part itself."""
    if limits.least_web <= 0.0:
        return
    rings = [to_polygon(loop, FLAT_MM).exterior for loop in (outline.outer, *outline.holes)]
    thin = []
    first, second = shapely.STRtree(rings).query(rings, predicate="dwithin", distance=limits.least_web)
    for i, j in sorted(zip(first.tolist(), second.tolist(), strict=True)):
        width = rings[i].distance(rings[j]) if i < j else math.inf
        if width < limits.least_web - FLAT_MM:
            here, there = shapely.shortest_line(rings[i], rings[j]).coords
            thin.append((width, (here[0] + there[0]) / 2.0, (here[1] + there[1]) / 2.0))
    for width, x, y in sorted(thin)[:MOST_TOLD]:
        what = f"a web of {say.length(width)} between two cuts; the least is {say.length(limits.least_web)}"
        yield say(Says.ASKED, what, (x, y))
    if len(thin) > MOST_TOLD:
        yield say(Says.ASKED, f"and {len(thin) - MOST_TOLD} more webs as narrow")
    yield from _necks(to_polygon(outline.outer, FLAT_MM), limits, say)


def _necks(solid: shapely.Polygon, limits: CutLimits, say: _Saying) -> Iterator[Finding]:
    """Places where the outer loop alone leaves less than the least web."""
    core = solid.buffer(-limits.least_web / 2.0 + FLAT_MM)
    if core.is_empty:
        what = f"the whole part is narrower than the least web of {say.length(limits.least_web)}"
        yield say(Says.ASKED, what)
        return
    if core.geom_type == "Polygon":
        return
    cores = sorted(core.geoms, key=lambda geometry: geometry.area, reverse=True)
    for other in cores[1 : MOST_TOLD + 1]:
        here, there = shapely.shortest_line(cores[0], other).coords
        middle = ((here[0] + there[0]) / 2.0, (here[1] + there[1]) / 2.0)
        yield say(Says.ASKED, f"a neck narrower than the least web of {say.length(limits.least_web)}", middle)


def _notches(outline: Outline, limits: CutLimits, say: _Saying) -> Iterator[Finding]:
    """Slots in the edge and corners of holes that the kerf cannot reach into."""
    if limits.kerf <= 0.0:
        return
    half = limits.kerf / 2.0
    solid = to_polygon(outline.outer, FLAT_MM)
    closed = solid.buffer(half).buffer(-half)
    # Closing only adds metal, so where it adds too little for one lost place there is none to look for.
    spaces = [closed.difference(solid)] if closed.area - solid.area > limits.kerf**2 / 2.0 else []
    for hole in outline.holes:
        if as_circle(hole):  # it has no corner
            continue
        void = to_polygon(hole, FLAT_MM)
        spaces.append(void.difference(void.buffer(-half).buffer(half)))
    # What a round tool leaves in a corner is far smaller than a square of the kerf.
    lost = [part for space in spaces for part in shapely.get_parts(space) if part.area > limits.kerf**2]
    for part in lost[:MOST_TOLD]:
        x, y = part.representative_point().coords[0]
        what = f"a slot or corner narrower than the kerf of {say.length(limits.kerf)} will not come out"
        yield say(Says.ASKED, what, (x, y))


def _corners(outline: Outline, limits: CutLimits, say: _Saying) -> Iterator[Finding]:
    """Inside corners come out with half the kerf as radius."""
    sharp = _inside_corners(oriented(outline.outer, counter_clockwise=False), limits.kerf / 2.0)
    sharp += sum(_inside_corners(oriented(hole), limits.kerf / 2.0) for hole in outline.holes)
    if sharp and limits.kerf > 0.0:
        corners = counted(sharp, "inside corner")
        yield say(Says.TOLD, f"{corners} will come out with a radius of {say.length(limits.kerf / 2.0)}")


def _inside_corners(loop: Loop, radius: float) -> int:
    """Corners of a loop run with the metal on its right that turn left sharper than the radius."""
    own = list(pieces(loop))
    count = 0
    for piece, onward in zip(own, own[1:] + own[:1], strict=True):
        turn = (_heading(onward, 0.0) - _heading(piece, 1.0) + math.pi) % (2.0 * math.pi) - math.pi
        count += math.degrees(turn) > SHARP_DEGREES
        count += piece.bulge > 0.0 and piece.radius < radius and math.degrees(piece.sweep) > SHARP_DEGREES
    return count


def _heading(piece: Piece, share: float) -> float:
    chord = math.atan2(piece.y1 - piece.y0, piece.x1 - piece.x0)
    return chord + (share - 0.5) * piece.sweep


def _small(outline: Outline, say: _Saying) -> Iterator[Finding]:
    longest = max(size(outline))
    if longest <= SLATS_MM:
        yield say(Says.TOLD, f"no longer than {say.length(SLATS_MM)}: it may fall between the slats")
