"""Metals that a new book starts with: gauge series and density, each with its source."""

from __future__ import annotations

from dataclasses import dataclass

from sheetplan.trade.gauges import ALUMINIUM, CARBON_STEEL, GALVANISED_STEEL, STAINLESS_STEEL


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
