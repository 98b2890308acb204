import pytest

from sheetplan.trade.units import Units, weight_kg


def test_weight_of_a_cubic_metre() -> None:
    assert weight_kg(1e6, 1000, 7850) == pytest.approx(7850)


def test_areas() -> None:
    # Source: NIST SP 811, appendix B.8, 1 ft2 = 0.092 903 04 m2 exactly.
    assert Units.INCH.area_mm2 / Units.MM.area_mm2 == pytest.approx(0.09290304, rel=1e-12)


def test_signs() -> None:
    assert (Units.INCH.weight, Units.INCH.area, Units.MM.weight, Units.MM.area) == ("lb", "ft2", "kg", "m2")
