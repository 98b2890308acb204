"""What a plan says of itself: what is to be paid, and how sure it is that nothing is cheaper."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.model import (
    CuttingRule,
    Group,
    GroupPlan,
    Job,
    Layout,
    Material,
    Plan,
    Settings,
    SheetCount,
    SheetSize,
)
from sheetplan.model.plan import CHEAPEST, NOT_PROVEN, above_least, against_cheapest
from sheetplan.trade.thickness import Thickness

PLATE = Thickness(3.0, "3 mm")
SHEET = SheetSize("S", "Steel", PLATE, 1000.0, 500.0, price=40.0, multiple=5)


def gauge(cost: float, bound: float | None, sheet: SheetSize = SHEET) -> GroupPlan:
    group = Group(
        "steel 3 mm", Material("Steel", "", 7850.0), PLATE, CuttingRule("Steel", PLATE, 1.0, 2.0, 2.0), (),
        (sheet,), (),
    )  # fmt: skip
    return GroupPlan(group, (Layout("L1", sheet, ()),), (SheetCount(sheet, 3, 1, 5),), {}, cost, bound=bound)


def words(group_plan: GroupPlan | Plan) -> str:
    return against_cheapest(group_plan.above_least)


def whole(*groups: GroupPlan) -> Plan:
    return Plan(Job(Settings(), {}, (), {}, {}, (), ()), groups)


@pytest.mark.parametrize(("cost", "bound", "said"), [
    (100.0, 100.0, "cheapest possible"),
    (100.0, 100.0 - 1e-5, "cheapest possible"),  # proven in floats
    (99.0, 100.0, "cheapest possible"),
    (100.01, 100.0, "at most 0.1% above"),  # never 0.0 per cent, which would read as proven
    (103.0, 100.0, "at most 3.0% above"),
    (103.01, 100.0, "at most 3.1% above"),  # rounded up: no less is proven
    (115.0, 100.0, "at most 15.0% above"),
    (115.1, 100.0, "not proven"),
    (100.0, None, "not proven"),
    (100.0, 0.0, "not proven"),
])  # fmt: skip
def test_what_is_proven_in_words(cost: float, bound: float | None, said: str) -> None:
    assert words(gauge(cost, bound)) == said


@given(st.integers(1, 10**7), st.integers(1, 10**7))
def test_no_less_is_said_than_what_is_proven(cost_cents: int, bound_cents: int) -> None:
    cost, bound = cost_cents / 100, bound_cents / 100
    said = against_cheapest(above_least(cost, bound))
    share = Fraction(cost_cents, bound_cents) - 1
    if said == CHEAPEST:
        assert share <= Fraction(1, 10**6)
    elif said == NOT_PROVEN:
        assert share > Fraction(15, 100) - Fraction(1, 10**8)
    else:
        stated = Fraction(said.split()[2].rstrip("%")) / 100
        assert stated >= share - Fraction(1, 10**7)
        assert stated - share < Fraction(1, 1000)


def test_a_plan_that_leaves_pieces_unmade_is_never_the_cheapest() -> None:
    assert words(replace(gauge(60.0, 100.0), short={"Tab": 2})) == NOT_PROVEN


def test_what_is_proven_is_compared_with_what_a_plan_counts() -> None:
    """Metal on hand counts less than its price: the bound is of what is counted, not of the cost."""
    assert words(replace(gauge(100.0, 85.0), counted=85.0)) == CHEAPEST
    assert words(replace(gauge(100.0, 100.0), counted=103.0)) == "at most 3.0% above"
    above = whole(gauge(100.0, 100.0), replace(gauge(90.0, 100.0), counted=110.0))
    assert words(above) == "at most 5.0% above"


def test_a_cost_of_nothing_is_the_least_only_where_there_are_prices() -> None:
    assert words(gauge(0.0, None)) == CHEAPEST
    assert words(gauge(0.0, None, replace(SHEET, price=0.0))) == NOT_PROVEN
    assert words(replace(gauge(0.0, None, replace(SHEET, price=0.0)), layouts=())) == CHEAPEST


def test_a_whole_plan_is_proven_where_every_gauge_is() -> None:
    assert words(whole(gauge(100.0, 100.0), gauge(0.0, None))) == CHEAPEST
    assert words(whole(gauge(100.0, 100.0), gauge(110.0, 100.0))) == "at most 5.0% above"
    assert words(whole(gauge(100.0, 100.0), gauge(110.0, None))) == NOT_PROVEN
    # A gauge that is far from proven among proven ones: the sum is what is proven of all.
    assert words(whole(gauge(900.0, 900.0), gauge(125.0, 100.0))) == "at most 2.5% above"
    # A small gauge that is not proven does not vanish in the rounding of a large one.
    assert words(whole(gauge(1e9, 1e9), gauge(1.01, 1.0))) == "at most 0.1% above"
    assert words(whole()) == NOT_PROVEN


def test_what_is_to_be_paid_is_whole_order_multiples() -> None:
    assert gauge(120.0, None).to_pay == 5 * 40.0
