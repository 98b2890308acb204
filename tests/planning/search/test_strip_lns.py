"""Strips moved among sheets: no piece is lost, made twice, or laid over another, whatever is moved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.checking import check_plan
from sheetplan.model import Remnant, rectangle
from sheetplan.packing.guillotine_lns import Piles, Rows, move_strips, new_piles
from sheetplan.packing.maxrects import Types, new_desk
from sheetplan.packing.rng import chance_of
from sheetplan.planning import RunOptions, plan_job
from sheetplan.planning.search.state import Attempt
from sheetplan.planning.search.strip_lns import fill_rows, view_of
from tests.bench.shop_jobs import INCH, PLATE, STEEL, shop_job

Piece = tuple[int, int, bool, int]
"""Length, width, may be turned, how many."""

pieces = st.lists(
    st.tuples(st.integers(2, 14), st.integers(2, 14), st.booleans(), st.integers(1, 9)),
    min_size=1,
    max_size=6,
)
sheets = st.lists(st.tuples(st.integers(8, 40), st.integers(8, 30)), min_size=1, max_size=4)


def lying_on(piles: Piles, rows: Rows, r: int, types: Types) -> list[tuple[int, int, int, int, int]]:
    """Type and rectangle (along, up, length, height) of each piece of a sheet, by plain arithmetic."""
    found = []
    for t, along, up, turned, strip in piles.boxes[r, : piles.sizes[r]]:
        sides = [int(types.lengths[t]), int(types.widths[t])]
        assert types.turnable[t] or not turned
        if bool(turned) != bool(rows.lying[r]):
            sides.reverse()
        bottom = int(piles.heights[r, :strip].sum())
        assert up + sides[1] <= piles.heights[r, strip]
        found.append((int(t), int(along), bottom + int(up), *sides))
    return found


@settings(max_examples=60, deadline=None)
@given(pieces, sheets, st.integers(0, 10_000))
def test_pieces_stay_whole(asked: list[Piece], sizes: list[tuple[int, int]], seed: int) -> None:
    lengths, widths, turnable, counts = (np.array(column) for column in zip(*asked, strict=True))
    types = Types(lengths.astype(np.int64), widths.astype(np.int64), turnable.astype(np.bool_))
    wanted = counts.astype(np.int64)
    lying = np.array([(seed >> r) & 1 for r in range(len(sizes))], np.int64)
    both = np.array(sizes, np.int64)
    rows = Rows(
        np.where(lying == 1, both[:, 1], both[:, 0]), np.where(lying == 1, both[:, 0], both[:, 1]), lying
    )
    views = view_of(types, 1, 0), view_of(types, 1, 1)
    areas = (types.lengths * types.widths).astype(np.float64)
    piles, over, chance = new_piles(len(sizes), int(wanted.sum())), wanted.copy(), chance_of(seed)
    desk = new_desk(len(wanted), int(wanted.sum()))
    fill_rows(Attempt(lying, rows, piles, over, chance), views, areas, 1.04, desk)
    for looks in (0, 30_000, 60_000):
        if looks:
            move_strips(rows, piles, views, over, areas, looks, chance, desk)
        made = np.zeros_like(wanted)
        for r in range(len(sizes)):
            taken = np.zeros((rows.long[r], rows.high[r]), np.int64)
            for t, along, up, length, height in lying_on(piles, rows, r, types):
                assert along + length <= rows.long[r]
                assert up + height <= rows.high[r]
                taken[along : along + length, up : up + height] += 1
                made[t] += 1
            assert taken.max(initial=0) <= 1
        assert (made + over == wanted).all()


def test_the_same_chance_gives_the_same_sheets() -> None:
    types = Types(np.array([13, 9, 5, 4]), np.array([7, 4, 5, 3]), np.array([True, True, False, True]))
    wanted = np.array([4, 9, 11, 14])
    runs = []
    for _ in range(2):
        rows = Rows(np.array([40, 40]), np.array([22, 22]), np.array([0, 0]))
        views = view_of(types, 1, 0), view_of(types, 1, 1)
        areas = (types.lengths * types.widths).astype(np.float64)
        piles, over, desk = new_piles(2, 38), wanted.copy(), new_desk(4, 38)
        chance = chance_of(7)
        fill_rows(Attempt(rows.lying, rows, piles, over, chance), views, areas, 1.0, desk)
        move_strips(rows, piles, views, over, areas, 200_000, chance, desk)
        runs.append((over.tolist(), piles.boxes.tolist(), int(desk.work[0])))
    assert runs[0] == runs[1]


@pytest.mark.parametrize(
    ("pieces", "sizes", "seed", "least"),
    [(500, 1, 7, 11 * 160.0), (500, 1, 8, 15 * 160.0), (500, 6, 1, 1872.0), (2000, 1, 0, 43 * 160.0)],
)
def test_shop_jobs_reach_what_their_area_asks(pieces: int, sizes: int, seed: int, least: float) -> None:
    """On one size the cost is proven least: the area alone needs 10.90, 14.82 and 42.48 sheets."""
    job = shop_job(pieces, sizes, seed)
    plan = plan_job(job, RunOptions(4.5, clock=lambda: 0.0))
    (group,) = plan.groups
    assert group.cost <= least
    assert not check_plan(plan)
    if sizes == 1:
        assert group.measure == pytest.approx(group.bound, rel=1e-9)


def test_a_remnant_of_several_rectangles_keeps_its_pieces() -> None:
    job = shop_job(500, 1, 8)
    edge, window = rectangle(60 * INCH, 40 * INCH).outer, rectangle(9 * INCH, 8 * INCH).outer
    job = replace(job, remnants=(Remnant("R-001", STEEL, PLATE, edge, (window,), value=20.0),))
    plan = plan_job(job, RunOptions(1.0, clock=lambda: 0.0))
    assert not check_plan(plan)
    assert not plan.groups[0].short
