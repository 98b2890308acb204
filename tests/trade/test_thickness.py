import datetime
import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sheetplan.trade.thickness import (
    ALUMINIUM,
    CARBON_STEEL,
    GALVANISED_STEEL,
    SERIES,
    STAINLESS_STEEL,
    Thickness,
    parse_thickness,
)
from sheetplan.trade.units import Units

IN, MM = Units.INCH, Units.MM
NAMES = st.sampled_from([*SERIES, ""])


@pytest.mark.parametrize(
    ("value", "series", "units", "millimetres", "text"),
    [
        ("10 ga", CARBON_STEEL, IN, 3.4163, "10 ga"),
        ("10ga", CARBON_STEEL, IN, 3.4163, "10 ga"),
        ("10-GA.", CARBON_STEEL, IN, 3.4163, "10 ga"),
        ("#10", CARBON_STEEL, IN, 3.4163, "10 ga"),
        ("No. 10", CARBON_STEEL, IN, 3.4163, "10 ga"),
        ("ga 10", CARBON_STEEL, MM, 3.4163, "10 ga"),
        ("10 gauge sheet", CARBON_STEEL, IN, 3.4163, "10 ga"),
        ("10 GA HR", CARBON_STEEL, IN, 3.4163, "10 ga"),
        ("10 ga (.135)", CARBON_STEEL, IN, 3.4163, "10 ga"),
        ("16 GA galv", GALVANISED_STEEL, IN, 1.6129, "16 ga"),
        ("16 ga galvanized steel", GALVANISED_STEEL, IN, 1.6129, "16 ga"),
        ("16 ga SS", STAINLESS_STEEL, IN, 1.5875, "16 ga"),
        ("16 ga alum.", ALUMINIUM, IN, 0.0508 * 25.4, "16 ga"),
        ("00 ga", ALUMINIUM, IN, 0.3648 * 25.4, "2/0 ga"),
        ("4/0 ga", ALUMINIUM, IN, 11.684, "4/0 ga"),
        ('3/16"', CARBON_STEEL, IN, 4.7625, "3/16 in"),
        ("3/16", CARBON_STEEL, IN, 4.7625, "3/16 in"),
        ("3/16″ SS", STAINLESS_STEEL, IN, 4.7625, "3/16 in"),
        ("12/64 in", CARBON_STEEL, MM, 4.7625, "3/16 in"),
        ("0.1875 in", CARBON_STEEL, IN, 4.7625, "0.1875 in"),
        (".25", CARBON_STEEL, IN, 6.35, "0.25 in"),
        (0.25, CARBON_STEEL, IN, 6.35, "0.25 in"),
        (0.13449999999999998, CARBON_STEEL, IN, 3.4163, "0.1345 in"),
        ('1/4" plate', CARBON_STEEL, IN, 6.35, "1/4 in"),
        ("1 1/4", CARBON_STEEL, IN, 31.75, "1 1/4 in"),
        ("1¼ in", CARBON_STEEL, IN, 31.75, "1 1/4 in"),
        ("6 mm", CARBON_STEEL, IN, 6.0, "6 mm"),
        ("6mm", CARBON_STEEL, IN, 6.0, "6 mm"),
        ("6,35 mm", CARBON_STEEL, IN, 6.35, "6.35 mm"),
        (6, CARBON_STEEL, MM, 6.0, "6 mm"),
        ("10", CARBON_STEEL, MM, 10.0, "10 mm"),
        (1, CARBON_STEEL, IN, 25.4, "1 in"),
        ("3 in", CARBON_STEEL, IN, 76.2, "3 in"),
        ("1.5 mm", "", IN, 1.5, "1.5 mm"),
        ("3 mm thick", "", IN, 3.0, "3 mm"),
    ],
)
def test_as_planners_write_them(
    value: object, series: str, units: Units, millimetres: float, text: str
) -> None:
    found = parse_thickness(value, series, units)
    assert found.mm == pytest.approx(millimetres, rel=1e-9)
    assert found.text == text


@pytest.mark.parametrize(
    ("value", "series", "units", "said"),
    [
        (10, CARBON_STEEL, IN, "10 ga, 10 mm or 10 in"),
        (10.0, CARBON_STEEL, IN, "10 ga, 10 mm or 10 in"),
        ("16", CARBON_STEEL, IN, "16 ga, 16 mm or 16 in"),
        ("16 galv", GALVANISED_STEEL, IN, "16 ga, 16 mm"),
        ("16 GA galv", CARBON_STEEL, IN, "`galv` does not go with .* carbon steel"),
        ("1/4 SS", ALUMINIUM, IN, "`ss` does not go with"),
        ("10 ga steel", ALUMINIUM, IN, "`steel` does not go with"),
        ("16 ga alum", STAINLESS_STEEL, IN, "`alum` does not go with"),
        ("99 ga", CARBON_STEEL, IN, "Manufacturers' Standard Gauge .* 3 ga to 38 ga"),
        ("2 ga", CARBON_STEEL, IN, "3 ga to 38 ga"),
        ("31 ga", GALVANISED_STEEL, IN, "8 ga to 30 ga"),
        ("10.5 ga", CARBON_STEEL, IN, "whole numbers"),
        ("10 1/2 ga", CARBON_STEEL, IN, "whole numbers"),
        ("16 ga", "", IN, "no gauge system"),
        ("10 ga (3/16)", CARBON_STEEL, IN, "two different"),
        ("10 swg", CARBON_STEEL, IN, "swg"),
        ("1/4 blue", CARBON_STEEL, IN, "blue"),
        ("6 ft", CARBON_STEEL, IN, "ga, in or mm"),
        ("3/16", CARBON_STEEL, MM, "fraction without a unit"),
        ("1,250 mm", CARBON_STEEL, MM, "1250 or as 1.250"),
        ("0", CARBON_STEEL, IN, "no thickness"),
        (0, CARBON_STEEL, IN, "no thickness"),
        (-0.25, CARBON_STEEL, IN, "negative"),
        ("-1/4", CARBON_STEEL, IN, "negative"),
        ("400 mm", CARBON_STEEL, IN, "no sheet"),
        ("#10 mm", CARBON_STEEL, IN, "cannot be read"),
        ("plate", CARBON_STEEL, IN, "cannot be read"),
        ("", CARBON_STEEL, IN, "empty"),
        (None, CARBON_STEEL, IN, "empty"),
        (False, CARBON_STEEL, IN, "not a number"),
        (math.nan, CARBON_STEEL, IN, "too large"),
        (datetime.date(2026, 3, 16), CARBON_STEEL, IN, "if 3/16, 16/3, 3.16 or 16.3 was typed"),
        ("x" * 500, CARBON_STEEL, IN, "long text"),
    ],
)
def test_what_is_refused_is_refused_with_a_sentence(
    value: object, series: str, units: Units, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        parse_thickness(value, series, units)


def thickness_or_refusal(text: str, series: str, units: Units) -> Thickness | str:
    try:
        return parse_thickness(text, series, units)
    except ValueError as refusal:
        return str(refusal)


def check_any_text(text: str, series: str, units: Units) -> None:
    found = thickness_or_refusal(text, series, units)
    if isinstance(found, str):
        assert len(found) > 10
        assert "\n" not in found
        assert "invalid literal" not in found
        assert "could not convert" not in found
    else:
        assert 0 < found.mm < 305
        again = parse_thickness(found.text, series, units)
        assert again.text == found.text
        assert again.mm == pytest.approx(found.mm, rel=1e-9)


@given(st.text(max_size=70), NAMES, st.sampled_from(Units))
@example("1/4 ()", CARBON_STEEL, IN)
@example("(1/4", CARBON_STEEL, IN)
@example("#", CARBON_STEEL, IN)
@example("9/" + "9" * 40, CARBON_STEEL, IN)
def test_no_text_crashes(text: str, series: str, units: Units) -> None:
    check_any_text(text, series, units)


@given(
    st.lists(
        st.sampled_from([*"0123456789./, -#\"'()½", "ga", "in", "mm", "galv", "ss", "no.", "plate", "0.1"]),
        max_size=8,
    ).map("".join),
    NAMES,
    st.sampled_from(Units),
)
def test_no_nearly_right_text_crashes(text: str, series: str, units: Units) -> None:
    check_any_text(text, series, units)


@given(st.floats(0.05, 2.9), st.sampled_from(Units))
def test_numbers_in_cells_keep_their_value(value: float, units: Units) -> None:
    found = parse_thickness(value, CARBON_STEEL, units)
    assert found.mm == pytest.approx(value * units.length_mm, rel=1e-12)
    assert found.text.endswith(units.value)


@pytest.mark.parametrize("series", SERIES.values(), ids=lambda series: series.name)
def test_every_gauge_is_read_in_its_own_series(series) -> None:
    for number, millimetres in series.thickness.items():
        text = f"{number}GA" if number >= 0 else "0" * (1 - number) + " ga"
        assert parse_thickness(text, series.name, IN).mm == pytest.approx(millimetres, rel=1e-12)


def test_one_gauge_number_is_another_thickness_in_another_metal() -> None:
    steel = parse_thickness("16 ga", CARBON_STEEL, IN)
    aluminium = parse_thickness("16 ga", ALUMINIUM, IN)
    assert steel.text == aluminium.text
    assert steel.mm - aluminium.mm > 0.2


def test_thickness_is_a_value() -> None:
    assert Thickness(6.0, "6 mm") == Thickness(6.0, "6 mm")


@pytest.mark.parametrize("text", ["thick", "6 ft"])
def test_advice_begins_with_the_books_own_unit(text: str) -> None:
    with pytest.raises(ValueError, match=r"write (6 mm|mm)"):
        parse_thickness(text, CARBON_STEEL, Units.MM)
    with pytest.raises(ValueError, match=r"write (10 ga|ga)"):
        parse_thickness(text, CARBON_STEEL, Units.INCH)


@pytest.mark.parametrize(("left", "typed"), [
    # Day numbers of the 1900 date system: 16 March 2026, 1 May 1932, 1 July 1964, 1 March 2002.
    (46097, "3/16"), ("46097", "3/16"), (11810.0, "5/32"), ("23559", "7/64"), (37316, "3-1/2"),
])  # fmt: skip
def test_what_is_left_of_a_date_is_no_gauge_and_names_what_may_have_been_typed(
    left: object, typed: str
) -> None:
    for units in Units:
        with pytest.raises(ValueError, match=r"keeps of a date, \d{4}-\d\d-\d\d; if") as e:
            parse_thickness(left, CARBON_STEEL, units)
        assert typed in str(e.value).partition("; ")[2]
        assert " ga" not in str(e.value)
