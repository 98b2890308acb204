"""Sheet sizes compared: what was found with one of them bought alone."""

from dataclasses import replace

import pytest

from sheetplan.checking import check_plan
from sheetplan.model import GroupPlan, Order, Plan
from sheetplan.planning import Planned, never, plan_with_sizes, quiet
from sheetplan.planning.one_size import instead_of
from tests.planning.books import INCH, job, part, sheet

SMALL = sheet("4x8", 96 * INCH, 48 * INCH, price=100.0, on_hand=1)
LONG = sheet("4x10", 120 * INCH, 48 * INCH, price=123.0)
BIG = sheet("5x10", 120 * INCH, 60 * INCH, price=150.0)


@pytest.fixture(scope="module")
def planned() -> Planned:
    book = job([part("plate", 23 * INCH, 14 * INCH)], [Order("H-1", "plate", 60)], [SMALL, LONG, BIG])
    return plan_with_sizes(book, seconds=0.5, seed=1, stop=never, report=quiet, clock=lambda: 0.0)


def bought(group_plan: GroupPlan) -> set[str]:
    return {count.sheet.name for count in group_plan.sheets if count.to_buy}


def answers_of(plan: Plan, stock: tuple) -> Planned:
    book = replace(plan.job, stock=stock)
    return plan_with_sizes(book, seconds=0.3, seed=1, stop=never, report=quiet, clock=lambda: 0.0)


def test_each_answer_buys_one_size_and_makes_the_same(planned: Planned) -> None:
    plan, others = planned.plan, planned.sizes
    assert {one.sheet.name for one in others} == {"4x8", "4x10", "5x10"} - bought(plan.groups[0])
    for one in others:
        assert bought(one.plan) == {one.sheet.name}
        assert one.plan.short == {}
        assert {count.sheet for count in one.plan.sheets} <= set(plan.job.stock), "the book's own sheets"
        assert check_plan(replace(plan, groups=(one.plan,))) == ()
        assert one.plan.measure >= plan.groups[0].measure - 1e-9, "a cheaper one would be the plan"
    assert [one.sheet for one in instead_of(plan.groups[0], others)] == [one.sheet for one in others]


def test_a_size_that_cannot_make_it_is_no_answer(planned: Planned) -> None:
    narrow = answers_of(planned.plan, (SMALL, replace(LONG, buy_limit=1), BIG))
    assert "4x10" not in {one.sheet.name for one in narrow.sizes}


def test_nothing_to_compare(planned: Planned) -> None:
    rich = answers_of(planned.plan, tuple(replace(s, on_hand=99) for s in planned.plan.job.stock))
    assert bought(rich.plan.groups[0]) == set()
    assert rich.sizes == ()
    assert answers_of(planned.plan, (BIG,)).sizes == ()
