import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.trade.numerals import from_float, plain, read_numeral


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
    ],
)
def test_tidy(text: str, value: float, tidy: str) -> None:
    numeral = read_numeral(text)
    assert numeral is not None
    assert numeral.value == pytest.approx(value, abs=1e-12)
    assert numeral.text == tidy


@pytest.mark.parametrize("text", ["", "one", "1.2.3", "1 2", ".", ",", "1,23,456", "1//2", "- 1"])
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
