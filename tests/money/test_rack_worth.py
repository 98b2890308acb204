from dataclasses import replace

import pytest

from sheetplan.money.month import share_of_cheapest, worth
from tests.money.bookmaking import INCH, SHEET

BIG = replace(SHEET, name="5x10", length=120 * INCH, width=60 * INCH, price=500.0)


def test_a_size_on_sale_is_worth_its_price_whichever_way_it_lies() -> None:
    assert worth(96 * INCH, 48 * INCH, [SHEET, BIG]) == 320.0
    assert worth(60 * INCH, 120 * INCH, [SHEET, BIG]) == 500.0


def test_any_other_size_goes_by_weight() -> None:
    # 320 for 32 ft2 and 500 for 50 ft2 are 10 a square foot both.
    assert worth(24 * INCH, 36 * INCH, [SHEET, BIG]) == pytest.approx(60.0)


def test_without_prices_it_is_worth_nothing() -> None:
    assert worth(96 * INCH, 48 * INCH, [replace(SHEET, price=0.0)]) == 0.0
    assert worth(96 * INCH, 48 * INCH, []) == 0.0


def test_a_share_of_the_cheapest_sheet_goes_by_area() -> None:
    dear = replace(BIG, price=900.0)
    assert share_of_cheapest(24 * 36 * INCH**2, [SHEET, dear]) == pytest.approx(60.0)
    assert share_of_cheapest(24 * 36 * INCH**2, [replace(SHEET, price=0.0)]) == 0.0
    assert share_of_cheapest(1.0, []) == 0.0
