"""What metal in the rack is worth when nobody has written it down."""

from __future__ import annotations

from collections.abc import Iterable
from math import fsum

from sheetplan.model.job import SheetSize
from sheetplan.trade.units import SAME_LENGTH_MM


def worth(length: float, width: float, stock: Iterable[SheetSize]) -> float:
    """What one sheet or remnant of a size (mm) is worth at the prices of its gauge's ``stock``.

    A size that is sold is worth its price; any other size is worth its weight at the mean price per
    weight of the sizes sold (one gauge: the same as per area). Without prices it is worth nothing.
    """
    priced = [sheet for sheet in stock if sheet.price > 0]
    for sheet in priced:
        if _same_size(sheet, length, width):
            return sheet.price
    if not priced:
        return 0.0
    per_area = fsum(sheet.price / (sheet.length * sheet.width) for sheet in priced) / len(priced)
    return per_area * length * width


def share_of_cheapest(area: float, stock: Iterable[SheetSize]) -> float:
    """What metal of an area (mm2) is worth at the least price per area of its gauge's ``stock``.

    A remnant that the tool puts back is worth its share of its sheet's price; of one whose sheet nobody
    knows it is taken to be the cheapest. Without prices it is worth nothing.
    """
    rates = [sheet.price / (sheet.length * sheet.width) for sheet in stock if sheet.price > 0]
    return min(rates, default=0.0) * area


def _same_size(sheet: SheetSize, length: float, width: float) -> bool:
    sides = zip(sorted((sheet.length, sheet.width)), sorted((length, width)), strict=True)
    return all(abs(one - other) < SAME_LENGTH_MM for one, other in sides)
