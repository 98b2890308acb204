"""Out and in again: what is written is read back as it was, as DXF and as SVG."""

import math
import time
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.drawings import quick
from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes
from sheetplan.drawings.reading.report import report_text
from sheetplan.model.job import Part, SheetSize
from sheetplan.model.outline import Loop, Outline
from sheetplan.model.plan import Layout, Placement
from sheetplan.model.settings import DrawingFormat, Settings
from sheetplan.model.turns import Corner
from sheetplan.shapes import area, as_circle, cut_length, merged, place, same_loop, settle, size
from sheetplan.trade.units import Units
from tests.drawings.samples import OUTLINES, PARTS, RULE, SIX, STEEL, layout_drawing, layout_svg
from tests.shapes.strategies import outlines

STEP = 300.0
SHEET = SheetSize("long", STEEL, SIX, 20 * STEP, STEP)


def written(shapes: list[Outline], lies: list[tuple[float, bool]], how: Settings, as_svg: bool) -> bytes:
    """The shapes side by side on one sheet, in the form asked for."""
    parts = {f"P{i}": Part(f"P{i}", STEEL, SIX, shape) for i, shape in enumerate(shapes)}
    placements = tuple(
        Placement(f"P{i}", (i + 0.5) * STEP, 0.5 * STEP, turn, mirrored)
        for i, (turn, mirrored) in enumerate(lies)
    )
    write = layout_svg if as_svg else layout_drawing
    return write(Layout("L1", SHEET, placements), parts, RULE, how)


def read_again(data: bytes, units: Units) -> list[Outline]:
    report = read_bytes("back", data, ReadingChoices(units=units), time.process_time)
    assert report.good, report_text(report, units)
    return [part.outline for part in report.parts]


def assert_same(got: Outline, want: Outline) -> None:
    assert area(got) == pytest.approx(area(want), rel=1e-9)
    assert cut_length(got) == pytest.approx(cut_length(want), rel=1e-9)
    assert len(got.holes) == len(want.holes)
    want = settle(want)
    assert same(got.outer, want.outer)
    for hole in want.holes:
        assert any(same(hole, other) for other in got.holes)


def same(got: Loop, want: Loop) -> bool:
    """The same arcs; a circle may begin anywhere."""
    circle = as_circle(want)
    if circle:
        return as_circle(got) == pytest.approx(circle, abs=1e-6)
    return same_loop(got, merged(want), tolerance=1e-6)


lies = st.tuples(st.floats(0.0, 360.0), st.booleans())


@given(
    st.lists(st.tuples(outlines(), lies), min_size=5, max_size=5),
    st.sampled_from(list(DrawingFormat)),
    st.sampled_from(list(Units)),
    st.sampled_from(list(Corner)),
    st.booleans(),
)
@settings(max_examples=100, deadline=None)
def test_five_hundred_random_outlines(shapes, form, units, corner, as_svg) -> None:
    how = Settings(units=units, drawing_format=form, datum=corner)
    data = written([shape for shape, _ in shapes], [lie for _, lie in shapes], how, as_svg)
    back = read_again(data, units)
    assert len(back) == len(shapes)
    for got, (shape, (turn, mirrored)) in zip(back, shapes, strict=True):
        assert_same(got, place(shape, Placement("P", 0.0, 0.0, turn, mirrored)))


def slotted_plate() -> Outline:
    ring = quick.ring(200.0, 90.0, bolts=8, bolt_diameter=14.0)
    arc = math.tan(math.pi / 16)
    cut = Loop(((60.0, 20.0, arc), (80.0, 24.0, 0.0), (78.0, 30.0, -arc), (62.0, 27.0, 0.0)))
    return replace(ring, holes=(*ring.holes[1:], cut))


TWENTY = [
    *OUTLINES.values(),
    quick.plate(120.0, 80.0, radius=12.0),
    quick.plate(120.0, 80.0, clip=12.0),
    quick.plate(160.0, 90.0, bolts=quick.Bolts(11.0, 20.0)),
    quick.plate(260.0, 60.0, radius=30.0, bolts=quick.Bolts(13.5, 40.0, 4, 1)),
    quick.disc(75.0),
    quick.disc(203.2),
    quick.ring(150.0, 60.0),
    quick.ring(280.0, 120.0, bolts=6, bolt_diameter=18.0),
    quick.gusset(100.0, 140.0),
    quick.gusset(120.0, 120.0, clip=25.0),
    quick.trapezoid(180.0, 90.0, 100.0),
    quick.tab(180.0, 90.0, hole=35.0),
    quick.ell(150.0, 120.0, 40.0),
    quick.strap(250.0, 50.0, 60.0, 14.0, inset=20.0),
    slotted_plate(),
]


@pytest.mark.parametrize("number", range(20))
@pytest.mark.parametrize("turn", [0.0, 33.0])
def test_twenty_parts_are_the_same_as_dxf_and_as_svg(number: int, turn: float) -> None:
    assert len(TWENTY) == 20
    shape, how = TWENTY[number], Settings(units=Units.MM)
    as_dxf, as_svg = (
        read_again(written([shape], [(turn, False)], how, svg), Units.MM)[0] for svg in (False, True)
    )
    assert_same(as_svg, as_dxf)
    assert size(as_svg) == pytest.approx(size(as_dxf), rel=1e-9)
    assert_same(as_dxf, place(shape, Placement("P", 0.0, 0.0, turn)))


@pytest.mark.parametrize("as_svg", [False, True])
def test_marks_come_back_as_marks_and_labels_as_nothing(as_svg: bool) -> None:
    placements = (Placement("BASE-3", 10.0, 10.0, 90.0), Placement("BASE-3", 400.0, 10.0))
    placements = (replace(placements[0], x=200.0), placements[1])
    write = layout_svg if as_svg else layout_drawing
    how = Settings(units=Units.MM)
    data = write(Layout("L1", replace(SHEET, width=400.0), placements), PARTS, RULE, how)
    back = read_again(data, Units.MM)
    assert [len(outline.marks) for outline in back] == [1, 1]
    assert back[1].marks[0].vertices == ((100.0, 20.0, 0.0), (200.0, 20.0, 0.0))
