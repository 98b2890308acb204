"""Discs in staggered rows: as many as trigonometry says, none too near another or the edge."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.checking import check_plan
from sheetplan.model import Order, Outline, Part, Placement
from sheetplan.model.outline import rectangle
from sheetplan.model.turns import Corner
from sheetplan.packing import Blank, Item
from sheetplan.planning import RunOptions, plan_job
from sheetplan.planning.search.shape_filling import discs_in_rows, most_discs
from sheetplan.shapes import circle_loop
from tests.planning.books import STEEL, TEN_GAUGE, job, sheet


def ring(outer: float, inner: float) -> Part:
    loops = [circle_loop(outer, outer, radius) for radius in (outer, inner)]
    return Part("ring", STEEL.name, TEN_GAUGE, Outline(loops[0], (loops[1],)))


def laid(
    length: float, width: float, radius: float, gap: float, margin: float, datum: Corner = Corner.LOWER_LEFT
) -> tuple[Placement, ...]:
    blank = Blank(rectangle(length, width).outer, (), margin, gap, datum)
    return discs_in_rows(blank, Item(ring(radius, radius / 2.0), 10_000, 1.0))


def test_six_rows_of_ten() -> None:
    """Discs 229.5 apart, rows 198.75: six rows need 1,213.8 of 1,225 mm, ten in a row 2,400.3 of 2,475."""
    assert len(laid(2500.0, 1250.0, 110.0, 9.5, 12.5)) == 60
    assert len(laid(1250.0, 2500.0, 110.0, 9.5, 12.5)) == 60


def test_what_is_not_needed_stays_free_in_one_strip() -> None:
    """52 of 60: nine columns of the ten, or so, rather than six rows that are not full."""
    blank = Blank(rectangle(2500.0, 1250.0).outer, (), 12.5, 9.5)
    placements = discs_in_rows(blank, Item(ring(110.0, 55.0), 52, 1.0))
    assert len(placements) == 52
    assert min(max(p.x for p in placements) / 2500.0, max(p.y for p in placements) / 1250.0) < 0.85


def test_rows_come_closer_where_one_more_fits_so() -> None:
    """Rows 0.6 of a diameter apart ask for 1.6 along a row: 10 long holds 6 and 6, one close row 9."""
    assert len(laid(10.0, 1.6, 0.5, 0.0, 0.0)) == 12


@settings(max_examples=80, deadline=None)
@given(
    st.floats(10.0, 100.0), st.floats(10.0, 100.0), st.floats(2.0, 9.0),
    st.floats(0.0, 2.0), st.floats(0.0, 3.0), st.sampled_from(list(Corner)),
)  # fmt: skip
def test_gap_and_margin_are_kept(
    length: float, width: float, radius: float, gap: float, margin: float, corner: Corner
) -> None:
    placements = laid(length, width, radius, gap, margin, corner)
    centres = np.array([(p.x + radius, p.y + radius) for p in placements]).reshape(-1, 2)
    apart = np.hypot(*(centres[:, None] - centres[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, math.inf)
    assert apart.min(initial=math.inf) >= 2.0 * radius + gap - 1e-9
    clear = radius + margin - 1e-9
    assert (centres >= clear).all()
    assert (centres <= np.array([length, width]) - clear).all()
    if min(length, width) > 2.0 * (radius + margin) + 0.01:
        assert len(placements)


@settings(max_examples=80, deadline=None)
@given(
    st.floats(10.0, 200.0), st.floats(10.0, 200.0), st.floats(2.0, 9.0), st.floats(0.0, 2.0),
    st.floats(0.0, 3.0),
)  # fmt: skip
def test_no_rows_hold_more_than_the_bound(
    length: float, width: float, radius: float, gap: float, margin: float
) -> None:
    blank = Blank(rectangle(length, width).outer, (), margin, gap)
    most = most_discs(blank, ring(radius, radius / 2.0))
    assert most is not None
    assert len(laid(length, width, radius, gap, margin)) <= most


def test_the_bound_is_met_in_a_single_row_and_told_of_round_parts_alone() -> None:
    """Ten discs of 100 on a strip of 1000 x 100; by area there would be twelve."""
    blank = Blank(rectangle(1000.0, 100.0).outer, (), 0.0, 0.0)
    assert most_discs(blank, ring(50.0, 20.0)) == 10
    assert most_discs(blank, ring(50.1, 20.0)) == 0
    assert most_discs(blank, Part("plate", STEEL.name, TEN_GAUGE, rectangle(10.0, 10.0))) is None


@pytest.mark.slow
def test_sixty_rings_need_one_sheet() -> None:
    book = job([ring(110.0, 60.0)], [Order("H-1", "ring", 60)], [sheet("5x8", 2500.0, 1250.0, price=100.0)])
    plan = plan_job(book, RunOptions(2.0, clock=lambda: 0.0))
    assert not check_plan(plan)
    assert sum(layout.repeats for layout in plan.groups[0].layouts) == 1
