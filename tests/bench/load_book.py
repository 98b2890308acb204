"""A large month of many gauges as rows of a book, drawn by seed. Invented."""

from __future__ import annotations

import math
import random
from typing import Any

from tests.nasty.books.plain import Rows

METALS = ("mild steel", "galvanised steel", "stainless 304", "aluminium 5052", "aluminium 6061")
THICKNESSES = ('1/8"', '3/16"', '1/4"', '3/8"', '1/2"')
SERIES = ("carbon steel", "galvanised steel", "stainless steel", "aluminium", "aluminium")
DENSITIES = (0.2836, 0.2836, 0.29, 0.0968, 0.0975)
SHEETS = ((48, 96), (48, 120), (60, 120), (48, 144), (60, 96), (72, 144), (36, 96), (60, 144))
"""Width and length in inches."""


def load_rows(pieces: int, types: int, gauges: int, sizes: int, remnants: int, seed: int) -> Rows:
    """So many pieces, part types, sheet sizes and remnants, shared out over the gauges.

    A third of the part types are in kits of their gauge; the rest is ordered loose.
    """
    dice = random.Random(seed)
    keys = [(metal, text) for text in THICKNESSES for metal in METALS][:gauges]
    rows: Rows = {
        "Settings": [{"Setting": "Units", "Value": "in"}, {"Setting": "Seed", "Value": seed}],
        "Materials": [
            {"Material": name, "Gauge system": series, "Density": density}
            for name, series, density in zip(METALS, SERIES, DENSITIES, strict=True)
        ],
        "Cutting": [{**_gauge(key), "Kerf": 0.06, "Gap": 0.25, "Margin": 0.5, "Feed": 90} for key in keys],
        "Parts": [], "Kits": [], "Orders": [], "Stock": [], "Remnants": [],
    }  # fmt: skip
    weights = [dice.lognormvariate(0.0, 0.8) for _ in range(types)]
    counts = [max(1, round(pieces * weight / sum(weights))) for weight in weights]
    counts[counts.index(max(counts))] += pieces - sum(counts)
    for number, count in enumerate(counts):
        _add_part(dice, rows, number, count, keys[number % gauges])
    for number in range(sizes):
        _add_sheet(dice, rows, number, keys[number % gauges])
    for number in range(remnants):
        size = {"Width": dice.randint(16, 48), "Length": dice.randint(20, 90)}
        piece = {**_gauge(keys[number % gauges]), **size, "Value": dice.randint(5, 60)}
        rows["Remnants"].append({"Tag": f"R-{number + 1:03d}", **piece})
    return rows


def _gauge(key: tuple[str, str]) -> dict[str, Any]:
    return {"Material": key[0], "Thickness": key[1]}


def _add_part(dice: random.Random, rows: Rows, number: int, count: int, key: tuple[str, str]) -> None:
    def side() -> float:
        return round(math.exp(dice.uniform(math.log(1.5), math.log(30.0))) * 8) / 8

    part = f"P-{number:03d}"
    rows["Parts"].append({"Part": part, **_gauge(key), "Width": side(), "Length": side()})
    if number % 3:
        rows["Orders"].append({"Order": f"H-{number:03d}", "Item": part, "Quantity": count})
        return
    kit = f"kit {number:03d}"
    rows["Kits"].append({"Kit": kit, "Part": part, "Quantity": 1})
    rows["Orders"].append({"Order": f"H-{number:03d}", "Item": kit, "Quantity": count})


def _add_sheet(dice: random.Random, rows: Rows, number: int, key: tuple[str, str]) -> None:
    width, length = SHEETS[number % len(SHEETS)]
    price = round(width * length / 32 * dice.uniform(0.9, 1.1))
    stock = {"On hand": dice.choice((0, 0, 4)), "Price": price, "Order multiple": dice.choice((1, 1, 5))}
    size = {"Width": width, "Length": length}
    rows["Stock"].append({"Sheet": f"S-{number:02d}", **_gauge(key), **size, **stock})
