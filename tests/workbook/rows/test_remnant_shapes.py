"""The page Remnant shapes against shapes that are built by shapely alone, and every slip of typing."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import pytest
import shapely
from shapely.affinity import affine_transform

from sheetplan.model import Corner, Problem, Weight
from sheetplan.model.job import Remnant
from sheetplan.shapes import area, to_polygon
from tests.workbook.test_reading import plain_rows, read

INCH = 25.4
ROUND = 128
"""Chords to a quarter turn of the shapes that shapely builds."""

Point = tuple[float, float]


@dataclass
class Walk:
    """A sheet as one walks round it with a tape, and the same as shapely builds it; in the book's lengths."""

    length: float
    width: float
    points: list[tuple[Point, dict[str, Any]]] = field(default_factory=list)
    """Corners counter-clockwise, each with what its row says of the way to the next."""
    openings: list[dict[str, Any]] = field(default_factory=list)
    truth: Any = None

    def rows(self, rng: random.Random | None = None) -> list[dict[str, Any]]:
        points = list(self.points)
        if rng is not None and rng.random() < 0.5:
            # Walked round the other way, each piece belongs to the point at its other end.
            ways = [way for _, way in points]
            points = [(at, ways[i - 1]) for i, (at, _) in enumerate(points)][::-1]
        if rng is not None:
            turn = rng.randrange(len(points))
            points = points[turn:] + points[:turn]
        closed = [*points, (points[0][0], {})]
        edge = [{"Tag": "R-1", "Along length": x, "Along width": y, **way} for (x, y), way in closed]
        return edge + [{"Tag": "R-1", **one} for one in self.openings]


def disc(x: float, y: float, radius: float) -> Any:
    return shapely.Point(x, y).buffer(radius, quad_segs=ROUND)


def corner(rng: random.Random, x: float, y: float, into: Point) -> tuple[list[Any], Any]:
    """What may be at a corner: points from the side that leads to it round to the next, and what is gone."""
    a, b = rng.uniform(3.0, 8.0), rng.uniform(3.0, 8.0)
    dx, dy = into
    # The corner lies between a side along x and one along y; which comes first depends on the corner.
    on_x, on_y = (x + dx * a, y), (x, y + dy * b)
    first, last = (on_x, on_y) if dx * dy < 0.0 else (on_y, on_x)
    kind = rng.choice(("plain", "notch", "slant", "rounded"))
    if kind == "plain":
        return [((x, y), {})], shapely.Polygon()
    if kind == "notch":
        inner = (x + dx * a, y + dy * b)
        return [(first, {}), (inner, {}), (last, {})], shapely.box(*sorted_box((x, y), inner))
    if kind == "slant":
        return [(first, {"To next point": "slanting"}), (last, {})], shapely.Polygon([(x, y), on_x, on_y])
    middle = (x + dx * a, y + dy * a)
    first, last = ((on_x, (x, y + dy * a)) if dx * dy < 0.0 else ((x, y + dy * a), on_x))
    gone = shapely.box(*sorted_box((x, y), middle)) - disc(*middle, a)
    said = {"Radius": a} if rng.random() < 0.5 else {"Rise": a * (1.0 - math.sqrt(0.5))}
    return [(first, {"To next point": "round outwards", **said}), (last, {})], gone


def sorted_box(one: Point, other: Point) -> tuple[float, float, float, float]:
    (x0, x1), (y0, y1) = sorted((one[0], other[0])), sorted((one[1], other[1]))
    return x0, y0, x1, y1


def bite(rng: random.Random, along: Callable[[float], Point], length: float) -> tuple[list[Any], Any]:
    """A round bite in a side, walked along it, or nothing."""
    if rng.random() < 0.4:
        return [], shapely.Polygon()
    radius = rng.uniform(1.0, 4.0)
    at = rng.uniform(0.4, 0.6) * length
    said = {"Radius": radius} if rng.random() < 0.5 else {"Rise": radius}
    points = [(along(at - radius), {"To next point": "round inwards", **said}), (along(at + radius), {})]
    return points, disc(*along(at), radius)


def walk(seed: int) -> Walk:
    """A sheet with odd corners, round bites and openings; only the datum corner is sure to be there."""
    rng = random.Random(seed)
    made = Walk(round(rng.uniform(44.0, 90.0), 2), round(rng.uniform(30.0, 46.0), 2))
    length, width = made.length, made.width
    corners = (((length, 0.0), (-1.0, 1.0)), ((length, width), (-1.0, -1.0)), ((0.0, width), (1.0, -1.0)))
    sides: list[tuple[Callable[[float], Point], float]] = [
        (lambda s: (s, 0.0), length), (lambda s: (length, s), width),
        (lambda s: (length - s, width), length), (lambda s: (0.0, width - s), width),
    ]  # fmt: skip
    made.truth = shapely.box(0.0, 0.0, length, width)
    made.points.append(((0.0, 0.0), {}))
    for number, (along, long) in enumerate(sides):
        points, gone = bite(rng, along, long)
        made.points += points
        made.truth -= gone
        if number < len(corners):
            points, gone = corner(rng, *corners[number][0], corners[number][1])
            made.points += points
            made.truth -= gone
    # Openings in a middle field that no bite and no corner reaches.
    for number in range(rng.randrange(4)):
        add_opening(rng, made, 10.0 + 6.5 * number, width / 2.0, number)
    return made


def add_opening(rng: random.Random, made: Walk, x: float, y: float, number: int) -> None:
    kind = rng.choice(("rectangle", "disc", "cut-out", "round cut-out"))
    a, b = rng.uniform(1.0, 5.0), rng.uniform(1.0, 5.0)
    if kind == "rectangle":
        made.openings.append({"What": kind, "Along length": x, "Along width": y, "Length": a, "Width": b})
        made.truth -= shapely.box(x, y, x + a, y + b)
        return
    if kind == "disc":
        made.openings.append({"What": kind, "Along length": x + 2.5, "Along width": y, "Diameter": a})
        made.truth -= disc(x + 2.5, y, a / 2.0)
        return
    points = [(x, y), (x + a, y), (x + a / 3.0, y + b)]
    said: dict[str, Any] = {}
    gone: Any = shapely.Polygon(points)
    if kind == "round cut-out":  # half a disc hangs below the side from the first point to the second
        said = {"To next point": "round outwards", "Radius": a / 2.0}
        gone |= disc(x + a / 2.0, y, a / 2.0) & shapely.box(x - 1.0, y - a, x + a + 1.0, y)
    for place, (px, py) in enumerate([*points, points[0]]):
        way = said if place == 0 else {"To next point": "slanting"} if place < 3 else {}
        at = {"Along length": px, "Along width": py}
        made.openings.append({"What": "cut-out", "Which cut-out": f"no. {number}", **at, **way})
    made.truth -= gone


def read_walk(
    made: Walk, rows: list[dict[str, Any]], datum: Corner = Corner.LOWER_LEFT, **cells: Any
) -> tuple[tuple[Remnant, ...], list[Problem]]:
    book = plain_rows()
    size = {"Width": made.width, "Length": made.length, "Value": 10}
    book["Remnants"][0] |= {**size, "Datum corner": datum, **cells}
    book["Remnant shapes"] = rows
    job, problems = read(book)
    assert job is not None
    return job.remnants, [p for p in problems if p.page in ("Remnants", "Remnant shapes")]


@pytest.mark.parametrize("seed", range(100))
def test_a_shape_by_tape_is_the_one_that_shapely_builds(seed: int) -> None:
    """Shapely 2 (GEOS) builds it from boxes, discs and triangles; neither points nor bulges are its own."""
    made, rng = walk(seed), random.Random(seed)
    datum = rng.choice(list(Corner))
    [remnant], problems = read_walk(made, made.rows(rng), datum)
    assert problems == []
    assert remnant.datum is datum
    flip_x, flip_y = (-1.0 if datum.is_right else 1.0), (-1.0 if datum.is_upper else 1.0)
    shift = (made.length * INCH if datum.is_right else 0.0, made.width * INCH if datum.is_upper else 0.0)
    truth = affine_transform(made.truth, [flip_x * INCH, 0.0, 0.0, flip_y * INCH, *shift])
    mine = to_polygon(remnant.edge, 0.002) - shapely.union_all([to_polygon(c, 0.002) for c in remnant.cuts])
    # Chords of 128 to a quarter turn stray from a radius of 8 in by 0.004 mm.
    assert mine.symmetric_difference(truth).area < 0.005 * truth.length
    assert area(remnant.edge) - sum(map(area, remnant.cuts)) == pytest.approx(truth.area, abs=20.0)


L_CORNERS = ((0, 0), (96, 0), (96, 20), (40, 20), (40, 48), (0, 48))
L_SHAPE = Walk(96, 48, [(corner, {}) for corner in L_CORNERS])


def put(row: int, **cells: Any) -> Callable[[list[dict[str, Any]]], None]:
    named = {name.replace("_", " ").capitalize(): value for name, value in cells.items()}
    return lambda rows: rows[row].update(named)


def test_the_l_shape_itself_is_read() -> None:
    [remnant], problems = read_walk(L_SHAPE, L_SHAPE.rows())
    assert problems == []
    assert area(remnant.edge) == pytest.approx((96 * 48 - 56 * 28) * INCH**2)


SLIPS: dict[str, tuple[Callable[[list[dict[str, Any]]], Any], str, int]] = {
    "two rows changed about": (lambda r: [r[0], r[2], r[1], *r[3:]], "it runs slanting to 96, 20", 5),
    "crossing": (
        lambda r: [slant(r[0]), r[2], slant(r[1]), *r[3:]], "crosses or touches itself near 60.", 0,
    ),
    "back to an earlier corner": (
        lambda r: [*r[:2], *r[:2], *r[2:]], "lies on the straight edge from row 5 to row 7", 6,
    ),
    "not closed": (lambda r: r[:-1], "is open: it begins at 0, 0 and ends at 0, 48", 10),
    "the last rows are missing": (lambda r: r[:4], "is open", 8),
    "outside": (put(1, along_length=960), "960 lies outside R-1, whose length is 96", 6),
    "length and width changed about": (put(1, along_length=0, along_width=96), "96 lies outside", 6),
    "negative": (put(3, along_length=-40), "negative", 8),
    "words": (put(3, along_length="forty"), "cannot be read", 8),
    "empty": (put(3, along_width=None), "Along width is empty", 8),
    "twice": (lambda r: [*r[:3], r[2], *r[3:]], "same point as on row 7", 8),
    "short of the size": (
        lambda r: [{**x, "Along length": min(x["Along length"], 90)} for x in r],
        "reaches 90 along length; Length on the page Remnants says 96", 5,
    ),
    "no datum corner": (
        lambda r: [at(6, 0), *r[1:6], at(0, 6), at(6, 6), at(6, 0)], "no corner at 0, 0", 5,
    ),
    "one point": (lambda r: r[:1], "is open", 5),
    "two points": (lambda r: [r[0], r[1], r[0]], "has no inside", 5),
    "straight with a radius": (put(2, radius=5), "has a radius and is not round", 7),
    "a figure wrong": (put(2, along_width=26), "it runs slanting to 40, 20 on row 8", 7),
    "a row left out": (lambda r: [*r[:3], *r[4:]], "From here, 96, 20, it runs slanting to 40, 48", 7),
    "a point amid an edge": (
        lambda r: [r[0], at(50, 0), *r[1:]], "lies on the straight edge from row 5 to row 7", 6,
    ),
    "said to slant and does not": (put(2, to_next_point="slanting"), "is said to slant to row 8", 7),
    "round with nothing": (put(2, to_next_point="round inwards"), "neither a radius nor a rise", 7),
    "a rise of another radius": (
        put(2, to_next_point="round inwards", radius=30, rise=3),
        "A rise of 3 over 56 makes a radius of 132.167, and Radius says 30", 7,
    ),
    "a slant of another length": (
        lambda r: [*r, *triangle()[:1], {**triangle()[1], "Length": 6.97}, *triangle()[2:]],
        "is 7.07107 by its two points, and Length says 6.97", 13,
    ),
    "straight with a length": (put(2, length=56), "has a length and does not slant", 7),
    "round with a short radius": (put(2, to_next_point="round inwards", radius=12), "does not reach", 7),
    "more than half a circle": (put(2, to_next_point="round inwards", rise=40), "more than half a circle", 7),
    "round the wrong way, outside": (put(1, to_next_point="round outwards", rise=3), "3 beyond the size", 6),
    "round the wrong way, across": (put(0, to_next_point="round inwards", rise=40), "crosses or touches", 0),
    "unknown word": (put(2, to_next_point="round"), "is not one of the words", 7),
    "a tag that is not there": (lambda r: [{**x, "Tag": "R-l"} for x in r], "There is no remnant R-l", 5),
    "no tag": (put(2, tag=None), "Tag is empty. R-1, whose rows stand beside it, is left out", 7),
    "one tag mistyped": (put(2, tag="R-l"), "There is no remnant R-l", 7),
    "rows that do not stand together": (put(2, tag="R-l"), "do not stand together", 8),
    "an opening's tag mistyped": (lambda r: [*r, {**hole(5, 5, 9, 9), "Tag": "R-l"}], "no remnant R-l", 12),
    "a diameter of a point": (put(2, diameter=4), "does not belong to a row that says 'edge'", 7),
    "an opening outside": (lambda r: [*r, hole(60, 30, 10, 10)], "is not within its edge", 12),
    "an opening over the edge": (lambda r: [*r, hole(30, 30, 12, 10)], "is not within its edge", 12),
    "an opening over another": (lambda r: [*r, hole(5, 5, 9, 9), hole(9, 9, 9, 9)], "the one of row 12", 13),
    "an opening in another": (lambda r: [*r, hole(5, 5, 9, 9), hole(6, 6, 2, 2)], "the one of row 12", 13),
    "an opening right across": (lambda r: [*r, hole(50, 0, 9, 20)], "falls into 2 pieces", 5),
    "an opening without a width": (lambda r: [*r, {**hole(5, 5, 9, 9), "Width": None}], "Width is empty", 12),
    "a cut-out that is open": (lambda r: [*r, *triangle()[:-1]], "The cut-out of R-1 is open", 14),
    "a cut-out that crosses": (lambda r: [*r, *crossed()], "The cut-out of R-1 crosses", 0),
    "a kind that is none": (put(2, what="corner"), "is not one of the words", 7),
}  # fmt: skip


def at(x: float, y: float) -> dict[str, Any]:
    return {"Tag": "R-1", "Along length": x, "Along width": y}


def slant(row: dict[str, Any]) -> dict[str, Any]:
    return {**row, "To next point": "slanting"}


def hole(x: float, y: float, long: float, wide: float) -> dict[str, Any]:
    size = {"Length": long, "Width": wide}
    return {"Tag": "R-1", "What": "rectangle", "Along length": x, "Along width": y, **size}


def cut_out(*points: Point) -> list[dict[str, Any]]:
    ends = (*points[1:], points[0])
    rows = []
    for (x, y), (ahead_x, ahead_y) in zip(points, ends, strict=True):
        row = {**at(x, y), "What": "cut-out"}
        rows.append(slant(row) if min(abs(x - ahead_x), abs(y - ahead_y)) > 0 else row)
    return rows


def triangle() -> list[dict[str, Any]]:
    return cut_out((5, 5), (10, 5), (5, 10), (5, 5))


def crossed() -> list[dict[str, Any]]:
    return cut_out((5, 5), (10, 10), (10, 5), (5, 10), (5, 5))


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_is_told_at_its_row_and_the_remnant_left_out(name: str) -> None:
    change, says, row = SLIPS[name]
    rows = L_SHAPE.rows()
    rows = change(rows) or rows
    remnants, problems = read_walk(L_SHAPE, rows)
    found = [p for p in problems if says in p.what]
    assert found, problems
    assert all(p.page == "Remnant shapes" and p.cell and p.weight is Weight.LEFT_OUT for p in found)
    assert row in (0, found[0].row)
    if name not in ("a tag that is not there",):
        assert remnants == ()


def measured(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The rows with every second measure: a slant's own length, a round piece's rise and radius."""
    rows = [dict(row) for row in rows]
    for row, ahead in pairwise(rows):
        way, half = str(row.get("To next point", "")), apart(row, ahead) / 2.0
        if way == "slanting":
            row["Length"] = 2.0 * half
        elif "Radius" in row:
            row["Rise"] = row["Radius"] - math.sqrt(max(0.0, row["Radius"] ** 2 - half**2))
        elif "Rise" in row:
            row["Radius"] = (half**2 + row["Rise"] ** 2) / (2.0 * row["Rise"])
    return [{name: round(at, 2) if isinstance(at, float) else at for name, at in row.items()} for row in rows]


def apart(row: dict[str, Any], ahead: dict[str, Any]) -> float:
    return math.dist(*((one["Along length"], one["Along width"]) for one in (row, ahead)))


def figure_slips(rng: random.Random, figure: float) -> Iterator[float]:
    """A wrong digit, two digits changed about, and the point a place off."""
    said = f"{figure:.2f}"
    digits = [place for place, one in enumerate(said) if one.isdigit()]
    place = rng.choice(digits)
    yield float(said[:place] + rng.choice("0123456789".replace(said[place], "")) + said[place + 1 :])
    place = rng.choice([one for one in digits if one + 1 in digits] or digits[:1])
    yield float(said[:place] + said[place + 1 : place + 2] + said[place] + said[place + 2 :])
    yield figure * rng.choice((10.0, 0.1))


UNSEEN_MM = 8.0
"""Metal narrower than this may stay unseen: a point moved across a slant changes its length by less."""


@pytest.mark.parametrize("seed", range(20))
def test_a_slip_at_a_slanting_or_round_piece_is_told_by_its_second_measure(seed: int) -> None:
    """A wrong figure, or a point left out, where no other row speaks for it; or else it adds no metal."""
    made, rng = walk(seed), random.Random(seed)
    rows = measured(made.rows())
    [sound], problems = read_walk(made, rows)
    assert problems == []
    points = [i for i, row in enumerate(rows) if row.get("What") in (None, "cut-out")]
    odd = [i for i in points if any(rows[j].get("To next point") for j in (i - 1, i))]
    for i in odd:
        slips = [[*rows[:i], *rows[i + 1 :]]]
        figures = [name for name in ("Along length", "Along width", "Radius", "Rise") if name in rows[i]]
        slips += [[*rows[:i], {**rows[i], name: wrong}, *rows[i + 1 :]]
                  for name in figures for wrong in figure_slips(rng, rows[i][name])]  # fmt: skip
        for slip in slips:
            read_as, told = read_walk(made, slip)
            if read_as:
                more = metal(read_as[0]) - metal(sound)
                assert more.buffer(-UNSEEN_MM / 2.0).is_empty, (i, slip[i], told)


def metal(remnant: Remnant) -> Any:
    edge, *cuts = (to_polygon(loop, 0.05) for loop in (remnant.edge, *remnant.cuts))
    return edge - shapely.union_all(cuts)


def test_rows_may_go_round_either_way_and_begin_anywhere() -> None:
    shapes = set()
    for rows in (L_SHAPE.rows(), L_SHAPE.rows()[::-1]):
        [remnant], problems = read_walk(L_SHAPE, rows)
        assert problems == []
        shapes.add(round(area(remnant.edge), 3))
    assert len(shapes) == 1


def test_openings_alone_leave_the_edge_of_the_row() -> None:
    round_one = {"Tag": "R-1", "What": "disc", "Along length": 70, "Along width": 30, "Diameter": 8}
    corner = {"Missing corner": "upper right", "Missing piece": "triangle"}
    rows = [hole(5, 5, 20, 10), round_one]
    [remnant], problems = read_walk(L_SHAPE, rows, **{"Missing width": 10, "Missing length": 20, **corner})
    assert problems == []
    assert area(remnant.edge) == pytest.approx((96 * 48 - 100) * INCH**2)
    assert sum(map(area, remnant.cuts)) == pytest.approx((200 + math.pi * 16) * INCH**2)


def test_a_shape_and_a_missing_corner_are_not_both_said() -> None:
    corner = {"Missing width": 5, "Missing length": 5, "Missing corner": "upper right"}
    remnants, problems = read_walk(L_SHAPE, L_SHAPE.rows(), **corner)
    assert remnants == ()
    assert any("a missing corner on the page Remnants too" in p.what for p in problems)


def test_a_faulty_shape_never_becomes_a_plain_rectangle() -> None:
    """The row of Remnants says so as well, and names the page."""
    _, problems = read_walk(L_SHAPE, L_SHAPE.rows()[:-1])
    [at_row] = [p for p in problems if p.page == "Remnants"]
    assert "so R-1 is left out" in at_row.what
    assert at_row.follows == "Remnant shapes!5"


def test_a_used_up_remnants_shape_is_not_judged() -> None:
    remnants, problems = read_walk(L_SHAPE, L_SHAPE.rows()[:-1], State="used up")
    assert (remnants, problems) == ((), [])


def test_a_record_goes_before_the_page() -> None:
    from sheetplan.workbook.reading.job import read_job
    from tests.nasty.books.plain import tables_of

    book = plain_rows()
    book["Remnant shapes"] = L_SHAPE.rows()[:-1]
    job, problems = read_job(tables_of(book), recorded=lambda tag: tag == "R-1")
    assert job is not None
    assert [r.tag for r in job.remnants] == ["R-1"]
    assert problems == ()


def test_a_worth_that_is_not_written_leaves_openings_out() -> None:
    rows = [hole(0, 0, 48, 48)]
    [whole], _ = read_walk(L_SHAPE, [], Value=None)
    [half], _ = read_walk(L_SHAPE, rows, Value=None)
    assert half.value == pytest.approx(whole.value / 2, abs=0.02)
