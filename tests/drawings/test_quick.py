import math
from dataclasses import replace

import pytest
import shapely

from sheetplan.drawings import quick
from sheetplan.drawings.quick import QuickRow, quick_outline
from sheetplan.drawings.shape_table import ShapeWord
from sheetplan.model.outline import Outline, rectangle
from sheetplan.shapes import area, as_circle, box, cut_length, size, to_polygon
from sheetplan.trade.units import MM_PER_INCH, Units

INCH = MM_PER_INCH


def test_plates() -> None:
    assert quick.plate(100.0, 50.0) == rectangle(100.0, 50.0)
    # A square less a circle of the same width: four rounded corners take off (4 - pi) r^2.
    assert area(quick.plate(100.0, 50.0, radius=10.0)) == pytest.approx(5000.0 - (4 - math.pi) * 100.0)
    # Four right triangles with legs of 10.
    assert area(quick.plate(100.0, 50.0, clip=10.0)) == pytest.approx(5000.0 - 200.0)


def test_fully_rounded_ends() -> None:
    capsule = quick.plate(100.0, 50.0, radius=25.0)
    assert area(capsule) == pytest.approx(50.0 * 50.0 + math.pi * 625.0)
    assert len(capsule.outer.vertices) == 6
    assert as_circle(quick.plate(50.0, 50.0, radius=25.0).outer) == pytest.approx((25.0, 25.0, 25.0))


def test_bolt_holes() -> None:
    plate = quick.plate(100.0, 50.0, bolts=quick.Bolts(10.0, 12.0))
    middles = [(12.0, 12.0), (88.0, 12.0), (12.0, 38.0), (88.0, 38.0)]
    assert [as_circle(hole) for hole in plate.holes] == [(x, y, 5.0) for x, y in middles]
    row = quick.plate(100.0, 50.0, bolts=quick.Bolts(10.0, 20.0, 3, 1))
    assert [as_circle(hole)[:2] for hole in row.holes] == [(20.0, 25.0), (50.0, 25.0), (80.0, 25.0)]


def test_discs_and_rings() -> None:
    assert area(quick.disc(100.0)) == pytest.approx(math.pi * 2500.0)
    assert area(quick.ring(100.0, 60.0)) == pytest.approx(math.pi * (2500.0 - 900.0))
    flange = quick.ring(200.0, 100.0, bolts=6, bolt_diameter=18.0)
    assert len(flange.holes) == 7
    blank = quick.disc(200.0, bolts=6, bolt_diameter=18.0, circle=150.0)
    assert area(blank) == pytest.approx(math.pi * (10000.0 - 6 * 81.0))
    assert as_circle(quick.disc(100.0, bolts=1, bolt_diameter=20.0).holes[0]) == (50.0, 50.0, 10.0)
    # The bolt circle lies midway: 75 from the middle.
    for hole in flange.holes[1:]:
        x, y, radius = as_circle(hole)
        assert (math.hypot(x - 100.0, y - 100.0), radius) == pytest.approx((75.0, 9.0))


def test_gusset_trapezoid_ell() -> None:
    assert area(quick.gusset(150.0, 100.0)) == pytest.approx(7500.0)
    assert area(quick.gusset(150.0, 100.0, clip=20.0)) == pytest.approx(7500.0 - 200.0)
    assert area(quick.trapezoid(100.0, 50.0, 60.0)) == pytest.approx(80.0 * 50.0)
    # The longer edge may be written last: the shape stands on its head, at the corner of its box.
    wider_above = quick.trapezoid(60.0, 50.0, 100.0)
    assert tuple(box(wider_above)) == (0.0, 0.0, 100.0, 50.0)
    assert area(quick.ell(100.0, 80.0, 20.0)) == pytest.approx(100.0 * 20.0 + 60.0 * 20.0)


def test_straps() -> None:
    strap = quick.strap(300.0, 50.0, 60.0, 14.0, inset=20.0)
    slot = 46.0 * 14.0 + math.pi * 49.0
    assert area(strap) == pytest.approx(15000.0 - 2 * slot)
    assert tuple(box(strap.holes[0])) == (20.0, 18.0, 80.0, 32.0)
    assert tuple(box(strap.holes[1])) == (220.0, 18.0, 280.0, 32.0)
    round_holes = quick.strap(300.0, 50.0, 14.0, 14.0, inset=20.0, slots=3)
    assert [as_circle(hole)[0] for hole in round_holes.holes] == [27.0, 150.0, 273.0]


def test_tabs() -> None:
    plain, drilled = quick.tab(90.0, 60.0), quick.tab(90.0, 60.0, hole=18.0)
    half_disc = math.pi * 900.0 / 2.0
    assert area(plain) == pytest.approx(60.0 * 60.0 + half_disc)
    assert cut_length(plain) == pytest.approx(60.0 + 2 * 60.0 + math.pi * 30.0)
    assert area(drilled) == pytest.approx(area(plain) - math.pi * 81.0)
    # One wall all round: the hole and the round end have one middle.
    assert as_circle(drilled.holes[0]) == pytest.approx((60.0, 30.0, 9.0))
    # Wider than long is a tab too, as long as something of it is straight.
    assert size(quick.tab(40.0, 60.0)) == pytest.approx((40.0, 60.0))
    # Against shapely 2: a box and a disc put together, the disc as a polygon of 4 x 256 sides.
    built = shapely.union(shapely.box(0.0, 0.0, 60.0, 60.0), shapely.Point(60.0, 30.0).buffer(30.0, 256))
    apart = to_polygon(plain.outer, 0.001).symmetric_difference(built)
    assert apart.area < 0.2


@pytest.mark.parametrize(
    ("build", "reason"),
    [
        (lambda: quick.plate(0.0, 50.0), "length must be more than 0"),
        (lambda: quick.plate(100.0, math.nan), "width must be more than 0"),
        (lambda: quick.plate(100.0, 50.0, radius=26.0), "does not fit"),
        (lambda: quick.plate(100.0, 50.0, radius=5.0, clip=5.0), "not both"),
        (lambda: quick.plate(100.0, 50.0, bolts=quick.Bolts(10.0, 4.0)), "reaches the edge"),
        (lambda: quick.plate(100.0, 50.0, bolts=quick.Bolts(30.0, 20.0)), "run into each other"),
        (lambda: quick.plate(100.0, 50.0, bolts=quick.Bolts(0.0, 20.0)), "bolt hole must be more"),
        (lambda: quick.ring(100.0, 100.0), "does not fit"),
        (lambda: quick.ring(100.0, 80.0, bolts=4, bolt_diameter=12.0), "reaches the edge|run into"),
        (lambda: quick.disc(100.0, bolts=4, bolt_diameter=12.0, circle=95.0), "reaches the edge"),
        (lambda: quick.disc(100.0, bolts=3, bolt_diameter=12.0), "run into each other"),
        (lambda: quick.gusset(100.0, 50.0, clip=60.0), "does not fit"),
        (lambda: quick.ell(100.0, 50.0, 50.0), "fill an L"),
        (lambda: quick.strap(100.0, 50.0, 10.0, 20.0, inset=5.0), "cannot be 20 mm wide"),
        (lambda: quick.strap(100.0, 50.0, 60.0, 20.0, inset=10.0), "run into each other"),
        (lambda: quick.tab(30.0, 60.0), "a tab of 60 x 30 mm has no straight part"),
        (lambda: quick.tab(90.0, 60.0, hole=60.0), "reaches the edge"),
        (lambda: quick.tab(90.0, 60.0, hole=0.0), "bolt hole must be more"),
    ],
)
def test_sizes_that_make_no_shape(build, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        build()


@pytest.mark.parametrize(
    ("build", "column"),
    [
        (lambda: quick.disc(0.0), "Length"),
        (lambda: quick.ring(0.0, 10.0), "Length"),
        (lambda: quick.ring(100.0, 0.0), "Inside"),
        (lambda: quick.ell(100.0, 50.0, 0.0), "Inside"),
        (lambda: quick.trapezoid(100.0, 0.0, 50.0), "Width"),
        (lambda: quick.strap(300.0, 50.0, 0.0, 14.0, inset=20.0), "Holes"),
        (lambda: quick.disc(100.0, bolts=6, bolt_diameter=0.0, circle=80.0), "Holes"),
    ],
)
def test_a_size_of_nothing_is_blamed_on_its_column(build, column: str) -> None:
    with pytest.raises(quick.NoShape, match="must be more than 0") as refused:
        build()
    assert refused.value.column == column


def test_a_disc_is_as_wide_as_it_is_long_to_a_micrometre() -> None:
    assert quick_outline(QuickRow(ShapeWord.DISC, 12 * INCH, 304.8), Units.MM) == quick.disc(12 * INCH)
    with pytest.raises(quick.NoShape, match="as wide as it is long"):
        quick_outline(QuickRow(ShapeWord.DISC, 304.8, 304.81), Units.MM)


W = ShapeWord
ROWS = [
    (QuickRow(W.RECTANGLE, 100, 50), quick.plate(100, 50)),
    (QuickRow(W.RECTANGLE, 100, 50, corner="r 1/2"), quick.plate(100, 50, radius=INCH / 2)),
    (QuickRow(W.RECTANGLE, 100, 50, corner="radius 1/2"), quick.plate(100, 50, radius=INCH / 2)),
    (QuickRow(W.RECTANGLE, 100, 50, corner="R1/2"), quick.plate(100, 50, radius=INCH / 2)),
    (QuickRow(W.RECTANGLE, 100, 50, corner="Clip .25"), quick.plate(100, 50, clip=INCH / 4)),
    (
        QuickRow(W.RECTANGLE, 100, 50, holes="4 x 9/16 at 1/2"),
        quick.plate(100, 50, bolts=quick.Bolts(INCH * 9 / 16, INCH / 2)),
    ),
    (QuickRow(W.RECTANGLE, 100, 50, holes="1 x 1"), quick.plate(100, 50, bolts=quick.Bolts(INCH, 0.0, 1, 1))),
    (
        QuickRow(W.RECTANGLE, 300, 100, holes="5 by 2 x 10 mm at 15 mm"),
        quick.plate(300, 100, bolts=quick.Bolts(10, 15, 5, 2)),
    ),
    (QuickRow(W.DISC, 80, 80), quick.disc(80)),
    (
        QuickRow(W.DISC, 300, 300, holes="6 x 9/16 on 8"),
        quick.disc(300, bolts=6, bolt_diameter=INCH * 9 / 16, circle=8 * INCH),
    ),
    (QuickRow(W.DISC, 80, 80, holes="1 x 1"), quick.disc(80, bolts=1, bolt_diameter=INCH)),
    (QuickRow(W.RING, 200, 200, inside=100), quick.ring(200, 100)),
    (
        QuickRow(W.RING, 300, 300, inside=100, holes="6 x 9/16 on 8"),
        quick.ring(300, 100, bolts=6, bolt_diameter=INCH * 9 / 16, circle=8 * INCH),
    ),
    (QuickRow(W.GUSSET, 150, 100, corner="clip 1/2"), quick.gusset(150, 100, clip=INCH / 2)),
    (QuickRow(W.TRAPEZOID, 150, 100, inside=80), quick.trapezoid(150, 100, 80)),
    (QuickRow(W.ELL, 150, 100, inside=30), quick.ell(150, 100, 30)),
    (
        QuickRow(W.STRAP, 300, 50, holes="2 slots 2 x 9/16 at 1"),
        quick.strap(300, 50, 2 * INCH, INCH * 9 / 16, inset=INCH),
    ),
    (QuickRow(W.TAB, 100, 50), quick.tab(100, 50)),
    (QuickRow(W.TAB, 100, 50, holes="1 x 9/16"), quick.tab(100, 50, hole=INCH * 9 / 16)),
]


@pytest.mark.parametrize(("row", "want"), ROWS)
def test_rows_in_words(row: QuickRow, want: Outline) -> None:
    got = quick_outline(row, Units.INCH)
    assert area(got) == pytest.approx(area(want), rel=1e-12)
    assert cut_length(got) == pytest.approx(cut_length(want), rel=1e-12)
    assert len(got.holes) == len(want.holes)


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize(
    "row",
    [
        QuickRow(W.RECTANGLE, 300, 300, corner="big"),
        QuickRow(W.RECTANGLE, 300, 300, holes="four"),
        QuickRow(W.RECTANGLE, 300, 300, holes="4 x 10 mm"),
        QuickRow(W.DISC, 300, 300, holes="six"),
        QuickRow(W.DISC, 300, 300, holes="6 x 10 mm"),
        QuickRow(W.STRAP, 300, 300, holes="two"),
        QuickRow(W.TAB, 300, 300, holes="one"),
    ],
)
def test_what_the_reason_says_to_write_is_understood_in_a_book_of_these_units(
    row: QuickRow, units: Units
) -> None:
    with pytest.raises(ValueError, match="; write ") as refused:
        quick_outline(row, units)
    advice = str(refused.value).partition("; write ")[2]
    said = advice.removesuffix(", say").partition(" to round")[0]
    mended = replace(row, corner=said) if row.corner else replace(row, holes=said)
    holes = len(quick_outline(mended, units).holes)
    assert holes == 0 if row.corner else holes == 1 if row.shape is W.TAB else holes > 1


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (QuickRow(W.RECTANGLE, 100, 50, corner="1/2"), "is no corner"),
        (QuickRow(W.RECTANGLE, 100, 50, corner="r big"), "cannot be read as a length"),
        (QuickRow(W.RECTANGLE, 100, 50, corner="radius half"), "`half` cannot be read as a length"),
        (QuickRow(W.RECTANGLE, 100, 50, holes="four holes"), "not understood here"),
        (QuickRow(W.RECTANGLE, 100, 50, holes="4 x 1/2"), "how far from the edges"),
        (QuickRow(W.RECTANGLE, 100, 50, holes="4 x 1/2 on 3"), "not understood here"),
        (QuickRow(W.RECTANGLE, 100, 50, inside=20.0), "takes nothing in the column Inside"),
        (QuickRow(W.DISC, 80, 70), "as wide as it is long"),
        (QuickRow(W.GUSSET, 80, 80, holes="1 x 1/2"), "takes nothing in the column Holes"),
        (QuickRow(W.DISC, 80, 80, holes="6 x 1/4"), "does not say on which circle"),
        (QuickRow(W.DISC, 80, 80, holes="4 x 1/4 at 1"), "not understood here"),
        (QuickRow(W.RING, 80, 80), "needs its inside diameter"),
        (QuickRow(W.GUSSET, 80, 80, corner="r 1/2"), "clipped, not rounded"),
        (QuickRow(W.TRAPEZOID, 80, 80), "needs its top edge"),
        (QuickRow(W.ELL, 80, 80), "an L needs its leg's width"),
        (QuickRow(W.STRAP, 80, 80), "not understood here"),
        (QuickRow(W.TAB, 80, 80, holes="4 x 1/2 at 1"), "not understood here; write 1 x 9/16, say"),
        (QuickRow(W.TAB, 80, 80, holes="2 x 1/2"), "not understood here"),
        (QuickRow(W.TAB, 80, 80, holes="1 x 1/2 on 1"), "not understood here"),
        (QuickRow(W.TAB, 80, 80, corner="r 1/2"), "takes nothing in the column Corner"),
        (QuickRow(W.TAB, 80, 80, inside=20.0), "takes nothing in the column Inside"),
    ],
)
def test_words_that_make_no_shape(row: QuickRow, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        quick_outline(row, Units.INCH)
