"""Numbers stand on the metal of their part, inside its edges, at a size that can be read."""

from __future__ import annotations

import shapely
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.pages.lettering import text_width
from sheetplan.pages.numbering import LARGEST, LINE_SHARE, SMALLEST, Spot, spot_for

ROUNDING = 1e-6


def room(text: str, spot: Spot) -> shapely.Polygon:
    across, along = text_width(text, spot.size) / 2, LINE_SHARE * spot.size / 2
    dx, dy = (along, across) if spot.upward else (across, along)
    return shapely.box(spot.x - dx, spot.y - dy, spot.x + dx, spot.y + dy)


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


@given(parts(), st.sampled_from(["1", "12", "CB-101", "DK-CLEAT-12A"]))
def test_a_number_stays_on_its_metal(metal: shapely.Polygon, text: str) -> None:
    spot = spot_for(text, metal)
    if spot is not None:
        assert SMALLEST <= spot.size <= LARGEST
        assert metal.buffer(ROUNDING).contains(room(text, spot))


def test_a_roomy_part_takes_the_largest_type() -> None:
    spot = spot_for("CB-101", shapely.box(0, 0, 200, 50))
    assert spot == Spot(100.0, 25.0, LARGEST)


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
