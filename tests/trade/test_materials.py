import pytest

from sheetplan.trade.starter import STARTERS
from sheetplan.trade.thickness import SERIES
from sheetplan.trade.units import KG_PER_POUND, MM3_PER_M3, MM_PER_INCH, Units, weight_kg

DENSITY = {starter.name: starter.density for starter in STARTERS}
KG_M3_PER_LB_FT3 = KG_PER_POUND / (12 * MM_PER_INCH) ** 3 * MM3_PER_M3
KG_M3_PER_LB_IN3 = KG_M3_PER_LB_FT3 * 12**3


@pytest.mark.parametrize(
    ("name", "published"),
    [
        # Source: AISC Steel Construction Manual, weights of materials, steel 490 lb/ft3 (from memory).
        ("mild steel", 490 * KG_M3_PER_LB_FT3),
        # Source: ASTM G1-03, table X1.1, carbon steel 7.86 g/cm3 (from memory).
        ("mild steel", 7860),
        # Source: ASTM G1-03, table X1.1, types 304 and 316, 7.94 and 7.98 g/cm3 (from memory).
        ("stainless 304", 7940),
        ("stainless 316", 7980),
        # Source: ASTM G1-03, table X1.1, aluminium alloys (from memory).
        ("aluminium 3003", 2730),
        ("aluminium 5052", 2680),
        ("aluminium 5083", 2660),
        ("aluminium 6061", 2700),
        # Source: Aluminum Association, nominal densities, 5052 0.097 and 6061 0.098 lb/in3 (from memory).
        ("aluminium 5052", 0.097 * KG_M3_PER_LB_IN3),
        ("aluminium 6061", 0.098 * KG_M3_PER_LB_IN3),
    ],
)
def test_densities(name: str, published: float) -> None:
    # Two published tables of one metal differ by up to half a per cent among themselves.
    assert DENSITY[name] == pytest.approx(published, rel=0.0055)


# Source: theoretical weights of steel plate as published by mills and in AISC, lb/ft2 (40.8 lb per inch).
PLATE = {"3/16": 7.656, "1/4": 10.21, "5/16": 12.76, "3/8": 15.31, "7/16": 17.86, "1/2": 20.42, "5/8": 25.52,
         "3/4": 30.63, "7/8": 35.73, "1": 40.84, "1 1/4": 51.05}  # fmt: skip


@pytest.mark.parametrize(("inches", "pounds"), PLATE.items())
def test_plate_weights(inches: str, pounds: float) -> None:
    whole, _, fraction = inches.rpartition(" ")
    over, _, under = fraction.partition("/")
    thickness = (float(whole or 0) + float(over) / float(under or 1)) * MM_PER_INCH
    weight = weight_kg(Units.INCH.area_mm2, thickness, DENSITY["mild steel"]) / KG_PER_POUND
    assert weight == pytest.approx(pounds, rel=1e-3)


def test_a_four_by_eight_is_thirty_two_square_feet() -> None:
    # Common practice, no source.
    assert (48 * MM_PER_INCH) * (96 * MM_PER_INCH) / Units.INCH.area_mm2 == pytest.approx(32)


def test_starters_are_complete() -> None:
    assert len({starter.name for starter in STARTERS}) == len(STARTERS)
    assert {starter.gauge_series for starter in STARTERS} == set(SERIES)
    assert all(starter.source for starter in STARTERS)
