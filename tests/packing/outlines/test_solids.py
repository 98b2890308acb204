"""Solids of parts: what they contain, how far they stray, which holes they keep."""

import pytest
import shapely

from sheetplan.model import Grain, Loop, Outline, Part, rectangle
from sheetplan.packing.outlines.poses import View, make_poses
from sheetplan.packing.outlines.simplifying import LOOSEST
from sheetplan.packing.outlines.solids import FLATTEN_SHARE, part_shapes
from tests.bench.messy_parts import messy_job
from tests.packing.outlines.shop import CHORD_STRAYS, circle, loop, part, polygon, ring
from tests.packing.outlines.test_simplifying import strays

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
