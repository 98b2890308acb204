"""Random good books: every feature is on in some and off in others."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import ezdxf

from tests.hard.hostile_texts import TEXTS
from tests.nasty.books.plain import Rows, write_book

METALS = (
    ("mild steel", "carbon steel", "10 ga", "3 mm"),
    ("mild steel", "carbon steel", '1/4"', "6 mm"),
    ("aluminium 5052", "aluminium", '1/8"', "3 mm"),
    ("stainless 304", "stainless steel", "14 ga", "2 mm"),
)
SERIES = {name: series for name, series, *_ in METALS}

DENSITY = {"mild steel": (0.2836, 7850), "aluminium 5052": (0.0968, 2680), "stainless 304": (0.29, 8000)}

SHEETS = ((48, 96), (48, 120), (60, 120))
"""Width and length in inches, or in units of 25 mm."""

DRAWING = "bracket.dxf"


def random_book(dice: random.Random, folder: Path) -> Path:
    """A good book in a folder, and the drawing that some of its parts have."""
    rows = random_rows(dice)
    if any("Drawing" in part for part in rows["Parts"]):
        metric = rows["Settings"][0]["Value"] == "mm"
        draw_bracket(folder / DRAWING, 25.0 if metric else 1.0, 4 if metric else 1)
    return write_book(folder / "b.xlsx", rows)


def random_rows(dice: random.Random) -> Rows:
    """A good book; what it asks for can be made unless a buying limit is too small."""
    metric = dice.random() < 0.5
    metals = dice.sample(METALS, dice.choices((1, 2, 3), (12, 5, 1))[0])
    rows: Rows = {
        "Settings": random_settings(dice, metric),
        "Materials": [
            {"Material": name, "Gauge system": SERIES[name], "Density": d[metric]}
            for name, d in DENSITY.items() if any(m[0] == name for m in metals)
        ],
        "Cutting": [], "Parts": [], "Kits": [], "Orders": [], "Stock": [], "Remnants": [],
    }  # fmt: skip
    for number, metal in enumerate(metals):
        _add_gauge(dice, rows, number, metal, metric)
    return rows


def random_settings(dice: random.Random, metric: bool) -> list[dict[str, Any]]:
    values: dict[str, Any] = {
        "Units": "mm" if metric else "in",
        "Seed": dice.randint(0, 99),
        "Datum corner": dice.choice(("lower left", "upper left", "lower right")),
        "Kerf offset": dice.choice(("no", "no", "yes")),
        "Mark small holes": dice.choice(("no", "yes")),
        "Layouts as SVG too": dice.choice(("no", "no", "no", "yes")),
        "Drawing format": dice.choice(("DXF R2000", "DXF R2000", "DXF R12")),
    }
    if dice.random() < 0.3:
        values["Lift limit"] = 30 if metric else 60
    if dice.random() < 0.3:
        values |= dict.fromkeys(("Least remnant length", "Least remnant width"), 150 if metric else 6)
    return [{"Setting": name, "Value": value} for name, value in values.items()]


def _add_gauge(
    dice: random.Random, rows: Rows, number: int, metal: tuple[str, str, str, str], metric: bool
) -> None:
    scale = 25 if metric else 1
    gauge: dict[str, Any] = {"Material": metal[0], "Thickness": metal[3 if metric else 2]}
    gap, margin = dice.choice((0.125, 0.25)) * scale, dice.choice((0, 0.5)) * scale
    rows["Cutting"].append(
        {**gauge, "Kerf": 0.06 * scale, "Gap": gap, "Margin": margin, **random_cutting(dice, scale)}
    )
    shaped = dice.random() < 0.5
    names = [_name(dice, f"P{number}{i}") for i in range(dice.randint(1, 4))]
    for name in names:
        form = random_shape(dice, scale) if shaped and dice.random() < 0.6 else {}
        size = {"Width": dice.randint(8, 160) / 8 * scale, "Length": dice.randint(8, 240) / 8 * scale}
        some = {"Grain": dice.choice(("any", "any", "along length")), "Spare": dice.choice((0, 0, 3))}
        marked = {"Mark": dice.choice(("no", "yes"))}
        rows["Parts"].append({"Part": name, **gauge, **(form or size), **some, **marked})
    kit = _name(dice, f"K{number}")
    for name in dice.sample(names, dice.randint(1, len(names))):
        rows["Kits"].append({"Kit": kit, "Part": name, "Quantity": dice.randint(1, 3)})
    for item in (kit, *names):
        must = dice.choice(("must", "must", "if it fits"))
        due = dice.choice((None, "2026-12-01", "2026-12-24"))
        order = {"Order": f"H-{number}-{len(rows['Orders'])}", "Item": item, "Must": must, "Due": due}
        rows["Orders"].append({**order, "Quantity": dice.randint(1, 6 if shaped else 20)})
    for width, length in dice.sample(SHEETS, dice.randint(1, 3)):
        sheet: dict[str, Any] = {"Width": width * scale, "Length": length * scale}
        sheet["Price"] = width * length / 40
        sheet["On hand"], sheet["Order multiple"] = dice.choice((0, 0, 2)), dice.choice((1, 1, 5))
        if dice.random() < 0.2:
            sheet["Most to buy"] = dice.randint(0, 10)
        rows["Stock"].append({"Sheet": f"S{number}-{width}x{length}", **gauge, **sheet})
    for tag in range(dice.choice((0, 0, 1, 2, 3))):
        piece = {"Width": dice.randint(10, 40) * scale, "Length": dice.randint(10, 60) * scale}
        value = {"Value": dice.choice((None, 12.5))}
        rows["Remnants"].append({"Tag": f"R-{number}{tag}", **gauge, **piece, **value})


def random_cutting(dice: random.Random, scale: int) -> dict[str, Any]:
    """Times and money, in some books."""
    if dice.random() < 0.5:
        return {}
    some = {"Feed": 100 * scale, "Pierce seconds": 0.5, "Hour cost": 95, "Pierce cost": 0.04}
    return some | ({"Travel": 600 * scale} if dice.random() < 0.5 else {})


def random_shape(dice: random.Random, scale: int) -> dict[str, Any]:
    """A true shape: by a word, by holes and corners, or by a drawing."""
    width, length = dice.randint(4, 14) * scale, dice.randint(6, 20) * scale
    size: dict[str, Any] = {"Width": width, "Length": length}
    leg = min(width, length) / 4
    round_ = {"Width": width, "Length": width}
    return dice.choice((
        {**round_, "Shape": "disc"},
        {**round_, "Shape": "ring", "Inside": width / 2},
        {**size, "Shape": "gusset"},
        {**size, "Shape": "trapezoid", "Inside": length / 2},
        {**size, "Shape": "L", "Inside": leg},
        {**size, "Corner": f"r {0.5 * scale:g}"},
        {**size, "Corner": f"clip {0.5 * scale:g}", "Holes": f"4 x {0.5 * scale:g} at {scale:g}"},
        {**size, "Holes": f"4 x {0.125 * scale:g} at {scale:g}"},
        {"Drawing": DRAWING},
    ))  # fmt: skip


def draw_bracket(path: Path, scale: float, unit: int) -> None:
    """A bracket with a round end, a notch and a hole, in one closed line with bulges."""
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = unit
    corners = ((0, 0, 0), (9, 0, 0), (9, 4, 0), (6, 4, 0), (6, 6, 1), (0, 6, 0))
    points = [(x * scale, y * scale, bulge) for x, y, bulge in corners]
    document.modelspace().add_lwpolyline(points, format="xyb", close=True)
    document.modelspace().add_circle((2 * scale, 2 * scale), 0.5 * scale)
    document.saveas(path)


def _name(dice: random.Random, plain: str) -> str:
    return plain if dice.random() < 0.7 else f"{plain} {dice.choice(TEXTS)}"[:110]
