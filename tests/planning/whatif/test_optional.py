"""Orders that are cut if they fit: whole lines and whole kits over all gauges first, then spares."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import cache
from multiprocessing import get_context

import pytest

from sheetplan.checking import check_plan
from sheetplan.model import Job, Kit, Loop, Order, Outline, Part, Plan
from sheetplan.money.order_shares import allocate, pieces_made
from sheetplan.planning import RunOptions, plan_job
from sheetplan.planning.whatif import optional
from sheetplan.planning.whatif.optional import with_optional
from sheetplan.trade.thickness import Thickness
from tests.planning.books import STEEL, TEN_GAUGE, job, part, rule, seeded_book, sheet

QUARTER = Thickness(6.35, "1/4 in")


def planned(book: Job) -> Plan:
    return plan_job(book, RunOptions(0.5, clock=lambda: 0.0))


def made(plan: Plan) -> Counter[str]:
    return pieces_made(plan)


def sheets(plan: Plan) -> dict[str, int]:
    return {count.sheet.name: count.used for one in plan.groups for count in one.sheets}


def two_gauges(orders: list[Order], spare: int = 0) -> Job:
    """Thin and thick sheets of 1000 x 1000 in quarters; a set takes one quarter of each."""
    thick = [replace(part(name, 500, 500), thickness=QUARTER) for name in ("Floor", "Slab")]
    parts = [part("Deck", 500, 500), part("Tab", 500, 500, spare=spare), *thick]
    stock = [sheet("Thin", 1000, 1000, price=1.0),
             replace(sheet("Thick", 1000, 1000, price=1.0), thickness=QUARTER)]  # fmt: skip
    book = job(parts, orders, stock, cutting=rule(0.0, 0.0))
    rules = (*book.rules, replace(book.rules[0], thickness=QUARTER))
    return replace(book, rules=rules, kits={"Set": Kit("Set", {"Deck": 1, "Floor": 1})})


def test_a_kit_is_cut_in_all_its_gauges_or_in_none() -> None:
    """Three quarters of a thin sheet are free and one of a thick one: one set, and tabs in the other two."""
    orders = [Order("A", "Tab", 1), Order("B", "Slab", 3), Order("C", "Set", 3, must=False),
              Order("D", "Tab", 2, must=False)]  # fmt: skip
    plan = planned(two_gauges(orders))
    assert made(plan) == {"Tab": 3, "Slab": 3, "Deck": 1, "Floor": 1}
    assert [line.made for line in allocate(plan).lines] == [1, 3, 1, 2]
    assert sheets(plan) == {"Thin": 1, "Thick": 1}
    assert check_plan(plan) == ()


def test_a_kit_for_which_one_gauge_has_no_room_is_not_begun() -> None:
    orders = [Order("A", "Tab", 1), Order("B", "Slab", 4), Order("C", "Set", 2, must=False)]
    plan = planned(two_gauges(orders))
    assert made(plan) == {"Tab": 1, "Slab": 4}


def test_spares_come_last() -> None:
    """A spare is of a part that is ordered; here one tab must be made."""
    orders = [Order("A", "Tab", 1), Order("B", "Slab", 2), Order("C", "Set", 2, must=False)]
    plan = planned(two_gauges(orders, spare=5))
    assert made(plan) == {"Tab": 2, "Deck": 2, "Slab": 2, "Floor": 2}
    fewer = planned(two_gauges([*orders[:2], Order("C", "Set", 1, must=False)], spare=5))
    assert made(fewer) == {"Tab": 3, "Deck": 1, "Slab": 2, "Floor": 1}


def test_a_line_that_can_be_whole_goes_before_the_greater_part_of_another() -> None:
    """Two of three plates would fit, or the one line of four small ones."""
    orders = [Order("A", "Plate", 2), Order("B", "Plate", 3, must=False), Order("C", "Small", 8, must=False)]
    book = job([part("Plate", 500, 500), part("Small", 250, 250)], orders,
               [sheet("S", 1000, 1000, price=1.0)], cutting=rule(0.0, 0.0))  # fmt: skip
    assert [line.made for line in allocate(planned(book)).lines] == [2, 0, 8]


def test_small_lines_first_where_more_lines_are_whole_so() -> None:
    book = job([part("Plate", 500, 500), part("Half", 500, 250)],
               [Order("A", "Plate", 2), Order("B", "Plate", 2, must=False), Order("C", "Half", 1, must=False),
                Order("D", "Half", 2, must=False)],
               [sheet("S", 1000, 1000, price=1.0)], cutting=rule(0.0, 0.0))  # fmt: skip
    assert [line.made for line in allocate(planned(book)).lines] == [2, 0, 1, 2]


def test_of_a_line_of_loose_parts_as_many_as_fit() -> None:
    book = job([part("Plate", 500, 500)], [Order("A", "Plate", 1), Order("B", "Plate", 9, must=False)],
               [sheet("S", 1000, 1000, price=1.0)], cutting=rule(0.0, 0.0))  # fmt: skip
    assert made(planned(book)) == {"Plate": 4}


def test_locked_layouts_stay_and_what_they_make_counts() -> None:
    book = two_gauges([Order("A", "Deck", 3), Order("B", "Slab", 1), Order("C", "Set", 2, must=False)])
    free = planned(replace(book, orders=book.orders[:2]))
    held = replace(
        free,
        job=book,
        groups=tuple(
            replace(one, group=again.group, layouts=tuple(replace(x, locked=True) for x in one.layouts))
            for one, again in zip(free.groups, planned(book).groups, strict=True)
        ),
    )
    after = with_optional(held, RunOptions(60.0))
    assert [one.layouts for one in after.groups] == [one.layouts for one in held.groups]


def test_without_time_what_is_there_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    orders = [Order("A", "Tab", 1), Order("B", "Slab", 3), Order("C", "Set", 3, must=False)]
    plan = planned(two_gauges(orders))
    monkeypatch.setattr(optional, "LEAST_SECONDS", 0.0)
    assert made(with_optional(plan, RunOptions(0.0))) == made(plan)


def test_other_processes_find_the_same() -> None:
    plan = planned(books()[0])
    with ProcessPoolExecutor(1, get_context("spawn")) as executor:
        there = with_optional(plan, RunOptions(60.0, executor=executor))
    assert there == with_optional(plan, RunOptions(60.0))


def test_repeated_layouts_are_not_split_for_spares() -> None:
    parts = [part("Plate", 600, 600), part("Tab", 300, 300, spare=5)]
    book = job(parts, [Order("A", "Plate", 3), Order("B", "Tab", 1)], [sheet("S", 1000, 1000, price=1.0)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    without = planned(replace(book, parts={**book.parts, "Tab": part("Tab", 300, 300)}))
    plan = planned(book)
    assert len(plan.groups[0].layouts) <= len(without.groups[0].layouts)
    assert made(plan)["Tab"] > 1


@cache
def books() -> tuple[Job, ...]:
    """Seeded books of plates and brackets in kits, a third of the lines cut if they fit."""
    found = []
    for seed in (3, 4, 5, 6):
        plain = seeded_book(seed, types=9, pieces=50)
        names = list(plain.parts)
        triangle = Outline(Loop(((0.0, 0.0, 0.0), (150.0, 0.0, 0.0), (0.0, 200.0, 0.0))))
        bracket = Part("Bracket", STEEL.name, TEN_GAUGE, triangle)
        kits = {"One": Kit("One", {names[0]: 1, names[1]: 2, "Bracket": 2}),
                "Two": Kit("Two", {names[2]: 1, "Bracket": 1})}  # fmt: skip
        orders = (*plain.orders, Order("K", "One", 4), Order("L", "One", 3, must=False),
                  Order("M", "Two", 5, must=False), Order("N", names[3], 4, must=False))  # fmt: skip
        parts = {**plain.parts, "Bracket": bracket, names[4]: replace(plain.parts[names[4]], spare=2)}
        found.append(replace(plain, parts=parts, kits=kits, orders=orders))
    return tuple(found)


@pytest.mark.parametrize("number", range(4))
def test_no_odd_pieces_no_further_sheet_and_all_musts(number: int) -> None:
    book = books()[number]
    plan = planned(book)
    assert check_plan(plan) == ()
    bare = planned(replace(book, orders=tuple(order for order in book.orders if order.must)))
    assert sheets(plan) == sheets(bare)
    shared = allocate(plan)
    for line in shared.lines:
        order = book.orders[line.order]
        if order.must:
            assert line.short == 0
        elif order.item in book.kits:
            missing = dict(line.missing)
            for name, count in book.kits[order.item].parts.items():
                odd = line.short * count - missing.get(name, 0)
                assert odd <= book.parts[name].spare


@pytest.mark.parametrize("number", range(4))
def test_no_line_loses_by_being_served_again(number: int) -> None:
    plan = planned(books()[number])
    again = with_optional(plan, RunOptions(60.0))
    whole, after = ([line.short == 0 for line in allocate(one).lines] for one in (plan, again))
    assert sum(after) >= sum(whole)
    assert check_plan(again) == ()
