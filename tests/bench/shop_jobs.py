"""Order books like a shop's, drawn by seed: 15 to 40 plate types in widely spread quantities."""

import math
import random

from sheetplan.model import CuttingRule, Job, Material, Order, Part, SheetSize, rectangle
from sheetplan.trade.thickness import Thickness
from tests.bench.plain_settings import plain_settings

INCH = 25.4
PLATE = Thickness(6.35, "1/4 in")
STEEL = "Carbon steel"
ONE_SIZE = (("48 x 96", 96, 48, 160.0, None),)
SIX_SIZES = (
    ("48 x 96", 96, 48, 160.0, 20),
    ("48 x 120", 120, 48, 205.0, None),
    ("60 x 120", 120, 60, 250.0, None),
    ("48 x 144", 144, 48, 238.0, 12),
    ("60 x 96", 96, 60, 196.0, 9),
    ("36 x 96", 96, 36, 118.0, 6),
)
"""Name, length, width (in), price, most that can be bought. Invented."""


def shop_job(pieces: int, sizes: int, seed: int) -> Job:
    """A book of one gauge with so many pieces, on one sheet size or on six with limited counts."""
    chance = random.Random(1000 * pieces + 10 * sizes + seed)
    types = chance.randint(15, 40)
    parts = {f"P{k}": _part(f"P{k}", chance) for k in range(types)}
    weights = [chance.lognormvariate(0.0, 1.0) for _ in parts]
    counts = [max(1, round(pieces * weight / sum(weights))) for weight in weights]
    counts[counts.index(max(counts))] += pieces - sum(counts)
    orders = tuple(Order(name, name, n) for name, n in zip(parts, counts, strict=True))
    grown = max(1, pieces // 500)
    stock = tuple(
        SheetSize(
            name, STEEL, PLATE, length * INCH, width * INCH, price=price,
            buy_limit=None if limit is None else limit * grown,
        )
        for name, length, width, price, limit in (SIX_SIZES if sizes > 1 else ONE_SIZE)
    )  # fmt: skip
    rule = CuttingRule(STEEL, PLATE, 0.06 * INCH, 0.25 * INCH, 0.5 * INCH)
    steel = Material(STEEL, "carbon steel", 7850.0)
    return Job(plain_settings(), {STEEL: steel}, (rule,), parts, {}, orders, stock)


def _part(name: str, chance: random.Random) -> Part:
    def side() -> float:
        return round(math.exp(chance.uniform(math.log(1.5), math.log(30.0))) * 8) / 8 * INCH

    return Part(name, STEEL, PLATE, rectangle(side(), side()))
