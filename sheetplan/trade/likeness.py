"""Thicknesses that are the same though written differently, and those that only look it.

Terms
-----
rounded
    A decimal: it stands for a span of half a unit in its last place (`0.135 in` may mean 10 ga,
    0.1345 in). Places that a spreadsheet drops count, so `0.06 in` is 0.060 in and `6 mm` 6.00 mm.
exact
    A gauge or a fraction.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import MM_PER_INCH

TABLE_ROUNDING_MM = 0.0001 * MM_PER_INCH
"""Gauge tables are rounded to 0.0001 in; neighbouring gauges are at least three times as far apart."""

ARITHMETIC_MM = 1e-9
"""Slack for binary decimals, so that 0.1345 in still counts as half a unit from 0.135 in."""

GREATEST_ROUNDING_SHARE = 0.02
"""Rounding joins nothing further apart than this: the closest gauges lie 4.5 per cent apart."""

CONFUSING_SHARE = 0.06
"""Different thicknesses less than this apart are confused in shops: 1/4 in with 6 mm (5.5 per cent),
1/8 in with 11 ga (4.3), 3/16 in with 5 mm (4.8). Common practice, no source."""

_DECIMAL = re.compile(r"[0-9]+(?:\.([0-9]+))? (in|mm)")
_LEAST_PLACES = {"in": 3, "mm": 2}
"""Places to which shops write sheet thickness; common practice, no source."""


def same(first: Thickness, second: Thickness) -> bool:
    """Whether both texts mean one thickness.

    >>> from sheetplan.trade.thickness import parse_thickness
    >>> from sheetplan.trade.units import Units
    >>> ten, eleven, decimal, eighth = (
    ...     parse_thickness(t, "carbon steel", Units.INCH) for t in ("10 ga", "11 ga", ".135", "1/8"))
    >>> same(ten, decimal), same(eleven, eighth), confusing(eleven, eighth)
    (True, False, True)
    """
    tolerance = max(TABLE_ROUNDING_MM, rounding_mm(first) + rounding_mm(second)) + ARITHMETIC_MM
    return _apart(first, second) <= min(tolerance, _greater(first, second) * GREATEST_ROUNDING_SHARE)


def confusing(first: Thickness, second: Thickness) -> bool:
    """Whether two different thicknesses are so close that one may have been meant for the other.

    Two gauges of one metal are never confusing: their numbers tell them apart.
    """
    if _is_gauge(first) and _is_gauge(second):
        return False
    close = _apart(first, second) < _greater(first, second) * CONFUSING_SHARE
    return close and not same(first, second)


def families(thicknesses: Iterable[Thickness]) -> tuple[tuple[Thickness, ...], ...]:
    """Sort the thicknesses of one metal into families that mean the same, thinnest first.

    Exact thicknesses found families, and rounded ones join the nearest family that they are the
    same as, the more exactly written first; so no decimal ever joins two sizes into one (`.063`
    lies between 1/16 in and 1.6 mm). The first of each family is the text to show: a gauge before
    a fraction before a decimal.
    """
    found: list[list[Thickness]] = []
    for thickness in sorted(set(thicknesses), key=_rank):
        near = [family for family in found if same(family[0], thickness)]
        if near:
            min(near, key=lambda family: _apart(family[0], thickness)).append(thickness)
        else:
            found.append([thickness])
    return tuple(tuple(family) for family in sorted(found, key=lambda family: (family[0].mm, family[0].text)))


def rounding_mm(thickness: Thickness) -> float:
    """Half a unit in the last place of a rounded decimal, in mm; 0 for an exact thickness."""
    decimal = _DECIMAL.fullmatch(thickness.text)
    if decimal is None:
        return 0.0
    places = max(len(decimal[1] or ""), _LEAST_PLACES[decimal[2]])
    unit = MM_PER_INCH if decimal[2] == "in" else 1.0
    return float(unit * 0.5 * 10.0**-places)


def _rank(thickness: Thickness) -> tuple[float, int, float, str]:
    """Exact before rounded, gauge before fraction before decimal, thin before thick."""
    kind = 0 if _is_gauge(thickness) else 1 if "/" in thickness.text else 2
    return rounding_mm(thickness), kind, thickness.mm, thickness.text


def _is_gauge(thickness: Thickness) -> bool:
    return thickness.text.endswith(" ga")


def _apart(first: Thickness, second: Thickness) -> float:
    return abs(first.mm - second.mm)


def _greater(first: Thickness, second: Thickness) -> float:
    return max(first.mm, second.mm)
