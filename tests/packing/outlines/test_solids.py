from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from sheetplan.model import Grain, Loop, Outline, Part, rectangle
from sheetplan.packing.outlines.poses import View, make_poses
from sheetplan.packing.outlines.solids import FLATTEN_SHARE, LOOSEST, MOST_CORNERS, part_shapes, simpler
from tests.bench.messy_parts import messy_job
from tests.packing.outlines.shop import CHORD_STRAYS, circle, loop, part, polygon, ring
from tests.packing.outlines.test_no_fit import blobs

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


STEP = 4.0


def plate(*holes: Loop) -> Part:
    return part("plate", Outline(rectangle(300.0, 200.0).outer, holes))


def hole(length: float, width: float) -> Loop:
    return loop((20, 20), (20 + length, 20), (20 + length, 20 + width), (20, 20 + width), unit=1.0)


@pytest.mark.parametrize("seed", [1, 2])
def test_messy_solids_contain_their_outline_and_stray_little(seed: int) -> None:
    parts = tuple(messy_job(seed, 30, 200, 2).parts.values())
    bound = STEP * FLATTEN_SHARE
    for one, shape in zip(parts, part_shapes(parts, STEP, 5.0), strict=True):
        true = polygon(one.outline)
        # On hollow arcs the judge's chords add metal that is not there.
        assert true.difference(shape.solid).area <= CHORD_STRAYS * true.length, one.name
        bare = shapely.Polygon(true.exterior)
        for window in shape.solid.interiors:
            # A kept window shrinks, and nothing else does.
            inside = shapely.Polygon(window)
            own = [h for h in true.interiors if shapely.Polygon(h).buffer(CHORD_STRAYS).covers(inside)]
            assert len(own) == 1, one.name
            bare = bare.difference(shapely.Polygon(own[0]))
        most = bound * (1.0 + LOOSEST) + CHORD_STRAYS
        assert strays(shape.solid, bare) <= most, one.name
        assert shape.strays == pytest.approx(2.0 * bound)


@pytest.mark.parametrize(
    ("length", "width", "gap", "kept"),
    [
        (70.0, 50.0, 5.0, True),
        (50.0, 70.0, 5.0, True),  # turned by a quarter
        (69.0, 50.0, 5.0, False),
        (69.0, 50.0, 4.0, True),
        (250.0, 39.0, 0.0, False),  # large, but too narrow
        (60.0, 40.0, 0.0, True),
    ],
)
def test_holes_with_room_for_a_part_are_kept(length: float, width: float, gap: float, kept: bool) -> None:
    parts = (plate(hole(length, width)), part("guest", rectangle(60.0, 40.0)))
    assert len(part_shapes(parts, STEP, gap)[0].solid.interiors) == kept


def test_a_guest_that_may_not_turn_counts_as_it_lies() -> None:
    parts = (plate(hole(50.0, 70.0)), part("guest", rectangle(60.0, 40.0), grain=Grain.LENGTH))
    assert not part_shapes(parts, STEP)[0].solid.interiors
    askew = (parts[0], part("guest", rectangle(60.0, 40.0), turns=(0.0, 30.0)))
    assert part_shapes(askew, STEP)[0].solid.interiors


def test_a_ring_is_a_guest_by_its_outer_edge() -> None:
    thin = part("thin ring", ring(3, 2.9))
    parts = (plate(circle(100, 100, 60, unit=1.0)), thin)
    assert not part_shapes(parts, STEP)[0].solid.interiors
    assert part_shapes((plate(circle(100, 100, 80, unit=1.0)), thin), STEP)[0].solid.interiors


def test_a_round_part_lies_in_one_way_whatever_its_polygon() -> None:
    parts = (part("disc", Outline(circle(3.21, 3.21, 3.21))), part("ring", ring(9.37, 6.53)))
    poses = make_poses(part_shapes(parts, STEP), 5.0, View()).poses
    assert [pose.shape for pose in poses] == [0, 1]


def test_equal_outlines_share_solids_and_families() -> None:
    outline = next(iter(messy_job(3, 1, 10, 1).parts.values())).outline
    parts = (part("one", outline), part("two", outline), part("three", rectangle(60.0, 40.0)))
    pose_set = make_poses(part_shapes(parts, STEP), 5.0, View())
    of_one, of_two, of_three = (
        [pose_set.poses[k].family for k in numbers] for numbers in pose_set.of_shape
    )
    assert of_one == of_two
    assert not set(of_one) & set(of_three)
