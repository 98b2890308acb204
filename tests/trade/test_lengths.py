import datetime
import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sheetplan.trade.lengths import parse_length
from sheetplan.trade.units import SAME_LENGTH_MM, Units

IN, MM = Units.INCH, Units.MM


@pytest.mark.parametrize(
    ("text", "units", "millimetres"),
    [
        ("12 1/2", IN, 317.5),
        ("12-1/2", IN, 317.5),
        ("12½", IN, 317.5),
        ("12 ½ in.", IN, 317.5),
        ('3/8"', IN, 9.525),
        ("⅜″", MM, 9.525),
        ("3 ⁄ 8 in", IN, 9.525),
        ("300 mm", IN, 300),
        (" 300MM ", IN, 300),
        ("30 cm", MM, 300),
        ("1.2 m", MM, 1200),
        (".25", IN, 6.35),
        ("0,25", IN, 6.35),
        ("6,35 mm", IN, 6.35),
        ("4'", IN, 1219.2),
        ("4' 6\"", IN, 1371.6),
        ("4'-6 1/2\"", IN, 1384.3),
        ("4 ft 6 in", MM, 1371.6),
        ("8 feet", IN, 2438.4),
        ("8′ 0″", IN, 2438.4),
        ("96''", IN, 2438.4),
        ("1,250.5", MM, 1250.5),
        ("1.250,5", MM, 1250.5),
        ("2,438,400 mm", MM, 2438400),
        ("1.234.567 mm", MM, 1234567),
        ("1 250 mm", IN, 1250),
        ("1\u202f250,5", MM, 1250.5),
        ("1'250", MM, 1250),
        ("1'000 mm", MM, 1000),
        ("12'345'678 mm", MM, 12345678),
        ("1.250", IN, 31.75),
        ("31.250", MM, 31.25),
        ("5' 11 15/16", IN, 1827.2125),
        ("48", IN, 1219.2),
        ("48.", IN, 1219.2),
        ("48\u00a0in", IN, 1219.2),
        (48, IN, 1219.2),
        (1219.2, MM, 1219.2),
        (0, IN, 0),
        ("0", MM, 0),
    ],
)
def test_as_planners_write_them(text: object, units: Units, millimetres: float) -> None:
    assert parse_length(text, units) == pytest.approx(millimetres, abs=SAME_LENGTH_MM / 1000)


@pytest.mark.parametrize(
    ("value", "units", "said"),
    [
        ("1,250", IN, "1250 or as 1.250"),
        ("1.250", MM, "1250 mm or as 1.2500 mm"),
        ("2.500 mm", IN, "2500 mm or as 2.5000 mm"),
        ("1'000", MM, "1000 mm or as 1 ft 0 in"),
        ("1’010", IN, "1010 in or as 1 ft 10 in"),
        ("5' 14", IN, "14 inches beside the feet, a foot or more; write 74 in"),
        ("0' 18\"", MM, "18 inches beside the feet"),
        ("1'250", IN, "250 inches beside the feet"),
        ("1.25.5", MM, "cannot be read"),
        ("1/2", MM, "fraction without a unit"),
        ("1/0", IN, "divides by nothing"),
        ("12 3/2", IN, "not below one"),
        ("-3", IN, "negative"),
        ("−3 mm", IN, "negative"),
        (-3.0, IN, "negative"),
        ("", IN, "empty"),
        (None, IN, "empty"),
        ("  ", IN, "empty"),
        (True, IN, "not a number"),
        (math.nan, IN, "too large"),
        (math.inf, IN, "too large"),
        (10**400, IN, "too large"),
        ("12 x 24", IN, "cannot be read"),
        ("about 12", IN, "cannot be read"),
        ("12 furlongs", IN, "furlongs"),
        ("=A1", IN, "cannot be read"),
        ("9" * 80, IN, "long text"),
        ("6²", MM, "cannot be read"),
        ("٣", MM, "cannot be read"),
        ([], IN, "not a number"),
    ],
)
def test_what_is_refused_is_refused_with_a_sentence(value: object, units: Units, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        parse_length(value, units)


def test_a_cell_that_became_a_date_says_what_was_probably_typed() -> None:
    with pytest.raises(ValueError, match=r"2026-03-16; if 3/16, 16/3, 3\.16 or 16\.3 was typed"):
        parse_length(datetime.datetime(2026, 3, 16), IN)
    with pytest.raises(ValueError, match="time of day"):
        parse_length(datetime.time(4, 6), IN)


def length_or_refusal(text: str, units: Units) -> float | str:
    try:
        return parse_length(text, units)
    except ValueError as refusal:
        return str(refusal)


@given(st.text(max_size=80), st.sampled_from(Units))
@example("0" * 70 + "/1", IN)
@example("1/" + "0" * 30, IN)
@example("9" * 60, MM)
@example("1\n1/2\u2028", IN)
def test_no_text_crashes(text: str, units: Units) -> None:
    length = length_or_refusal(text, units)
    if isinstance(length, str):
        assert len(length) > 10
        assert "\n" not in length
    else:
        assert math.isfinite(length)
        assert length >= 0


@given(st.text(alphabet="0123456789.,/ -'\"inmftc½⅜″", max_size=14), st.sampled_from(Units))
def test_no_nearly_right_text_crashes(text: str, units: Units) -> None:
    length = length_or_refusal(text, units)
    if isinstance(length, str):
        assert "could not convert" not in length
    else:
        assert length >= 0


@given(st.integers(0, 500), st.integers(0, 63))
def test_sixty_fourths_come_back_exactly(whole: int, over: int) -> None:
    expected = (whole + over / 64) * 25.4
    for text in (f"{whole} {over}/64", f"{whole}-{over}/64 in", f'{whole} {over}/64"'):
        assert parse_length(text, IN) == pytest.approx(expected, rel=1e-12)


@given(st.floats(0, 1e6), st.sampled_from(Units))
def test_numbers_and_their_text_agree(value: float, units: Units) -> None:
    text = f"{value:.6f}"
    assert parse_length(float(text), units) == pytest.approx(parse_length(text, units), rel=1e-12)
