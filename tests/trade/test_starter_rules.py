import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.trade.starter import REMARK, starter_rule
from sheetplan.trade.thickness import ALUMINIUM, CARBON_STEEL, SERIES, STAINLESS_STEEL
from sheetplan.trade.units import MM_PER_INCH, Units

THICKNESS = st.floats(0.3, 60)


@given(st.sampled_from([*SERIES, ""]), THICKNESS, st.sampled_from(Units))
def test_rules_are_usable(series: str, thickness: float, units: Units) -> None:
    rule = starter_rule(series, thickness, units)
    assert 0 < rule.kerf < rule.gap <= rule.margin
    assert rule.least_hole > rule.kerf
    assert rule.feed > 0
    assert rule.pierce_seconds > 0


@given(THICKNESS, THICKNESS, st.sampled_from(Units))
def test_thicker_is_slower_and_wider(first: float, second: float, units: Units) -> None:
    thin, thick = (starter_rule(CARBON_STEEL, t, units) for t in sorted((first, second)))
    assert thin.kerf <= thick.kerf
    assert thin.gap <= thick.gap
    assert thin.feed >= thick.feed
    assert thin.pierce_seconds <= thick.pierce_seconds


@given(THICKNESS)
def test_values_are_round_in_the_book(thickness: float) -> None:
    inches = starter_rule(CARBON_STEEL, thickness, Units.INCH)
    for length in (inches.kerf, inches.gap, inches.margin, inches.least_hole):
        hundredths = length / MM_PER_INCH * 100
        assert hundredths == pytest.approx(round(hundredths), abs=1e-3)
    metric = starter_rule(CARBON_STEEL, thickness, Units.MM)
    for length in (metric.gap, metric.margin, metric.least_hole):
        assert length * 2 == pytest.approx(round(length * 2), abs=1e-9)
    assert metric.feed % 50 == pytest.approx(0, abs=1e-6)


def test_metals_differ_in_feed() -> None:
    stainless, steel, aluminium = (
        starter_rule(s, 6.35).feed for s in (STAINLESS_STEEL, CARBON_STEEL, ALUMINIUM)
    )
    assert stainless < steel < aluminium
    assert REMARK == "common practice"
