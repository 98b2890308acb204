"""Pieces credited to orders: nothing lost, nothing made twice."""

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from sheetplan.model import Job, Kit, Order, Settings
from sheetplan.rack.credits import credit, open_orders, pieces_of, progress_of, shared, still_wanted
from sheetplan.rack.step import Credit

KITS = {"set": Kit("set", {"a": 2, "b": 3}), "pair": Kit("pair", {"b": 1, "c": 1})}


def job(*orders: Order) -> Job:
    return Job(Settings(), {}, (), {}, KITS, orders, ())


def wanted(orders: tuple[Order, ...]) -> Counter[str]:
    total: Counter[str] = Counter()
    for order in orders:
        total.update(pieces_of(order, KITS))
    return total


def test_a_kit_cut_in_part_is_planned_as_whole_kits_and_loose_parts() -> None:
    book = job(Order("H-1", "set", 12, line=5))
    done = [Credit("H-1", "set", "a", 11), Credit("H-1", "set", "b", 15)]
    # By hand: 24 - 11 = 13 of a and 36 - 15 = 21 of b are wanted: 6 whole sets (12, 18), 1 a, 3 b.
    rest = open_orders(book, done)
    assert [(o.item, o.quantity, o.name, o.line) for o in rest] == [
        ("set", 6, "H-1", 5), ("a", 1, "H-1", 5), ("b", 3, "H-1", 5)
    ]  # fmt: skip


def test_an_order_that_is_cut_whole_is_not_planned_again() -> None:
    book = job(Order("H-1", "a", 4))
    assert open_orders(book, [Credit("H-1", "a", "a", 4)]) == ()
    assert open_orders(book, [Credit("H-1", "a", "a", 9)]) == ()


def test_must_orders_and_early_ones_are_served_first() -> None:
    book = job(
        Order("late", "a", 5, due="2026-12-01"), Order("early", "a", 5, due="2026-11-01"),
        Order("maybe", "a", 5, must=False, due="2026-01-01"), Order("no date", "a", 5),
    )  # fmt: skip
    shares = {c.order: c.pieces for c in credit(book, (), {"a": 12})}
    assert shares == {"early": 5, "late": 5, "no date": 2}


def test_a_second_cut_goes_on_where_the_first_ended() -> None:
    book = job(Order("H-1", "set", 2), Order("H-2", "a", 3))
    first = credit(book, (), {"a": 3})
    second = credit(book, first, {"a": 9, "b": 1})
    assert first == (Credit("H-1", "set", "a", 3),)
    assert set(second) == {
        Credit("H-1", "set", "a", 1), Credit("H-1", "set", "b", 1), Credit("H-2", "a", "a", 3)
    }  # fmt: skip


def test_rows_with_the_same_name_and_item_share_a_credit() -> None:
    book = job(Order("H-1", "a", 4, line=5), Order("H-1", "a", 4, line=9))
    assert still_wanted(book, [Credit("H-1", "a", "a", 6)]) == ({"a": 0}, {"a": 2})


ORDERS = st.lists(
    st.builds(Order, st.sampled_from(["x", "y"]), st.sampled_from(["set", "pair", "a", "b", "c"]),
              st.integers(1, 9), st.booleans()),
    max_size=6,
)  # fmt: skip
CUTS = st.lists(st.dictionaries(st.sampled_from("abc"), st.integers(1, 12)), max_size=5)


@given(ORDERS, CUTS)
def test_pieces_balance(orders: list[Order], cuts: list[dict[str, int]]) -> None:
    """What is still wanted is what was asked less what was cut, and never less than nothing."""
    book = job(*orders)
    asked = wanted(book.orders)
    done: list[Credit] = []
    for made in cuts:
        done += credit(book, done, made)
    cut: Counter[str] = Counter()
    for made in cuts:
        cut.update(made)
    left = wanted(open_orders(book, done))
    for part in "abc":
        assert left[part] == max(0, asked[part] - cut[part])


def test_a_new_order_with_the_name_that_another_had_keeps_what_is_cut_for_it() -> None:
    """H-4 became H-4b, and there is an H-4 again: neither takes what the other has."""
    renamed, new = Order("H-4b", "a", 17, earlier_name="H-4"), Order("H-4", "a", 14)
    done = [Credit("H-4b", "a", "a", 17), Credit("H-4", "a", "a", 2)]
    for orders in ((renamed, new), (new, renamed)):
        shares = shared(job(*orders), done)
        assert dict(zip(orders, shares.held, strict=True)) == {renamed: {"a": 17}, new: {"a": 2}}
        assert not shares.over


def test_what_was_cut_before_the_day_of_a_new_order_stays_with_the_renamed_one() -> None:
    renamed, new = Order("H-4b", "a", 17, earlier_name="H-4"), Order("H-4", "a", 14, since="2026-02-01")
    done = [Credit("H-4", "a", "a", 5, "2026-01-20"), Credit("H-4", "a", "a", 2, "2026-02-03")]
    assert shared(job(renamed, new), done).held == ({"a": 5}, {"a": 2})
    assert shared(job(new), done).over == {}  # the earlier one is long shipped
    assert shared(job(Order("H-4", "a", 4), new), done).over == {("H-4", "a", "a"): 1}


def test_bad_pieces_of_a_renamed_order_are_those_under_both_names() -> None:
    renamed = job(Order("H-1a", "set", 2, earlier_name="H-1"))
    bad = [Credit("H-1", "set", "b", 1), Credit("H-1a", "set", "a", 1), Credit("H-1a", "set", "b", 2)]
    (progress,) = progress_of(renamed, (), bad)
    assert progress.bad == {"a": 1, "b": 3}
