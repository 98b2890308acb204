"""Rows of money that add up to what stands under them."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.model import Layout
from sheetplan.money.buy_list import buy_list
from sheetplan.money.cents import cent, printed, printed_by
from sheetplan.pages.values import Column, Kind, ResultTable, to_the_cent
from tests.money.bookmaking import SHEET, grid, plan_of

amounts = st.lists(st.floats(-1e6, 1e6, allow_nan=False), min_size=1, max_size=30)


@given(amounts)
def test_printed_rows_add_up_and_none_is_off_by_a_cent(rows: list[float]) -> None:
    shown = printed(rows)
    assert sum(round(one * 100) for one in shown) == round(cent(sum(map(Fraction, rows)).__float__()) * 100)
    assert all(abs(one - row) < 0.01 + 1e-6 for one, row in zip(shown, rows, strict=True))


def test_cents_that_are_there_already_stay() -> None:
    assert printed([0.1, 0.2, 0.29, 1.15]) == [0.1, 0.2, 0.29, 1.15]
    assert printed_by({"a": 1.005, "b": -0.005}) == {"a": 1.01, "b": -0.01}


def test_a_hair_under_half_a_cent_is_half_a_cent() -> None:
    """1.005, 2.675 and 0.285 lie in a float a hair below what they say; 1.00499 does not."""
    assert [cent(amount) for amount in (1.005, 2.675, 0.285, 1.00499)] == [1.01, 2.68, 0.29, 1.0]


def test_a_lacking_cent_goes_to_the_row_that_lost_most_by_rounding_down_however_small_it_is() -> None:
    """10.001 loses a tenth of a cent, 0.009 nine tenths: the cent of their 10.01 that lacks is its own."""
    assert printed([10.001, 0.009]) == [10.0, 0.01]
    assert printed([0.006, 100.003, 0.007, 50.004]) == [0.01, 100.0, 0.01, 50.0]
    assert printed([1.004, 1.004, 1.004]) == [1.01, 1.0, 1.0], "of rows alike the first"


# Common practice, no source: three sheets of 282.4467 are billed at 847.34, and 282.45 thrice is 847.35.
def test_rows_of_a_bill_come_to_the_bill() -> None:
    table = ResultTable(
        "Bill", (Column("Sheet"), Column("To pay", Kind.MONEY)), (("a", 282.4467),) * 3, "",
        ("Total", 3 * 282.4467),
    )  # fmt: skip
    shown = to_the_cent(table)
    assert [row[1] for row in shown.rows] == [282.45, 282.45, 282.44]
    assert shown.total == ("Total", 847.34)
    assert sum(round(float(str(row[1])), 2) for row in table.rows) != pytest.approx(847.34, abs=0.001)


def test_the_lines_of_the_buy_list_are_printed_so_that_they_come_to_the_bill() -> None:
    sheets = [replace(SHEET, name=name, on_hand=0, price=282.4467) for name in "ABC"]
    layouts = [Layout(f"L{name.name}", name, tuple(grid("plate", 1, 1, (0.0, 0.0)))) for name in sheets]
    plan = plan_of(layouts, stock=sheets)
    lines = buy_list(plan)
    assert sorted(line.printed_price for line in lines) == [282.44, 282.45, 282.45]
    assert cent(sum(line.printed_price for line in lines)) == cent(plan.groups[0].to_pay) == 847.34
