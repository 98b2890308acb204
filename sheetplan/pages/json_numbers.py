"""Numbers as a plan's JSON holds them."""

from __future__ import annotations

import math

from sheetplan.trade.units import Units

DIGITS = 9
"""Decimals kept: a billionth of an inch or of a currency's unit, so that equal plans give equal text."""


def length(mm: float, units: Units) -> float:
    """A length in the book's units."""
    return number(mm / units.length_mm)


def number(value: float) -> float:
    """A finite number without the dust of conversions; a number that is not finite is a bug of ours."""
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be written")
    return round(value, DIGITS) + 0.0
