"""The page Quoted worked out again, by openpyxl and its own arithmetic, from the workbook alone.

    python -m tests.hard.quotes_by_hand BOOK.xlsx

Nothing of sheetplan is imported. Amounts are held to the cent: price from price each, price each from cost
and mark-up, cost from its parts, hands from sheets, pieces and Settings, and the earlier quotes of the day.
"""

from __future__ import annotations

import sys
import warnings
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any

import openpyxl

CENT = Decimal("0.01")
Row = dict[str, Any]


def to_cent(value: float) -> Decimal:
    """To the cent, half a cent up; what lies a millionth of a cent under a half is a half."""
    return (Decimal(repr(value)) + Decimal("1e-8")).quantize(CENT, ROUND_HALF_UP)


def tables(path: Path) -> dict[str, list[Row]]:
    """Rows of every table of the book by its name."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl warns of print areas of whole columns
        book = openpyxl.load_workbook(path, data_only=True)
    found = {}
    for sheet in book.worksheets:
        for table in sheet.tables.values():
            lines = [[cell.value for cell in line] for line in sheet[table.ref]]
            heads = [str(head).partition(",")[0] if head else "" for head in lines[0]]
            rows = [dict(zip(heads, line, strict=True)) for line in lines[1:]]
            found[table.name] = [row for row in rows if row[heads[0]] not in (None, "", "Total")]
    return found


def faults_of(path: Path) -> list[str]:
    """What of the page does not come out."""
    book = tables(path)
    settings = {row["Setting"]: row["Value"] for row in book["Settings"]}
    costs = {(row["Quote"], row["Quantity"], row["Which cost"]): row for row in book["QuoteCosts"]}
    pieces: dict[str, int] = {}
    for row in book["Kits"]:
        pieces[row["Kit"]] = pieces.get(row["Kit"], 0) + int(row["Quantity"])
    found = []

    def hold(what: str, said: Any, worked_out: Decimal) -> None:
        if abs(Decimal(repr(said or 0.0)).quantize(CENT, ROUND_HALF_UP) - worked_out) > 0:
            found.append(f"{what}: the page says {said}, it comes to {worked_out}")

    for row in book["QuotePrices"]:
        name, quantity = row["Quote"], row["Quantity"]
        which = "alone" if row["Price by"] == "alone" else "adds this month"
        cost = costs.get((name, quantity, which))
        if row["Price each"] is None or cost is None:
            continue
        hold(f"{name} price", row["Price"], to_cent(float(to_cent(row["Price each"])) * quantity))
        # The page shows the cost to the cent, the price is worked out from all of it: half a cent of the
        # cost, with the mark-up, on so many pieces is what they may differ by.
        each = cost["Cost"] * (1 + row["Mark-up"]) / quantity
        slack = 0.005 * (1 + row["Mark-up"]) / quantity + 0.005 + 1e-9
        if abs(each - row["Price each"]) > slack:
            found.append(f"{name} price each: the page says {row['Price each']}, it comes to {each}")
    for (name, quantity, which), row in costs.items():
        where = f"{name}, {quantity}, {which}"
        parts = [to_cent(row[head]) for head in ("Metal", "Machine", "Consumables", "Hands", "Scrap back")]
        hold(f"{where}: cost", row["Cost"], sum(parts, Decimal(0)))
        hands = row["Hand minutes"] / 60 * float(settings.get("Hand hour cost") or 0)
        if abs(hands - row["Hands"]) >= 0.01 + 1e-9:
            found.append(f"{where}: hands: the page says {row['Hands']}, it comes to {hands}")
        if which == "alone":
            words = ("load", "square", "unload")
            sheet = sum(float(settings.get(f"Minutes to {word}") or 0) for word in words)
            each = float(settings.get("Minutes to clean") or 0)
            item = next(one["Item"] for one in book["QuotePrices"] if one["Quote"] == name)
            minutes = row["Sheets"] * sheet + pieces.get(item, 1) * quantity * each
            if abs(minutes - row["Hand minutes"]) > 1e-6:
                found.append(f"{where}: hand minutes {row['Hand minutes']}, it comes to {minutes}")
            if abs(row["Metal"] - row["To pay"]) >= 0.01 + 1e-9:
                found.append(f"{where}: metal {row['Metal']} is not what is to be paid, {row['To pay']}")
    return found


def main() -> None:
    """Say what is wrong in a book."""
    path = Path(sys.argv[1])
    found = faults_of(path)
    print("\n".join(found))
    print(f"{len(tables(path)['QuotePrices'])} answers, {len(found)} faults")
    raise SystemExit(bool(found))


if __name__ == "__main__":
    main()
