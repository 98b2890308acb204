"""Orders of many pieces a sheet: sheets chosen by area are filled to the last piece."""

from dataclasses import replace

import pytest

from sheetplan.checking import check_plan
from sheetplan.model import Remnant, rectangle
from sheetplan.planning import never, plan_job, quiet
from tests.bench.shop_jobs import INCH, PLATE, STEEL, shop_job


@pytest.mark.parametrize(
    ("pieces", "sizes", "seed", "least"),
    [(500, 1, 7, 11 * 160.0), (500, 1, 8, 15 * 160.0), (500, 6, 1, 1872.0), (2000, 1, 0, 43 * 160.0)],
)
def test_shop_jobs_reach_what_their_area_asks(pieces: int, sizes: int, seed: int, least: float) -> None:
    """On one size the cost is proven least: the area alone needs 10.90, 14.82 and 42.48 sheets."""
    job = shop_job(pieces, sizes, seed)
    plan = plan_job(job, seconds=4.5, seed=1, stop=never, report=quiet, clock=lambda: 0.0)
    (group,) = plan.groups
    assert group.cost <= least
    assert not check_plan(plan)
    if sizes == 1:
        assert group.measure == pytest.approx(group.bound, rel=1e-9)


def test_a_remnant_of_several_rectangles_keeps_its_pieces() -> None:
    job = shop_job(500, 1, 8)
    edge, window = rectangle(60 * INCH, 40 * INCH).outer, rectangle(9 * INCH, 8 * INCH).outer
    job = replace(job, remnants=(Remnant("R-001", STEEL, PLATE, edge, (window,), value=20.0),))
    plan = plan_job(job, seconds=1.0, seed=1, stop=never, report=quiet, clock=lambda: 0.0)
    assert not check_plan(plan)
    assert not plan.groups[0].short
