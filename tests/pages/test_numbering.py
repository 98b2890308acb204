"""Numbers stand on the metal of their part, inside its edges, at a size that can be read."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.pages.drawing.lettering import text_width
from sheetplan.pages.drawing.numbering import LARGEST, LINE_SHARE, SMALLEST, Spot, spot_for

ROUNDING = 1e-6


def room(spot: Spot) -> shapely.Polygon:
    """What the words of a spot take, all lines together."""
    boxes = []
    for word in spot.words(0.0, 0.0, "#000000"):
        across, along = text_width(word.text, word.size) / 2, LINE_SHARE * word.size / 2
        dx, dy = (along, across) if word.upward else (across, along)
        boxes.append(shapely.box(word.x - dx, word.y - dy, word.x + dx, word.y + dy))
    return shapely.unary_union(boxes)


@st.composite
def parts(draw: st.DrawFn) -> shapely.Polygon:
    """Rectangles, rings, discs and angles, from far too small to roomy."""
    wide, high = draw(st.floats(1.0, 120.0)), draw(st.floats(1.0, 120.0))
    solid = draw(st.sampled_from(["rectangle", "disc", "angle"]))
    metal = shapely.Point(0, 0).buffer(wide / 2) if solid == "disc" else shapely.box(0, 0, wide, high)
    if solid == "angle":
        leg = draw(st.floats(0.1, 0.9))
        metal = metal.difference(shapely.box(wide * leg, high * leg, wide * 2, high * 2))
    hole = draw(st.floats(0.0, 0.45))
    if solid != "angle" and hole > 0.01:
        centre = metal.centroid
        metal = metal.difference(centre.buffer(hole * min(wide, high if solid != "disc" else wide)))
    return metal


@given(parts(), st.sampled_from(["1", "12", "CB-101", "DK-CLEAT-12A", "gusset, left hand"]), st.booleans())
def test_a_number_stays_on_its_metal(metal: shapely.Polygon, text: str, may_break: bool) -> None:
    spot = spot_for(text, metal, may_break=may_break)
    if spot is not None:
        assert SMALLEST <= spot.size <= LARGEST
        assert metal.buffer(ROUNDING).contains(room(spot))


def test_a_roomy_part_takes_the_largest_type() -> None:
    spot = spot_for("CB-101", shapely.box(0, 0, 200, 50))
    assert spot == Spot(("CB-101",), 100.0, 25.0, LARGEST)


def test_a_tall_narrow_part_is_read_upwards() -> None:
    spot = spot_for("CB-101", shapely.box(0, 0, 14, 200))
    assert spot is not None
    assert spot.upward


def test_a_turn_must_be_worth_it() -> None:
    # Upright the number just fits at a size read at ease; upwards it would be larger.
    spot = spot_for("CB-101", shapely.box(0, 0, 33, 60))
    assert spot is not None
    assert not spot.upward


def test_too_small_is_said_and_not_squeezed() -> None:
    assert spot_for("CB-101", shapely.box(0, 0, 12, 6)) is None


def test_a_ring_has_its_number_on_the_metal_and_not_in_the_hole() -> None:
    ring = shapely.Point(0, 0).buffer(60).difference(shapely.Point(0, 0).buffer(40))
    spot = spot_for("1", ring)
    assert spot is not None
    assert 40 < shapely.Point(spot.x, spot.y).distance(shapely.Point(0, 0)) < 60


def test_a_long_name_is_broken_where_one_line_does_not_fit_at_ease() -> None:
    square = shapely.box(0, 0, 40, 40)
    assert spot_for("gusset, left hand", square) is None
    spot = spot_for("gusset, left hand", square, may_break=True)
    assert spot is not None
    assert spot.lines == ("gusset,", "left hand")


def test_a_short_name_is_left_whole() -> None:
    spot = spot_for("CB-101", shapely.box(0, 0, 60, 60), may_break=True)
    assert spot is not None
    assert spot.lines == ("CB-101",)


@given(st.text(alphabet="ab -_/", max_size=12))
def test_breaking_loses_no_letters(name: str) -> None:
    spot = spot_for(name or "a", shapely.box(0, 0, 25, 400), may_break=True)
    if spot:
        assert "".join(spot.lines).replace(" ", "") == (name or "a").replace(" ", "")


def test_four_corners_are_not_yet_a_rectangle() -> None:
    gusset = shapely.Polygon([(0, 2), (2, 0), (25, 0), (0, 25)])
    leaning = shapely.Polygon([(0, 0), (30, 0), (60, 60), (58, 60)])
    for metal in (gusset, leaning):
        spot = spot_for("2", metal)
        assert spot is not None
        assert metal.buffer(ROUNDING).contains(room(spot))


def test_a_thin_bent_part_is_named_along_an_arm() -> None:
    """An L of two arms, each as wide as a line of type is high: no point of a coarse grid lies in an arm."""
    ell = shapely.Polygon(((0, 0), (54, 0), (54, 9), (9, 9), (9, 81), (0, 81)))
    spot = spot_for("LB-402", ell)
    assert spot is not None
    assert spot.size >= 7.0
    reach = text_width("LB-402", spot.size) / 2, LINE_SHARE * spot.size / 2
    across, along = reach[::-1] if spot.upward else reach
    assert ell.contains(shapely.box(spot.x - across, spot.y - along, spot.x + across, spot.y + along))


def test_a_letter_stands_before_the_name_where_both_fit() -> None:
    spot = spot_for("CB-101", shapely.box(0, 0, 120, 30), letter="AB")
    assert spot is not None
    letter, name = spot.words(0.0, 0.0, "#000000")
    assert (letter.text, letter.bold, name.text, name.bold) == ("AB", True, "CB-101", False)
    ends = letter.x + text_width("AB", letter.size, bold=True) / 2
    starts = name.x - text_width("CB-101", name.size) / 2
    assert 1.0 < starts - ends < 4.0
    outer = starts + text_width("CB-101", name.size), letter.x - text_width("AB", letter.size, bold=True) / 2
    assert sum(outer) / 2 == pytest.approx(60.0)


def test_a_letter_gives_way_where_the_name_alone_is_read_better() -> None:
    spot = spot_for("CB-101", shapely.box(0, 0, 30, 9), letter="AB")
    assert spot is not None
    assert [mark.text for mark in spot.words(0.0, 0.0, "#000000")] == ["CB-101"]


def test_a_smaller_key_with_its_letter_is_better_than_a_larger_one_without() -> None:
    """By hand: the key alone stands at 10 points; with an F and the gap, 1.6 em, at 6.5 of 11 free points."""
    spot = spot_for("7", shapely.box(0, 0, 13, 12), letter="F")
    assert spot is not None
    assert (spot.letter, spot.size) == ("F", 6.5)
