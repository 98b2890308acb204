"""A plan with more orders beside those that it makes: what stands, what is added, what is left out again."""

from collections.abc import Sequence
from dataclasses import replace

from sheetplan.checking import check_plan
from sheetplan.model import GroupPlan, Job, Kit, Order, Plan, rectangle
from sheetplan.planning.adding import with_less, with_more
from sheetplan.planning.progress import RunOptions
from sheetplan.planning.whatif.beds import beds_of, filler_of
from tests.hard.quotes_add_up import small_book
from tests.money.bookmaking import parts

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


def test_a_piece_that_fits_nowhere_is_passed_over_and_the_rest_of_its_kit_finds_room() -> None:
    """Part and kit are of the gauge that the plan cuts; no sheet is opened or laid anew for the piece."""
    plan, job = month()
    job = replace(job, parts={**job.parts, **parts(gate=rectangle(9000.0, 9000.0))},
                  kits={**job.kits, "lock": Kit("lock", {"a": 1, "gate": 2})})  # fmt: skip
    tried: list[int] = []

    def counted(ways: Sequence[GroupPlan]) -> GroupPlan:
        tried.append(len(ways))
        return cheapest(ways)

    after = with_more(plan, asking(job, Order("Q-1", "lock", 1)), BRIEF, counted)
    assert tried == [1]
    assert check_plan(after) == ()
    (one,) = after.groups
    assert one.short == {"gate": 2}
    assert one.cost == plan.groups[0].cost
    laid = [placement for layout in one.layouts for placement in layout.placements]
    stood = [placement for layout in plan.groups[0].layouts for placement in layout.placements]
    assert (len(laid), {*stood} < {*laid}) == (len(stood) + 1, True)
    filler = filler_of(one.group, job.parts, job.settings)
    assert "gate" not in filler.parts
    assert filler.added(beds_of(one.layouts)[0], {"gate": 2, "nobody": 1}) == ()
