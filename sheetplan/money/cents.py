"""Amounts of money as they are printed: rows that add up to their total, to the cent.

The rule
--------
A total is rounded to the cent, half a cent up. Each row is rounded down to the cent, and the cents that then
lack go one each to the rows that lost most by it, the first of them where they lost alike (the method of the
largest remainder, Hamilton 1792). No row is off by a cent or more.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from math import fsum
from typing import TypeVar

DUST = 1e-6
"""Cents: what sums of floats lie beside the cent, or the half cent, that is meant."""

Key = TypeVar("Key")


def cent(amount: float) -> float:
    """An amount as it is printed: to the cent, half a cent up.

    >>> cent(2.675), cent(-0.004)
    (2.68, 0.0)
    """
    return _whole(amount * 100.0 + 0.5) / 100.0


def printed(amounts: Sequence[float], total: float | None = None) -> list[float]:
    """Amounts as they are printed above their total, so that what is printed adds up.

    ``total`` is their sum where it is not given.

    >>> printed([0.333, 0.333, 0.334])
    [0.33, 0.33, 0.34]
    >>> printed([282.443, 282.443, 282.45])
    [282.45, 282.44, 282.45]
    """
    wanted = round(cent(fsum(amounts) if total is None else total) * 100.0)
    whole = [_whole(amount * 100.0) for amount in amounts]
    lost = [amount * 100.0 - cents for amount, cents in zip(amounts, whole, strict=True)]
    lack = wanted - sum(whole)
    turn = sorted(range(len(whole)), key=lambda place: (-round(lost[place], 6), place))
    for place in turn[: max(lack, 0)]:
        whole[place] += 1
    return [cents / 100.0 for cents in whole]


def printed_by(amounts: Mapping[Key, float], total: float | None = None) -> dict[Key, float]:
    """As `printed`, of amounts by name."""
    return dict(zip(amounts, printed(list(amounts.values()), total), strict=True))


def _whole(cents: float) -> int:
    """Whole cents below an amount; what dust lies under a cent counts as that cent."""
    below = math.floor(cents)
    return below + (cents - below >= 1.0 - DUST)
