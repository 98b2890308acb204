"""Alternatives, picks, and plans as values: nothing is lost and nothing else changes."""

from __future__ import annotations

import json
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import cache
from multiprocessing import get_context

import pytest

from sheetplan.model import GroupPlan, Layout, Order, Placement, Plan
from sheetplan.model.plan import WEAK_BOUND
from sheetplan.planning import RunOptions, never, plan_job, quiet
from sheetplan.planning.choices import Aim
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.order_book import spares_left
from sheetplan.planning.picking import ORDER, NoSuchChoice, PickedTwice, alternatives, left_out, with_picked
from sheetplan.planning.plan_values import NotThisJob, layouts_of_values, plan_of_values, plan_values
from sheetplan.planning.whatif.fits import fits_of, fits_of_values, fits_values, with_room_of
from tests.planning.books import INCH, job, part, remnant, seeded_book, sheet


@cache
def planned() -> Plan:
    """Sheets on hand that are dearer than bought ones: at least one thing to choose."""
    stock = [sheet("Bought", 96 * INCH, 48 * INCH, price=100.0),
             sheet("On hand", 120 * INCH, 60 * INCH, on_hand=2, price=180.0, buy_limit=0)]  # fmt: skip
    book = job([part("Plate", 40 * INCH, 20 * INCH)], [Order("O", "Plate", 8, line=2)], stock,
               [remnant("R-1", 30 * INCH, 10 * INCH)])  # fmt: skip
    return plan_job(book, RunOptions(1.0, clock=lambda: 0.0))


def test_names_are_those_of_the_aims() -> None:
    assert tuple(aim.value for aim in Aim) == ORDER


def test_tags_stay_whichever_is_in_use() -> None:
    (ways,) = alternatives(planned())
    assert [way.tag for way in ways] == [f"C{n}" for n in range(1, len(ways) + 1)]
    assert len(ways) >= 2
    for way in ways:
        picked = with_picked(planned(), [way.tag])
        (again,) = alternatives(picked)
        assert [(one.tag, one.name, one.plan.cost) for one in again] == [
            (one.tag, one.name, one.plan.cost) for one in ways
        ]
        assert [one.tag for one in again if one.in_use] == [way.tag]
        assert picked.groups[0].layouts == way.plan.layouts
        assert picked.groups[0].bound == planned().groups[0].bound
        assert with_picked(picked, [way.tag]) == picked


def test_how_far_above_the_bound_follows_what_is_counted() -> None:
    (ways,) = alternatives(planned())
    plan = planned().groups[0]
    assert plan.bound is not None
    assert plan.above_least == pytest.approx(plan.measure / plan.bound - 1.0, abs=1e-8)
    picked = with_picked(planned(), ["C2"]).groups[0]
    assert picked.measure == ways[1].plan.measure > plan.measure
    assert picked.bound == plan.bound
    above = picked.measure / plan.bound - 1.0
    assert picked.above_least == (pytest.approx(above, abs=1e-8) if above <= WEAK_BOUND else None)


def test_tags_that_are_not_there_or_of_one_gauge_are_refused() -> None:
    with pytest.raises(NoSuchChoice):
        with_picked(planned(), ["C9"])
    with pytest.raises(PickedTwice):
        with_picked(planned(), ["C1", "C2"])


@pytest.mark.parametrize("seed", [5, 6])
def test_a_plan_comes_back_equal_from_its_values(seed: int) -> None:
    book = seeded_book(seed, types=8, pieces=60)
    plan = plan_job(book, RunOptions(0.5, clock=lambda: 0.0))
    values = json.loads(json.dumps(plan_values(plan)))
    assert plan_of_values(values, book) == replace(plan, problems=())
    (held,) = layouts_of_values(values, book, ["L1"]).values()
    assert held == plan.groups[0].layouts[0]


def test_values_of_another_job_are_refused() -> None:
    values = plan_values(planned())
    with pytest.raises(NotThisJob):
        plan_of_values(values, replace(planned().job, stock=planned().job.stock[1:]))
    with pytest.raises(NotThisJob):
        plan_of_values({"gauges": [{}]}, planned().job)
    assert layouts_of_values(values, replace(planned().job, stock=planned().job.stock[1:]), ["L1"]) == {}


def test_one_size_alone_never_counts_less_than_the_plan() -> None:
    """Where it would, it is the plan."""
    stock = [sheet("Small", 1000, 1000, price=10.0), sheet("Large", 2000, 1000, price=19.0)]
    book = job([part("Plate", 480, 480)], [Order("O", "Plate", 11, line=2)], stock)
    (own,) = plan_job(book, RunOptions(0.3, clock=lambda: 0.0)).groups
    # By hand: 4 plates lie on a small sheet, 8 on a large one, so one of each.
    assert {count.sheet.name: count.to_buy for count in own.sheets} == {"Small": 1, "Large": 1}
    for alone in stock:
        others = tuple(one if one is alone else replace(one, buy_limit=0) for one in stock)
        (plan,) = plan_job(replace(book, stock=others), RunOptions(0.3, clock=lambda: 0.0)).groups
        assert plan.measure > own.measure
        assert [count.sheet.name for count in plan.sheets] == [alone.name]


def test_spares_of_locked_layouts_are_made_once_only() -> None:
    book = job([part("Plate", 300, 300, spare=2)], [Order("O", "Plate", 7, line=2)],
               [sheet("S", 1000, 1000, price=5.0)])  # fmt: skip
    free = plan_job(book, RunOptions(0.3, clock=lambda: 0.0))
    locked = free.groups[0].layouts
    made = sum(len(x.placements) * x.repeats for x in locked)
    left = spares_left(book.parts, [free.groups[0].group], locked)
    assert left["Plate"].spare == 2 - max(0, made - 7)


def test_answers_worked_out_side_by_side_are_those_of_one_process() -> None:
    plan = planned()
    found = fits_of(plan, stop=never, report=quiet)
    with ProcessPoolExecutor(1, get_context("spawn")) as executor:
        assert fits_of(plan, seconds=60.0, stop=never, report=quiet, executor=executor) == found
    assert found.whole
    assert found.searched
    assert fits_of_values(json.loads(json.dumps(fits_values(found))), plan.job) == found
    assert with_room_of(plan, found, stop=never, report=quiet) == found


def test_without_time_there_are_no_answers_and_that_is_said() -> None:
    found = fits_of(planned(), stop=lambda: True, report=quiet)
    assert not found.whole
    assert not found.searched
    assert (found.on_hand, found.round_up, found.one_more, found.per_sheet) == ((), (), (), ())


S = sheet("S", 1000, 1000, price=10.0)
BOOK = job(
    [part("GU-1", 50, 50), part("ST-1", 50, 50, spare=6), part("PL-1", 50, 50)],
    [Order("J-101", "ST-1", 8), Order("J-103", "GU-1", 12, must=False), Order("J-102", "PL-1", 2)],
    [S],
)
(GROUP,) = make_groups(BOOK)[0]


def plan(**pieces: int) -> GroupPlan:
    """One sheet, twice, with some of each part (underscores for hyphens); where they lie does not matter."""
    placed = [
        Placement(name.replace("_", "-"), 0.0, 0.0, 0.0, False)
        for name, n in pieces.items()
        for _ in range(n)
    ]
    return GroupPlan(GROUP, (Layout("L1", S, tuple(placed), 2, False),), (), {}, 20.0)


def test_pieces_that_fit_and_spares_are_told_apart() -> None:
    used, other = plan(GU_1=6, ST_1=6, PL_1=1), plan(GU_1=1, ST_1=4, PL_1=1)
    assert left_out(used, other, BOOK.orders) == "10 GU-1 of J-103 and 4 spare ST-1 not made"
    assert left_out(used, other) == "10 GU-1 and 4 spare ST-1 not made"


def test_a_plan_that_makes_as_much_or_more_leaves_out_nothing() -> None:
    used, other = plan(GU_1=1, ST_1=4, PL_1=1), plan(GU_1=6, ST_1=6, PL_1=1)
    assert left_out(used, used, BOOK.orders) == ""
    assert left_out(used, other, BOOK.orders) == ""
