"""Sheet gauges: one number, a different thickness for each family of metal.

Terms
-----
gauge number
    A whole number; thicker sheets have lower ones. `00` is -1, `000` is -2 and so on, as in the
    formula of ASTM B258.
statutory weight
    Ounces per square foot of a gauge by 15 U.S.C. 206 (the act of 3 March 1893). Three of the four
    series descend from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from sheetplan.trade.units import KG_PER_POUND, MM_PER_INCH, Units

STATUTORY_OUNCES: Mapping[int, float] = MappingProxyType({
    -6: 320.0, -5: 300.0, -4: 280.0, -3: 260.0, -2: 240.0, -1: 220.0, 0: 200.0, 1: 180.0, 2: 170.0,
    3: 160.0, 4: 150.0, 5: 140.0, 6: 130.0, 7: 120.0, 8: 110.0, 9: 100.0, 10: 90.0, 11: 80.0, 12: 70.0,
    13: 60.0, 14: 50.0, 15: 45.0, 16: 40.0, 17: 36.0, 18: 32.0, 19: 28.0, 20: 24.0, 21: 22.0, 22: 20.0,
    23: 18.0, 24: 16.0, 25: 14.0, 26: 12.0, 27: 11.0, 28: 10.0, 29: 9.0, 30: 8.0, 31: 7.0, 32: 6.5,
    33: 6.0, 34: 5.5, 35: 5.0, 36: 4.5, 37: 4.25, 38: 4.0,
})  # fmt: skip
"""Ounces avoirdupois per square foot. Source: 15 U.S.C. 206."""

SHEET_POUNDS_PER_FT2_INCH = 41.82
"""Weight that turns a statutory weight into the Manufacturers' Standard thickness.

Source: Manufacturers' Standard Gauge for sheet steel (501.84 lb/ft3, which is more than the density
of steel because sheets ran thicker in the middle than at the edges, where they are measured).
"""

IRON_OUNCES_PER_FT2_INCH = 640.0
"""The statute's own ratio: wrought iron of 480 lb/ft3 weighs 40 lb a square foot and inch."""

GALVANISED_EXTRA_OUNCES = 2.5
"""Zinc on both sides in the galvanised sheet gauge: statutory weight plus 2.5 oz/ft2."""

CARBON_STEEL = "carbon steel"
GALVANISED_STEEL = "galvanised steel"
STAINLESS_STEEL = "stainless steel"
ALUMINIUM = "aluminium"


@dataclass(frozen=True, slots=True)
class GaugeSeries:
    """The gauges of one family of metal.

    ``thickness`` maps gauge numbers to mm; ``title`` is the name of the standard and ``source``
    where its values come from.
    """

    name: str
    title: str
    thickness: Mapping[int, float]
    source: str

    @property
    def span(self) -> str:
        """The first and last gauge as a person would say them."""
        return f"{gauge_text(min(self.thickness))} to {gauge_text(max(self.thickness))}"


def gauge_text(number: int) -> str:
    """How a gauge is written.

    >>> gauge_text(10), gauge_text(0), gauge_text(-3)
    ('10 ga', '0 ga', '4/0 ga')
    """
    return f"{number} ga" if number >= 0 else f"{1 - number}/0 ga"


def brown_and_sharpe_inches(number: int) -> float:
    """Thickness in inches of a Brown and Sharpe (American wire) gauge. Source: ASTM B258, formula."""
    return 0.005 * float(92.0 ** ((36 - number) / 39))


def _as_published(inches: float) -> float:
    """Gauge tables give ten-thousandths of an inch; the rounded value is the one that is ordered by."""
    return round(inches, 4) * MM_PER_INCH


def _sheet_steel(extra_ounces: float, first: int, last: int) -> Mapping[int, float]:
    return MappingProxyType({
        number: _as_published((ounces + extra_ounces) / 16 / SHEET_POUNDS_PER_FT2_INCH)
        for number, ounces in STATUTORY_OUNCES.items() if first <= number <= last
    })  # fmt: skip


SERIES: Mapping[str, GaugeSeries] = MappingProxyType({
    series.name: series
    for series in (
        GaugeSeries(
            CARBON_STEEL, "Manufacturers' Standard Gauge", _sheet_steel(0.0, 3, 38),
            "statutory weights (15 U.S.C. 206) over 41.82 lb/ft2 per inch",
        ),
        GaugeSeries(
            GALVANISED_STEEL, "Galvanised Sheet Gauge", _sheet_steel(GALVANISED_EXTRA_OUNCES, 8, 30),
            "statutory weights plus 2.5 oz/ft2 of zinc over 41.82 lb/ft2 per inch "
            "(which gives the published table from 8 to 30)",
        ),
        GaugeSeries(
            STAINLESS_STEEL, "U.S. Standard Gauge",
            MappingProxyType({n: ounces / IRON_OUNCES_PER_FT2_INCH * MM_PER_INCH
                              for n, ounces in STATUTORY_OUNCES.items()}),
            "approximate thickness of 15 U.S.C. 206; that stainless is sold by it is common practice",
        ),
        GaugeSeries(
            ALUMINIUM, "Brown and Sharpe (American wire) gauge",
            MappingProxyType({n: _as_published(brown_and_sharpe_inches(n)) for n in range(-3, 37)}),
            "ASTM B258: 0.005 in x 92^((36 - n)/39)",
        ),
    )
})  # fmt: skip
"""The series by name; the names are those of the gauge column of the materials page."""

_OTHER_NAMES = {
    "steel": CARBON_STEEL, "mild steel": CARBON_STEEL, "manufacturers' standard": CARBON_STEEL,
    "galvanised": GALVANISED_STEEL, "galvanized": GALVANISED_STEEL, "galvanized steel": GALVANISED_STEEL,
    "stainless": STAINLESS_STEEL, "aluminum": ALUMINIUM, "brown & sharpe": ALUMINIUM, "awg": ALUMINIUM,
}  # fmt: skip


def published_ounces(series: str, number: int) -> float | None:
    """The weight that a gauge is published with, ounces per square foot; None where there is none.

    Carbon steel: the statutory weight (15 U.S.C. 206), of which the Manufacturers' Standard makes its
    thickness. Galvanised: the same and 2.5 oz/ft2 of zinc. Stainless, by the U.S. Standard Gauge: the
    statutory weight. The Brown and Sharpe gauge of aluminium is one of thickness and publishes no weight.

    >>> published_ounces(CARBON_STEEL, 10), published_ounces(GALVANISED_STEEL, 16)
    (90.0, 42.5)
    """
    if series == ALUMINIUM or series not in SERIES or number not in SERIES[series].thickness:
        return None
    return STATUTORY_OUNCES[number] + (GALVANISED_EXTRA_OUNCES if series == GALVANISED_STEEL else 0.0)


def published_kg(series: str, text: str, area_mm2: float) -> float | None:
    """What a sheet weighs by the published weight of its gauge, kg; ``text`` is its thickness as shown."""
    named = {gauge_text(number): number for number in STATUTORY_OUNCES}
    ounces = published_ounces(series, named[text]) if text in named else None
    return None if ounces is None else ounces / 16.0 * KG_PER_POUND * area_mm2 / Units.INCH.area_mm2


def series_named(text: str) -> GaugeSeries | None:
    """The series that a planner's text names, American spelling included; None where there is none.

    >>> series_named(" Galvanized Steel ").name
    'galvanised steel'
    """
    name = " ".join(text.lower().split())
    return SERIES.get(_OTHER_NAMES.get(name, name))
