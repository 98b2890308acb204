from __future__ import annotations

from dataclasses import replace

from sheetplan.model import Layout, Order
from sheetplan.planning import RunOptions, plan_job
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
