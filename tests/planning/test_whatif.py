from dataclasses import replace
from functools import cache

import pytest

from sheetplan.model import Job, Kit, Order, Plan
from sheetplan.planning import never, plan_job, quiet
from sheetplan.planning.capacity import greatest
from sheetplan.planning.whatif import WhatIf, what_if
from sheetplan.trade.thickness import Thickness
from tests.planning.books import job, made, part, rule, sheet


def book() -> Job:
    """A kit and a loose part on sheets of 1000 x 1000 without gap and margin, so that all can be counted."""
    parts = [part("Deck", 500, 400), part("Tab", 100, 100), part("Door", 1000, 300)]
    orders = [Order("A", "Table", 3, line=2), Order("B", "Door", 2, line=3)]
    plain = job(parts, orders, [sheet("S", 1000, 1000, on_hand=2, price=10.0)], cutting=rule(0.0, 0.0))
    return replace(plain, kits={"Table": Kit("Table", {"Deck": 1, "Tab": 2})})


@cache
def answered() -> tuple[Plan, WhatIf]:
    plan = plan_job(book(), seconds=0.5, seed=1, stop=never, report=quiet, clock=lambda: 0.0)
    return plan, what_if(plan, stop=never, report=quiet)


def replanned(changed: Job) -> Plan:
    return plan_job(changed, seconds=0.5, seed=1, stop=never, report=quiet, clock=lambda: 0.0)


def test_kits_from_the_stock_on_hand() -> None:
    """A table takes 220,000 mm2; four decks and eight tabs leave 120,000 mm2 of a sheet in a strip."""
    _, answers = answered()
    (kits,) = answers.on_hand
    assert (kits.kit, kits.whole, kits.bottleneck) == ("Table", 8, "Carbon steel 10 ga")
    assert kits.by_gauge == {"Carbon steel 10 ga": 8}


def test_kits_per_sheet() -> None:
    (share,) = answered()[1].per_sheet
    assert (share.kits, share.sheets, share.each) == (4, 1, 4.0)


def test_half_kits_are_counted_over_two_sheets() -> None:
    """Three plates of 400 fill a sheet's length of 1200; a kit of two is one and a half a sheet."""
    half = job([part("Plate", 400, 900)], [Order("A", "Pair", 1)], [sheet("S", 1200, 1000, price=1.0)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    half = replace(half, kits={"Pair": Kit("Pair", {"Plate": 2})})
    (share,) = what_if(replanned(half), stop=never, report=quiet).per_sheet
    assert (share.kits, share.sheets, share.each) == (3, 2, 1.5)


def test_a_rounded_order_takes_no_further_sheet_and_one_more_does() -> None:
    plan, answers = answered()
    cost = plan.groups[0].cost
    for answer in answers.round_up:
        order = plan.job.orders[answer.order]
        for more, same in ((answer.extra, True), (answer.extra + 1, False)):
            grown = replace(order, quantity=order.quantity + more)
            orders = tuple(grown if o is order else o for o in plan.job.orders)
            again = replanned(replace(plan.job, orders=orders)).groups[0].cost
            assert (again <= cost + 1e-9) is same or more > order.quantity
    assert any(answer.extra for answer in answers.round_up)


def test_one_more_sheet_makes_what_it_is_said_to_add() -> None:
    """The stock is limited to what the plan uses and the sheet more; the order grows by what is said."""
    plan, answers = answered()
    used = plan.groups[0].sheets[0].used
    for answer in answers.one_more:
        (stock,) = plan.job.stock
        grown = replace(stock, on_hand=used + 1, buy_limit=0)
        order = Order("More", answer.item, answer.adds)
        changed = replace(plan.job, stock=(grown,), orders=(*plan.job.orders, order))
        assert not replanned(changed).groups[0].short


def test_one_more_sheet_where_pieces_are_short() -> None:
    short = job([part("Plate", 500, 900)], [Order("A", "Plate", 5)],
                [sheet("S", 1000, 1000, on_hand=1, buy_limit=0)], cutting=rule(0.0, 0.0))  # fmt: skip
    plan = replanned(short)
    assert made(plan.groups[0]) == {"Plate": 2}
    (answer,) = what_if(plan, stop=never, report=quiet).one_more
    assert (answer.item, answer.adds, answer.short) == ("Plate", 2, True)


def test_one_more_sheet_promises_no_kits_that_another_gauge_holds_up() -> None:
    """Three sets take three quarters of a thin sheet and one and a half thick ones, so one more set fits.

    Another thin sheet has room for four more decks, but only one more set is whole.
    """
    thick = Thickness(6.35, "1/4 in")
    floor = replace(part("Floor", 1000, 500), thickness=thick)
    book = job([part("Deck", 500, 500), floor], [Order("A", "Set", 3)],
               [sheet("Thin", 1000, 1000, price=1.0),
                replace(sheet("Thick", 1000, 1000, price=1.0), thickness=thick)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    rules = (*book.rules, replace(book.rules[0], thickness=thick))
    book = replace(book, rules=rules, kits={"Set": Kit("Set", {"Deck": 1, "Floor": 1})})
    answers = what_if(replanned(book), stop=never, report=quiet)
    found = {one.sheet.name: (one.adds, one.whole, one.held_up) for one in answers.one_more}
    assert found == {
        "Thin": (4, 1, "Carbon steel 1/4 in"),
        "Thick": (2, 1, "Carbon steel 10 ga"),
    }
    for sets, thin, two in ((4, 2, 2), (5, 2, 2)):
        stock = tuple(
            replace(one, on_hand=thin if one.name == "Thin" else two, buy_limit=0) for one in book.stock
        )
        again = replanned(replace(book, stock=stock, orders=(Order("A", "Set", sets),)))
        assert any(one.short for one in again.groups) is (sets > 4)


@pytest.mark.parametrize("most", [0, 1, 2, 17])
@pytest.mark.parametrize("limit", [0, 1, 5, 17, 40])
def test_greatest(limit: int, most: int) -> None:
    assert greatest(lambda n: n <= limit, most) == min(limit, most)


def test_stopped_answers_are_those_that_were_ready() -> None:
    assert what_if(answered()[0], stop=lambda: True, report=quiet) == WhatIf((), (), (), ())
