import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.trade.thickness import (
    CARBON_STEEL,
    GALVANISED_STEEL,
    SERIES,
    STAINLESS_STEEL,
    Thickness,
    confusing,
    families,
    parse_thickness,
    same,
)
from sheetplan.trade.units import Units


def read(text: str, series: str = CARBON_STEEL) -> Thickness:
    return parse_thickness(text, series, Units.INCH)


@pytest.mark.parametrize(
    ("first", "second", "series"),
    [
        ("10 ga", "0.1345", CARBON_STEEL),
        ("10 ga", ".135", CARBON_STEEL),
        ("10 ga", ".134", CARBON_STEEL),
        ("10 ga", "3.42 mm", CARBON_STEEL),
        ("16 ga", "0.060", CARBON_STEEL),
        ("16 ga", "0.0598 in", CARBON_STEEL),
        ("26 ga", "0.018", CARBON_STEEL),
        ("0.1875", '3/16"', CARBON_STEEL),
        (".188", "3/16", CARBON_STEEL),
        ("1/4", "6.35 mm", CARBON_STEEL),
        ("16 ga", "1/16", STAINLESS_STEEL),
        ("10 ga", "0.1406", STAINLESS_STEEL),
        ("7 ga", "3/16", STAINLESS_STEEL),
    ],
)
def test_same(first: str, second: str, series: str) -> None:
    one, other = read(first, series), read(second, series)
    assert same(one, other)
    assert same(other, one)
    assert not confusing(one, other)


@pytest.mark.parametrize(
    ("first", "second", "series"),
    [
        ("11 ga", "1/8", CARBON_STEEL),
        ("7 ga", "3/16", CARBON_STEEL),
        ("3 ga", "1/4", CARBON_STEEL),
        ("16 ga", "1/16", CARBON_STEEL),
        ("14 ga", "5/64", CARBON_STEEL),
        ("16 ga", "1.5 mm", CARBON_STEEL),
        ("16 ga", "1/16", GALVANISED_STEEL),
        ("1/16", "1.6 mm", CARBON_STEEL),
        ("1/4", "6 mm", CARBON_STEEL),
        ("1/4", "6.4 mm", CARBON_STEEL),
        ("1/8", "3 mm", CARBON_STEEL),
        ("3/16", "5 mm", CARBON_STEEL),
        ("0.25", "0.24", CARBON_STEEL),
    ],
)
def test_confusing(first: str, second: str, series: str) -> None:
    one, other = read(first, series), read(second, series)
    assert confusing(one, other)
    assert confusing(other, one)
    assert not same(one, other)


@pytest.mark.parametrize(
    ("first", "second"),
    [("10 ga", "11 ga"), ("10 ga", "3/16"), ("20 ga", "1 mm"), ("1/8", "1/4"), ("37 ga", ".006")],
)
def test_plainly_different(first: str, second: str) -> None:
    assert not same(read(first), read(second))
    assert not confusing(read(first), read(second))


@pytest.mark.parametrize("series", SERIES.values(), ids=lambda series: series.name)
def test_gauges_of_one_metal_are_never_one_another(series) -> None:
    gauges = [Thickness(mm, f"{number} ga") for number, mm in series.thickness.items()]
    for one, other in itertools.combinations(gauges, 2):
        assert not same(one, other), f"{one} and {other}"


@pytest.mark.parametrize("series", SERIES.values(), ids=lambda series: series.name)
def test_a_gauge_written_to_three_places_is_that_gauge_alone(series) -> None:
    gauges = [Thickness(mm, f"{n} ga") for n, mm in series.thickness.items() if mm > 0.025 * 25.4]
    for gauge in gauges:
        decimal = read(f"{gauge.mm / 25.4:.3f}", "")
        assert same(gauge, decimal)
        assert [other for other in gauges if same(other, decimal)] == [gauge]


def test_families_are_named_by_their_most_telling_text() -> None:
    texts = (".135", "3/16", "0.1345", "10 ga", "0.1875", "6 mm", "1/4", "0.25")
    found = families(read(text) for text in texts)
    assert [family[0].text for family in found] == ["10 ga", "3/16 in", "6 mm", "1/4 in"]
    assert [len(family) for family in found] == [3, 2, 1, 2]


def test_a_rounded_decimal_never_joins_two_exact_sizes() -> None:
    found = families(read(text) for text in ("1.6 mm", ".063", "1/16"))
    assert [[thickness.text for thickness in family] for family in found] == [
        ["1/16 in"],
        ["1.6 mm", "0.063 in"],
    ]


TEXTS = st.lists(
    st.sampled_from(
        ["10 ga", "11 ga", ".135", "0.1345", "1/8", ".125", "3 mm", ".118", "3.04 mm", ".12", "3/16"]
    ),
    max_size=8,
)


@given(TEXTS, st.randoms(use_true_random=False))
def test_families_do_not_depend_on_the_order(texts: list[str], random) -> None:
    shuffled = texts.copy()
    random.shuffle(shuffled)
    found = families(map(read, texts))
    assert found == families(map(read, shuffled))
    assert sorted(t.text for family in found for t in family) == sorted({read(text).text for text in texts})
    assert all(same(family[0], other) for family in found for other in family)
