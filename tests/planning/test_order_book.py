from __future__ import annotations

from dataclasses import replace

import pytest

from sheetplan.model import Corner, Grain, Job, Kit, Order, Plan, Settings
from sheetplan.planning import RunOptions, plan_job
from tests.planning.books import INCH, boxes, faults, job, made, part, remnant, rule, seeded_book, sheet


def planned(book: Job, seconds: float = 0.5, seed: int = 1) -> Plan:
    """A plan on a clock that stands still, so that a busy machine changes nothing."""
    return plan_job(book, RunOptions(seconds, seed, clock=lambda: 0.0))


@pytest.mark.parametrize("seed", range(4))
def test_a_seeded_book_is_made_in_full_and_by_its_rules(seed: int) -> None:
    book = seeded_book(seed)
    plan = planned(book)
    (group,) = plan.groups
    assert made(group) == {order.item: order.quantity for order in book.orders}
    assert not group.short
    assert [fault for layout in group.layouts for fault in faults(layout, book)] == []
    for layout in group.layouts:
        for placement in layout.placements:
            grain = book.parts[placement.part].grain
            assert grain is Grain.NONE or (placement.turn % 180 == 0) == (grain is Grain.LENGTH)


def test_strips_that_fill_a_sheet_to_the_edge_take_one_sheet() -> None:
    # Five strips with their gaps and both margins: 5 x 9.375 + 4 x 0.25 + 2 x 0.0625 = 48 in.
    strips = part("Strip", 96 * INCH - 2 * 0.0625 * INCH, 9.375 * INCH)
    book = job([strips], [Order("O", "Strip", 5)], [sheet("48 x 96", 96 * INCH, 48 * INCH, price=1.0)],
               cutting=rule(0.25 * INCH, 0.0625 * INCH))  # fmt: skip
    plan = planned(book)
    assert [(layout.repeats, len(layout.placements)) for layout in plan.groups[0].layouts] == [(1, 5)]
    assert faults(plan.groups[0].layouts[0], book) == []


@pytest.mark.parametrize("corner", list(Corner))
def test_parts_lie_at_the_datum_corner(corner: Corner) -> None:
    book = job([part("Plate", 500, 300)], [Order("O", "Plate", 2)], [sheet("S", 2000, 1000)],
               cutting=rule(5, 10), settings=Settings(datum=corner))  # fmt: skip
    (layout,) = planned(book).groups[0].layouts
    xs = [x for _, x0, _, x1, _ in boxes(layout, dict(book.parts)) for x in (x0, x1)]
    ys = [y for _, _, y0, _, y1 in boxes(layout, dict(book.parts)) for y in (y0, y1)]
    assert (max(xs) if corner.is_right else min(xs)) == pytest.approx(1990 if corner.is_right else 10)
    assert (max(ys) if corner.is_upper else min(ys)) == pytest.approx(990 if corner.is_upper else 10)


def test_what_does_not_fit_is_said_and_the_rest_is_made() -> None:
    odd = part("Odd", 100, 50, turns=(90.0,), grain=Grain.LENGTH)
    parts = [part("Plate", 500, 300), part("Deck", 5000, 300), odd]
    orders = [Order(f"O{i}", p.name, 2, line=i + 2) for i, p in enumerate(parts)]
    plan = planned(job(parts, orders, [sheet("S", 2000, 1000, price=5.0)]))
    (group,) = plan.groups
    assert group.short == {"Deck": 2, "Odd": 2}
    assert made(group) == {"Plate": 2}
    assert [(p.row, "larger than every sheet" in p.what) for p in plan.problems] == [(3, True), (4, False)]


def test_stock_that_runs_out_leaves_pieces_short() -> None:
    book = job([part("Plate", 900, 900)], [Order("O", "Plate", 5, line=2)],
               [sheet("S", 1000, 1000, on_hand=2, buy_limit=3, multiple=2, price=5.0)])  # fmt: skip
    plan = planned(book)
    (group,) = plan.groups
    (count,) = group.sheets
    assert (count.used, count.from_rack, count.to_buy) == (4, 2, 2)
    assert group.short == {"Plate": 1}
    assert "used up" in plan.problems[0].what


def test_a_remnant_that_costs_nothing_beside_one_that_does_is_no_trouble() -> None:
    parts = [part("P", 12 * INCH, 8 * INCH), part("Q", 8 * INCH, 10 * INCH)]
    orders = [Order("O", "P", 8), Order("O", "Q", 19)]
    rack = [remnant("R-1", 35 * INCH, 19 * INCH), remnant("R-2", 10 * INCH, 9 * INCH, value=12.5)]
    book = job(parts, orders, [sheet("S", 96 * INCH, 48 * INCH, buy_limit=0)], rack)
    (group,) = planned(book).groups
    assert group.cost == 0.0
    assert sum(made(group).values()) + sum(group.short.values()) == 27
    assert [fault for layout in group.layouts for fault in faults(layout, book)] == []


def test_bought_sheets_come_in_whole_multiples() -> None:
    book = job([part("Plate", 900, 900)], [Order("O", "Plate", 6)],
               [sheet("S", 1000, 1000, on_hand=2, multiple=3, price=5.0)])  # fmt: skip
    (count,) = planned(book).groups[0].sheets
    assert (count.used, count.from_rack, count.to_buy) == (6, 2, 6)


def test_orders_that_are_cut_if_they_fit_never_open_a_sheet() -> None:
    parts = [part("Plate", 900, 400), part("Tab", 90, 40), part("Shim", 30, 30, spare=4)]
    orders = [Order("O1", "Plate", 1), Order("O2", "Tab", 5000, must=False), Order("O3", "Shim", 1)]
    book = job(parts, orders, [sheet("S", 1000, 1000, price=5.0)])
    (group,) = planned(book).groups
    assert sum(layout.repeats for layout in group.layouts) == 1
    count = made(group)
    assert 20 < count["Tab"] < 5000
    assert count["Plate"] == 1
    assert 1 <= count["Shim"] <= 5
    assert faults(group.layouts[0], book) == []


def test_a_remnant_is_used_round_its_old_cuts() -> None:
    from sheetplan.model import rectangle
    from sheetplan.shapes import move

    old = move(rectangle(400, 1000).outer, 0, 0)
    book = job([part("Plate", 500, 900)], [Order("O", "Plate", 1)], [sheet("S", 2000, 1000, price=50.0)],
               [remnant("R-1", 1000, 1000, cuts=(old,), value=5.0)], cutting=rule(5, 10))  # fmt: skip
    (layout,) = planned(book).groups[0].layouts
    ((_, x0, _, x1, _),) = boxes(layout, dict(book.parts))
    assert layout.sheet is book.remnants[0]
    assert x0 >= 405 - 1e-6
    assert x1 <= 990 + 1e-6


def test_kits_are_exploded_over_their_gauges() -> None:
    book = job([part("Plate", 500, 300)], [Order("O", "Kit", 3)], [sheet("S", 2000, 1000, price=5.0)])
    book = Job(book.settings, book.materials, book.rules, book.parts, {"Kit": Kit("Kit", {"Plate": 4})},
               book.orders, book.stock)  # fmt: skip
    assert made(planned(book).groups[0]) == {"Plate": 12}


def test_the_same_seed_gives_the_same_plan() -> None:
    book = seeded_book(7, pieces=60)
    assert planned(book) == planned(book)


def test_a_run_that_is_stopped_at_once_still_makes_everything() -> None:
    book = seeded_book(3)
    plan = plan_job(book, RunOptions(5.0, stop=lambda: True))
    assert plan.stopped_early
    assert made(plan.groups[0]) == {order.item: order.quantity for order in book.orders}


SMALL = sheet("4x8", 96 * INCH, 48 * INCH, price=100.0, on_hand=1)
LONG = sheet("4x10", 120 * INCH, 48 * INCH, price=123.0)
BIG = sheet("5x10", 120 * INCH, 60 * INCH, price=150.0)


def test_no_plan_is_dearer_than_one_that_buys_one_size_alone() -> None:
    stock = [SMALL, LONG, BIG]
    book = job([part("plate", 23 * INCH, 14 * INCH)], [Order("H-1", "plate", 60)], stock)
    own = plan_job(book, RunOptions(0.5, clock=lambda: 0.0))
    for alone in stock:
        others = tuple(one if one is alone else replace(one, buy_limit=0) for one in stock)
        plan = plan_job(replace(book, stock=others), RunOptions(0.5, clock=lambda: 0.0))
        if not plan.groups[0].short:
            assert own.groups[0].measure <= plan.groups[0].measure + 1e-9, alone.name
