"""The buy list as a CSV file, for a supplier's or a book-keeper's program.

Comma separated, a full stop in numbers, dates as year-month-day, headings in the first row (RFC 4180).
Text that a spreadsheet would take for a formula gets an apostrophe in front.
"""

from __future__ import annotations

import csv
import io

from sheetplan.model import Plan
from sheetplan.money.buy_list import buy_list
from sheetplan.pages.wording import number

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""What makes a spreadsheet take text for a formula. Source: OWASP, "CSV Injection"."""

LENGTH_DIGITS, WEIGHT_DIGITS = 6, 3
"""Decimals kept at the most: a millionth of an inch, a thousandth of a pound; money has two."""


def buy_csv(plan: Plan) -> str:
    """The lines to order; lengths and weights in the book's units."""
    units = plan.job.settings.units
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\r\n")
    writer.writerow([
        "Supplier", "Gauge", "Sheet", f"Width {units.value}", f"Length {units.value}", "Sheets",
        f"Weight each {units.weight}", f"Weight {units.weight}", f"Price each {plan.job.settings.currency}",
        f"To pay {plan.job.settings.currency}", "Order multiple", "For stock", "First due", "For orders",
    ])  # fmt: skip
    for line in buy_list(plan):
        writer.writerow([
            _safe(line.supplier), _safe(line.gauge), _safe(line.sheet),
            number(line.width / units.length_mm, LENGTH_DIGITS),
            number(line.length / units.length_mm, LENGTH_DIGITS), line.count,
            number(line.weight / units.weight_kg, WEIGHT_DIGITS),
            number(line.total_weight / units.weight_kg, WEIGHT_DIGITS),
            f"{line.price:.2f}", f"{line.printed_price:.2f}", line.multiple, line.for_stock,
            _safe(line.needed_by), _safe("; ".join(line.orders)),
        ])  # fmt: skip
    return held.getvalue()


def _safe(text: str) -> str:
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text
