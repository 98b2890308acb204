"""The page Remnant shapes: edges and openings of partly used sheets, as they were taken by tape.

Terms
-----
ring
    The points of one edge or of one cut-out, in the order of their rows. The last says the first again, so
    that a row which was forgotten at the end is noticed.
datum frame
    Measured from the datum corner: x along the sheet's length, y along its width, whichever corner it is.

second measure
    Of a slanting piece its own length, of a round one its rise beside its radius: one more reading of the
    tape, which speaks for figures that no other row speaks for.

A shape is used whole or not at all: where anything is odd, the remnant is left out and every odd row is told.
The size on the page Remnants is the check on the tape: an edge has to reach just as far. A slip that gives
another sound shape is noticed by a second measure alone; where none was taken, by the drawn list of the rack.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby, pairwise

import shapely

from sheetplan.model.outline import Loop, Stroke, rectangle
from sheetplan.model.problem import Problem, Weight
from sheetplan.model.turns import Corner
from sheetplan.rack.record import AGREE_MM, FINE_MM, TOUCH_MM, Unsound, flaws, has_corner
from sheetplan.shapes import (
    box,
    circle_loop,
    flatten_stroke,
    is_rectangle,
    mirror,
    move,
    oriented,
    signed_area,
)
from sheetplan.trade.units import SAME_LENGTH_MM, Units
from sheetplan.workbook.columns import REMNANT_SHAPES
from sheetplan.workbook.reading.cells import length_in, size_in, text_of, word_of
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.rows import Place, RowReader, column_problems, did_you_mean, readers
from sheetplan.workbook.schema import ShapeRow, ToNext
from sheetplan.workbook.tables import RawTable

MOST_ROWS = 400
"""Rows of one remnant; more is no work for a tape."""

STRAIGHT = (ToNext.STRAIGHT, ToNext.SLANTING)
"""Ways to the next point that have neither a radius nor a rise."""

SECOND_MM = 3.0 * AGREE_MM
"""How far a second measure may differ: two points and a length, each read to what a tape is read to."""

_POINTS = (ShapeRow.EDGE, ShapeRow.CUT_OUT)
_BELONGS = {
    "Which cut-out": (ShapeRow.CUT_OUT,), "To next point": _POINTS, "Radius": _POINTS, "Rise": _POINTS,
    "Length": (ShapeRow.RECTANGLE, *_POINTS), "Width": (ShapeRow.RECTANGLE,), "Diameter": (ShapeRow.DISC,),
}  # fmt: skip
"""Columns that only some kinds of rows fill."""


@dataclass(frozen=True, slots=True)
class TapeRow:
    """One row, in mm in the datum frame; what its kind does not use is 0.

    ``radius`` and ``rise`` are of the piece to the next point, ``length`` too where that slants: what was not
    measured is 0. ``length`` of a disc is its diameter.
    """

    what: ShapeRow
    cut_out: str
    x: float
    y: float
    to_next: ToNext
    radius: float
    rise: float
    length: float
    width: float
    place: Place


@dataclass(frozen=True, slots=True)
class TapeShape:
    """All rows of one tag, and what is wrong with single cells of them."""

    tag: str
    place: Place
    rows: tuple[TapeRow, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class TapeRead:
    """The page: shapes by tag as compared, and what is wrong with rows that belong to none."""

    shapes: Mapping[str, TapeShape] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class Taped:
    """A remnant's edge and openings in the sheet's frame."""

    edge: Loop
    cuts: tuple[Loop, ...]


@dataclass(frozen=True, slots=True)
class _Ring:
    """A closed ring in the datum frame, and the row of each of its points."""

    loop: Loop
    rows: tuple[TapeRow, ...]

    @property
    def place(self) -> Place:
        return self.rows[0].place


def read_shapes(table: RawTable | None, tags: Iterable[str], units: Units) -> TapeRead:
    """All rows of the page, by tag; ``tags`` are those of the page Remnants.

    A row whose tag is not among them may be a point or an opening of the remnant above or below it, which is
    left out then: without that row it would have metal that is not there.
    """
    problems = list(column_problems(REMNANT_SHAPES, table)) if table is not None else []
    if table is None or problems:
        return TapeRead(problems=tuple(problems))
    names = {normal(tag): tag for tag in tags}
    found = [(normal(row.may("Tag", text_of, "")), row) for row in readers(REMNANT_SHAPES, table, units)]
    blocks = [(key, [row for _, row in rows]) for key, rows in groupby(found, key=lambda one: one[0])]
    shapes: dict[str, TapeShape] = {}
    for key, rows in blocks:
        if key not in names:
            continue
        points = tuple(_row(row) for row in rows)
        wrong = [problem for row in rows for problem in row.problems]
        earlier = shapes.get(key)
        if earlier is not None:
            wrong = [*earlier.problems, _apart_from(earlier, rows[0]), *wrong]
        first = earlier or TapeShape(names[key], rows[0].place, (), ())
        shapes[key] = replace(first, rows=first.rows + points, problems=tuple(wrong))
    for number, (key, rows) in enumerate(blocks):
        if key in names:
            continue
        near = (*blocks[max(0, number - 1) : number], *blocks[number + 1 : number + 2])
        beside = [other for other in dict.fromkeys(key for key, _ in near) if other in shapes]
        told = _of_none(rows[0], names, [names[other] for other in beside])
        problems.append(told)
        for other in beside:
            shapes[other] = replace(shapes[other], problems=(*shapes[other].problems, told))
    return TapeRead(shapes, tuple(problems))


def _apart_from(earlier: TapeShape, row: RowReader) -> Problem:
    return row.place.problem(
        "Tag", f"The rows of {earlier.tag} do not stand together: the others end on row "
        f"{earlier.rows[-1].place.row}.",
        "Move them together; or correct the tag, here or on the rows between.", Weight.LEFT_OUT,
    )  # fmt: skip


def _of_none(row: RowReader, names: Mapping[str, str], beside: Sequence[str]) -> Problem:
    """A row of no remnant that there is, between those of others."""
    said = row.may("Tag", text_of, "")
    what = f"There is no remnant {said} on the page Remnants." if said else "Tag is empty."
    if beside:
        are, those = ("is", "that") if len(beside) == 1 else ("are", "one of those")
        what += f" {' and '.join(beside)}, whose rows stand beside it, {are} left out: it may be of {those}."
    meant = did_you_mean(said, names.values()) if said else ""
    remedy = f"{meant}Write the tag as it is on Remnants, or clear the row."
    return row.place.problem("Tag", what, remedy, Weight.LEFT_OUT)


def _row(row: RowReader) -> TapeRow:
    what = row.may("What", word_of(ShapeRow), ShapeRow.EDGE)
    length, size = length_in(row.units), size_in(row.units)
    x, y = row.need("Along length", length, 0.0), row.need("Along width", length, 0.0)
    for heading, kinds in _BELONGS.items():
        if what not in kinds and not row.blank(heading) and row.ok:
            said = " or ".join(f"'{kind}'" for kind in kinds)
            row.fault(heading, f"{heading} does not belong to a row that says '{what}'.",
                      f"Clear the cell, or write {said} into What.")  # fmt: skip
    to_next = row.may("To next point", word_of(ToNext), ToNext.STRAIGHT)
    radius = row.may("Radius", size, 0.0) if what in _POINTS else 0.0
    rise = row.may("Rise", size, 0.0) if what in _POINTS else 0.0
    if row.ok and what in _POINTS:
        _fits_its_way(row, to_next)
    long, wide = row.may("Length", size, 0.0) if what in _POINTS else 0.0, 0.0
    if what is ShapeRow.RECTANGLE:
        long, wide = row.need("Length", size, 0.0), row.need("Width", size, 0.0)
    elif what is ShapeRow.DISC:
        long = row.need("Diameter", size, 0.0)
    cut_out = row.may("Which cut-out", text_of, "")
    return TapeRow(what, normal(cut_out), x, y, to_next, radius, rise, long, wide, row.place)


def _fits_its_way(row: RowReader, to_next: ToNext) -> None:
    """A round piece has a radius, a rise or both, a straight one neither; a slanting one may have length."""
    filled = [heading for heading in ("Radius", "Rise") if not row.blank(heading)]
    if to_next in STRAIGHT and filled:
        row.fault("To next point", f"The piece to the next point has a {filled[0].lower()} and is not round.",
                  f"Write '{ToNext.OUTWARDS}' or '{ToNext.INWARDS}', or clear {filled[0]}.")  # fmt: skip
    elif to_next not in STRAIGHT and not filled:
        row.fault("Radius", "The round piece to the next point has neither a radius nor a rise.",
                  "Write one of the two: Radius, or how far its middle stands off the straight line into "
                  "Rise; or both, and they check one another.")  # fmt: skip
    if to_next is not ToNext.SLANTING and not row.blank("Length") and row.ok:
        row.fault("Length", "The piece to the next point has a length and does not slant.",
                  f"Clear Length, or write '{ToNext.SLANTING}' into To next point.")  # fmt: skip


def taped(
    shape: TapeShape, plain: Loop, size: tuple[float, float], datum: Corner, units: Units
) -> tuple[Taped | None, tuple[Problem, ...]]:
    """The shape in the sheet's frame, or everything that is wrong with it.

    Parameters
    ----------
    shape : TapeShape
        As it was read.
    plain : Loop
        The edge by the page Remnants, in the sheet's frame: what holds where the shape says none.
    size : tuple of float
        Length and width (mm) on the page Remnants.
    datum : Corner
        The corner that was measured from.
    units : Units
        What the sentences are written in.
    """
    work = _Taping(shape, size, datum, units)
    if shape.problems:
        return None, shape.problems
    edge, openings = work.rings(plain)
    if edge is None or work.problems:
        return None, tuple(work.problems)
    work.judge(edge, openings)
    if work.problems:
        return None, tuple(work.problems)
    loops = [_turned(ring.loop, size, datum) for ring in (edge, *openings)]
    around = box(loops[0])
    edge_loop, *cuts = (oriented(move(loop, -around.left, -around.bottom)) for loop in loops)
    return Taped(edge_loop, tuple(cuts)), ()


def _turned(loop: Loop, size: tuple[float, float], datum: Corner) -> Loop:
    """From the datum frame into the sheet's, or back."""
    length, width = size
    if datum.is_right:
        loop = move(mirror(loop), length, 0.0)
    if datum.is_upper:
        loop = Loop(tuple((x, width - y, -bulge) for x, y, bulge in loop.vertices))
    return loop


class _Taping:
    """One remnant's rows becoming rings, with everything that is wrong with them."""

    def __init__(
        self, shape: TapeShape, size: tuple[float, float], datum: Corner, units: Units
    ) -> None:
        self.shape, self.tag, self.size, self.units = shape, shape.tag, size, units
        self.datum = datum
        self.problems: list[Problem] = []

    def fault(self, place: Place, heading: str | None, what: str, remedy: str) -> None:
        """Tell of a row."""
        self.problems.append(place.problem(heading, what, remedy, Weight.LEFT_OUT))

    def said(self, *lengths: float) -> str:
        """Lengths as a tape in the book's units shows them."""
        return ", ".join(f"{mm / self.units.length_mm + 0.0:.6g}" for mm in lengths)

    def rings(self, plain: Loop) -> tuple[_Ring | None, list[_Ring]]:
        """The edge and every opening."""
        rows, tag = self.shape.rows, self.tag
        if len(rows) > MOST_ROWS:
            self.fault(self.shape.place, "Tag", f"{tag} has {len(rows)} rows; at most {MOST_ROWS} are read.",
                       "Leave out points that change little, on the side of less metal.")  # fmt: skip
            return None, []
        corners = tuple(row for row in rows if row.what is ShapeRow.EDGE)
        edge: _Ring | None = None
        if corners and not is_rectangle(plain):
            self.fault(corners[0].place, "What",
                       f"The edge of {tag} stands here, and a missing corner on the page Remnants too.",
                       "Clear one of the two.")  # fmt: skip
        elif corners:
            edge = self.ring(corners, "edge")
        else:
            edge = _Ring(_turned(plain, self.size, self.datum), rows[:1])
        groups: dict[str, list[TapeRow]] = {}
        openings = []
        for row in rows:
            if row.what is ShapeRow.CUT_OUT:
                groups.setdefault(row.cut_out, []).append(row)
            elif row.what is not ShapeRow.EDGE:
                openings.append(_plain_opening(row))
        found = (self.ring(tuple(group), "cut-out") for group in groups.values())
        return edge, [*openings, *(ring for ring in found if ring is not None)]

    def ring(self, rows: tuple[TapeRow, ...], what: str) -> _Ring | None:
        """The points of an edge or a cut-out as a closed ring, or None with what is wrong."""
        before = len(self.problems)
        first, last = rows[0], rows[-1]
        self._outside(rows)
        for row, ahead in pairwise(rows):
            if _apart(row, ahead) <= SAME_LENGTH_MM:
                self.fault(ahead.place, "Along length", f"This is the same point as on row {row.place.row}.",
                           "Correct it, or delete one of the two rows.")  # fmt: skip
        if len(rows) < 2 or _apart(first, last) > SAME_LENGTH_MM:
            self.fault(
                last.place, "Along length",
                f"The {what} of {self.tag} is open: it begins at {self.said(first.x, first.y)} and ends at "
                f"{self.said(last.x, last.y)}.",
                "Write its first point once more as its last row; if a point is missing, write that too.",
            )  # fmt: skip
        corners = rows[:-1]
        if len(self.problems) > before:
            return None
        if len(corners) < 2 or (len(corners) == 2 and all(r.to_next in STRAIGHT for r in corners)):
            self.fault(first.place, "Along length", f"The {what} of {self.tag} has no inside.",
                       "It takes three points, or two with a round piece between.")  # fmt: skip
            return None
        bulges = [self._bulge(row, ahead) for row, ahead in zip(corners, rows[1:], strict=True)]
        for before_it, row, ahead in zip((corners[-1], *corners), corners, rows[1:], strict=False):
            self._amid(before_it, row, ahead)
        if len(self.problems) > before:
            return None
        straight = Loop(tuple((row.x, row.y, 0.0) for row in corners))
        way = -1.0 if signed_area(straight) < 0.0 else 1.0
        loop = Loop(tuple((r.x, r.y, way * b) for r, b in zip(corners, bulges, strict=True)))
        self._crossing(loop, corners, what)
        if len(self.problems) == before and signed_area(loop) * way <= 0.0:
            self.fault(first.place, "To next point", f"The {what} of {self.tag} is turned inside out by "
                       "its round pieces.", "Check which way they are round, and how much.")  # fmt: skip
        if len(self.problems) == before:
            self._round_outside(loop, corners)
        return _Ring(loop, corners) if len(self.problems) == before else None

    def _outside(self, rows: Sequence[TapeRow]) -> None:
        """Points beyond the size of the page Remnants."""
        for row in rows:
            for heading, at, whole in zip(("Along length", "Along width"), (row.x, row.y), self.size,
                                          strict=True):  # fmt: skip
                if at > whole + AGREE_MM:
                    side = heading.removeprefix("Along ")
                    self.fault(
                        row.place, heading,
                        f"{self.said(at)} lies outside {self.tag}, whose {side} is {self.said(whole)} on "
                        "the page Remnants.",
                        "Check the number, whether length and width are the wrong way round, and the size "
                        "on Remnants.",
                    )  # fmt: skip

    def _bulge(self, row: TapeRow, ahead: TapeRow) -> float:
        """The bulge of the piece to the next point, positive outwards."""
        if row.to_next in STRAIGHT:
            self._slant(row, ahead)
            return 0.0
        half = _apart(row, ahead) / 2.0
        if row.radius and row.radius < half - AGREE_MM:
            self.fault(row.place, "Radius",
                       f"With a radius of {self.said(row.radius)} the piece does not reach the next point, "
                       f"which is {self.said(2.0 * half)} away.",
                       "Check the radius and both points.")  # fmt: skip
        elif row.rise > half + AGREE_MM:
            self.fault(row.place, "Rise", f"A rise of {self.said(row.rise)} is more than half a circle over "
                       f"{self.said(2.0 * half)}.", "Check it, or write a point in between.")  # fmt: skip
        elif row.radius and row.rise:
            self._both(row, half)
        by_radius = row.radius - math.sqrt(max(0.0, row.radius**2 - half**2))
        rise = row.rise or by_radius
        if row.radius and row.rise:
            # Both fit as far as a tape is read: taken is what leaves less metal.
            cuts_in = (row.what is ShapeRow.EDGE) == (row.to_next is ToNext.INWARDS)
            rise = max(row.rise, by_radius) if cuts_in else min(row.rise, by_radius)
        return math.copysign(min(rise / half, 1.0), 1.0 if row.to_next is ToNext.OUTWARDS else -1.0)

    def _both(self, row: TapeRow, half: float) -> None:
        """A radius and a rise over the same two points have to say one circle, as far as a tape is read."""
        if half <= 2.0 * AGREE_MM:
            return  # over so short a piece a tape tells nothing
        low = _radius(half - AGREE_MM, min(row.rise + AGREE_MM, half - AGREE_MM)) - AGREE_MM
        shallow = row.rise <= AGREE_MM
        high = math.inf if shallow else _radius(half + AGREE_MM, row.rise - AGREE_MM) + AGREE_MM
        if not low <= row.radius <= high:
            self.fault(
                row.place, "Rise",
                f"A rise of {self.said(row.rise)} over {self.said(2.0 * half)} makes a radius of "
                f"{self.said(_radius(half, row.rise))}, and Radius says {self.said(row.radius)}.",
                "Measure again: one of the two is wrong, or one of the two points.",
            )  # fmt: skip

    def _slant(self, row: TapeRow, ahead: TapeRow) -> None:
        """Most edges run along the length or the width: one that does not is said, or a figure is wrong."""
        slants = min(abs(ahead.x - row.x), abs(ahead.y - row.y)) > AGREE_MM
        if slants and row.to_next is ToNext.STRAIGHT:
            self.fault(
                row.place, "To next point",
                f"From here, {self.said(row.x, row.y)}, it runs slanting to {self.said(ahead.x, ahead.y)} on "
                f"row {ahead.place.row}.",
                f"If it does, write '{ToNext.SLANTING}'; else a figure is wrong or a row is missing.",
            )  # fmt: skip
        elif not slants and row.to_next is ToNext.SLANTING:
            self.fault(
                row.place, "To next point",
                f"It is said to slant to row {ahead.place.row}, and runs straight along the sheet.",
                "Check both points, or clear this cell.",
            )  # fmt: skip
        elif row.length and abs(row.length - _apart(row, ahead)) > SECOND_MM:
            self.fault(
                row.place, "Length",
                f"The slanting piece is {self.said(_apart(row, ahead))} by its two points, and Length says "
                f"{self.said(row.length)}.",
                "Measure again: the length is wrong, or one of the two points.",
            )  # fmt: skip

    def _amid(self, behind: TapeRow, row: TapeRow, ahead: TapeRow) -> None:
        """A point amid a straight edge is no corner: a round piece or a notch beside it was left out."""
        straight = behind.to_next is ToNext.STRAIGHT and row.to_next is ToNext.STRAIGHT
        same_y = max(abs(behind.y - row.y), abs(ahead.y - row.y)) <= AGREE_MM
        same_x = max(abs(behind.x - row.x), abs(ahead.x - row.x)) <= AGREE_MM
        if straight and (same_x or same_y):
            self.fault(
                row.place, "To next point",
                f"This point lies on the straight edge from row {behind.place.row} to row {ahead.place.row}.",
                "Delete its row, if nothing is there; else a row beside it is missing, or a piece is round.",
            )  # fmt: skip

    def _crossing(self, loop: Loop, corners: Sequence[TapeRow], what: str) -> None:
        """Pieces of a ring that cross or touch where they do not follow one another."""
        lines = [shapely.LineString(flatten_stroke(stroke, FINE_MM)) for stroke in _strokes(loop)]
        count = len(lines)
        names = [f"from row {row.place.row} to row {corners[(i + 1) % count].place.row}"
                 for i, row in enumerate(corners)]  # fmt: skip
        near = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=SAME_LENGTH_MM)
        for i, j in sorted((i, j) for i, j in near.T.tolist() if i < j):
            shared = [corners[j]] if j == i + 1 else []
            shared += [corners[0]] if (i, j) == (0, count - 1) else []
            meet = lines[i].intersection(lines[j].buffer(SAME_LENGTH_MM))
            at = next((
                (x, y) for x, y in shapely.get_coordinates(meet).tolist()
                if all(math.hypot(x - one.x, y - one.y) > TOUCH_MM for one in shared)
            ), None)  # fmt: skip
            if at is not None:
                # Close along both pieces from the corner that they share is a spike, not a crossing.
                self.fault(
                    corners[j].place, "Along length",
                    f"The {what} of {self.tag} crosses or touches itself near {self.said(*at)}: {names[i]} "
                    f"and {names[j]}.",
                    "Check both numbers of these points, and the order of the rows.",
                )  # fmt: skip

    def _round_outside(self, loop: Loop, corners: Sequence[TapeRow]) -> None:
        for stroke, row in zip(_strokes(loop), corners, strict=True):
            left, bottom, right, top = box(stroke)
            over = max(-left, -bottom, right - self.size[0], top - self.size[1])
            if row.to_next not in STRAIGHT and over > AGREE_MM:
                self.fault(
                    row.place, "To next point",
                    f"The round piece to the next point goes {self.said(over)} beyond the size of {self.tag} "
                    "on the page Remnants.",
                    "Check which way it is round, and how much; the size there goes round all that is metal.",
                )  # fmt: skip

    def judge(self, edge: _Ring, openings: Sequence[_Ring]) -> None:
        """Hold the edge against the size, and the openings against the edge and one another."""
        self._reach(edge)
        for flaw in flaws(edge.loop, [ring.loop for ring in openings]):
            place = openings[flaw.opening].place
            match flaw.kind:
                case Unsound.NOT_WITHIN:
                    self.fault(
                        place, "Along length", f"This opening of {self.tag} is not within its edge.",
                        "Check the numbers. What is open to the edge belongs to the edge, by its points.",
                    )  # fmt: skip
                case Unsound.OVER_ANOTHER:
                    self.fault(
                        place, "Along length",
                        f"This opening lies over the one of row {openings[flaw.other].place.row}.",
                        "Check the numbers. Openings that run into one another are one cut-out, by points.",
                    )  # fmt: skip
                case Unsound.IN_PIECES:
                    falls = f"falls into {flaw.other} pieces" if flaw.other else "is all gone"
                    self.fault(self.shape.place, "Tag", f"With its openings {self.tag} {falls}.",
                               "Check them; pieces that are apart are a remnant each.")  # fmt: skip

    def _reach(self, edge: _Ring) -> None:
        if all(row.what is not ShapeRow.EDGE for row in edge.rows):
            return
        around = box(edge.loop)
        for heading, reach, whole in (
            ("Along length", around.right, self.size[0]), ("Along width", around.top, self.size[1]),
        ):  # fmt: skip
            if reach < whole - AGREE_MM:
                side = heading.removeprefix("Along ").capitalize()
                self.fault(
                    edge.place, heading,
                    f"The edge of {self.tag} reaches {self.said(reach)} {heading.lower()}; {side} on the "
                    f"page Remnants says {self.said(whole)}.",
                    "Correct whichever is wrong: a point, or the size, which goes round all that is metal.",
                )  # fmt: skip
        if not has_corner(edge.loop, 0.0, 0.0):
            self.fault(
                edge.place, "Along length", f"The edge of {self.tag} has no corner at 0, 0.",
                "The datum corner has to be there to be measured from: write another one into Datum corner "
                "on the page Remnants and measure from that.",
            )  # fmt: skip


def _plain_opening(row: TapeRow) -> _Ring:
    """A rectangle or a disc in one row."""
    if row.what is ShapeRow.DISC:
        return _Ring(circle_loop(row.x, row.y, row.length / 2.0), (row,))
    return _Ring(move(rectangle(row.length, row.width).outer, row.x, row.y), (row,))


def _strokes(loop: Loop) -> list[Stroke]:
    """Every piece of a loop by itself."""
    ends = (*loop.vertices[1:], loop.vertices[0])
    return [Stroke((start, (*end[:2], 0.0))) for start, end in zip(loop.vertices, ends, strict=True)]


def _radius(half: float, rise: float) -> float:
    """Of the circle through two points ``2 half`` apart that stands off their middle by ``rise``."""
    return (half * half + rise * rise) / (2.0 * rise)


def _apart(first: TapeRow, second: TapeRow) -> float:
    return math.hypot(second.x - first.x, second.y - first.y)
