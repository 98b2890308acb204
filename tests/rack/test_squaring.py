"""Squaring: examples worked by hand, and scipy as a judge of fits."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from sheetplan.drawings.layers import Role
from sheetplan.drawings.writing.scene import Curve, Label, Scene
from sheetplan.model import Corner, Loop, Stroke
from sheetplan.rack.squaring import (
    check_points,
    check_scene,
    laid,
    lie_from_angle,
    lie_from_edge,
    lie_from_points,
)
from sheetplan.shapes import area
from tests.rack.shapes_of_cuts import block, circle

LENGTH, WIDTH = 100.0, 50.0


def test_a_sheet_turned_as_a_3_4_5_triangle() -> None:
    # Worked by hand: cos = 4/5, sin = 3/5. The far end of a 100 mm edge from (10, 20) lies at
    # (10 + 80, 20 + 60); a point 50 up the width lies 30 to the left of and 40 above the corner.
    lie = lie_from_points([(0, 0), (100, 0)], [(10, 20), (90, 80)])
    assert lie.turn == pytest.approx(math.degrees(math.atan2(3, 4)))
    assert (lie.x, lie.y) == pytest.approx((10, 20))
    assert lie.worst == pytest.approx(0, abs=1e-12)
    assert lie.at((0, 50)) == pytest.approx((10 - 30, 20 + 40))
    assert lie.at((100, 50)) == pytest.approx((10 + 80 - 30, 20 + 60 + 40))


def test_the_same_from_a_point_anywhere_on_the_edge_and_from_an_angle() -> None:
    by_edge = lie_from_edge((10, 20), (10 + 4, 20 + 3))
    by_angle = lie_from_angle((10, 20), 36.86989764584402)  # atan(3/4) in degrees, from a table
    for lie in (by_edge, by_angle):
        assert lie.at((100, 0)) == pytest.approx((90, 80))


def test_a_corner_at_the_right_end_looks_back_along_the_edge() -> None:
    # By hand: datum at the lower right at (90, 80), the edge runs to the left and down to (10, 20).
    lie = lie_from_edge((90, 80), (10, 20), backwards=True)
    assert lie.at((-100, 0)) == pytest.approx((10, 20))
    assert lie.at((0, 50)) == pytest.approx((90 - 30, 80 + 40))


@pytest.mark.parametrize("degrees", [0.01, 0.1, 0.5, 1.0, -0.25])
def test_small_turns(degrees: float) -> None:
    # By hand: at a distance L a small turn of a degrees lifts the far end by L x a x pi / 180,
    # short of the sine by less than (a in radians) cubed / 6.
    lie = lie_from_angle((0, 0), degrees)
    radians = degrees * math.pi / 180
    x, y = lie.at((2438.4, 0))
    assert y == pytest.approx(2438.4 * radians, abs=2438.4 * abs(radians) ** 3 / 6 + 1e-9)
    assert x == pytest.approx(2438.4 * (1 - radians**2 / 2), abs=2438.4 * radians**4)


def test_the_error_of_a_measured_length_is_shared_by_both_ends() -> None:
    lie = lie_from_points([(0, 0), (100, 0)], [(0, 0), (100.6, 0)])
    assert lie.worst == pytest.approx(0.3)
    assert (lie.x, lie.y) == pytest.approx((0.3, 0))


@pytest.mark.parametrize(
    ("sheet", "table"),
    [([(0, 0)], [(1, 1)]), ([(0, 0), (0, 0)], [(1, 1), (2, 2)]), ([(0, 0), (9, 0)], [(1, 1), (1, 1)])],
)
def test_points_that_tell_no_turn_are_refused(sheet: list, table: list) -> None:
    with pytest.raises(ValueError, match="points"):
        lie_from_points(sheet, table)


POINTS = st.lists(st.tuples(st.floats(0, 3000), st.floats(0, 1500)), min_size=3, max_size=7, unique=True)

SHIFT = st.floats(-500, 500)


def spread(points: list[tuple[float, float]]) -> float:
    return float(np.ptp(np.array(points), axis=0).max())


@settings(max_examples=80, deadline=None)
@given(POINTS, st.floats(-180, 180), st.tuples(SHIFT, SHIFT), st.integers(0, 99))
def test_three_and_more_points_fit_as_well_as_scipy_can(
    points: list[tuple[float, float]], degrees: float, shift: tuple[float, float], seed: int
) -> None:
    if spread(points) < 50:
        return
    noise = np.random.default_rng(seed).normal(0, 0.5, (len(points), 2))
    true = lie_from_angle(shift, degrees)
    found = [tuple(np.array(true.at(p)) + n) for p, n in zip(points, noise, strict=True)]
    lie = lie_from_points(points, found)

    def residuals(v: np.ndarray) -> np.ndarray:
        turned = np.array([lie_from_angle((v[1], v[2]), math.degrees(v[0])).at(p) for p in points])
        return (turned - np.array(found)).ravel()

    # Judge: scipy.optimize.least_squares, started from the true lie.
    best = least_squares(residuals, [math.radians(degrees), *shift], method="lm", x_scale=(1e-3, 1.0, 1.0))
    ours = residuals(np.array([math.radians(lie.turn), lie.x, lie.y]))
    assert (ours @ ours) <= 2 * best.cost * (1 + 1e-9) + 1e-9
    assert lie.worst == pytest.approx(np.hypot(*ours.reshape(-1, 2).T).max(), abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(POINTS, st.floats(-180, 180), st.integers(0, 99))
def test_the_turn_is_that_of_scipys_rotation_fit(
    points: list[tuple[float, float]], degrees: float, seed: int
) -> None:
    if spread(points) < 50:
        return
    sheet = np.array(points)
    noise = np.random.default_rng(seed).normal(0, 0.2, sheet.shape)
    table = np.array([lie_from_angle((5, 7), degrees).at(p) for p in points]) + noise
    flat = [np.column_stack((a - a.mean(axis=0), np.zeros(len(a)))) for a in (table, sheet)]
    # Judge: scipy.spatial.transform.Rotation.align_vectors (Kabsch), the points in the plane z = 0.
    # A normal to the plane is added so that points in one line fix the turn in space too.
    normal = np.array([[0, 0, 1e4]])
    rotation, _ = Rotation.align_vectors(*(np.concatenate((a, normal)) for a in flat))
    lie = lie_from_points(points, [tuple(p) for p in table])
    difference = (rotation.as_euler("xyz", degrees=True)[2] - lie.turn) % 360
    assert min(difference, 360 - difference) < 1e-6


def scene() -> Scene:
    edge = block(0, 0, LENGTH, WIDTH)
    hole, outline = circle(30, 20, 5), block(60, 10, 80, 30)
    return Scene(
        "L1", edge, Corner.LOWER_RIGHT, (LENGTH, 0.0),
        (
            Curve(Role.SHEET, edge), Curve(Role.OLD_CUT, hole), Curve(Role.OUTLINE, outline, 0),
            Curve(Role.MARK, Stroke(((62, 12, 0.0), (70, 12, 0.0))), 0),
        ),
        (Label(Role.LABEL, "P", 70, 20, 5, 0.0, 0),),
    )  # fmt: skip


def test_a_layout_is_laid_from_its_datum_corner() -> None:
    turned = laid(scene(), lie_from_angle((90, 80), math.degrees(math.atan2(3, 4))))
    assert turned.origin == (0, 0)
    # The datum corner (100, 0) lies at (90, 80); the other end of the edge 80 left, 60 down of it.
    assert turned.sheet.vertices[1][:2] == pytest.approx((90, 80))
    assert turned.sheet.vertices[0][:2] == pytest.approx((10, 20))
    assert turned.labels[0].turn == pytest.approx(36.8699, abs=1e-4)
    # 70 - 100 = -30 along, 20 across: 90 - 24 - 12, 80 - 18 + 16.
    assert (turned.labels[0].x, turned.labels[0].y) == pytest.approx((54, 78))
    for before, after in zip(scene().curves, turned.curves, strict=True):
        if isinstance(before.chain, Loop):
            assert area(after.chain) == pytest.approx(area(before.chain))
            assert [v[2] for v in after.chain.vertices] == [v[2] for v in before.chain.vertices]


def test_the_drawing_to_compare_holds_no_parts() -> None:
    compared = check_scene(laid(scene(), lie_from_angle((0, 0), 1.0)))
    assert {curve.role for curve in compared.curves} == {Role.SHEET, Role.OLD_CUT, Role.LABEL}
    assert len(check_points(scene())) == 4 + 2


def test_points_to_compare_are_the_corners_and_both_ends_of_old_cuts() -> None:
    """The cut is a circle of 5 about (30, 20), begun at its left; farthest from that is its right."""
    corners = [(0, 0), (LENGTH, 0), (LENGTH, WIDTH), (0, WIDTH)]
    points = check_points(scene())
    assert sorted(points[:4]) == sorted(corners)
    assert sorted(points[4:]) == [(25, 20), (35, 20)]
    no_cut = replace(scene(), curves=tuple(c for c in scene().curves if c.role is not Role.OLD_CUT))
    assert sorted(check_points(no_cut)) == sorted(corners)
