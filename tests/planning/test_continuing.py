from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest

from sheetplan.model import GroupPlan, Job, Layout, Order, Plan, SheetSize
from sheetplan.planning import RunOptions, plan_job
from sheetplan.planning.continuing import continued
from sheetplan.planning.order_book import Before, renumbered
from tests.planning.books import faults, job, made, part, remnant, seeded_book, sheet


def test_a_locked_layout_stays_and_the_rest_is_planned_round_it() -> None:
    book = seeded_book(2, types=8, pieces=60)
    free = plan_job(book, RunOptions(0.5, clock=lambda: 0.0))
    kept = free.groups[0].layouts[1:2]
    plan = plan_job(book, RunOptions(0.5, 2, clock=lambda: 0.0), locked=kept)
    (group,) = plan.groups
    assert [(x.sheet, x.placements, x.repeats) for x in group.layouts[:1]] == [
        (x.sheet, x.placements, x.repeats) for x in kept
    ]
    assert made(group) == made(free.groups[0])
    assert all(layout.sheet in book.stock for layout in group.layouts)
    assert sum(count.used for count in group.sheets) == sum(layout.repeats for layout in group.layouts)
    assert not [fault for layout in group.layouts for fault in faults(layout, book)]


def test_locked_sheets_are_not_used_twice() -> None:
    book = job([part("Plate", 900, 900)], [Order("O", "Plate", 4, line=2)],
               [sheet("S", 1000, 1000, on_hand=2, buy_limit=1, price=5.0)],
               [remnant("R-1", 1000, 1000, value=1.0)])  # fmt: skip
    free = plan_job(book, RunOptions(0.2, clock=lambda: 0.0))
    on_remnant = next(x for x in free.groups[0].layouts if x.sheet in book.remnants)
    on_sheet = next(x for x in free.groups[0].layouts if x.sheet in book.stock)
    locked: list[Layout] = [on_remnant, replace(on_sheet, repeats=2)]
    plan = plan_job(book, RunOptions(0.2, clock=lambda: 0.0), locked=locked)
    assert made(plan.groups[0])["Plate"] == 4
    assert sum(x.sheet in book.remnants for x in plan.groups[0].layouts) == 1
    assert plan.groups[0].sheets[0].used == 3


def test_a_plan_that_is_locked_whole_stays_whole() -> None:
    book = seeded_book(4, types=6, pieces=40)
    free = plan_job(book, RunOptions(0.3, clock=lambda: 0.0))
    again = plan_job(book, RunOptions(0.3, 9, clock=lambda: 0.0), locked=free.groups[0].layouts)
    assert again.groups[0].layouts == free.groups[0].layouts
    assert again.groups[0].cost == free.groups[0].cost


def test_a_sheet_more_of_a_locked_layout_bears_its_number() -> None:
    """The same drawing under two numbers would be cut from two tickets."""
    sheets = [sheet("S", 1000, 1000, price=5.0)]
    book = job([part("Plate", 900, 900)], [Order("O", "Plate", 2, line=2)], sheets)
    [layout] = plan_job(book, RunOptions(0.1, clock=standing_still)).groups[0].layouts
    before = Before("ABCD", known=(layout,), highest=1)
    locked = [replace(layout, repeats=1, locked=True)]
    plan = continued(book, before, RunOptions(0.1, clock=standing_still), locked=locked)
    assert [(one.tag, one.repeats, one.locked) for one in plan.groups[0].layouts] == [("L1", 2, True)]


def test_a_layout_that_is_made_again_lies_in_its_old_order() -> None:
    """Its code stays, and with it the drawing to the byte: a ticket that is printed is of that drawing."""
    book = seeded_book(2, types=8, pieces=60)
    plan = plan_job(book, RunOptions(0.2, clock=standing_still))
    [group] = plan.groups
    layout = next(one for one in group.layouts if len(set(one.placements)) > 1)
    turned = replace(group, layouts=tuple(
        replace(one, placements=one.placements[::-1]) if one is layout else one for one in group.layouts
    ))  # fmt: skip
    before = Before("ABCD", known=group.layouts, uncut=group.layouts, highest=len(group.layouts))
    again = renumbered(replace(plan, groups=(turned,)), before).groups[0].layouts
    [same] = [one for one in again if one.tag == layout.tag]
    assert (same.placements, same.of_plan) == (layout.placements, "ABCD")


def standing_still() -> float:
    return 0.0


def next_plan(book: Job, first: Plan, uncut: Sequence[Layout], seconds: float = 0.1) -> GroupPlan:
    """The only gauge of the plan after another one."""
    [group] = first.groups
    before = Before("ABCD", uncut=tuple(uncut), known=group.layouts, highest=len(group.layouts))
    return continued(book, before, RunOptions(seconds, clock=standing_still)).groups[0]


def asking(book: Job, quantity: Callable[[Order], int]) -> Job:
    orders = [replace(order, quantity=quantity(order)) for order in book.orders]
    return replace(book, orders=tuple(order for order in orders if order.quantity > 0))


@pytest.mark.parametrize("seed", [4, 7])
@pytest.mark.parametrize("less", ["an order gone", "one less of each"])
def test_asking_for_less_never_makes_the_next_plan_dearer(seed: int, less: str) -> None:
    """The sheets in hand serve as they lie, so nothing more is bought (two are on hand, which count less)."""
    book = seeded_book(seed, types=8, pieces=60)
    first = plan_job(book, RunOptions(0.3, clock=standing_still))
    most = max(order.quantity for order in book.orders)
    fewer = {
        "an order gone": lambda order: 0 if order.quantity == most else order.quantity,
        "one less of each": lambda order: order.quantity - 1,
    }[less]
    now = asking(book, fewer)
    after = next_plan(now, first, first.groups[0].layouts)
    assert after.to_pay <= first.groups[0].to_pay
    assert made(after) == Counter({order.item: order.quantity for order in now.orders})
    assert not [fault for layout in after.layouts for fault in faults(layout, book)]


@pytest.mark.parametrize("seed", [1, 3])
@pytest.mark.parametrize("seconds", [(0.3, 0.1), (0.02, 0.3)], ids=["found before", "found after"])
@pytest.mark.parametrize("more", [0, 1])
def test_what_serves_is_kept_unless_a_new_plan_saves_a_hundredth(
    seed: int, seconds: tuple[float, float], more: int
) -> None:
    """One sheet is cut, and of an order ``more`` is asked for: a sheet of the cheapest size holds that."""
    book = asking(seeded_book(seed, types=8, pieces=60), lambda order: order.quantity)
    first = plan_job(book, RunOptions(seconds[0], clock=standing_still))
    layouts = first.groups[0].layouts
    cut = max(layouts, key=lambda layout: layout.repeats)
    left_over = [replace(cut, repeats=cut.repeats - 1)] if cut.repeats > 1 else []
    uncut = [*(one for one in layouts if one is not cut), *left_over]
    done = Counter(placement.part for placement in cut.placements)
    now = asking(book, lambda order: order.quantity - done[order.item] + more * (order is book.orders[0]))
    after = next_plan(now, first, uncut, seconds[1])
    left = sum(price_of(one) * one.repeats for one in uncut)
    stays = all(any(same(one, there) for there in after.layouts) for one in uncut)
    cheapest = min(sheet.price for sheet in book.stock)
    assert after.cost <= left + more * cheapest
    assert stays or after.cost * 1.01 < left + more * cheapest
    wanted = Counter({order.item: order.quantity for order in now.orders})
    assert made(after) == wanted


def price_of(layout: Layout) -> float:
    assert isinstance(layout.sheet, SheetSize)
    return layout.sheet.price


def same(one: Layout, other: Layout) -> bool:
    """Whether a layout is there as often as it was left, under its number."""
    told = [(la.sheet, la.placements, la.repeats, la.tag) for la in (one, other)]
    return told[0] == told[1]
