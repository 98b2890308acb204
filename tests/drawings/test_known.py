"""Outlines known again: what a program rounds is no change, all else is one."""

from __future__ import annotations

import math

import pytest

from sheetplan.drawings.known import (
    CURVES_SINCE,
    OTHER_READER_MM,
    SAME_MM,
    KnownOutline,
    difference,
    known_of,
    known_text,
)
from sheetplan.drawings.reading.drawing import READER_VERSION
from sheetplan.model.outline import Loop, Outline, Stroke, rectangle

CORNERS = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]


def polygon(*corners: tuple[float, float]) -> Loop:
    return Loop(tuple((x, y, 0.0) for x, y in corners))


def circle(x: float, y: float, radius: float) -> Loop:
    return Loop(((x - radius, y, 1.0), (x + radius, y, 1.0)))


def plate(*holes: Loop, marks: tuple[Stroke, ...] = ()) -> Outline:
    return Outline(rectangle(80.0, 60.0).outer, holes, marks)


def test_the_same_corners_joined_in_another_order_are_another_outline() -> None:
    """A notch to the middle from the top, and one from the side: same size, same area, same corners."""
    top = Outline(polygon(*CORNERS[:3], (5.0, 5.0), CORNERS[3]))
    side = Outline(polygon(*CORNERS[:2], (5.0, 5.0), *CORNERS[2:]))
    # The middle of an edge of 10 lies 2.5 root 2 off the slanting edges of the other.
    assert difference(top, side) == pytest.approx(2.5 * math.sqrt(2.0))
    assert not KnownOutline("x.dxf", top).is_still(side)


@pytest.mark.parametrize("shift", [0.0, 0.5 * SAME_MM, 1.5 * SAME_MM, 3.0])
def test_a_hole_that_moves_is_told_by_how_far_it_moved(shift: float) -> None:
    before, now = plate(circle(20.0, 20.0, 4.0)), plate(circle(20.0 + shift, 20.0, 4.0))
    assert difference(before, now) == pytest.approx(shift, abs=0.003)
    assert KnownOutline("x.dxf", before).is_still(now) is (shift <= SAME_MM)


def test_a_hole_or_a_mark_more_is_a_change() -> None:
    line = Stroke(((10.0, 10.0, 0.0), (70.0, 10.0, 0.0)))
    other = Stroke(((10.0, 12.0, 0.0), (70.0, 12.0, 0.0)))
    assert difference(plate(), plate(circle(20.0, 20.0, 4.0))) == math.inf
    assert difference(plate(), plate(marks=(line,))) == math.inf
    assert difference(plate(marks=(line,)), plate(marks=(other,))) == pytest.approx(2.0)
    assert difference(plate(marks=(line,)), plate(marks=(line, other))) == pytest.approx(2.0)


def test_only_other_arcs_in_the_place_of_curves_are_a_reason_to_allow_more() -> None:
    before, now = plate(circle(20.0, 20.0, 4.0)), plate(circle(20.1, 20.0, 4.0))
    assert SAME_MM < 0.1 < OTHER_READER_MM
    for reader, still in ((READER_VERSION, False), (CURVES_SINCE, False), (CURVES_SINCE - 1, True)):
        assert KnownOutline("x.dxf", before, reader).is_still(now) is still


def test_what_is_kept_is_what_was_known() -> None:
    known = {"cap": KnownOutline("x.dxf#2", plate(circle(20.0, 20.0, 4.0)), CURVES_SINCE)}
    assert known_of(known_text(known)) == known
    with pytest.raises(ValueError, match="damaged"):
        known_of('{"format": 1, "parts": 3}')
