"""Published weights of gauges, row by row."""

import pytest

from sheetplan.trade.thickness import (
    ALUMINIUM,
    CARBON_STEEL,
    GALVANISED_STEEL,
    STAINLESS_STEEL,
    published_kg,
    published_ounces,
)
from sheetplan.trade.units import KG_PER_POUND, Units, weight_kg

# Source: 15 U.S.C. 206, weight a square foot in ounces avoirdupois, from memory; the same in pounds is what
# merchants' tables of the Manufacturers' Standard Gauge print (10 ga 5.625 lb).
STATUTE = {3: 160, 4: 150, 5: 140, 6: 130, 7: 120, 8: 110, 9: 100, 10: 90, 11: 80, 12: 70, 13: 60, 14: 50,
           15: 45, 16: 40, 17: 36, 18: 32, 19: 28, 20: 24, 21: 22, 22: 20, 23: 18, 24: 16, 25: 14, 26: 12,
           27: 11, 28: 10, 29: 9, 30: 8}  # fmt: skip


@pytest.mark.parametrize("gauge", STATUTE)
def test_each_gauge_of_steel_has_its_published_weight(gauge: int) -> None:
    assert published_ounces(CARBON_STEEL, gauge) == STATUTE[gauge]
    assert published_ounces(STAINLESS_STEEL, gauge) == STATUTE[gauge]
    # Galvanised Sheet Gauge: 2.5 oz/ft2 more, from 8 to 30; 16 ga is published with 2.656 lb, from memory.
    expected = STATUTE[gauge] + 2.5 if gauge >= 8 else None
    assert published_ounces(GALVANISED_STEEL, gauge) == expected


def test_aluminium_has_none_and_a_thickness_in_inches_has_none() -> None:
    assert published_ounces(ALUMINIUM, 10) is None
    assert published_kg(CARBON_STEEL, '3/16"', 1e6) is None


def test_a_gauge_is_billed_two_per_cent_above_its_real_weight() -> None:
    sheet = 48 * 25.4 * 96 * 25.4
    published, real = published_kg(CARBON_STEEL, "10 ga", sheet), weight_kg(sheet, 0.1345 * 25.4, 7850.0)
    assert published is not None
    assert published / KG_PER_POUND == pytest.approx(5.625 * sheet / Units.INCH.area_mm2)
    assert published / real == pytest.approx(1.024, abs=0.002)
