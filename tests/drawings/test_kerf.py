import math
import time
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.drawings import quick
from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes
from sheetplan.drawings.writing.scene import kerf_path, offset
from sheetplan.model.outline import Loop, Outline, rectangle
from sheetplan.model.plan import Layout, Placement
from sheetplan.model.settings import Settings
from sheetplan.shapes import Side, area, as_circle, box, perimeter, to_polygon
from sheetplan.trade.units import Units
from tests.drawings.samples import PARTS, RULE, SHEET, layout_drawing, layout_svg
from tests.shapes.strategies import circle, star_loops


def test_a_rectangle_grows_round_corners() -> None:
    (grown,) = offset(rectangle(100.0, 50.0).outer, 2.0)
    # Steiner's formula for a convex shape: A + P d + pi d^2; its perimeter grows by 2 pi d.
    assert area(grown) == pytest.approx(5000.0 + 300.0 * 2.0 + math.pi * 4.0, rel=1e-12)
    assert perimeter(grown) == pytest.approx(300.0 + 2 * math.pi * 2.0, rel=1e-12)
    assert box(grown) == pytest.approx((-2.0, -2.0, 102.0, 52.0))


def test_a_rectangle_shrinks_with_sharp_corners() -> None:
    (shrunk,) = offset(rectangle(100.0, 50.0).outer, -2.0)
    assert area(shrunk) == pytest.approx(96.0 * 46.0, rel=1e-12)
    assert len(shrunk.vertices) == 4


def test_circles_keep_their_centre() -> None:
    assert as_circle(offset(circle(5.0, 7.0, 10.0), 0.75)[0]) == (5.0, 7.0, 10.75)
    assert as_circle(offset(circle(5.0, 7.0, 10.0), -0.75)[0]) == (5.0, 7.0, 9.25)
    assert offset(circle(5.0, 7.0, 0.7), -0.75) == ()


@pytest.mark.parametrize("distance", [1.5, -1.5, 0.01, -0.01])
def test_rounded_corners_change_radius_only(distance: float) -> None:
    (moved,) = offset(quick.plate(100.0, 50.0, radius=10.0).outer, distance)
    radius = 10.0 + distance
    length, width = 100.0 + 2 * distance, 50.0 + 2 * distance
    assert area(moved) == pytest.approx(length * width - (4 - math.pi) * radius**2, rel=1e-12)
    assert len(moved.vertices) == 8


def test_a_corner_radius_smaller_than_the_offset_becomes_sharp() -> None:
    (shrunk,) = offset(quick.plate(100.0, 50.0, radius=1.0).outer, -3.0)
    assert area(shrunk) == pytest.approx(94.0 * 44.0, rel=1e-9)


def test_an_inner_corner_is_trimmed_outward() -> None:
    (grown,) = offset(quick.ell(100.0, 80.0, 20.0).outer, 2.0)
    # Five outer corners rolled round, the inner one sharp: A + P d + (5/4 pi - 1) d^2.
    assert area(grown) == pytest.approx(3200.0 + 360.0 * 2.0 + (1.25 * math.pi - 1.0) * 4.0, rel=1e-12)


def test_a_notch_narrower_than_the_kerf_closes_up() -> None:
    notch = Outline(Loop(tuple((x, y, 0.0) for x, y in (
        (0, 0), (100, 0), (100, 50), (51, 50), (51, 20), (50, 20), (50, 50), (0, 50),
    ))))  # fmt: skip
    path = kerf_path(notch, 1.5).outline.outer
    # As if there were no notch: a rectangle grown by 0.75, less the small dip at the notch's mouth.
    plain = 5000.0 + 300.0 * 0.75 + math.pi * 0.75**2
    assert plain - 0.5 < area(path) < plain


def test_a_waist_narrower_than_the_offset_parts_in_two() -> None:
    waist = Loop(tuple((x, y, 0.0) for x, y in (
        (0, 0), (40, 0), (40, 19), (60, 19), (60, 0), (100, 0),
        (100, 40), (60, 40), (60, 21), (40, 21), (40, 40), (0, 40),
    )))  # fmt: skip
    # Each half is a square of 37 with a bump into the mouth of the waist, between arcs of radius 1.5
    # about the mouth's corners 2 apart: twice the integral of 1.5 - sqrt(1.5^2 - u^2) from 0 to 1.
    bump = 2 * (1.5 - math.sqrt(1.25) / 2 - 1.125 * math.asin(1 / 1.5))
    assert [area(loop) for loop in offset(waist, -1.5)] == pytest.approx([37.0 * 37.0 + bump] * 2)


def test_outlines_go_outward_and_holes_inward() -> None:
    ring = quick.ring(200.0, 100.0, bolts=4, bolt_diameter=1.2)
    path = kerf_path(ring, 1.5)
    assert as_circle(path.outline.outer)[2] == 100.75
    assert [as_circle(hole)[2] for hole in path.outline.holes] == [49.25]
    assert len(path.lost) == 4
    assert kerf_path(ring, 0.0).outline == ring


@given(star_loops(), st.sampled_from([0.4, 2.0, 6.0]), st.booleans())
@settings(max_examples=60, deadline=None)
def test_every_point_of_the_path_is_half_a_kerf_away(loop: Loop, half: float, outward: bool) -> None:
    moved = offset(loop, half if outward else -half)
    assert moved
    edge = to_polygon(loop, 1e-5).exterior
    for path in moved:
        ring = to_polygon(path, 1e-5).exterior
        points = shapely.points(list(ring.segmentize(1.0).coords))
        away = shapely.distance(points, edge)
        assert away.min() >= half - 5e-5
        assert away.max() <= half + 5e-5
    # Against a general library's buffer, which flattens arcs.
    solid = to_polygon(loop, 1e-4, Side.ON)
    reference = solid.buffer(half if outward else -half, quad_segs=256)
    assert max(map(area, moved)) == pytest.approx(reference.area, rel=1e-3)


@pytest.mark.parametrize("write", [layout_drawing, layout_svg])
def test_a_layout_follows_the_middle_of_the_cut_where_asked(write) -> None:
    how = Settings(units=Units.MM, kerf_offset=True)
    layout = Layout("L1", SHEET, (Placement("RING-2", 20.0, 20.0), Placement("CLEAT-1", 300.0, 20.0, 90.0)))
    moved = replace(layout.placements[1], x=500.0)
    layout = replace(layout, placements=(layout.placements[0], moved))
    data = write(layout, PARTS, RULE, how)
    report = read_bytes("back", data, ReadingChoices(units=Units.MM), time.process_time)
    ring, cleat = (part.outline for part in report.parts)
    assert as_circle(ring.outer)[2] == pytest.approx(100.75)
    assert as_circle(ring.holes[0])[2] == pytest.approx(69.25)
    # Steiner's formula again, half the kerf of 1.5 all round.
    assert area(cleat) == pytest.approx(160.0 * 80.0 + 480.0 * 0.75 + math.pi * 0.75**2)
    assert write(layout, PARTS, RULE, replace(how, kerf_offset=False)) != data
