import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from sheetplan.packing.outlines.simplifying import MOST_CORNERS, simpler, without_holes_below
from tests.packing.outlines.test_touching import blobs


def wavy(corners: int) -> shapely.Polygon:
    around = np.linspace(0.0, 2.0 * math.pi, corners, endpoint=False)
    radius = 100.0 + 0.05 * np.sin(37.0 * around)
    return shapely.Polygon(np.column_stack((radius * np.cos(around), radius * np.sin(around))))


@settings(max_examples=60, deadline=None)
@given(blobs())
def test_metal_is_never_lost(solid: shapely.Polygon) -> None:
    coarse = simpler(solid, 1.0)
    assert coarse.is_valid
    assert solid.difference(coarse).area < 1e-6
    assert shapely.get_num_coordinates(coarse) <= shapely.get_num_coordinates(solid)


def test_thousands_of_vertices_become_few_and_stay_near() -> None:
    solid = wavy(5000)
    coarse = simpler(solid, 0.2)
    assert solid.difference(coarse).area < 1e-6
    assert shapely.get_num_coordinates(coarse) <= MOST_CORNERS
    assert coarse.hausdorff_distance(solid) < 2.0


def test_straight_sides_keep_their_place() -> None:
    plate = shapely.Polygon([(0, 0), (100, 0), (100, 40), (60, 40), (60.05, 39.9), (50, 40), (0, 40)])
    assert simpler(plate, 0.5).bounds == plate.bounds


def test_holes_too_small_for_any_part_are_filled() -> None:
    plate = shapely.box(0, 0, 100, 100)
    holes = shapely.union_all([shapely.Point(20, 20).buffer(2), shapely.box(50, 50, 90, 90)])
    pierced = plate.difference(holes)
    filled = without_holes_below(pierced, 100.0)
    assert [shapely.Polygon(hole).area for hole in filled.interiors] == [pytest.approx(1600.0)]
