"""Published weights of gauges, row by row."""

import pytest

from sheetplan.trade.thickness import (
    ALUMINIUM,
    CARBON_STEEL,
    GALVANISED_STEEL,
    STAINLESS_STEEL,
    STATUTORY_OUNCES,
    gauge_text,
    published_kg,
    published_ounces,
)
from sheetplan.trade.units import KG_PER_POUND, Units, weight_kg
from sheetplan.workbook.reading.metals import Metals, read_materials, read_stock
from tests.nasty.books.plain import plain_rows, tables_of

# Source: 15 U.S.C. 206, weight a square foot in ounces avoirdupois, from memory; the same in pounds is what
# merchants' tables of the Manufacturers' Standard Gauge print (10 ga 5.625 lb). -6 to -1 are 7/0 to 2/0.
STATUTE = {-6: 320, -5: 300, -4: 280, -3: 260, -2: 240, -1: 220, 0: 200, 1: 180, 2: 170,
           3: 160, 4: 150, 5: 140, 6: 130, 7: 120, 8: 110, 9: 100, 10: 90, 11: 80, 12: 70, 13: 60, 14: 50,
           15: 45, 16: 40, 17: 36, 18: 32, 19: 28, 20: 24, 21: 22, 22: 20, 23: 18, 24: 16, 25: 14, 26: 12,
           27: 11, 28: 10, 29: 9, 30: 8, 31: 7, 32: 6.5, 33: 6, 34: 5.5, 35: 5, 36: 4.5, 37: 4.25,
           38: 4}  # fmt: skip

# Source: the gauges that each series names, from memory: the Manufacturers' Standard Gauge 3 to 38, the
# Galvanised Sheet Gauge 8 to 32, of which the book knows those to 30, with 2.5 oz/ft2 of zinc (16 ga is
# published with 2.656 lb); stainless goes by the U.S. Standard Gauge, all of the statute.
NAMED = {CARBON_STEEL: (3, 38, 0.0), GALVANISED_STEEL: (8, 30, 2.5), STAINLESS_STEEL: (-6, 38, 0.0)}


def published(series: str, gauge: int) -> float | None:
    """Ounces a square foot; None where the series does not name the gauge."""
    first, last, zinc = NAMED[series]
    return STATUTE[gauge] + zinc if first <= gauge <= last else None


@pytest.mark.parametrize("gauge", STATUTE)
@pytest.mark.parametrize("series", NAMED)
def test_each_gauge_of_steel_has_its_published_weight(series: str, gauge: int) -> None:
    assert published_ounces(series, gauge) == published(series, gauge)


def test_all_gauges_of_the_statute_are_tried() -> None:
    assert STATUTORY_OUNCES.keys() == STATUTE.keys()


@pytest.mark.parametrize("series", NAMED)
@pytest.mark.parametrize("units", Units)
def test_a_sheet_priced_by_weight_costs_its_published_weight_gauge_by_gauge(
    series: str, units: Units
) -> None:
    """A book with a sheet of each gauge of a series at 1.00 a pound or kilogram, billed as published."""
    rows = plain_rows()
    rows["Settings"] = [{"Setting": "Units", "Value": units.value}]
    density = {Units.INCH: 0.2836, Units.MM: 7850.0}[units]
    rows["Materials"] = [{**row, "Density": density} for row in rows["Materials"]]
    rows["Materials"][0] |= {"Gauge system": series}
    named = [gauge for gauge in STATUTE if published(series, gauge) is not None]
    wide, long = {Units.INCH: (48, 96), Units.MM: (1250, 2500)}[units]
    rows["Stock"] = [
        {"Sheet": gauge_text(gauge), "Material": "mild steel", "Thickness": gauge_text(gauge), "Width": wide,
         "Length": long, "Price": 1, "Price per": "weight", "Billed weight": "published"} for gauge in named
    ]  # fmt: skip
    tables = tables_of(rows).tables
    read = read_stock(tables["Stock"], units, Metals(read_materials(tables["Materials"], units), units))
    assert [problem.what for problem in read.problems] == []
    paid = {sheet.value.name: sheet.value.price for sheet in read.rows}
    square_feet = wide * long * (units.length_mm / 304.8) ** 2
    pounds = {gauge: (published(series, gauge) or 0.0) / 16 * square_feet for gauge in named}
    # A pound is 0.45359237 kg exactly (NIST SP 811, appendix B).
    one = {Units.INCH: 1.0, Units.MM: 0.45359237}[units]
    assert paid == pytest.approx({gauge_text(gauge): weight * one for gauge, weight in pounds.items()})


def test_aluminium_has_none_and_a_thickness_in_inches_has_none() -> None:
    assert published_ounces(ALUMINIUM, 10) is None
    assert published_kg(CARBON_STEEL, '3/16"', 1e6) is None


def test_a_gauge_is_billed_two_per_cent_above_its_real_weight() -> None:
    sheet = 48 * 25.4 * 96 * 25.4
    published, real = published_kg(CARBON_STEEL, "10 ga", sheet), weight_kg(sheet, 0.1345 * 25.4, 7850.0)
    assert published is not None
    assert published / KG_PER_POUND == pytest.approx(5.625 * sheet / Units.INCH.area_mm2)
    assert published / real == pytest.approx(1.024, abs=0.002)
