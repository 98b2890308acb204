"""Rings of seen points against loops that they were taken from."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely

pytest.importorskip("cv2", reason="OpenCV is not installed: pip install 'sheetplan[picture]'")

from sheetplan.pictures.fitting import Fitted, _joined, _piece, fit_ring, interruptions, soft_tips
from sheetplan.pictures.outline import _without_spikes, even
from sheetplan.shapes import flatten, to_polygon


def interrupted(fitted: Fitted, points: np.ndarray, within: float) -> float:
    return max((depth for depth, _ in interruptions(fitted, points, within)), default=0.0)


def soft_tip(fitted: Fitted, points: np.ndarray) -> float:
    return max((float(np.hypot(*(tip - middle))) for middle, tip in soft_tips(fitted, points)), default=0.0)


def bowed_triangle(odd: float) -> tuple[np.ndarray, list[int]]:
    """Counter-clockwise, 20 mm wide, its lower side bowed outward a little but for its middle point."""
    x = np.linspace(0.0, 20.0, 21)
    lower = np.column_stack((x, (x - 10.0) ** 2 / 400.0))
    lower[10, 1] += odd
    right = np.linspace((20.0, 0.25), (10.0, 17.0), 20, endpoint=False)
    left = np.linspace((10.0, 17.0), (0.0, 0.25), 20, endpoint=False)
    return np.vstack((lower[:-1], right, left)), [0, 20, 40]


@pytest.mark.parametrize("odd", [0.0, 0.35, -0.35])
def test_a_nearly_straight_arc_does_not_go_all_the_way_round(odd: float) -> None:
    points, corners = bowed_triangle(odd)
    sure = np.ones(len(points), bool)
    ends = [*corners, corners[0]]
    pieces = [_piece(points, sure, a, b, arc=a == 0) for a, b in pairwise(ends)]
    loop = _joined(points, sure, pieces).loop
    seen = shapely.LinearRing(points)
    assert pieces[0].radius > 100.0
    assert shapely.LinearRing(flatten(loop, 0.01)).hausdorff_distance(seen) < 0.6


@pytest.mark.parametrize("way", [1, -1])
def test_a_slot_of_lines_and_half_circles_is_found(way: int) -> None:
    """Its area by the handbook: a rectangle and a disc."""
    slot = shapely.LineString([(0.0, 0.0), (60.0, 20.0)]).buffer(12.0, 64).exterior
    points = even(np.array(slot.coords)[:-1], 1.5)
    if (shapely.LinearRing(points).is_ccw) != (way > 0):
        points = points[::-1]
    fitted = fit_ring(points, np.ones(len(points), bool), 0.8)
    area = shapely.Polygon(flatten(fitted.loop, 0.01)).area
    assert area == pytest.approx(24.0 * np.hypot(60.0, 20.0) + np.pi * 12.0**2, rel=0.02)
    assert sorted(abs(piece.radius) > 0.0 for piece in fitted.pieces) == [False, False, True, True]


def test_a_spike_is_laid_back_and_a_corner_is_not() -> None:
    along = even(np.array([(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)]), 2.0)
    seen = along.copy()
    spike = np.flatnonzero((np.abs(along[:, 0] - 150.0) < 4.0) & (along[:, 1] < 1.0))
    seen[spike, 1] += 7.0
    mended, spikes = _without_spikes(seen, along, 3.0)
    assert np.flatnonzero(spikes).tolist() == spike.tolist()
    assert np.abs(mended - along).max() < 1e-9


def test_a_spike_of_the_plan_view_alone_is_not_taken_over() -> None:
    seen = even(np.array([(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)]), 2.0)
    along = seen.copy()
    spike = np.flatnonzero((np.abs(along[:, 0] - 150.0) < 4.0) & (along[:, 1] < 1.0))
    along[spike, 1] += 7.0
    mended, spikes = _without_spikes(seen, along, 3.0)
    assert not spikes.any()
    assert np.abs(mended - seen).max() < 1e-9


def bitten(tooth: float) -> np.ndarray:
    """A square with one straight side from which something 8 mm wide stands out by ``tooth`` (mm)."""
    stub = [(104.0, 0.0), (104.0, -tooth), (96.0, -tooth), (96.0, 0.0)][::-1] if tooth else []
    return even(np.array([(0.0, 0.0), *stub, (200.0, 0.0), (200.0, 200.0), (0.0, 200.0)]), 1.5)


@pytest.mark.parametrize(("tooth", "least", "most"), [(0.0, 0.0, 0.0), (9.0, 8.0, 9.5), (-9.0, 8.0, 9.5)])
def test_what_interrupts_a_line_for_a_little_is_told(tooth: float, least: float, most: float) -> None:
    points = bitten(tooth)
    fitted = fit_ring(points, np.ones(len(points), bool), 0.8)
    assert least <= interrupted(fitted, points, 0.8) <= most


def test_a_notch_wide_enough_to_be_seen_is_no_interruption() -> None:
    ring = [(0.0, 0.0), (80.0, 0.0), (80.0, 30.0), (120.0, 30.0), (120.0, 0.0), (200.0, 0.0), (200.0, 200.0)]
    points = even(np.array([*ring, (0.0, 200.0)]), 1.5)
    assert interrupted(fit_ring(points, np.ones(len(points), bool), 0.8), points, 0.8) == 0.0


def test_a_tip_that_was_cut_off_by_the_cells_is_told() -> None:
    """The tip of an angle of 53 degrees, cut across where it is 8.5 mm wide: 8.5 mm high."""
    points = even(np.array([(0.0, 0.0), (120.0, 0.0), (64.25, 111.5), (55.75, 111.5)]), 3.4)
    fitted = fit_ring(points, np.ones(len(points), bool), 1.3)
    assert soft_tip(fitted, points) == pytest.approx(8.5, abs=1.5)
    whole = even(np.array([(0.0, 0.0), (120.0, 0.0), (60.0, 120.0)]), 3.4)
    assert soft_tip(fit_ring(whole, np.ones(len(whole), bool), 1.3), whole) < 1.5


def test_a_dent_that_is_left_of_a_narrow_tip_is_its_corner() -> None:
    """As cells leave it: two short pieces with a hollow between, where two long sides meet beyond."""
    ring = [(4.3, 0.4), (100.0, 10.0), (40.0, 88.0), (1.9, 4.1), (4.5, 3.6)]
    points = even(np.array(ring), 1.0)
    fitted = fit_ring(points, np.ones(len(points), bool), 0.8)
    assert min(float(np.hypot(x, y)) for x, y, _ in fitted.loop.vertices) < 1.0


def test_a_notch_between_long_sides_is_no_dent() -> None:
    ring = [(0.0, 0.0), (60.0, 0.0), (60.0, 30.0), (80.0, 30.0), (80.0, 0.0), (200.0, 0.0), (200.0, 200.0)]
    points = even(np.array([*ring, (0.0, 200.0)]), 1.5)
    loop = fit_ring(points, np.ones(len(points), bool), 0.8).loop
    assert abs(to_polygon(loop, 0.05).area - (200.0 * 200.0 - 20.0 * 30.0)) < 60.0


def with_gap(around: tuple[float, float], wide: float) -> tuple[np.ndarray, np.ndarray]:
    """A rectangle of points 1.5 mm apart, without those near a place."""
    points = even(np.array([(0.0, 0.0), (200.0, 0.0), (200.0, 120.0), (0.0, 120.0)]), 1.5)
    return points[np.hypot(*(points - around).T) > wide], points


@pytest.mark.parametrize("around", [(200.0, 120.0), (100.0, 0.0), (0.0, 0.0)])
def test_a_corner_and_an_edge_go_on_where_they_are_hidden(around: tuple[float, float]) -> None:
    points, whole = with_gap(around, 24.0)
    loop = fit_ring(points, np.ones(len(points), bool), 0.8).loop
    assert len(loop.vertices) == 4
    assert shapely.LinearRing(flatten(loop, 0.01)).hausdorff_distance(shapely.LinearRing(whole)) < 0.8
