"""What quotes cost and what their prices come to."""

from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.app.kept_quotes import with_new
from sheetplan.model import Layout, Order, Plan, Settings
from sheetplan.model.job import QuoteLine
from sheetplan.money.cents import cent
from sheetplan.money.figures import plan_figures
from sheetplan.money.quoting import (
    NOTHING,
    GivenRow,
    Priced,
    QuoteCost,
    Quoted,
    added_cost,
    alone_cost,
    whole_cost,
)
from tests.money.bookmaking import SHEET, grid, plan_of

SETTINGS = Settings(load_minutes=3, unload_minutes=6, clean_minutes=1, hand_hour=45.0)


def laid(columns: int, repeats: int = 1, multiple: int = 1, price: float = 320.0) -> Plan:
    sheet = replace(SHEET, on_hand=0, multiple=multiple, price=price)
    layout = Layout("L1", sheet, tuple(grid("plate", columns, 2, (320.0, 220.0))), repeats)
    return plan_of([layout], stock=(sheet,), settings=SETTINGS)


def test_alone_pays_for_whole_lots_and_takes_nothing_off() -> None:
    plan = laid(3, repeats=2, multiple=5)
    cost = alone_cost(plan, plan_figures(plan))
    assert cost.metal == cost.to_pay == 5 * 320.0
    assert cost.kept >= 3 * 320.0
    assert cost.hands == pytest.approx((2 * 9 + 12) / 60 * 45.0)
    money = plan_figures(plan).total.money
    assert cost.machine + cost.consumables + cost.hands == pytest.approx(money.cutting)


def test_spare_pieces_carry_their_share_of_what_a_plan_costs() -> None:
    """Six plates, two of them ordered: four sixths of metal and cutting lie in spare ones."""
    plan = laid(3)
    job = replace(plan.job, orders=(Order("H-1", "plate", 2),))
    plan = replace(plan, job=job)
    cost, money = whole_cost(plan, plan_figures(plan)), plan_figures(plan).total.money
    assert cost.spares == pytest.approx(money.net * 4 / 6)
    assert cost.spare_cutting == pytest.approx(money.cutting * 4 / 6)


def test_the_scrap_of_a_job_alone_fetches_the_price_of_its_metal() -> None:
    plan = laid(3, repeats=2)
    group = plan.groups[0].group
    paid = replace(plan, groups=(
        replace(plan.groups[0], group=replace(group, material=replace(group.material, scrap_price=0.25))),
    ))  # fmt: skip
    without, cost = (alone_cost(one, plan_figures(one)) for one in (plan, paid))
    assert cost.scrap == pytest.approx(0.25 * plan_figures(plan).total.split.solid_scrap)
    assert cost.scrap > 1.0
    assert cost.total == pytest.approx(without.total - cost.scrap)


def test_what_is_added_is_the_difference_of_two_plans() -> None:
    less, more = laid(2), laid(3)
    before, after = (whole_cost(plan, plan_figures(plan)) for plan in (less, more))
    added = added_cost(before, after)
    assert added.total == pytest.approx(after.total - before.total)
    assert (added.sheets, added.hand_minutes) == (0, 2.0)
    assert added_cost(after, after) == NOTHING


def test_metal_that_luck_saves_is_no_gift_and_is_said() -> None:
    added = added_cost(QuoteCost(metal=100.0, machine=5.0), QuoteCost(metal=80.0, machine=9.0))
    assert (added.metal, added.saved, added.total) == (0.0, 20.0, 4.0)


@pytest.mark.parametrize("price", [320.0, 317.43, 1.01])
@pytest.mark.parametrize("quantity", [1, 3, 7])
def test_price_each_is_a_whole_cent_and_makes_up_the_price(price: float, quantity: int) -> None:
    plan = laid(3, price=price)
    answer = Priced(quantity, alone_cost(plan, plan_figures(plan)), mark_up=0.25)
    assert answer.price_each is not None
    assert answer.price is not None
    total = Decimal(repr(answer.alone.printed()["total"]))
    by_hand = (total * Decimal("1.25") / quantity).quantize(Decimal("0.01"), ROUND_HALF_UP)
    assert answer.price_each == float(by_hand)
    assert answer.price == pytest.approx(answer.price_each * quantity, abs=1e-9)
    shown = answer.alone.printed()
    rows = [shown[name] for name in ("metal", "machine", "consumables", "hands", "scrap")]
    assert round(sum(rows), 2) == shown["total"]


@pytest.mark.parametrize(("cost", "mark_up", "quantity", "each"), [
    (158.574, 0.3, 1, 206.14),  # 158.57 * 1.30 = 206.141; of the cost before it is rounded, 206.146
    (158.576, 0.3, 1, 206.15),  # 158.58 * 1.30 = 206.154
    (10.004, 0.25, 4, 3.13),  # 10.00 * 1.25 / 4 = 3.125: half a cent goes up
    (0.014, 0.5, 1, 0.02),  # 0.01 * 1.50 = 0.015
])  # fmt: skip
def test_printed_cost_and_mark_up_come_to_the_printed_price(
    cost: float, mark_up: float, quantity: int, each: float
) -> None:
    answer = Priced(quantity, QuoteCost(metal=cost), mark_up=mark_up)
    assert answer.price_each == each
    assert answer.price == pytest.approx(each * quantity, abs=1e-9)


def test_a_quote_of_nothing_costs_nothing() -> None:
    nothing = Priced(0, mark_up=0.5)
    assert nothing.price_each is None
    assert nothing.price is None
    assert nothing.printed_costs == (0.0, 0.0)
    empty = plan_of([], settings=SETTINGS)
    assert whole_cost(empty, plan_figures(empty)) == NOTHING


def test_what_cannot_be_made_has_no_price() -> None:
    answer = Priced(2, QuoteCost(metal=10.0), QuoteCost(metal=4.0), short_alone={"plate": 2})
    assert answer.price_each is None
    assert replace(answer, by_month=True).price_each == 2.0


def test_spare_pieces_that_are_left_out_make_no_quote_cheaper() -> None:
    """In the room of 50.00 of spare cutting: the plan costs 10.00 less, the quote its own 40.00."""
    before = QuoteCost(metal=100.0, machine=150.0, hands=50.0, spares=80.0, spare_cutting=50.0)
    after = QuoteCost(metal=100.0, machine=142.5, hands=47.5, spares=0.0, spare_cutting=0.0)
    added = added_cost(before, after)
    assert added.total == pytest.approx(40.0)
    assert added.left_out == pytest.approx(50.0)
    assert added.total - added.left_out == pytest.approx(after.total - before.total)


def test_one_quantity_of_several_is_ordered_and_other_prices_of_a_day_are_kept() -> None:
    def given(each: float, ordered: int = 0) -> Quoted:
        answers = tuple(Priced(quantity, QuoteCost(metal=each * quantity)) for quantity in (1, 10))
        day = "2026-11-24" if ordered else ""
        return Quoted(QuoteLine("Q-1", "stand", (1, 10)), "2026-11-24", "USD", answers, "", day, ordered)

    one = given(5.0, ordered=10)
    assert [one.was_ordered(quantity) for quantity in (1, 10)] == [False, True]
    assert with_new([given(5.0)], [one]) == (one,)
    assert with_new([given(5.0)], [given(6.0)]) == (given(5.0), given(6.0)), "what was told stays known"


def test_what_the_scrap_fetches_comes_off_the_cost_and_is_printed_so() -> None:
    cost = QuoteCost(metal=10.0, machine=5.0, consumables=1.0, hands=2.0, scrap=3.0)
    assert cost.total == 15.0
    assert (cost.printed()["scrap"], cost.printed()["total"]) == (-3.0, 15.0)


def test_what_luck_hides_is_not_told_as_a_figure() -> None:
    lucky = Priced(2, QuoteCost(metal=10.0), QuoteCost(metal=0.0, machine=4.0, saved=7.0))
    assert lucky.printed_costs == (10.0, None)
    assert lucky.price_each == 5.0, "alone, its price stands on what is known"
    assert replace(lucky, by_month=True).price_each is None


def test_the_metal_of_a_job_alone_is_its_bill_in_print_as_well() -> None:
    """10.464 and 5.463 are 15.927: the bill is 10.46, and the odd cent goes to the machine."""
    shown = QuoteCost(metal=10.464, machine=5.463, to_pay=10.464, kept=2.675).printed()
    assert (shown["metal"], shown["machine"], shown["total"]) == (10.46, 5.47, 15.93)
    assert (shown["to_pay"], shown["kept"]) == (10.46, 2.68)


@given(st.lists(st.floats(0.0, 1e4), min_size=5, max_size=5))
def test_printed_parts_of_a_cost_add_up_and_none_is_off_by_a_cent(amounts: list[float]) -> None:
    cost = QuoteCost(**dict(zip(("metal", "machine", "consumables", "hands", "scrap"), amounts, strict=True)))
    shown = cost.printed()
    rows = [shown[name] for name in ("metal", "machine", "consumables", "hands", "scrap")]
    assert sum(round(one * 100) for one in rows) == round(shown["total"] * 100)
    assert shown["metal"] == cent(cost.metal)
    for said, amount in zip(rows, (*amounts[:4], -amounts[4]), strict=True):
        assert abs(said - amount) < 0.01 + 1e-6


def test_a_line_that_says_nothing_more_is_priced_alone_at_the_books_mark_up() -> None:
    line = QuoteLine("Q-1", "stand", (1,))
    assert not line.by_month
    assert line.marked_up(Settings(mark_up=0.3)) == 0.3
    assert replace(line, mark_up=0.0).marked_up(Settings(mark_up=0.3)) == 0.0
    assert line.what == ("stand", "", "", "", "")


LUCKY = QuoteCost(metal=0.0, machine=4.0, saved=7.0)


def test_one_lucky_price_of_several_makes_a_quote_that_nobody_should_be_told() -> None:
    sure = Priced(1, QuoteCost(metal=10.0), QuoteCost(metal=4.0), by_month=True)
    lucky = Priced(5, QuoteCost(metal=50.0), LUCKY, by_month=True)
    line = QuoteLine("Q-1", "stand", (1, 5))
    assert Quoted(line, "2026-11-24", "USD", (sure, lucky)).is_lucky
    assert not Quoted(line, "2026-11-24", "USD", (sure,)).is_lucky
    alone = replace(lucky, by_month=False)
    assert not Quoted(line, "2026-11-24", "USD", (sure, alone)).is_lucky, "its price stands on no luck"


def test_answers_and_rows_of_a_quote_by_quantity() -> None:
    """At 10.00 each alone: one for 10.00, and ten of which nobody can make two have no price."""
    one, ten = Priced(1, QuoteCost(metal=10.0)), Priced(10, QuoteCost(metal=100.0), short_alone={"plate": 2})
    quoted = Quoted(
        QuoteLine("Q-1", "stand", (1, 10)), "2026-11-24", "USD", (one, ten), "KRTM", "2026-11-25", 10
    )
    assert (quoted.answer(1), quoted.answer(10), quoted.answer(2)) == (one, ten, None)
    assert quoted.prices == ((1, 10.0), (10, None))
    first, second = quoted.rows
    assert first == GivenRow("2026-11-24", "stand", "Q-1", 1, 10.0, 10.0, "KRTM", "")
    assert second == GivenRow("2026-11-24", "stand", "Q-1", 10, None, None, "KRTM", "2026-11-25")
    assert first.key == replace(first, plan="XXXX", ordered="2026-12-01").key
    for change in ({"date": "2026-11-25"}, {"item": "rail"}, {"quote": "Q-2"}, {"quantity": 2},
                   {"price_each": 9.0}, {"price": 9.0}):  # fmt: skip
        assert first.key != replace(first, **change).key
