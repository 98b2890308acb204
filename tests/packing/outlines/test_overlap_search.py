"""Depth maps and the overlap search, against plain twins and shapely."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from sheetplan.packing.outlines.crowding import INSERTING_WORK, MANNER, Crowding, loose_maps
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.laid import Laid
from sheetplan.packing.outlines.no_fit import Contacts
from sheetplan.packing.outlines.overlap_search import (
    NO_BARS,
    Manner,
    chamfer,
    depths_of,
    pair_depth,
    separate,
    total_overlap,
)
from sheetplan.packing.outlines.poses import Shape, View, make_poses
from sheetplan.packing.outlines.setup import make_setup
from sheetplan.packing.rng import new_chance, shuffle, uniform
from tests.packing.outlines.test_no_fit import blobs

SQUARE = (0.0, 90.0, 180.0, 270.0)


@settings(max_examples=15, deadline=None)
@given(blobs(), blobs(), st.sampled_from([(0.0, 180.0), SQUARE, (0.0, 90.0, 30.0)]))
def test_tables_tell_overlaps_in_every_turn(a: shapely.Polygon, b: shapely.Polygon, turns: tuple) -> None:
    poses = make_poses([Shape("a", a, turns), Shape("b", b, turns)], 0.0, View())
    step = 4.0
    depths = depths_of(Contacts(poses, step))
    chance = np.random.default_rng(1)
    for _ in range(150):
        i, j = chance.integers(len(poses.poses), size=2)
        dx, dy = (int(v) for v in chance.integers(-14, 15, size=2))
        one, other = poses.poses[i].solid, affinity.translate(poses.poses[j].solid, dx * step, dy * step)
        shared = one.intersection(other).area
        depth = pair_depth(depths, int(i), int(j), dx, dy)
        if shared > 0.05:
            assert depth > 0
        elif one.distance(other) > 0.01:
            assert depth == 0


@settings(max_examples=30, deadline=None)
@given(st.lists(st.lists(st.booleans(), min_size=7, max_size=7), min_size=1, max_size=9))
def test_chamfer_is_the_cheapest_way_out(rows: list[list[bool]]) -> None:
    """Twin: single-source shortest ways by relaxing until nothing changes."""
    marks = np.array(rows, np.uint8)
    cost = np.pad(np.where(marks, 10**6, 0), 1)
    changed = True
    while changed:
        changed = False
        for i in range(1, cost.shape[0] - 1):
            for j in range(1, cost.shape[1] - 1):
                for di in (-1, 0, 1):
                    for dj in (-1, 0, 1):
                        price = cost[i + di, j + dj] + (4 if di and dj else 3)
                        if (di or dj) and cost[i, j] > price:
                            cost[i, j] = price
                            changed = True
    assert (chamfer(marks) == cost[1:-1, 1:-1]).all()


def crowd_on_one_spot(seed: int) -> tuple[list[tuple[int, int, int]], int]:
    angle = shapely.Polygon([(0, 0), (60, 0), (60, 15), (15, 15), (15, 40), (0, 40)])
    setup = make_setup([Shape("angle", angle, SQUARE)], 4.0, View(), 4.0)
    maps = loose_maps(setup)
    crowding = Crowding(lambda: maps, Field(260.0, 120.0, (0.0, 0.0), View()))
    crowd = crowding.crowd(Laid(np.zeros(7, np.int64), np.full((7, 2), 20.0)))
    assert total_overlap(crowding.depths, crowd) > 0
    told = (crowding.depths, crowd, crowding.room, new_chance(seed), Manner(4, 60, 100), NO_BARS, 10**9)
    overlap, _ = separate(*told)
    left = total_overlap(crowding.depths, crowd)
    assert left == overlap
    return [(int(p), int(x), int(y)) for p, x, y in zip(crowd.pose, crowd.x, crowd.y, strict=True)], overlap


def test_pieces_on_one_spot_are_moved_apart_and_a_seed_repeats() -> None:
    first, overlap = crowd_on_one_spot(3)
    assert overlap == 0
    assert crowd_on_one_spot(3)[0] == first
    assert crowd_on_one_spot(4)[0] != first


def test_draws_match_the_published_generator() -> None:
    # splitmix64 (Vigna's public-domain reference code), seed 1234567: its first two outputs.
    expected = [6457827717110365317, 3203168211198807973]
    chance = new_chance(1234567)
    for word in expected:
        assert uniform(chance) == (word >> 11) / 2**53


def test_shuffle_keeps_every_member() -> None:
    row = np.arange(50)
    shuffle(new_chance(5), row)
    assert sorted(row) == list(range(50))
    assert not np.array_equal(row, np.arange(50))


@pytest.mark.parametrize("gap", [0.0, 5.0])
def test_maps_are_drawn_in_by_less_than_a_step(gap: float) -> None:
    box = shapely.box(0, 0, 40, 40)
    setup = make_setup([Shape("box", box, (0.0,))], gap, View(), 5.0)
    depths = loose_maps(setup).depths
    touching = int((40 + gap) // 5)
    assert pair_depth(depths, 0, 0, touching, 0) == 0
    assert pair_depth(depths, 0, 0, touching - 1, 0) > 0


def test_what_can_never_lie_there_is_given_up_early() -> None:
    """A plate more on a full sheet costs a small part of the search that runs out of patience."""
    maps = loose_maps(make_setup([Shape("plate", shapely.box(0, 0, 60, 40), SQUARE)], 4.0, View(), 4.0))
    crowding = Crowding(lambda: maps, Field(188.0, 84.0, (0.0, 0.0), View()))
    laid, chance = Laid(np.zeros(0, np.int64), np.zeros((0, 2))), new_chance(1)
    for _ in range(40):
        laid = crowding.insert(laid, 0, chance, 10**8) or laid
    assert len(laid.pose) == 6
    before = crowding.work
    assert all(crowding.insert(laid, 0, new_chance(seed), 10**8) is None for seed in range(10))
    given_up = crowding.work - before - 10 * INSERTING_WORK
    whole = 0
    for seed in range(10):
        crowd = crowding.crowd(Laid(np.append(laid.pose, 0), np.vstack((laid.at, (0.0, 0.0)))))
        told = (crowding.depths, crowd, crowding.room, new_chance(seed), MANNER, NO_BARS, 10**8)
        overlap, work = separate(*told)
        assert overlap > 0
        whole += work
    assert given_up < whole / 4


def test_a_coarser_search_lattice_still_gives_exact_layouts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where maps would be too large the search takes a coarser lattice, and the press still keeps the gap."""
    monkeypatch.setattr("sheetplan.packing.outlines.crowding.MOST_CELLS", 200.0)
    angle = shapely.Polygon([(0, 0), (60, 0), (60, 15), (15, 15), (15, 40), (0, 40)])
    setup = make_setup([Shape("angle", angle, SQUARE)], 4.0, View(), 2.0)
    maps = loose_maps(setup)
    assert maps.step >= 4.0 * setup.step
    crowding = Crowding(lambda: maps, Field(260.0, 120.0, (0.0, 0.0), View()))
    laid, chance = Laid(np.zeros(0, np.int64), np.zeros((0, 2))), new_chance(1)
    for _ in range(8):
        laid = crowding.insert(laid, 0, chance, 10**8) or laid
    assert len(laid.pose) >= 6
    pieces = [
        affinity.translate(setup.pose_set.poses[pose].solid, *at)
        for pose, at in zip(laid.pose, laid.at, strict=True)
    ]
    for k, one in enumerate(pieces):
        assert all(one.distance(other) >= 4.0 - 2e-5 for other in pieces[:k])
        assert shapely.box(0, 0, 260, 120).buffer(1e-6).covers(one)
