"""Pieces made, shared among order lines: whole kits first, musts first, by due date, as in the book."""

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from sheetplan.model import Job, Kit, Order, Settings
from sheetplan.money.order_shares import Allocation, parts_of, share


def job(orders: tuple[Order, ...], kits: dict[str, dict[str, int]]) -> Job:
    return Job(
        settings=Settings(), materials={}, rules=(), parts={}, orders=orders, stock=(),
        kits={name: Kit(name, parts) for name, parts in kits.items()},
    )


def made(result: Allocation) -> list[int]:
    return [line.made for line in result.lines]


def test_a_kit_counts_only_when_every_part_of_it_is_there() -> None:
    book = job((Order("A", "CB", 4),), {"CB": {"CB-1": 2, "CB-2": 1}})
    line = share(book, {"CB-1": 7, "CB-2": 4}).lines[0]
    assert (line.asked, line.made, line.short) == (4, 3, 1)
    assert line.missing == (("CB-1", 1),)


def test_musts_come_first_then_the_date_then_the_place_in_the_book() -> None:
    book = job(
        (
            Order("fits, early", "P", 1, must=False, due="2026-01-01"),
            Order("no date", "P", 1),
            Order("late", "P", 1, due="2026-11-30"),
            Order("early", "P", 1, due="2026-11-02"),
            Order("early too", "P", 1, due="2026-11-02"),
        ),
        {},
    )
    asked_in_turn = [(3,), (3, 4), (2, 3, 4), (1, 2, 3, 4), (0, 1, 2, 3, 4)]
    for pieces, served in enumerate(asked_in_turn, start=1):
        assert [i for i, n in enumerate(made(share(book, {"P": pieces}))) if n] == list(served)


def test_a_kit_that_waits_for_another_gauge_keeps_no_pieces_from_a_later_line() -> None:
    book = job((Order("A", "K", 2), Order("B", "thin", 2)), {"K": {"thin": 1, "thick": 1}})
    result = share(book, {"thin": 3, "thick": 0})
    assert made(result) == [0, 2]
    assert result.lines[0].missing == (("thin", 1), ("thick", 2))
    assert not result.spare


def test_what_no_line_asked_for_is_spare() -> None:
    book = job((Order("A", "P", 2),), {})
    assert share(book, {"P": 5, "Q": 1}).spare == {"P": 3, "Q": 1}


@st.composite
def books(draw: st.DrawFn) -> tuple[Job, Counter[str]]:
    parts = ["P1", "P2", "P3"]
    kits = draw(st.dictionaries(
        st.sampled_from(["K1", "K2"]),
        st.dictionaries(st.sampled_from(parts), st.integers(1, 3), min_size=1),
    ))
    orders = draw(st.lists(
        st.builds(
            Order, name=st.just("O"), item=st.sampled_from(parts + sorted(kits)),
            quantity=st.integers(1, 6), must=st.booleans(),
            due=st.sampled_from(["", "2026-11-01", "2026-12-01"]),
        ),
        max_size=6,
    ))
    pieces = draw(st.dictionaries(st.sampled_from(parts), st.integers(0, 20)))
    return job(tuple(orders), kits), Counter(pieces)


@given(books())
def test_no_piece_is_given_twice_and_none_is_lost(case: tuple[Job, Counter[str]]) -> None:
    book, pieces = case
    result = share(book, pieces)
    given_out: Counter[str] = Counter()
    for line in result.lines:
        missing = dict(line.missing)
        for part, each in parts_of(book, book.orders[line.order].item).items():
            got = line.asked * each - missing.get(part, 0)
            assert got >= line.made * each
            given_out[part] += got
        assert 0 <= line.made <= line.asked
        assert (line.short == 0) == (not line.missing)
    for part in {*pieces, *given_out}:
        assert given_out[part] + result.spare.get(part, 0) == pieces[part]
