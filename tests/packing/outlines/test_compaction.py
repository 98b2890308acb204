"""Convex pieces, held directions and the press, against shapely."""

from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from sheetplan.packing.outlines.compaction import Press, convex_pieces, convexes_of, held_directions
from tests.packing.outlines.test_no_fit import blobs


def press_of(
    solids: Sequence[shapely.Polygon],
    gap: float,
    width: float,
    obstacles: Sequence[tuple[shapely.Polygon, float]] = (),
) -> Press:
    return Press(convexes_of(solids), np.array([solid.bounds for solid in solids]), gap, width, obstacles)


@settings(max_examples=60, deadline=None)
@given(blobs())
def test_convex_pieces_cover_the_solid_exactly(solid: shapely.Polygon) -> None:
    pieces = [shapely.Polygon(corners) for corners in convex_pieces(solid)]
    assert sum(piece.area for piece in pieces) == pytest.approx(solid.area)
    assert shapely.union_all(pieces).symmetric_difference(solid).area < 1e-6
    for piece in pieces:
        assert piece.exterior.is_ccw
        assert piece.convex_hull.area == pytest.approx(piece.area, rel=1e-6)


def test_few_pieces_where_few_will_do() -> None:
    # By hand: an angle is two rectangles.
    angle = shapely.Polygon([(0, 0), (10, 0), (10, 2), (2, 2), (2, 10), (0, 10)])
    assert len(convex_pieces(angle)) == 2


@settings(max_examples=60, deadline=None)
@given(blobs(), blobs(), st.floats(-60, 60), st.floats(-60, 60), st.floats(0.0, 8.0))
def test_clearance_of_held_directions_is_never_more_than_the_distance(
    a: shapely.Polygon, b: shapely.Polygon, x: float, y: float, gap: float
) -> None:
    told = (convexes_of([a, b]), np.array([0, 1]), np.array([[0.0, 0.0], [x, y]]), np.full(2, gap))
    _, worst = held_directions(*told, 2, 200.0, np.empty((20000, 5)))
    distance = a.distance(affinity.translate(b, x, y))
    assert worst <= distance - gap + 1e-9
    if distance == 0.0:
        assert worst <= -gap + 1e-9


@settings(max_examples=30, deadline=None)
@given(st.lists(blobs(), min_size=2, max_size=5), st.floats(0.0, 6.0))
def test_pressed_layouts_are_shorter_and_keep_the_gap(solids: list[shapely.Polygon], gap: float) -> None:
    width = 90.0
    press = press_of(solids, gap, width)
    at = np.array([[40.0 + 90.0 * k, 45.0] for k in range(len(solids))])
    before = at[-1, 0] + solids[-1].bounds[2]
    pressed = press.press(np.arange(len(solids)), at, 30.0, np.inf)
    assert pressed is not None
    assert pressed.length <= before + 1e-6
    placed = [affinity.translate(s, *spot) for s, spot in zip(solids, pressed.at, strict=True)]
    for k, one in enumerate(placed):
        left, bottom, right, top = one.bounds
        assert left >= -1e-6
        assert bottom >= -1e-6
        assert top <= width + 1e-6
        assert right <= pressed.length + 1e-6
        for other in placed[:k]:
            assert one.distance(other) >= gap - 2e-5
            assert one.intersection(other).area < 1e-3


def test_two_boxes_are_pressed_to_the_gap_exactly() -> None:
    box = shapely.box(0, 0, 10, 20)
    at = np.array([[3.0, 0.0], [40.0, 0.0]])
    pressed = press_of([box], 2.5, 20.0).press(np.zeros(2, np.int64), at, 30.0, np.inf)
    assert pressed is not None
    assert pressed.length == pytest.approx(22.5, abs=1e-6)


def test_obstacles_stay_clear() -> None:
    post = shapely.box(15, 0, 16, 20)
    press = press_of([shapely.box(0, 0, 10, 20)], 2.0, 20.0, [(post, 5.0)])
    pressed = press.press(np.zeros(1, np.int64), np.array([[30.0, 0.0]]), 20.0, np.inf)
    assert pressed is not None
    assert pressed.at[0, 0] == pytest.approx(21.0, abs=1e-6)


def test_what_cannot_be_moved_apart_is_no_layout() -> None:
    box = shapely.box(0, 0, 10, 20)
    press = press_of([box], 0.0, 20.0)
    assert press.press(np.zeros(2, np.int64), np.array([[0.0, 0.0], [1.0, 0.0]]), 2.0, np.inf) is None


def test_what_is_short_enough_is_pressed_no_further() -> None:
    # By hand: two boxes of 10 want 20; steps of 5 bring the right one from 40 to 35 first.
    press, at = press_of([shapely.box(0, 0, 10, 20)], 0.0, 20.0), np.array([[0.0, 0.0], [40.0, 0.0]])
    pose = np.zeros(2, np.int64)
    pressed = press.press(pose, at, 5.0, np.inf, enough=46.0)
    assert pressed is not None
    assert pressed.length == pytest.approx(45.0, abs=1e-6)
    further = press.press(pose, at, 5.0, np.inf)
    assert further is not None
    assert further.length < 41.0
