"""What is hidden of a ring, what is vague, and what of a reading is certain all the same."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

pytest.importorskip("cv2", reason="OpenCV is not installed: pip install 'sheetplan[picture]'")

from sheetplan.model.outline import Loop
from sheetplan.model.turns import Corner
from sheetplan.pictures.doubt import (
    region_of,
    soft_places,
    told_apart,
    two_ways,
    unclear,
    unseen_places,
    usual_crispness,
    vague,
)
from sheetplan.pictures.fitting import fit_ring
from sheetplan.pictures.marks import edge_offsets
from sheetplan.pictures.outline import Ring, even
from sheetplan.pictures.reading import Reading, _datum_lean
from sheetplan.shapes import to_polygon

Array = np.ndarray


def ring_of(points: Array) -> Ring:
    """Seen sharply all round."""
    no = np.zeros(len(points))
    sure, picture = np.ones(len(points), bool), np.zeros(len(points), np.intp)
    return Ring(points, sure, picture, no, no + 0.5, no + np.nan, no + 0.8)


SQUARE = np.array([(0.0, 0.0), (0.0, 60.0), (60.0, 60.0), (60.0, 0.0)])


def test_an_opening_seen_sharply_is_not_vague() -> None:
    ring = ring_of(even(SQUARE, 1.5))
    assert not vague(fit_ring(ring.points, ring.sure, 0.8), ring, 0.8, 0.8)


@pytest.mark.parametrize("what", ["soft", "a stretch", "here and there"])
def test_an_opening_with_a_soft_border_is_vague(what: str) -> None:
    """As a spot of rust in a shadow has, which is as dark as the floor."""
    ring = ring_of(even(SQUARE, 1.5))
    along = np.arange(len(ring.points))
    match what:
        case "soft":
            ring = replace(ring, crisp=np.where(along % 5 == 0, 0.4, 0.8))
        case "a stretch":
            ring = replace(ring, sure=(along < 20) | (along > 32))
        case _:
            ring = replace(ring, sure=along % 3 > 0)
    assert vague(fit_ring(ring.points, ring.sure, 0.8), ring, 0.8, 0.8)


def test_an_opening_softer_than_the_sheets_other_edges_is_vague() -> None:
    """Rust in glare: crisp by itself, and less so than any cut edge of the sheet."""
    spot = replace(ring_of(even(SQUARE, 1.5)), crisp=np.full(160, 0.6))
    edge = ring_of(even(10.0 * SQUARE, 1.5))
    assert usual_crispness([edge, spot]) == pytest.approx(0.8)
    assert vague(fit_ring(spot.points, spot.sure, 0.8), spot, 0.8, 0.8)
    assert not vague(fit_ring(spot.points, spot.sure, 0.8), spot, 0.8, 0.6)


def test_a_corner_cut_off_along_the_border_of_rust_is_hidden_with_the_corner() -> None:
    clipped = np.array([(0.0, 0.0), (0.0, 300.0), (275.0, 300.0), (300.0, 270.0), (300.0, 0.0)])
    points = even(clipped, 1.5)
    slanted = (points[:, 0] > 275.5) & (points[:, 1] > 270.5)
    ring = replace(ring_of(points), crisp=np.where(slanted, 0.6, 0.8))
    hidden = shapely.union_all(list(soft_places(ring, 0.8)))
    assert hidden.covers(shapely.Polygon([(275.0, 300.0), (300.0, 300.0), (300.0, 270.0)]))
    assert hidden.area < 2.0 * 30.0 * 35.0, "and nothing else"
    assert list(soft_places(ring_of(points), 0.8)) == []


def test_a_notch_along_the_border_of_rust_is_hidden_to_the_edge_that_goes_on() -> None:
    notch = [(120.0, 300.0), (130.0, 285.0), (150.0, 285.0), (160.0, 300.0)]
    notched = np.array([(0.0, 0.0), (0.0, 300.0), *notch, (300.0, 300.0), (300.0, 0.0)])
    points = even(notched, 1.5)
    inside = (points[:, 0] > 119.0) & (points[:, 0] < 161.0) & (points[:, 1] > 280.0)
    ring = replace(ring_of(points), crisp=np.where(inside, 0.6, 0.8))
    hidden = shapely.union_all(list(soft_places(ring, 0.8)))
    assert hidden.covers(shapely.LineString([(122.0, 300.0), (158.0, 300.0)]))
    assert hidden.area < 2.0 * 45.0 * 20.0


def test_a_long_soft_edge_is_hidden_along_itself_and_not_what_it_goes_round() -> None:
    points = even(5.0 * SQUARE, 1.5)
    ring = replace(ring_of(points), crisp=np.where(points[:, 0] > 1.0, 0.5, 0.8))
    parts = list(soft_places(ring, 0.8))
    assert not shapely.union_all(parts).covers(shapely.Point(150.0, 150.0))
    assert max(part.convex_hull.area for part in parts) < 60.0 * 60.0


def test_what_only_bridges_a_hidden_place_is_hidden() -> None:
    points = even(5.0 * SQUARE, 1.5)
    gap = (points[:, 0] > 100.0) & (points[:, 0] < 190.0) & (points[:, 1] > 299.0)
    ring = ring_of(points).only(~gap)
    hidden = shapely.union_all(list(unseen_places(fit_ring(ring.points, ring.sure, 0.8), ring)))
    assert hidden.covers(shapely.LineString([(103.0, 300.0), (187.0, 300.0)]))
    assert hidden.area < 110.0 * 10.0
    whole = ring_of(points)
    assert list(unseen_places(fit_ring(points, whole.sure, 0.8), whole)) == []


def test_points_in_what_is_hidden_are_left_out_and_nothing_is_claimed_there() -> None:
    bump = [(25.0, 60.0), (25.0, 68.0), (37.0, 68.0), (37.0, 60.0)]
    points = even(np.vstack((SQUARE[:2], bump, SQUARE[2:])), 1.5)
    region = region_of([np.array([(22.0, 56.0), (40.0, 56.0), (40.0, 70.0), (22.0, 70.0)])])
    [ring], [rough] = told_apart([ring_of(points)], [points], region)
    assert len(ring.points) == len(rough) < len(points) - 8
    fitted = fit_ring(ring.points, ring.sure, 0.8)
    assert shapely.Polygon([v[:2] for v in fitted.loop.vertices]).area == pytest.approx(3600.0, rel=0.01)
    assert max((far for far, _ in two_ways(fitted, ring, rough, 0.8, 1.0, region)), default=0.0) < 0.5


def test_an_edge_that_is_hidden_over_two_corners_is_told() -> None:
    """Where it goes in glare is not said by what is left of it."""
    points = even(5.0 * SQUARE[::-1], 1.5)
    [ring], _ = told_apart([ring_of(points)], [points], shapely.box(-9.0, -9.0, 320.0, 100.0))
    why = [said for _, said in unclear(fit_ring(ring.points, ring.sure, 0.8), ring, 0.8)]
    assert len(why) == 1
    assert "all of it is hidden" in why[0]


def test_an_opening_that_is_hidden_nearly_wholly_is_left_out() -> None:
    region = region_of([np.array([(-5.0, -5.0), (65.0, -5.0), (65.0, 58.0), (-5.0, 58.0)])])
    assert told_apart([ring_of(even(SQUARE, 1.5))], [even(SQUARE, 1.5)], region) == ([], [])


def reading(*hidden: Loop) -> Reading:
    edge = Loop(((0.0, 0.0, 0.0), (300.0, 0.0, 0.0), (300.0, 200.0, 0.0), (0.0, 200.0, 0.0)))
    return Reading(edge, (), hidden, 2.0, Corner.LOWER_LEFT, None, None, (), 1.0)  # type: ignore[arg-type]


def rectangle(left: float, low: float, wide: float, high: float) -> Loop:
    right, top = left + wide, low + high
    return Loop(((left, low, 0.0), (right, low, 0.0), (right, top, 0.0), (left, top, 0.0)))


@pytest.mark.parametrize("at", [(100.0, 80.0), (-3.0, 90.0), (-5.0, -5.0), (280.0, 185.0)])
def test_what_is_hidden_is_no_certain_metal(at: tuple[float, float]) -> None:
    """Amid the sheet, at its edge, at its datum corner, at another; each with the claimed error round it."""
    edge, cuts = reading(rectangle(*at, 30.0, 24.0)).sure
    metal = to_polygon(edge, 0.01)
    for cut in cuts:
        metal = metal - to_polygon(cut, 0.01)
    spot = shapely.box(*at, at[0] + 30.0, at[1] + 24.0)
    thin = metal.buffer(-0.15).buffer(0.15)
    assert thin.intersection(spot).area < 1e-6
    assert thin.distance(spot) > 1.9
    assert math.hypot(*min(edge.vertices, key=lambda v: math.hypot(*v[:2]))[:2]) < 1e-9


def test_the_sheet_is_squared_by_the_edge_from_its_datum_corner() -> None:
    """The other end is off square by 0.3 degrees, as where a slat lies along it."""
    loop = Loop(((0.0, 0.0, 0.0), (500.0, 1.0, 0.0), (502.0, 400.0, 0.0), (-0.8, 399.0, 0.0)))
    assert _datum_lean(loop, Corner.LOWER_LEFT) == pytest.approx(-math.degrees(math.atan2(1.0, 500.0)))


def test_an_edge_of_another_colour_as_bright_is_found_before_a_stronger_one() -> None:
    """Metal, a slat as bright, the floor; brightness by ITU-R BT.601: 0.299 R + 0.587 G + 0.114 B."""
    row = np.empty((1, 60, 3))
    row[:, :30], row[:, 30:34], row[:, 34:] = (150, 150, 150), (168, 148, 111), (50, 45, 40)
    picture = np.repeat(row, 20, axis=0).astype(np.uint8)
    places, across = np.array([(31.0, 10.0)]), np.array([(1.0, 0.0)])
    grey = np.round(picture @ (0.299, 0.587, 0.114)).astype(np.uint8)
    assert 31.0 + edge_offsets(grey, places, across, 8.0, first=0.35)[0][0] == pytest.approx(33.5, abs=0.4)
    assert 31.0 + edge_offsets(picture, places, across, 8.0, first=0.35)[0][0] == pytest.approx(29.5, abs=0.4)
