"""Gauge series against the statute, the published sheet tables and a reference library."""

import itertools

import pytest
from fluids.piping import AWG_gauges, AWG_inch

from sheetplan.trade.thickness import (
    ALUMINIUM,
    CARBON_STEEL,
    GALVANISED_STEEL,
    SERIES,
    SHEET_POUNDS_PER_FT2_INCH,
    STAINLESS_STEEL,
    STATUTORY_OUNCES,
    brown_and_sharpe_inches,
    gauge_text,
    series_named,
)
from sheetplan.trade.units import KG_PER_POUND, MM_PER_INCH, Units, weight_kg

# Source: 15 U.S.C. 206, table: gauge, inches as a fraction and as a decimal, mm, oz/ft2, lb/ft2, kg/m2.
STATUTE = """
7/0 1/2 .5 12.7 320 20.00 97.65
6/0 15/32 .46875 11.90625 300 18.75 91.55
5/0 7/16 .4375 11.1125 280 17.50 85.44
4/0 13/32 .40625 10.31875 260 16.25 79.33
3/0 3/8 .375 9.525 240 15 73.24
2/0 11/32 .34375 8.73125 220 13.75 67.13
0 5/16 .3125 7.9375 200 12.50 61.03
1 9/32 .28125 7.14375 180 11.25 54.93
2 17/64 .265625 6.746875 170 10.625 51.88
3 1/4 .25 6.35 160 10 48.82
4 15/64 .234375 5.953125 150 9.375 45.77
5 7/32 .21875 5.55625 140 8.75 42.72
6 13/64 .203125 5.159375 130 8.125 39.67
7 3/16 .1875 4.7625 120 7.5 36.62
8 11/64 .171875 4.365625 110 6.875 33.57
9 5/32 .15625 3.96875 100 6.25 30.52
10 9/64 .140625 3.571875 90 5.625 27.46
11 1/8 .125 3.175 80 5 24.41
12 7/64 .109375 2.778125 70 4.375 21.36
13 3/32 .09375 2.38125 60 3.75 18.31
14 5/64 .078125 1.984375 50 3.125 15.26
15 9/128 .0703125 1.7859375 45 2.8125 13.73
16 1/16 .0625 1.5875 40 2.5 12.21
17 9/160 .05625 1.42875 36 2.25 10.99
18 1/20 .05 1.27 32 2 9.765
19 7/160 .04375 1.11125 28 1.75 8.544
20 3/80 .0375 .9525 24 1.50 7.324
21 11/320 .034375 .873125 22 1.375 6.713
"""
STATUTE_ROWS = [row.split() for row in STATUTE.split("\n") if row]
IRON_KG_PER_M3 = 480 * KG_PER_POUND / (12 * MM_PER_INCH / 1000) ** 3
SQUARE_FOOT, SQUARE_METRE = Units.INCH.area_mm2, Units.MM.area_mm2


def number(gauge: str) -> int:
    return 1 - int(gauge[0]) if gauge.endswith("/0") else int(gauge)


@pytest.mark.parametrize("row", STATUTE_ROWS, ids=lambda row: row[0])
def test_statute(row: list[str]) -> None:
    gauge, fraction, decimal, millimetres, ounces, pounds, kg_m2 = row
    over, under = fraction.split("/")
    # Source: 15 U.S.C. 206.
    thickness = SERIES[STAINLESS_STEEL].thickness[number(gauge)]
    assert thickness == pytest.approx(int(over) / int(under) * MM_PER_INCH, rel=1e-12)
    assert thickness == pytest.approx(float(decimal) * MM_PER_INCH, rel=1e-12)
    assert thickness == pytest.approx(float(millimetres), rel=1e-12)
    assert STATUTORY_OUNCES[number(gauge)] == float(ounces)
    # Source: 15 U.S.C. 206; its thicknesses are those of wrought iron of 480 lb/ft3.
    assert weight_kg(SQUARE_FOOT, thickness, IRON_KG_PER_M3) == pytest.approx(float(pounds) * KG_PER_POUND)
    # The metric column is given to four figures.
    assert weight_kg(SQUARE_METRE, thickness, IRON_KG_PER_M3) == pytest.approx(float(kg_m2), rel=5e-4)


def test_the_statute_is_checked_in_at_least_twenty_rows() -> None:
    assert len(STATUTE_ROWS) >= 20


# Source: Manufacturers' Standard Gauge for sheet steel, inches, as in published gauge tables.
SHEET_STEEL = {
    3: 0.2391, 4: 0.2242, 5: 0.2092, 6: 0.1943, 7: 0.1793, 8: 0.1644, 9: 0.1495, 10: 0.1345, 11: 0.1196,
    12: 0.1046, 13: 0.0897, 14: 0.0747, 15: 0.0673, 16: 0.0598, 17: 0.0538, 18: 0.0478, 19: 0.0418,
    20: 0.0359, 21: 0.0329, 22: 0.0299, 23: 0.0269, 24: 0.0239, 25: 0.0209, 26: 0.0179, 27: 0.0164,
    28: 0.0149,
}  # fmt: skip
# Source: Galvanised Sheet Gauge for hot-dipped zinc-coated sheets, inches, as in published gauge tables.
GALVANISED = {
    8: 0.1681, 9: 0.1532, 10: 0.1382, 11: 0.1233, 12: 0.1084, 13: 0.0934, 14: 0.0785, 15: 0.0710,
    16: 0.0635, 17: 0.0575, 18: 0.0516, 19: 0.0456, 20: 0.0396, 21: 0.0366, 22: 0.0336, 23: 0.0306,
    24: 0.0276, 25: 0.0247, 26: 0.0217, 27: 0.0202, 28: 0.0187,
}  # fmt: skip


@pytest.mark.parametrize(("gauge", "inches"), SHEET_STEEL.items())
def test_sheet_steel(gauge: int, inches: float) -> None:
    thickness = SERIES[CARBON_STEEL].thickness[gauge]
    assert thickness == pytest.approx(inches * MM_PER_INCH, rel=1e-12)
    # Source: Manufacturers' Standard Gauge, 41.82 lb/ft2 per inch; the table rounds to 0.0001 in.
    pounds = thickness / MM_PER_INCH * SHEET_POUNDS_PER_FT2_INCH
    assert pounds == pytest.approx(STATUTORY_OUNCES[gauge] / 16, abs=0.00005 * SHEET_POUNDS_PER_FT2_INCH)


@pytest.mark.parametrize(("gauge", "inches"), GALVANISED.items())
def test_galvanised_sheet(gauge: int, inches: float) -> None:
    assert SERIES[GALVANISED_STEEL].thickness[gauge] == pytest.approx(inches * MM_PER_INCH, rel=1e-12)


@pytest.mark.parametrize("gauge", range(0, 30))
def test_aluminium_against_the_wire_table(gauge: int) -> None:
    # Source: the American wire (Brown and Sharpe) gauge table of the fluids package, fluids.piping.AWG_inch.
    published = AWG_inch[AWG_gauges.index(float(gauge))]
    assert SERIES[ALUMINIUM].thickness[gauge] == pytest.approx(published * MM_PER_INCH, rel=1e-9)


@pytest.mark.parametrize("gauge", range(30, 37))
def test_the_formula_against_the_fine_end_of_the_wire_table(gauge: int) -> None:
    # Source: as above; the table gives three figures here.
    published = AWG_inch[AWG_gauges.index(float(gauge))]
    assert brown_and_sharpe_inches(gauge) == pytest.approx(published, rel=3e-3)


@pytest.mark.parametrize(("gauge", "inches"), [(36, 0.005), (-3, 0.46)])
def test_the_two_gauges_that_define_the_formula(gauge: int, inches: float) -> None:
    # Source: ASTM B258, which sets 36 ga at 0.0050 in and 4/0 ga at 0.4600 in.
    assert brown_and_sharpe_inches(gauge) == pytest.approx(inches, rel=1e-12)


@pytest.mark.parametrize("series", SERIES.values(), ids=lambda series: series.name)
def test_higher_gauges_are_thinner(series) -> None:
    gauges = sorted(series.thickness)
    assert gauges == list(range(gauges[0], gauges[-1] + 1))
    falling = [series.thickness[gauge] for gauge in gauges]
    assert all(thick > thin for thick, thin in itertools.pairwise(falling))
    assert series.source
    assert series.title


def test_one_number_is_four_thicknesses() -> None:
    assert len({round(series.thickness[16], 6) for series in SERIES.values()}) == 4


def test_span_and_names() -> None:
    assert SERIES[CARBON_STEEL].span == "3 ga to 38 ga"
    assert SERIES[ALUMINIUM].span == "4/0 ga to 36 ga"
    assert gauge_text(-1) == "2/0 ga"
    assert series_named("Aluminum") is SERIES[ALUMINIUM]
    assert series_named("unobtainium") is None
