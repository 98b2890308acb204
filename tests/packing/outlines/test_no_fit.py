"""Maps of forbidden shifts against shapely, an independent geometry library."""

import random

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry.polygon import orient

from sheetplan.packing.outlines.no_fit import (
    RunRows,
    contact_map,
    edges_turned,
    forbidden_runs,
    half_turned,
    moving_side,
    quarter_turned_map,
    rings_of,
    standing_side,
)
from sheetplan.packing.outlines.poses import (
    TOUCH_SLACK_MM,
    Edges,
    _band,
    _sides,
    edges,
    grown,
    quarter_turned,
    without_idle_corners,
)
from sheetplan.packing.outlines.solids import part_shapes
from tests.bench.messy_parts import messy_job

STEP = 2.0


@st.composite
def blobs(draw: st.DrawFn) -> shapely.Polygon:
    """Star-shaped polygons about (0, 0), some with a hole."""
    count = draw(st.integers(3, 12))
    radii = draw(st.lists(st.floats(6.0, 30.0), min_size=count, max_size=count))
    around = 2 * np.pi * np.arange(count) / count
    outer = np.column_stack((np.cos(around), np.sin(around))) * np.array(radii)[:, None]
    shape = shapely.Polygon(outer).buffer(0)
    share = draw(st.sampled_from([0.0, 0.0, 0.7]))
    hole = affinity.scale(shape, share, share, origin=(0, 0)) if share else None
    result = shape.difference(hole) if hole else shape
    return max(shapely.get_parts(result), key=lambda piece: piece.area)


@settings(max_examples=60, deadline=None)
@given(blobs(), blobs(), st.floats(0.5, 6.0))
def test_marks_are_the_shifts_that_break_the_gap(a: shapely.Polygon, b: shapely.Polygon, gap: float) -> None:
    held = contact_map(standing_side(edges(grown(a, gap))), moving_side(edges(b)), STEP)
    for i in range(0, held.marks.shape[0], 3):
        for j in range(held.marks.shape[1]):
            distance = a.distance(affinity.translate(b, (held.ox + i) * STEP, (held.oy + j) * STEP))
            if not held.marks[i, j]:
                assert distance >= gap - 1.01e-4
            else:
                # Grown corners reach at most 3.6 per cent of the gap too far.
                assert distance <= gap * 1.036


MESSY_STEP, MESSY_GAP = 4.0, 5.0


def messy_solids(seed: int) -> list[shapely.Polygon]:
    job = messy_job(seed, 14, 80, 1)
    return [shape.solid for shape in part_shapes(tuple(job.parts.values()), MESSY_STEP)]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_maps_of_messy_outlines_are_exact_along_their_border(seed: int) -> None:
    chance = random.Random(seed)
    solids = messy_solids(seed)
    for _ in range(24):
        a, b = chance.choice(solids), quarter_turned(chance.choice(solids), chance.randrange(4))
        held = contact_map(standing_side(edges(grown(a, MESSY_GAP))), moving_side(edges(b)), MESSY_STEP)
        marks = np.pad(held.marks, 1)
        border = np.argwhere(marks[1:-1, 1:-1] != marks[:-2, 1:-1]).tolist()
        border += np.argwhere(marks[1:-1, 1:-1] != marks[1:-1, :-2]).tolist()
        inside = np.argwhere(held.marks == 0).tolist()
        for i, j in (*chance.sample(border, 60), *chance.sample(inside, min(20, len(inside)))):
            moved = affinity.translate(b, (held.ox + i) * MESSY_STEP, (held.oy + j) * MESSY_STEP)
            distance = a.distance(moved)
            if held.marks[i, j]:
                assert distance <= MESSY_GAP * 1.036
            else:
                assert distance >= MESSY_GAP - 1.01e-4


def test_windows_are_free_for_what_lies_in_them() -> None:
    inside = 0
    for a in (solid for seed in (1, 2, 3) for solid in messy_solids(seed) if solid.interiors):
        for b in messy_solids(1):
            held = contact_map(standing_side(edges(grown(a, MESSY_GAP))), moving_side(edges(b)), MESSY_STEP)
            bare = shapely.Polygon(a.exterior)
            free = np.argwhere(held.marks == 0)
            middle = np.abs(free - np.array(held.marks.shape) / 2.0).sum(axis=1)
            for i, j in free[np.argsort(middle, kind="stable")[:20]]:
                moved = affinity.translate(b, (held.ox + i) * MESSY_STEP, (held.oy + j) * MESSY_STEP)
                assert a.distance(moved) >= MESSY_GAP - 1.01e-4
                inside += bare.contains(moved)
    assert inside > 200


def runs_against(standing: Edges, moving: Edges) -> set[tuple[int, int]]:
    return shifts(forbidden_runs(rings_of(standing, 1.0), rings_of(moving, -1.0), 1.0, -60, 121))


def closed(*corners: tuple[float, float]) -> Edges:
    around = np.array(corners)
    return np.hstack([around, np.roll(around, -1, axis=0)])


def test_a_spike_without_width_is_wound_round_as_a_thin_one() -> None:
    """At its tip the outline turns by half, which rounding may take for a turn to either side."""
    box = closed((0.37, 0.41), (6.58, 0.41), (6.58, 5.73), (0.37, 5.73))
    for tip in ((23.7, 30.1), (3.3, 30.3), (3.3, 1.1), (4.7, 2.2)):
        spiked = closed((0.2, 0.2), (10.2, 0.2), (10.2, 10.2), (3.3, 10.2), tip, (3.3, 10.2), (0.2, 10.2))
        thin = closed((0.2, 0.2), (10.2, 0.2), (10.2, 10.2), (3.3, 10.2), tip, (3.2999, 10.2), (0.2, 10.2))
        if tip[1] < 10.0:
            # Hollow: the thin slot takes metal away, and nothing fits into it.
            thin = closed((0.2, 0.2), (10.2, 0.2), (10.2, 10.2), (0.2, 10.2))
        assert runs_against(spiked, box) == runs_against(thin, box)
        assert runs_against(box, spiked) == runs_against(box, thin)


def test_a_hole_may_touch_the_outline_where_both_begin() -> None:
    plate = shapely.Polygon([(0, 0), (40, 0), (40, 40), (0, 40)], [[(0, 0), (10, 35), (35, 10)]])
    assert plate.is_valid
    around = edges(plate)
    assert (np.diff(rings_of(around, 1.0).first) == [4, 3]).all()
    guest = shapely.box(0.1, 0.1, 4.1, 3.1)
    found = runs_against(around, edges(guest))
    for x in range(-10, 45):
        for y in range(-10, 45):
            assert ((x, y) in found) == plate.intersects(affinity.translate(guest, x, y))
    assert (13, 13) not in found


def shifts(runs: RunRows) -> set[tuple[int, int]]:
    return {(int(c), y) for c, low, high in runs for y in range(low, high + 1)}


@settings(max_examples=40, deadline=None)
@given(blobs(), blobs(), st.integers(0, 3))
def test_runs_of_turned_polygons_are_the_turned_map(
    a: shapely.Polygon, b: shapely.Polygon, quarter: int
) -> None:
    standing, moving = edges(grown(a, 2.0)), edges(b)
    held = contact_map(standing_side(standing), moving_side(moving), STEP)
    held = quarter_turned_map(held, quarter)
    marked = {(held.ox + int(i), held.oy + int(j)) for i, j in zip(*np.nonzero(held.marks), strict=True)}
    turned = edges_turned(standing, quarter), edges_turned(moving, quarter)
    runs = forbidden_runs(rings_of(turned[0], 1.0), rings_of(turned[1], -1.0), STEP, -90, 181)
    assert shifts(runs) == marked
    assert (np.diff(runs[:, 0]) >= 0).all()
    assert (runs[:, 1] <= runs[:, 2]).all()
    assert shifts(half_turned(runs)) == {(-x, -y) for x, y in marked}
    # A run ends where the next shift is free.
    assert not shifts(runs) & {(int(c), int(high) + 1) for c, _, high in runs}


@settings(max_examples=60, deadline=None)
@given(blobs(), st.floats(0.2, 8.0))
def test_growing_contains_the_true_offset(shape: shapely.Polygon, gap: float) -> None:
    fine = shape.buffer(gap - 1.5e-4, quad_segs=64)
    # A union of floats may leave cracks of no width; anything that a part could fall short by shows.
    assert fine.difference(grown(shape, gap)).area < 1e-9


@pytest.mark.parametrize("gap", [-2.0, 0.0, 1.0, 5.0, 60.0])
def test_bands_are_strips_and_fans(gap: float) -> None:
    """Growing side by side, each by itself, gives the same; wide gaps make rims meet themselves."""
    for solid in messy_solids(2):
        pieces = [solid]
        for ring in (orient(solid).exterior, *orient(solid).interiors):
            sides = _sides(np.asarray(ring.coords)[:-1], gap - TOUCH_SLACK_MM)
            pieces += [_band(sides, k, 1, gap - TOUCH_SLACK_MM) for k in range(len(sides.at))]
        if gap > 0.0:
            assert grown(solid, gap).symmetric_difference(shapely.union_all(pieces)).area < 1e-4
        else:
            assert solid.covers(grown(solid, gap))


def test_idle_corners_go_and_turning_ones_stay() -> None:
    many = [(0, 0), (1, 0), (2, 0), (3, 0), (10, 0), (10, 10), (5, 10), (4, 10), (0, 10), (0, 5), (0, 1)]
    cleaned = without_idle_corners(shapely.Polygon(many))
    assert shapely.get_num_coordinates(cleaned) == 5
    assert cleaned.equals(shapely.box(0, 0, 10, 10))
    bent = shapely.Polygon([(0, 0), (5, -1e-5), (10, 0), (10, 10), (0, 10)])
    assert without_idle_corners(bent).equals(bent)


def test_flat_sides_lie_at_the_gap() -> None:
    left, bottom, right, top = grown(shapely.box(0, 0, 10, 20), 5.0).bounds
    assert (left, bottom, right, top) == pytest.approx((-5.0, -5.0, 15.0, 25.0), abs=2e-4)
