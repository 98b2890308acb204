"""Pieces that no order holds: where they come from, to whom they are offered, and what is left; by hand."""

from dataclasses import replace

from sheetplan.model import Job, Kit, Order, OrderState, Settings
from sheetplan.rack.credits import (
    SPARE,
    Source,
    asked_lines,
    credits_of,
    drawn,
    finished_parts,
    held_by_none,
    offers,
    open_orders,
    progress_of,
    sources,
    still_wanted,
    unsettled,
    with_steps,
)
from sheetplan.rack.step import Asked, Credit, Step

KITS = {"set": Kit("set", {"a": 2, "b": 3})}


def job(*orders: Order) -> Job:
    return Job(Settings(), {}, (), {}, KITS, orders, ())


def cut(number: int, pieces: dict[str, int], *credits: Credit, date: str = "2026-11-10") -> Step:
    return Step(number=number, date=date, pieces=pieces, credits=credits)


GONE = Order("H-1", "a", 5, line=5, state=OrderState.CANCELLED)
FEWER = Order("H-2", "a", 2, line=6)
WANTS = Order("H-3", "a", 9, line=7, due="2026-12-01")
SET = Order("H-4", "set", 1, line=8, due="2026-12-02")
BOOK = job(GONE, FEWER, WANTS, SET)
STEPS = (
    cut(1, {"a": 9, "b": 1}, Credit("H-1", "a", "a", 4), Credit("H-2", "a", "a", 4)),
    cut(2, {"a": 3}, Credit("H-9", "a", "a", 2)),
)
"""Of 12 a, 4 were for the cancelled H-1, 4 for H-2, which asks for 2 by now, 2 for H-9: its row is gone."""


def test_free_pieces_come_of_cancelled_orders_of_smaller_ones_and_spares() -> None:
    assert sources(BOOK, STEPS) == (
        Source("H-1", "a", "a", 4, "H-1 (a), cancelled"),
        Source("H-2", "a", "a", 2, "H-2 (a), more than it asks for"),
        Source("", "", "a", 2, SPARE),  # 12 cut, 10 of them credited
        Source("", "", "b", 1, SPARE),
    )


def test_free_pieces_are_offered_to_open_orders_by_their_date() -> None:
    """Eight free a: all go to H-3, which wants nine; the one b goes to the set."""
    assert offers(BOOK, STEPS) == (Credit("H-3", "a", "a", 8), Credit("H-4", "set", "b", 1))
    found = finished_parts(BOOK, STEPS)
    assert [(one.part, dict(one.free), dict(one.offered)) for one in found] == [
        ("a", {"H-1 (a), cancelled": 4, "H-2 (a), more than it asks for": 2, SPARE: 2}, {"H-3": 8}),
        ("b", {SPARE: 1}, {"H-4": 1}),
    ]
    assert [dict(one.unsettled) for one in found] == [{"H-9": 2}, {}]


def test_pieces_of_a_row_that_is_gone_are_unsettled_and_offered_to_nobody() -> None:
    done = credits_of(STEPS)
    assert held_by_none(BOOK, done) == {("H-9", "a"): {"a": 2}}
    assert unsettled(BOOK, STEPS, "a") == {("H-9", "a"): 2}
    assert unsettled(BOOK, STEPS, "b") == {}
    taken = [*done, Credit("H-9", "a", "a", -1)]
    assert held_by_none(BOOK, taken) == {("H-9", "a"): {"a": 1}}, "one of them was counted away"
    assert held_by_none(BOOK, [*taken, Credit("H-9", "a", "a", -1)]) == {}
    named = replace(WANTS, earlier_name="H-9")
    assert held_by_none(job(GONE, FEWER, named), done) == {}, "the order was renamed"


def test_pieces_are_drawn_in_the_order_of_their_sources_and_of_one_part() -> None:
    found = sources(BOOK, STEPS)
    assert drawn(found, "a", 3) == {("H-1", "a"): 3}
    assert drawn(found, "a", 5) == {("H-1", "a"): 4, ("H-2", "a"): 1}
    assert drawn(found, "a", 99) == {("H-1", "a"): 4, ("H-2", "a"): 2, ("", ""): 2}
    assert drawn(found, "b", 1) == {("", ""): 1}
    assert drawn(found, "c", 1) == {}


def test_a_job_with_its_steps_plans_only_what_is_neither_cut_nor_offered() -> None:
    told = with_steps(BOOK, STEPS)
    assert [(one.name, one.item, one.quantity) for one in told.orders] == [
        ("H-3", "a", 1), ("H-4", "a", 2), ("H-4", "b", 2),
    ]  # fmt: skip
    progress = {one.order.name: one for one in told.progress}
    assert progress["H-1"].cut == {"a": 4}
    assert progress["H-2"].cut == {"a": 2}
    assert (progress["H-3"].cut, progress["H-3"].offered) == ({}, {"a": 8})
    assert (progress["H-4"].cut, progress["H-4"].offered) == ({}, {"b": 1})
    assert told.finished == finished_parts(BOOK, STEPS)


def test_a_single_piece_is_credited_offered_and_missed_like_many() -> None:
    book = job(replace(WANTS, quantity=2))
    steps = (cut(1, {"a": 2}, Credit("H-3", "a", "a", 1)),)
    assert offers(book, steps) == (Credit("H-3", "a", "a", 1),)
    assert open_orders(book, credits_of(steps)) == (replace(WANTS, quantity=1),)
    (told,) = progress_of(book, credits_of(steps), [Credit("H-3", "a", "a", 1)], offers(book, steps))
    assert (told.cut, told.bad, told.offered) == ({"a": 1}, {"a": 1}, {"a": 1})


def test_an_offer_is_no_larger_than_what_is_wanted_and_shown_once() -> None:
    rows = (replace(WANTS, quantity=2), replace(WANTS, quantity=2, line=9))
    told = progress_of(job(*rows), (), (), [Credit("H-3", "a", "a", 3)])
    assert [one.offered for one in told] == [{"a": 2}, {"a": 1}]
    held = progress_of(job(replace(WANTS, state=OrderState.ON_HOLD)), (), (), [Credit("H-3", "a", "a", 3)])
    assert [one.offered for one in held] == [{}]


def test_pieces_of_an_order_that_was_renamed_and_cancelled_are_free_under_its_new_name() -> None:
    """Five were cut for it as H-0; now it asks for three and is called H-5."""
    order = Order("H-5", "a", 3, line=5, earlier_name="H-0")
    steps = (cut(1, {"a": 5}, Credit("H-0", "a", "a", 5)),)
    assert still_wanted(job(order), credits_of(steps)) == ({"a": 0},)
    assert sources(job(order), steps) == (Source("H-5", "a", "a", 2, "H-5 (a), more than it asks for"),)
    gone = replace(order, state=OrderState.CANCELLED)
    found = sources(job(gone), steps)
    assert sum(one.pieces for one in found) == 5
    assert {(one.order, one.said) for one in found} == {("H-5", "H-5 (a), cancelled")}


def test_a_credit_has_the_day_of_its_step_or_its_own() -> None:
    step = cut(1, {"a": 2}, Credit("H-3", "a", "a", 1), Credit("H-3", "a", "a", 1, "2026-10-01"))
    assert [one.date for one in credits_of([step])] == ["2026-11-10", "2026-10-01"]


def test_lines_that_pieces_went_to_are_kept_as_the_book_has_them() -> None:
    credits = [Credit("H-3", "a", "a", 1), Credit("H-2", "a", "a", -1), Credit("H-4", "set", "b", 2)]
    assert asked_lines(BOOK, credits) == (Asked("H-3", "a", 9, 7), Asked("H-4", "set", 1, 8))
