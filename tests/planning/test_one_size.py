"""Sheet sizes compared by planning with one of them bought alone."""

from dataclasses import replace

import pytest

from sheetplan.checking import check_plan
from sheetplan.model import GroupPlan, Order, Plan
from sheetplan.planning import never, plan_job, quiet
from sheetplan.planning.one_size import (
    TOGETHER,
    OneSize,
    instead_of,
    plans_of_one_size,
    with_smaller_bills,
    with_the_cheapest,
)
from tests.planning.books import INCH, job, part, sheet

SMALL = sheet("4x8", 96 * INCH, 48 * INCH, price=100.0, on_hand=1)
LONG = sheet("4x10", 120 * INCH, 48 * INCH, price=123.0)
BIG = sheet("5x10", 120 * INCH, 60 * INCH, price=150.0)


@pytest.fixture(scope="module")
def plan() -> Plan:
    book = job([part("plate", 23 * INCH, 14 * INCH)], [Order("H-1", "plate", 60)], [SMALL, LONG, BIG])
    return plan_job(book, seconds=0.5, seed=1, stop=never, report=quiet)


@pytest.fixture(scope="module")
def others(plan: Plan) -> tuple[OneSize, ...]:
    return plans_of_one_size(plan, seconds=0.5, seed=1, stop=never)


def bought(group_plan: GroupPlan) -> set[str]:
    return {count.sheet.name for count in group_plan.sheets if count.to_buy}


def test_each_answer_buys_one_size_and_makes_the_same(plan: Plan, others: tuple[OneSize, ...]) -> None:
    assert {one.sheet.name for one in others} == {"4x8", "4x10", "5x10"} - bought(plan.groups[0])
    for one in others:
        assert bought(one.plan) == {one.sheet.name}
        assert one.plan.short == {}
        assert {count.sheet for count in one.plan.sheets} <= set(plan.job.stock), "the book's own sheets"
        assert check_plan(replace(plan, groups=(one.plan,))) == ()
        assert one.plan.cost >= plan.groups[0].cost - 0.005


def test_a_size_that_cannot_make_it_is_no_answer(plan: Plan) -> None:
    stock = [SMALL, replace(LONG, buy_limit=1), BIG]
    book = replace(plan.job, stock=tuple(stock))
    narrow = plan_job(book, seconds=0.5, seed=1, stop=never, report=quiet)
    answers = plans_of_one_size(narrow, seconds=0.3, seed=1, stop=never)
    assert "4x10" not in {one.sheet.name for one in answers}


def test_nothing_to_compare(plan: Plan) -> None:
    rich = replace(plan.job, stock=tuple(replace(s, on_hand=99) for s in plan.job.stock))
    enough = plan_job(rich, seconds=0.3, seed=1, stop=never, report=quiet)
    assert bought(enough.groups[0]) == set()
    assert plans_of_one_size(enough, seconds=0.3, seed=1, stop=never) == ()
    alone = plan_job(replace(plan.job, stock=(BIG,)), seconds=0.3, seed=1, stop=never, report=quiet)
    assert plans_of_one_size(alone, seconds=0.3, seed=1, stop=never) == ()


def test_where_time_runs_out_sizes_are_left_out() -> None:
    """Nineteen sizes come in three turns, and the time is over after the first."""
    sizes = [sheet(f"S{n}", (96 + 6 * n) * INCH, 48 * INCH, price=100.0 + 7.0 * n) for n in range(20)]
    book = job([part("plate", 23 * INCH, 14 * INCH)], [Order("H-1", "plate", 60)], sizes)
    planned = plan_job(book, seconds=0.2, seed=1, stop=never, report=quiet)
    all_of_them = [size.name for size in sizes if size.name not in bought(planned.groups[0])]
    ticks = iter(range(0, 1000, 100))
    answers = plans_of_one_size(planned, seconds=0.2, seed=1, stop=never, clock=lambda: float(next(ticks)))
    assert [one.sheet.name for one in answers] == all_of_them[:TOGETHER]
    assert len(plans_of_one_size(planned, seconds=0.2, seed=1, stop=never)) == len(all_of_them)


def test_a_cheaper_answer_is_taken_over(plan: Plan, others: tuple[OneSize, ...]) -> None:
    dear = replace(plan, groups=(replace(plan.groups[0], cost=10_000.0),))
    cheapest = min((one.plan for one in others), key=lambda other: other.cost)
    taken = with_the_cheapest(dear, others).groups[0]
    assert taken.cost == cheapest.cost
    assert taken.bound == dear.groups[0].bound
    assert [layout.tag for layout in taken.layouts] == [f"L{n}" for n in range(1, len(taken.layouts) + 1)]
    assert with_the_cheapest(plan, others).groups[0].cost == plan.groups[0].cost
    alone = [count.sheet for count in taken.sheets if count.to_buy]
    assert [one.sheet for one in instead_of(taken, others)] == [
        one.sheet for one in others if one.sheet not in alone
    ]


def test_an_answer_from_what_is_on_hand_is_a_choice(plan: Plan, others: tuple[OneSize, ...]) -> None:
    """Beside the plan, which buys; the greatest bill of all is no choice."""
    dear = replace(plan, groups=(replace(plan.groups[0], choices=()),))
    owned = tuple(replace(count, to_buy=0) for count in others[0].plan.sheets)
    free = replace(others[0], plan=replace(others[0].plan, sheets=owned))
    (choice,) = with_smaller_bills(dear, (*others, free)).groups[0].choices
    assert choice.name == "least to pay"
    assert choice.plan.sheets == owned
    assert "less to pay" in choice.sentence
    many = tuple(replace(count, to_buy=99) for count in others[0].plan.sheets)
    worse = replace(others[0], plan=replace(others[0].plan, sheets=many))
    assert with_smaller_bills(dear, (worse,)) == dear
