import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.trade.lengths import from_float, in_thousands, plain, read_numeral, typed_as


@pytest.mark.parametrize(
    ("text", "value", "tidy"),
    [
        ("2/8", 0.25, "1/4"),
        ("5/4", 1.25, "1 1/4"),
        ("8/4", 2.0, "2"),
        ("1 16/64", 1.25, "1 1/4"),
        ("0/4", 0.0, "0"),
        (".2500", 0.25, "0.25"),
        ("007.0", 7.0, "7"),
        ("0,125", 0.125, "0.125"),
        ("1,234,567", 1234567.0, "1234567"),
        ("1.234.567", 1234567.0, "1234567"),
        ("1 250,50", 1250.5, "1250.5"),
        ("1'250.50", 1250.5, "1250.5"),
    ],
)
def test_tidy(text: str, value: float, tidy: str) -> None:
    numeral = read_numeral(text)
    assert numeral is not None
    assert numeral.value == pytest.approx(value, abs=1e-12)
    assert numeral.text == tidy


@pytest.mark.parametrize("text", ["", "one", "1.2.3", "1 2", ".", ",", "1,23,456", "1//2", "- 1", "1.234.5",
                                  "1 25", "12 34 567"])  # fmt: skip
def test_not_numbers(text: str) -> None:
    assert read_numeral(text) is None


def test_fraction_signs_stay_apart_from_the_whole() -> None:
    assert plain("12½") == "12 1/2"
    assert plain("  3 / 16 ″ ") == '3 / 16 "'


@given(st.floats(0, 1e9))
def test_floats_show_at_most_four_places(value: float) -> None:
    text = from_float(value).text
    assert float(text) == pytest.approx(value, abs=0.5001e-4)
    assert len(text.partition(".")[2]) <= 4


def test_signs_that_nobody_sees_do_not_count() -> None:
    assert plain("12\u200b 1/\u00ad2") == "12 1/2"


def test_a_point_among_three_figures_may_part_thousands() -> None:
    assert [in_thousands(text) for text in ("1.250", "12.500", "0.125", "1.2500", "1250")] == [
        True, True, False, False, False,
    ]  # fmt: skip


@pytest.mark.parametrize(("typed", "became"), [
    # What Excel (English, United States) makes of them. From memory: its two-digit years are 1930 to 2029.
    ("3/16", datetime.date(2026, 3, 16)), ("5/32", datetime.date(1932, 5, 1)),
    ("7/64", datetime.date(1964, 7, 1)), ("3-1/2", datetime.date(2002, 3, 1)),
    ("5-3/8", datetime.date(2008, 5, 3)), ("12-5/16", datetime.date(2016, 12, 5)),
    # And in a language that writes the day first, or a point between.
    ("3/8", datetime.date(2026, 8, 3)), ("12.5", datetime.date(2026, 5, 12)),
    ("1-3/4", datetime.date(2004, 3, 1)),
])  # fmt: skip
def test_what_was_typed_is_among_all_that_a_day_may_have_been(typed: str, became: datetime.date) -> None:
    assert typed in typed_as(became)


def test_a_day_that_no_month_and_year_of_two_digits_gives_was_no_fraction() -> None:
    assert typed_as(datetime.date(1999, 6, 14)) == ()
