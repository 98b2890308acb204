import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from sheetplan.packing.outlines.simplifying import LOOSEST, MOST_CORNERS, simpler
from tests.packing.outlines.test_touching import blobs

SAMPLE_MM = 0.5
"""How densely the sides of a simpler polygon are sampled."""


def strays(coarse: shapely.Polygon, solid: shapely.Polygon) -> float:
    """How far the outline of the coarse polygon lies from the solid, at the most."""
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(coarse, SAMPLE_MM)))
    return float(shapely.distance(solid, points).max())


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
    assert strays(coarse, solid) <= 1.0 + 1e-9


@pytest.mark.parametrize("bound", [0.02, 0.1, 0.5])
def test_what_many_changes_stray_together_is_bounded(bound: float) -> None:
    # A circle of at most `MOST_CORNERS` sides loses corner after corner, each seen from the last outline.
    disc = shapely.Point(0.0, 0.0).buffer(20.0, quad_segs=40)
    ring = disc.difference(shapely.Point(0.0, 0.0).buffer(12.0, quad_segs=40))
    coarse = simpler(ring, bound)
    assert ring.difference(coarse).area < 1e-6
    assert 0.0 < strays(coarse, ring) <= bound + 1e-9
    assert shapely.get_num_coordinates(coarse) < shapely.get_num_coordinates(ring)


def test_thousands_of_vertices_become_few_and_stay_near() -> None:
    solid = wavy(5000)
    coarse = simpler(solid, 0.2)
    assert solid.difference(coarse).area < 1e-6
    assert shapely.get_num_coordinates(coarse) <= MOST_CORNERS
    assert strays(coarse, solid) <= LOOSEST * 0.2


def test_straight_sides_keep_their_place() -> None:
    plate = shapely.Polygon([(0, 0), (100, 0), (100, 40), (60, 40), (60.05, 39.9), (50, 40), (0, 40)])
    assert simpler(plate, 0.5).bounds == plate.bounds
