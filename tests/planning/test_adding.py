"""A plan with more orders beside those that it makes: what stands, what is added, what is left out again."""

from collections.abc import Sequence
from dataclasses import replace

from sheetplan.checking import check_plan
from sheetplan.model import GroupPlan, Job, Order, Plan
from sheetplan.planning.adding import with_less, with_more
from sheetplan.planning.progress import RunOptions
from tests.hard.quotes_add_up import small_book

BRIEF = RunOptions(0.1, 1)


def cheapest(ways: Sequence[GroupPlan]) -> GroupPlan:
    return min(ways, key=lambda way: (sum(way.short.values()), way.cost))


def month() -> tuple[Plan, Job]:
    """A month of one part on a sheet that has room for many more."""
    job = small_book(3)
    job = replace(job, orders=(Order("H-1", "a", 1),))
    empty = Plan(replace(job, orders=()), ())
    return with_more(empty, job, BRIEF, cheapest), job


def asking(job: Job, *orders: Order) -> Job:
    return replace(job, orders=(*job.orders, *orders))


def test_more_pieces_go_into_free_room_and_take_no_sheet() -> None:
    plan, job = month()
    after = with_more(plan, asking(job, Order("Q-1", "a", 1)), BRIEF, cheapest)
    assert check_plan(after) == ()
    assert after.groups[0].cost == plan.groups[0].cost
    before = {placement for layout in plan.groups[0].layouts for placement in layout.placements}
    now = {placement for layout in after.groups[0].layouts for placement in layout.placements}
    assert before < now, "nothing is moved"


def test_pieces_for_which_there_is_no_room_take_further_sheets() -> None:
    plan, job = month()
    after = with_more(plan, asking(job, Order("Q-1", "a", 400)), BRIEF, cheapest)
    assert check_plan(after) == ()
    assert not after.groups[0].short
    assert after.groups[0].cost > plan.groups[0].cost


def test_what_is_asked_for_no_more_is_left_out_again() -> None:
    plan, job = month()
    many = with_more(plan, asking(job, Order("Q-1", "a", 400)), BRIEF, cheapest)
    few = with_less(many, asking(job, Order("Q-1", "a", 7)))
    assert check_plan(few) == ()
    assert few.groups[0].cost <= many.groups[0].cost


def test_a_gauge_that_is_not_touched_is_the_same() -> None:
    plan, job = month()
    same = with_more(plan, job, BRIEF, cheapest)
    assert same.groups == plan.groups
