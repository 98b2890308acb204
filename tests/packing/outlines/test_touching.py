"""Maps of forbidden shifts against shapely, an independent geometry library."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from sheetplan.packing.outlines.contacts import (
    contact_map,
    edges_turned,
    moving_side,
    quarter_turned_map,
    standing_side,
)
from sheetplan.packing.outlines.growing import edges, grown
from sheetplan.packing.outlines.touching import RunRows, forbidden_runs, half_turned, rings_of

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


def test_flat_sides_lie_at_the_gap() -> None:
    left, bottom, right, top = grown(shapely.box(0, 0, 10, 20), 5.0).bounds
    assert (left, bottom, right, top) == pytest.approx((-5.0, -5.0, 15.0, 25.0), abs=2e-4)
