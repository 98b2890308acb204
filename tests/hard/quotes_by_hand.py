"""The page Quoted worked out again, by openpyxl and its own arithmetic, from the workbook alone.

    python -m tests.hard.quotes_by_hand BOOK.xlsx

Nothing of sheetplan is imported. Amounts are held to the cent: price from price each, price each from the
printed cost and mark-up, cost from its printed parts, hands from sheets, pieces and Settings. Every quantity
of every row of Quotes has its answer, at the mark-up and basis of its row. What is paid for a job alone is so
many sheets of its gauges at the prices of Stock; machine money is machine minutes at the hour costs of
Cutting, no fewer than the feed takes for plain rectangles; consumables of undrawn parts are counted by
pierce. Layouts are not drawn again: how many sheets are needed, and the moves between cuts, are taken from
the page.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator, Sequence
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

    found += [*unanswered(book, settings)]

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
        marked = to_cent(cost["Cost"]) * (1 + Decimal(repr(row["Mark-up"])))
        hold(f"{name} price each", row["Price each"], (marked / quantity).quantize(CENT, ROUND_HALF_UP))
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
            found += alone_by_hand(book, where, item, quantity, row)
            if abs(row["Metal"] - row["To pay"]) >= 0.01 + 1e-9:
                found.append(f"{where}: metal {row['Metal']} is not what is to be paid, {row['To pay']}")
    return found


def quantities(cell: Any) -> set[int]:
    """The quantities of a row of Quotes."""
    return {int(one) for one in str(cell).replace(";", " ").split()}


def unanswered(book: dict[str, list[Row]], settings: Row) -> Iterator[str]:
    """Rows of Quotes of which a quantity has no answer, or another mark-up or basis than the row says."""
    for row in book["Quotes"]:
        given = {one["Quantity"]: one for one in book["QuotePrices"] if one["Quote"] == row["Quote"]}
        if quantities(row["Quantity"]) != given.keys():
            yield f"{row['Quote']}: asked {row['Quantity']}, answered {sorted(given)}"
        wanted = share(settings.get("Mark-up") if row["Mark-up"] is None else row["Mark-up"])
        for one in given.values():
            if abs(one["Mark-up"] - wanted) > 1e-9:
                yield f"{row['Quote']}: mark-up {one['Mark-up']}, the row says {wanted}"
            if one["Price by"] != (row["Price by"] or "alone"):
                yield f"{row['Quote']}: priced by {one['Price by']}, the row says {row['Price by']}"


def share(said: Any) -> float:
    """A mark-up as a number: 0.3, or 30 %."""
    text = str(said or 0.0).strip()
    return number(text.rstrip("% ")) / 100 if text.endswith("%") else float(text)


def gauge(book: dict[str, list[Row]], row: Row) -> tuple[str, float]:
    """Metal and thickness of a row, the thickness to a hundredth of a millimetre or its like in inches."""
    return row["Material"], round(thickness(book, row["Thickness"], row["Material"]), 4)


def alone_by_hand(
    book: dict[str, list[Row]], where: str, item: str, quantity: int, row: Row
) -> Iterator[str]:
    """What does not come out of the cost of a job alone."""
    parts = {one["Part"]: one for one in book["Parts"]}
    each = {one["Part"]: int(one["Quantity"]) for one in book["Kits"] if one["Kit"] == item}
    each = each or ({item: 1} if item in parts else {})
    if not each or not quantity:
        return  # a drawing of the page Quotes has no row of Parts to work from
    gauges = {gauge(book, parts[name]) for name in each}
    rules = {gauge(book, one): one for one in book["Cutting"]}
    prices = [sheet_price(book, one) for one in book["Stock"] if gauge(book, one) in gauges]
    if not sums_to(prices, row["Sheets"], LOTS, row["To pay"]):
        yield f"{where}: {row['To pay']} to pay is not {row['Sheets']} sheets of {sorted(prices)}"
    hours = {rules[one]["Hour cost"] for one in gauges}
    minutes = row["Machine minutes"]
    if not min(hours) * minutes / 60 - 0.01 <= row["Machine"] <= max(hours) * minutes / 60 + 0.01:
        yield f"{where}: machine {row['Machine']} is not {minutes} minutes at {hours} an hour"
    work = 0.0
    for name, count in each.items():
        if parts[name]["Drawing"] or parts[name]["Shape"] not in (None, "rectangle"):
            continue
        rule = rules[gauge(book, parts[name])]
        around = 2 * (number(parts[name]["Width"]) + number(parts[name]["Length"]))
        if parts[name]["Corner"] is None:
            work += count * quantity * around / rule["Feed"]
    if work > minutes + 1e-6:
        yield f"{where}: {minutes} machine minutes, its rectangles alone take {work}"
    if not any(parts[name]["Drawing"] for name in each):
        worn = sum(count * quantity * pierces(parts[name]) * wear(rules[gauge(book, parts[name])])
                   for name, count in each.items())  # fmt: skip
        # The rest of a sheet that goes back to the rack is cut off: a pierce a cut, two cuts at the most.
        cuts = [wear(rules[one]) for one in gauges]
        if not sums_to(cuts, 0, 2 * row["Sheets"], row["Consumables"] - worn, slack=SHIFTED):
            yield f"{where}: consumables {row['Consumables']}, the parts take {worn}"


def pierces(part: Row) -> int:
    """Pierces of one piece: its edge, a ring's inside, holes as `4 x 9/16 at 1` or `5 by 2 x 9/16 at 1`."""
    said = str(part["Holes"] or "").split()
    edges = 1 + (part["Shape"] == "ring")
    if not said:
        return edges
    if said[0] == "slot":
        return edges + 1
    across = int(said[0])
    return edges + (across * int(said[2]) if said[1] == "by" else across)


def number(said: Any) -> float:
    """12, 12.5, 3 1/2 or 3/8 as a number."""
    found = 0.0
    for piece in str(said).replace(",", ".").split():
        top, _, bottom = piece.partition("/")
        found += float(top) / float(bottom or 1)
    return found


def wear(rule: Row) -> float:
    """Consumables of one pierce."""
    by_set = (rule["Set cost"] or 0.0) / rule["Pierces a set"] if rule["Pierces a set"] else 0.0
    return (rule["Pierce cost"] or 0.0) + by_set


def thickness(book: dict[str, list[Row]], said: Any, metal: str) -> float:
    """A thickness as a number of the book's unit: 10 ga, 3/16, .25, 6 mm."""
    text = str(said).lower().replace('"', "").replace("mm", "").replace("in", "").replace("gauge", "ga")
    if "ga" in text:
        return GAUGES["galvanised" if metal.startswith("galv") else metal.partition(" ")[0]][
            int(text.partition("ga")[0])
        ]
    return number(text)


# Sources: 15 U.S.C. 206 (mild steel by weight, 41.82 lb/ft2 an inch); the galvanised sheet gauge of the trade
# and the USS gauge of stainless steel, by memory. All as the page Gauges of the book has them.
GAUGES = {
    "mild": {7: 0.1793, 8: 0.1644, 10: 0.1345, 11: 0.1196, 12: 0.1046, 14: 0.0747, 16: 0.0598, 18: 0.0478,
             20: 0.0359},
    "galvanised": {10: 0.1382, 12: 0.1084, 14: 0.0785, 16: 0.0635, 18: 0.0516, 20: 0.0396},
    "stainless": {10: 0.1406, 11: 0.125, 12: 0.1094, 14: 0.0781, 16: 0.0625, 18: 0.05, 20: 0.0375},
}  # fmt: skip


# Source: 15 U.S.C. 206, ounces a square foot, from memory; galvanised 2.5 oz of zinc more, from memory.
OUNCES = {7: 120, 8: 110, 9: 100, 10: 90, 11: 80, 12: 70, 13: 60, 14: 50, 15: 45, 16: 40, 17: 36, 18: 32,
          19: 28, 20: 24, 21: 22, 22: 20, 23: 18, 24: 16, 25: 14, 26: 12}  # fmt: skip


def ounces(said: Any, metal: str) -> float:
    """The published weight of a gauge, ounces a square foot."""
    gauge = int(str(said).lower().partition("ga")[0])
    return OUNCES[gauge] + (2.5 if metal.startswith("galv") else 0.0)


def sheet_price(book: dict[str, list[Row]], row: Row) -> float:
    """The price of one sheet of a row of Stock."""
    settings = {one["Setting"]: one["Value"] for one in book["Settings"]}
    per, price = row["Price per"] or "sheet", float(row["Price"])
    wide, long = number(row["Width"]), number(row["Length"])
    metric = settings["Units"] == "mm"
    area = wide * long / (1e6 if metric else 144.0)
    if per == "sheet":
        return price
    if per == "area":
        return price * area
    metal = next(one for one in book["Materials"] if one["Material"] == row["Material"])
    billed = row["Billed weight"]
    if billed == "published":
        pounds = ounces(row["Thickness"], row["Material"]) / 16 * area * (1e6 / 304.8**2 if metric else 1.0)
        return price * pounds * (0.45359237 if metric else 1.0)
    if billed not in (None, "", "real"):
        return price * number(billed)
    thick = thickness(book, row["Thickness"], row["Material"])
    # kg/m3 over mm and m2; lb/in3 over inches and ft2
    return price * area * thick * (metal["Density"] / 1000.0 if metric else metal["Density"] * 144.0)


HALF_A_CENT = 0.005 + 1e-6
SHIFTED = 0.01 + HALF_A_CENT
"""An amount of a row may be printed a cent off, so that the printed parts add up to the printed cost."""

LOTS = 2
"""Sheets beyond those cut that a lot of two of each of the demo's sizes may bring."""


def sums_to(
    prices: Sequence[float], least: int, more: int, amount: float, slack: float = HALF_A_CENT
) -> bool:
    """Whether an amount is so many prices together, each as often as it likes."""
    reached = {0.0}
    for count in range(least + more + 1):
        if count >= least and any(abs(one - amount) <= slack for one in reached):
            return True
        reached = {round(one + price, 6) for one in reached for price in prices if one < amount + slack}
    return False


def main() -> None:
    """Say what is wrong in a book."""
    path = Path(sys.argv[1])
    found = faults_of(path)
    print("\n".join(found))
    print(f"{len(tables(path)['QuotePrices'])} answers, {len(found)} faults")
    raise SystemExit(bool(found))


if __name__ == "__main__":
    main()
