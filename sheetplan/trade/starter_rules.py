"""Cutting rules that a new book starts with, for a plasma or similar thermal table.

All are common practice without a source, rounded: the shop's own cut chart replaces them.
"""

from __future__ import annotations

from dataclasses import dataclass

from sheetplan.trade.gauges import ALUMINIUM, STAINLESS_STEEL
from sheetplan.trade.units import MM_PER_INCH, Units

REMARK = "common practice"
"""Stands beside every starter value."""

STARTER_HOUR_COST = 90.0
"""Cost of an hour of the table with its operator, in whatever currency the book uses."""


@dataclass(frozen=True, slots=True)
class StarterRule:
    """A starter row of the cutting page: mm, mm/min, seconds, currency; fields as in `model.CuttingRule`."""

    kerf: float
    gap: float
    margin: float
    least_hole: float
    least_web: float
    feed: float
    pierce_seconds: float
    pierce_cost: float
    hour_cost: float = STARTER_HOUR_COST


_BANDS = (
    (0.080, 0.05, 0.25, 0.25, 0.19, 220.0, 0.3, 0.02),
    (0.140, 0.06, 0.25, 0.38, 0.25, 140.0, 0.5, 0.02),
    (0.200, 0.07, 0.38, 0.38, 0.31, 100.0, 0.7, 0.03),
    (0.260, 0.08, 0.38, 0.50, 0.38, 75.0, 0.9, 0.03),
    (0.400, 0.09, 0.50, 0.50, 0.56, 50.0, 1.2, 0.04),
    (0.520, 0.10, 0.50, 0.50, 0.75, 35.0, 1.6, 0.05),
    (0.800, 0.12, 0.63, 0.75, 1.13, 22.0, 2.5, 0.07),
    (float("inf"), 0.15, 0.75, 1.00, 1.50, 12.0, 4.0, 0.10),
)
"""Up to this thickness (in): kerf, gap, margin, least hole (in), feed (in/min), pierce (s), its cost."""

_FEED_SHARE = {STAINLESS_STEEL: 0.8, ALUMINIUM: 1.2}
"""Stainless is cut slower than carbon steel of one thickness, aluminium faster."""

_ROUND_MM, _ROUND_KERF_MM, _ROUND_FEED_MM, _ROUND_FEED_IN = 0.5, 0.1, 50.0, 1.0


def starter_rule(gauge_series: str, thickness_mm: float, units: Units = Units.INCH) -> StarterRule:
    """The starter values for a metal and thickness, round numbers in the book's units.

    >>> starter_rule("carbon steel", 6.0, Units.MM).gap
    9.5
    """
    band = next(band for band in _BANDS if thickness_mm <= band[0] * MM_PER_INCH)
    _, kerf, gap, margin, least_hole, feed, pierce_seconds, pierce_cost = band
    feed *= _FEED_SHARE.get(gauge_series, 1.0)
    if units is Units.INCH:
        kerf, gap, margin, least_hole = (round(x * MM_PER_INCH, 4) for x in (kerf, gap, margin, least_hole))
        feed_mm = _round_to(feed, _ROUND_FEED_IN) * MM_PER_INCH
    else:
        kerf = _round_to(kerf * MM_PER_INCH, _ROUND_KERF_MM)
        gap, margin, least_hole = (_round_to(x * MM_PER_INCH, _ROUND_MM) for x in (gap, margin, least_hole))
        feed_mm = _round_to(feed * MM_PER_INCH, _ROUND_FEED_MM)
    # As thick as it is wide a web stays straight. Common practice, no source.
    web = round(thickness_mm, 3) if units is Units.INCH else max(0.5, _round_to(thickness_mm, _ROUND_MM))
    return StarterRule(kerf, gap, margin, least_hole, web, feed_mm, pierce_seconds, pierce_cost)


def _round_to(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)
