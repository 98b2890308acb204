import datetime
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.trade.units import Units
from sheetplan.workbook.reading import cells
from sheetplan.workbook.reading.cells import CellFault
from sheetplan.workbook.schema import MustWord
from sheetplan.workbook.tables import ErrorValue, NotComputed

any_cell = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=30), st.datetimes(), st.dates(),
    st.times(), st.just(ErrorValue("#N/A")), st.just(NotComputed()),
)  # fmt: skip

READERS: tuple[Callable[[Any], Any], ...] = (
    cells.text_of, cells.name_of, cells.count_of, cells.positive_count, cells.number_of,
    cells.positive_number, cells.money_of, cells.length_in(Units.INCH), cells.size_in(Units.MM),
    cells.yes_no, cells.date_of, cells.word_of(MustWord),
)  # fmt: skip


@given(any_cell)
def test_every_reader_gives_a_value_or_a_plain_fault(value: Any) -> None:
    for read in READERS:
        fault = fault_of(read, value)
        assert fault is None or (fault.what and fault.remedy.endswith("."))


def fault_of(read: Callable[[Any], Any], value: Any) -> CellFault | None:
    """The fault that reading gives; any other exception goes on up."""
    try:
        read(value)
    except CellFault as fault:
        return fault
    return None


@pytest.mark.parametrize(
    ("value", "count"),
    [(3, 3), (3.0, 3), ("3", 3), (" 3 ", 3), ("3.0", 3), ("1,200", 1200), (0, 0), (0.07 * 100, 7),
     ("1'000", 1000), ("1 000", 1000), ("+5", 5), ("5\u200b", 5)]
)
def test_counts_as_numbers_and_as_text(value: Any, count: int) -> None:
    assert cells.count_of(value) == count


@pytest.mark.parametrize(
    "value", [2.5, "2.5", "1.000", "1,000", "12.000", "4/2", "+-5", "--5", "two", -1, "-4",
              "12 pcs", True, 1e9, float("nan"), float("inf"), "1e3", "1/2"]
)
def test_what_is_no_count(value: Any) -> None:
    with pytest.raises(CellFault):
        cells.count_of(value)


@pytest.mark.parametrize(
    ("value", "money"),
    [(125, 125), ("125", 125), ("125.50", 125.5), (" 40 ", 40), ("1,250.50", 1250.5), ("1'250.50", 1250.5),
     ("1 250,5", 1250.5), ("1.250,00", 1250)],
)
def test_money_as_numbers_and_as_text(value: Any, money: float) -> None:
    assert cells.money_of(value) == pytest.approx(money)


@pytest.mark.parametrize("value", ["74 usd", "$125", "125.50 EUR", "€ 40", "A$ 7", "40 £"])
def test_a_currency_beside_an_amount_is_asked_to_stand_in_settings(value: str) -> None:
    with pytest.raises(CellFault, match="not a bare amount") as caught:
        cells.money_of(value)
    assert "Settings" in caught.value.remedy


@pytest.mark.parametrize("value", ["", "cheap", "$", -5, "12 per lb", "ask"])
def test_what_is_no_money(value: Any) -> None:
    with pytest.raises(CellFault):
        cells.money_of(value)


def test_a_size_in_the_other_unit_is_absurd() -> None:
    with pytest.raises(CellFault, match=r"63\.5 metres"):
        cells.size_in(Units.INCH)(2500)
    with pytest.raises(CellFault, match="less than 1 mm"):
        cells.size_in(Units.MM)(0.25)
    assert cells.size_in(Units.MM)(2500) == pytest.approx(2500)


def test_a_length_that_became_a_date_is_recognised_by_its_number() -> None:
    with pytest.raises(CellFault) as caught:
        cells.size_in(Units.INCH)(46089)
    assert "keeps of a date, 2026-03-08" in caught.value.what
    assert caught.value.remedy.startswith("If 3/8, 8/3, 3.8 or 8.3 was typed")


@pytest.mark.parametrize(
    ("value", "date"),
    [
        (datetime.datetime(2026, 12, 4), "2026-12-04"),
        (datetime.date(2026, 12, 4), "2026-12-04"),
        # Source: the serial number of 4 December 2026 in the 1900 date system, days since 30 December 1899.
        ((datetime.date(2026, 12, 4) - datetime.date(1899, 12, 30)).days, "2026-12-04"),
        ("week 49", "week 49"),
    ],
)
def test_dates(value: Any, date: str) -> None:
    assert cells.date_of(value) == date


def test_names_are_text_and_never_dates() -> None:
    assert cells.name_of(1001.0) == "1001"
    assert cells.name_of("  two   words ") == "two words"
    with pytest.raises(CellFault, match="date"):
        cells.name_of(datetime.datetime(2026, 10, 12))
    with pytest.raises(CellFault, match="long"):
        cells.name_of("x" * 500)


@pytest.mark.parametrize(
    ("value", "answer"), [("yes", True), ("No", False), (True, True), (False, False), ("x", True), (1, True)]
)
def test_yes_and_no(value: Any, answer: bool) -> None:
    assert cells.yes_no(value) is answer


def test_a_word_in_any_spelling_of_case() -> None:
    assert cells.word_of(MustWord)(" If It  Fits ") is MustWord.IF_IT_FITS
    with pytest.raises(CellFault, match="maybe"):
        cells.word_of(MustWord)("maybe")


@pytest.mark.parametrize("value", ["1.250", "12.500", "1,250"])
def test_an_amount_that_may_be_thousands_or_thousandths_is_asked_about(value: str) -> None:
    with pytest.raises(CellFault, match="can be read as"):
        cells.money_of(value)


@pytest.mark.parametrize("value", [46097, 46097.0, "46097"])
def test_a_count_that_may_be_a_date_is_asked_about_and_written_with_a_comma_counts(value: Any) -> None:
    with pytest.raises(CellFault, match="date, 2026-03-16") as caught:
        cells.count_of(value)
    assert "46,097" in caught.value.remedy
    assert cells.count_of("46,097") == 46097
    assert cells.whole_of(value) == 46097


def test_a_number_where_a_date_was_typed_says_all_that_it_may_have_been() -> None:
    for read in (cells.count_of, cells.money_of):
        with pytest.raises(CellFault) as caught:
            read(datetime.datetime(2026, 5, 12))
        assert "12.5" in caught.value.remedy
        assert "unit" not in caught.value.remedy


def test_long_numbers_are_names_digit_by_digit_and_none_that_the_program_has_cut() -> None:
    assert cells.name_of(12345678901.0) == "12345678901"
    assert cells.name_of(123456789012345.0) == "123456789012345"
    with pytest.raises(CellFault, match="more than 15 digits"):
        cells.name_of(1.2345678901234568e18)


def test_a_name_has_no_signs_that_nobody_sees() -> None:
    assert cells.name_of("CB\u200b-1\u00ad00\ufeff") == "CB-100"
    with pytest.raises(CellFault, match="nothing that can be read"):
        cells.name_of("\u200b")


def test_what_is_left_of_a_fraction_is_no_length_in_millimetres() -> None:
    with pytest.raises(CellFault, match="date, 1932-05-01") as caught:
        cells.size_in(Units.MM)(11810)
    assert "5/32" in caught.value.remedy
    assert cells.size_in(Units.MM)("11810 mm") == pytest.approx(11810)
    assert cells.size_in(Units.MM)(12000) == pytest.approx(12000)
