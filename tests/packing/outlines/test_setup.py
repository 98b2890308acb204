"""Poses, pairs and the lattice."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from sheetplan.model import Corner, Loop, Outline, Part, rectangle
from sheetplan.packing import Blank, Item
from sheetplan.packing.outlines import OutlinePacker
from sheetplan.packing.outlines.no_fit import key_of, quarter_turned_map
from sheetplan.packing.outlines.poses import MOST_POSES, Shape, View, make_poses
from sheetplan.packing.outlines.setup import best_step, make_setup, setup_of_parts
from tests.bench.messy_parts import messy_job
from tests.packing.outlines.shop import INCH, circle, faults, loop, part, ring

GUSSET = shapely.Polygon([(0, 0), (110, 0), (110, 15), (15, 110), (0, 110)])


CHANNEL = shapely.Polygon([(0, 0), (2, 0), (2, 3), (12, 3), (12, 0), (14, 0), (14, 5), (0, 5)])
"""Its corners all lie on sides of the same channel upside down."""


@pytest.mark.parametrize(
    ("solid", "count"),
    [(shapely.box(0, 0, 10, 10), 1), (shapely.box(0, 0, 20, 10), 2), (GUSSET, 4), (CHANNEL, 4)],
)
def test_each_way_to_lie_is_there_once(solid: shapely.Polygon, count: int) -> None:
    turns = (0.0, 90.0, 180.0, 270.0, 360.0, -90.0)
    assert len(make_poses([Shape("one", solid, turns)], 1.0, View()).poses) == count


def test_mirrored_ways_count_only_where_they_differ() -> None:
    poses = make_poses([Shape("gusset", GUSSET, (0.0, 90.0, 180.0, 270.0), may_mirror=True)], 1.0, View())
    # The gusset is its own mirror image about its diagonal.
    assert len(poses.poses) == 4
    wedge = shapely.Polygon([(0, 0), (100, 0), (0, 30)])
    assert len(make_poses([Shape("wedge", wedge, (0.0,), may_mirror=True)], 1.0, View()).poses) == 2


def test_too_many_turns_are_thinned_and_quarter_turns_stay() -> None:
    shapes = [Shape(str(k), shapely.box(0, 0, 20 + k, 10), tuple(range(360))) for k in range(10)]
    poses = make_poses(shapes, 1.0, View()).poses
    assert len(poses) <= MOST_POSES
    assert {0.0, 90.0} <= {pose.turn for pose in poses if pose.shape == 0}


def test_a_gusset_is_paired_and_a_disc_is_not() -> None:
    disc = shapely.Point(50, 50).buffer(50)
    square = (0.0, 90.0, 180.0, 270.0)
    setup = make_setup([Shape("gusset", GUSSET, square), Shape("disc", disc, square)], 5.0, View(), 5.0)
    pairs = [unit for unit in setup.units if unit.pieces == 2]
    assert [unit.shape for unit in pairs] == [0]


@pytest.mark.parametrize(
    ("sizes", "gap"), [([(8.0 * INCH, 4.0 * INCH)], 0.25 * INCH), ([(200.0, 100.0), (300.0, 60.0)], 5.0)]
)
def test_round_sizes_get_a_step_that_wastes_nothing(sizes: list[tuple[float, float]], gap: float) -> None:
    step = best_step(sizes, gap)
    for size in sizes:
        for side in size:
            assert math.isclose((side + gap) / step, round((side + gap) / step), abs_tol=1e-6)


def messy_gauge(seed: int) -> tuple[Part, ...]:
    return tuple(messy_job(seed, 25, 200, 1).parts.values())


@pytest.mark.parametrize("seed", [1, 2])
def test_work_for_a_messy_gauge_is_bounded(seed: int) -> None:
    """Counted, not timed: maps made, and the corners that they are made of."""
    parts = messy_gauge(seed)
    setup = setup_of_parts(parts, 5.0, View())
    families = setup.pose_set.families
    assert len(families) <= len(parts)
    # Two maps, upright and on their side, for each pair of families and each quarter between them;
    # pairing shapes with their own half turns reads one more each.
    assert setup.contacts.made <= 8 * len(families) * (len(families) + 1) // 2 + len(families)
    corners = [len(family.edges) for family in families]
    assert sum(corners) <= 120 * len(families)
    assert sum(corners) < sum(len(p.outline.outer.vertices) for p in parts) / 2
    for family, count in zip(families, corners, strict=True):
        # A fan has some corners more than the corner that it goes round, a band none.
        assert len(family.grown_edges) <= 1.1 * count + 40


def test_other_names_for_the_same_outlines_make_no_more_maps() -> None:
    parts = messy_gauge(3)[:8]
    twins = tuple(replace(p, name=f"twin of {p.name}") for p in parts)
    alone, together = setup_of_parts(parts, 5.0, View()), setup_of_parts((*parts, *twins), 5.0, View())
    assert alone.step == together.step
    assert alone.contacts.made == together.contacts.made
    count = len(alone.pose_set.poses)
    runs = together.runs
    assert (runs.first[:count, :count] == runs.first[count:, count:]).all()
    assert (runs.first[:count, :count] == runs.first[:count, count:]).all()


def test_runs_are_the_maps_turned() -> None:
    setup = setup_of_parts(messy_gauge(4)[:6], 5.0, View())
    for a, standing in enumerate(setup.pose_set.poses):
        for b, moving in enumerate(setup.pose_set.poses):
            key, quarter = key_of(standing, moving)
            held = quarter_turned_map(setup.contacts.map(key), quarter)
            marks = np.zeros_like(held.marks)
            for column, low, high in setup.runs.runs[setup.runs.first[a, b] : setup.runs.last[a, b]]:
                marks[column - held.ox, low - held.oy : high - held.oy + 1] = 1
            assert (marks == held.marks).all()


def plate_of_holes() -> Outline:
    holes = tuple(circle(1 + x, 1 + y, 0.3) for x in range(20) for y in range(10))
    return Outline(loop((0, 0), (21, 0), (21, 11), (0, 11)), holes)


def gear(teeth: int, steps: int) -> Outline:
    corners = []
    for k in range(teeth * steps):
        angle = 2 * math.pi * k / (teeth * steps)
        radius = 100.0 + 6.0 * math.sin(teeth * angle)
        corners.append((106.0 + radius * math.cos(angle), 106.0 + radius * math.sin(angle), 0.0))
    left, low = min(c[0] for c in corners), min(c[1] for c in corners)
    return Outline(Loop(tuple((x - left, y - low, 0.0) for x, y, _ in corners)))


SLIT = Outline(loop((0, 0), (10, 0), (10, 10), (5.01, 10), (5.01, 5), (5, 5), (5, 10), (0, 10)))


@pytest.mark.parametrize(
    ("name", "outline", "pieces"),
    [
        ("200 holes", plate_of_holes(), 6),
        ("4,000 vertices", gear(40, 100), 12),
        ("sliver", rectangle(1500.0, 0.8), 20),
        ("slit", SLIT, 20),
        ("identical", ring(2, 1), 400),
    ],
)
def test_awkward_parts(name: str, outline: Outline, pieces: int) -> None:
    awkward, filler = part(name, outline), part("filler", rectangle(150.0, 60.0))
    edge = rectangle(96 * INCH, 48 * INCH).outer
    blank = Blank(edge, (), 10.0, 5.0, Corner.LOWER_RIGHT)
    asked = [Item(awkward, pieces, 10.0), Item(filler, 10, 1.0)]
    placed = OutlinePacker((awkward, filler)).fill(blank, asked, seed=1, effort=2)
    assert sum(p.part == name for p in placed) >= min(pieces, 6)
    assert not faults((awkward, filler), placed, shapely.box(0, 0, 96 * INCH, 48 * INCH), 10.0, 5.0)
