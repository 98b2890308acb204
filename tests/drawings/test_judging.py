import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.drawings import quick
from sheetplan.drawings.judging import (
    CutLimits,
    _surely_wider,
    _widest,
    cut_limits,
    judge,
    small_holes_marked,
)
from sheetplan.drawings.reading.findings import Says
from sheetplan.model.job import CuttingRule
from sheetplan.model.outline import Loop, Outline
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from tests.shapes.strategies import circle, star_loops

LIMITS = CutLimits(kerf=1.5, least_hole=6.0, least_web=6.0)


def found(outline: Outline, limits: CutLimits = LIMITS) -> list[tuple[Says, str]]:
    return [(finding.says, str(finding)) for finding in judge(outline, limits, Units.MM)]


def polygon(*points: tuple[float, float]) -> Loop:
    return Loop(tuple((x, y, 0.0) for x, y in points))


def test_a_sound_part_has_nothing_to_say() -> None:
    assert found(quick.plate(200.0, 100.0, radius=10.0, bolts=quick.Bolts(10.0, 20.0))) == []


def test_limits_of_a_rule() -> None:
    ten = Thickness(10.0, "10 mm")
    assert cut_limits(CuttingRule("steel", ten, 1.5, 6.0, 10.0)) == CutLimits(1.5, 0.0, 0.0)
    rule = CuttingRule("steel", ten, 1.5, 6.0, 10.0, 8.0, least_web=5.0)
    assert cut_limits(rule) == CutLimits(1.5, 8.0, 5.0)


def test_without_limits_only_the_kerf_counts() -> None:
    none = CutLimits(kerf=1.5, least_hole=0.0, least_web=0.0)
    strap = quick.strap(200.0, 60.0, 40.0, 2.8, inset=3.0)
    assert found(strap, none) == []
    assert small_holes_marked(strap, none) == strap
    narrow = quick.plate(200.0, 100.0, bolts=quick.Bolts(1.4, 20.0))
    assert found(narrow, none)[0][0] is Says.WRONG
    assert not small_holes_marked(narrow, none).holes


@pytest.mark.parametrize(
    ("diameter", "says", "text"),
    [
        (6.0, None, ""),
        (5.9, Says.ASKED, "4 holes below the least of 6 mm, the smallest 5.9 mm at (20, 20)"),
        (1.4, Says.WRONG, "a hole 1.4 mm wide is narrower than the kerf of 1.5 mm at (20, 20)"),
    ],
)
def test_small_holes(diameter: float, says: Says | None, text: str) -> None:
    got = found(quick.plate(200.0, 100.0, bolts=quick.Bolts(diameter, 20.0)))
    assert (got[0] if got else (None, "")) == (says, text)


def test_a_slot_is_as_wide_as_it_is_narrow() -> None:
    strap = quick.strap(200.0, 60.0, 40.0, 4.0, inset=20.0)
    assert "2 holes below the least of 6 mm, the smallest 4 mm" in found(strap)[0][1]


def test_webs_between_holes_and_to_the_edge() -> None:
    plate = Outline(quick.plate(200.0, 100.0).outer, (circle(50.0, 50.0, 10.0), circle(74.0, 50.0, 10.0)))
    assert found(plate) == [
        (Says.ASKED, "a web of 4 mm between two cuts at (62, 50); the least is 6 mm"),
    ]
    edge = Outline(quick.plate(200.0, 100.0).outer, (circle(50.0, 13.0, 10.0),))
    assert found(edge) == [(Says.ASKED, "a web of 3 mm between two cuts at (50, 1.5); the least is 6 mm")]


def test_a_neck() -> None:
    waist = Outline(polygon(
        (0, 0), (40, 0), (40, 18), (60, 18), (60, 0), (100, 0),
        (100, 40), (60, 40), (60, 22), (40, 22), (40, 40), (0, 40),
    ))  # fmt: skip
    says = [text for _, text in found(waist)]
    assert "a neck narrower than the least web of 6 mm at (50, 20)" in says


def test_the_whole_part_is_too_thin() -> None:
    assert found(quick.plate(200.0, 5.0))[0][1].startswith("the whole part is narrower")


def test_a_notch_narrower_than_the_kerf() -> None:
    notch = Outline(polygon(
        (0, 0), (100, 0), (100, 50), (51, 50), (51, 20), (50, 20), (50, 50), (0, 50),
    ))  # fmt: skip
    says = found(notch)
    assert any("a slot or corner narrower than the kerf" in text for _, text in says)
    wide = Outline(polygon(
        (0, 0), (100, 0), (100, 50), (53, 50), (53, 20), (50, 20), (50, 50), (0, 50),
    ))  # fmt: skip
    assert not any("narrower than the kerf" in text for _, text in found(wide))


def test_inside_corners_are_counted() -> None:
    says = found(quick.ell(150.0, 120.0, 40.0))
    assert says == [(Says.TOLD, "1 inside corner will come out with a radius of 0.75 mm")]
    window = Outline(quick.plate(200.0, 100.0).outer, (polygon((50, 30), (90, 30), (90, 70), (50, 70)),))
    assert found(window) == [(Says.TOLD, "4 inside corners will come out with a radius of 0.75 mm")]


def test_radii_smaller_than_the_kerf_count_as_corners() -> None:
    b = math.tan(math.pi / 8)
    hole = Loop((
        (50.5, 30, 0.0), (89.5, 30, b), (90, 30.5, 0.0), (90, 69.5, b),
        (89.5, 70, 0.0), (50.5, 70, b), (50, 69.5, 0.0), (50, 30.5, b),
    ))  # fmt: skip
    window = Outline(quick.plate(200.0, 100.0).outer, (hole,))
    assert found(window) == [(Says.TOLD, "4 inside corners will come out with a radius of 0.75 mm")]


def test_tiny_parts() -> None:
    assert found(quick.disc(76.0)) == [(Says.TOLD, "no longer than 76.2 mm: it may fall between the slats")]
    assert found(quick.disc(77.0)) == []


def test_small_holes_become_centre_marks() -> None:
    plate = quick.plate(200.0, 100.0, bolts=quick.Bolts(5.0, 20.0))
    marked = small_holes_marked(plate, LIMITS)
    assert marked.holes == ()
    assert len(marked.marks) == 8
    assert marked.marks[0].vertices == ((17.5, 20.0, 0.0), (22.5, 20.0, 0.0))
    assert small_holes_marked(plate, CutLimits(1.5, 5.0, 6.0)) == plate


def test_an_even_polygon_is_no_wider_than_between_its_flats() -> None:
    corners = [(20.0 * math.cos(math.pi * i / 4), 20.0 * math.sin(math.pi * i / 4)) for i in range(8)]
    flats = 40.0 * math.cos(math.pi / 8)
    assert _surely_wider(polygon(*corners), flats - 1.0)
    assert not any(_surely_wider(polygon(*corners), flats + more) for more in (0.0, 0.5, 1.0, 2.0, 3.0))


@settings(max_examples=150, deadline=None)
@given(star_loops(reach=20.0), st.floats(0.9, 1.1))
def test_no_hole_is_waved_through_that_is_too_small(hole: Loop, share: float) -> None:
    """Stars with bulging sides, asked about at widths close to their own."""
    width = _widest(hole)[2]
    if _surely_wider(hole, share * width):
        assert width >= share * width
    assert _surely_wider(hole, 0.9 * width - 1.0)
