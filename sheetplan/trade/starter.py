"""What a new book starts with: metals, cutting rules, and the usual cautions, each with its source."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from sheetplan.trade.thickness import ALUMINIUM, CARBON_STEEL, GALVANISED_STEEL, STAINLESS_STEEL
from sheetplan.trade.units import MM_PER_INCH, Units

# Metals that a new book starts with: gauge series and density, each with its source.


@dataclass(frozen=True, slots=True)
class StarterMaterial:
    """A row of the materials page. ``density`` in kg/m3."""

    name: str
    gauge_series: str
    density: float
    source: str


_STEEL = "EN 1991-1-1:2002, table A.4 (steel, 78.5 kN/m3 at most); AISC Manual, 490 lb/ft3; from memory"
_COATED = f"as carbon steel, the zinc counted with the thickness: common practice; {_STEEL}"
_STAINLESS = "EN 10088-1:2014, table E.1, from memory"
_ALUMINIUM = "Aluminum Association, Aluminum Standards and Data, nominal densities, from memory"

STARTERS = (
    StarterMaterial("mild steel", CARBON_STEEL, 7850.0, _STEEL),
    StarterMaterial("galvanised steel", GALVANISED_STEEL, 7850.0, _COATED),
    StarterMaterial("stainless 304", STAINLESS_STEEL, 7900.0, f"{_STAINLESS} (1.4301)"),
    StarterMaterial("stainless 316", STAINLESS_STEEL, 8000.0, f"{_STAINLESS} (1.4401)"),
    StarterMaterial("aluminium 3003", ALUMINIUM, 2730.0, _ALUMINIUM),
    StarterMaterial("aluminium 5052", ALUMINIUM, 2680.0, _ALUMINIUM),
    StarterMaterial("aluminium 5083", ALUMINIUM, 2660.0, _ALUMINIUM),
    StarterMaterial("aluminium 6061", ALUMINIUM, 2700.0, _ALUMINIUM),
)
"""Starter rows; a planner adds others with the density of the maker's data sheet."""


# Cutting rules that a new book starts with, for a plasma or similar thermal table.
#
# All are common practice without a source, rounded: the shop's own cut chart replaces them.

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


# Usual cautions, by family of metal. They remind; they do not replace training or local rules.

DEFERENCE = (
    "These are reminders only: local codes, the safety data sheets, the makers' manuals and licensed or "
    "trained people decide how this work is done."
)
"""Said once wherever cautions stand; every caution below also names whom to ask."""

GENERAL = (
    "Heavy sheets: weigh before lifting, use rated lifting gear and enough hands, keep clear below; "
    "lifting is for trained people under local rules.",
    "Hot and sharp: cut edges, dross and small parts burn and cut; gloves, sleeves and eye protection "
    "as the shop's safety rules ask.",
    "Arc light and sparks: eyes and skin need the shade that the table's manual names, bystanders a "
    "screen, and the place a fire watch where local fire codes ask for one.",
    "Fume and gases: cut with the extraction or water that the table's manual calls for; exposure limits "
    "are set by local regulations and measured by qualified people.",
    "Electricity and compressed gas: service and faults are for licensed electricians and gas fitters.",
)
"""What holds for every metal on a cutting table."""

_PARTICULAR: Mapping[str, tuple[str, ...]] = MappingProxyType({
    GALVANISED_STEEL: (
        "Coated metal: zinc fume causes metal fume fever, and paints, platings and oils can give off worse; "
        "extraction and breathing protection as local exposure rules and the safety data sheet require.",
    ),
    STAINLESS_STEEL: (
        "Stainless fume holds hexavalent chromium and nickel, which can cause cancer; extraction, "
        "air measurement and medical rules are set by local law (in the USA 29 CFR 1910.1026).",
    ),
    ALUMINIUM: (
        "Aluminium over a water table: hydrogen gathers under the sheet and in the water and can explode; "
        "follow the table maker's manual on aeration and water level, and local codes, before cutting.",
        "Aluminium dust and fines burn, and more so mixed with rust: keep them out of dust collectors that "
        "are not made for them, as fire codes require.",
    ),
})  # fmt: skip


def particular(gauge_series: str) -> tuple[str, ...]:
    """What is peculiar to one family of metal; empty for carbon steel and for unknown series."""
    return _PARTICULAR.get(gauge_series, ())


def gist(caution: str) -> str:
    """What a caution warns of, in short, for a place that says where it stands in full.

    >>> gist("Hot and sharp: cut edges burn and cut; gloves as the shop's safety rules ask.")
    'Hot and sharp: cut edges burn and cut.'
    """
    return re.split(r";|, as ", caution)[0].rstrip(".") + "."
