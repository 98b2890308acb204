"""Small books made by chance for the contract: awkward names, numbers as text, rows hidden, cells merged."""

import random
from pathlib import Path
from typing import Any

import openpyxl

from sheetplan.app.new import template_path
from sheetplan.trade.units import Units
from tests.app.cut_book import fill

AWKWARD = ("3/8", "10-12", "007", "1E5", "=1+1", "+49", "-5 left", "@here", "12345678901234567890", "TRUE",
           "1 1/2", "12%", "'quoted", "a\nb", " lead", "#N/A?", "5/4/2026", "ä=ö")  # fmt: skip
"""Text that a spreadsheet program would make something else of."""

SIZES = ("3/8", "10-12", "#N/A", "007", "1E5", "=1+1", "12345678901234567890", "6 1/2", 0, None)
"""What may stand in the cell of a size; some of it is wrong."""

GAUGES = {Units.INCH: ("10 ga", '3/16"', ".25"), Units.MM: ("3 mm", "5", "6.0")}
METAL = "mild steel"


def seeded_book(path: Path, seed: int) -> Path:
    """A book of a few parts, kits and orders; one in four holds sizes that may stop a plan."""
    chance = random.Random(seed)
    units = list(Units)[seed % 2]
    unit = 1.0 if units is Units.INCH else 25.0
    book = openpyxl.load_workbook(template_path(demo=False, units=units))
    names = chance.sample([text for text in AWKWARD if "\n" not in text and not text.startswith(" ")], 5)
    gauges = [chance.choice(GAUGES[units]) for _ in names]
    parts = [
        {"Part": name, "Description": chance.choice(AWKWARD), "Material": METAL, "Thickness": gauge,
         "Width": chance.randint(4, 12) * unit, "Length": chance.randint(9, 20) * unit}
        for name, gauge in zip(names, gauges, strict=True)
    ]  # fmt: skip
    if seed % 4 == 3:
        for part in chance.sample(parts, 2):
            part["Width"] = chance.choice(SIZES)
    kits = [{"Kit": f"kit {seed}", "Part": name, "Quantity": chance.randint(1, 3)} for name in names[:2]]
    orders = [
        {"Order": chance.choice(AWKWARD), "Item": item, "Quantity": chance.choice([3, "4", 5.0])}
        for item in (f"kit {seed}", *names[2:])
    ]
    stock = [
        {"Sheet": f"{number:03d}", "Material": METAL, "Thickness": gauge, "Width": 48 * unit,
         "Length": 96 * unit, "On hand": chance.randint(0, 2), "Price": 140, "Price per": "sheet"}
        for number, gauge in enumerate(dict.fromkeys(gauges), start=1)
    ]  # fmt: skip
    for page, rows in (("Parts", parts), ("Kits", kits), ("Orders", orders), ("Stock", stock)):
        fill(book, page, rows)
        for row in book[page].iter_rows(min_row=5, max_row=4 + len(rows)):
            for cell in row[:6]:
                _keep_text(cell)
        for _ in range(chance.randint(0, 2)):
            book[page].row_dimensions[chance.randint(5, 9)].hidden = True
    if chance.random() < 0.5:
        book["Parts"].merge_cells("B6:C7" if chance.random() < 0.5 else "N5:O5")
    book.save(path)
    return path


def _keep_text(cell: Any) -> None:
    """Text that looks like a formula is text: a formula is worked out in a live program only."""
    if isinstance(cell.value, str) and not str(cell.value).startswith("=IF"):
        cell.data_type = "e" if cell.value == "#N/A" else "s"
