"""The buy list as a CSV file, for a supplier's or a book-keeper's program.

Comma separated, a full stop in numbers, dates as year-month-day, headings in the first row (RFC 4180).
Text that a spreadsheet would take for a formula gets an apostrophe in front.
"""

from __future__ import annotations

import csv
import io

from sheetplan.model import Plan
from sheetplan.money.buy_list import buy_list

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""What makes a spreadsheet take text for a formula. Source: OWASP, "CSV Injection"."""

DIGITS = 6
"""Decimals kept: a millionth of an inch, a pound or a currency's unit."""


def buy_csv(plan: Plan) -> str:
    """The lines to order; lengths and weights in the book's units."""
    units = plan.job.settings.units
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\r\n")
    writer.writerow([
        "Supplier", "Gauge", "Sheet", f"Width {units.value}", f"Length {units.value}", "Count",
        f"Weight each {units.weight}", f"Weight {units.weight}", f"Price each {plan.job.settings.currency}",
        f"Total {plan.job.settings.currency}", "Order multiple", "For stock", "Needed by", "For orders",
    ])  # fmt: skip
    for line in buy_list(plan):
        writer.writerow([
            _safe(line.supplier), _safe(line.gauge), _safe(line.sheet), _tidy(line.width / units.length_mm),
            _tidy(line.length / units.length_mm), line.count, _tidy(line.weight / units.weight_kg),
            _tidy(line.total_weight / units.weight_kg), _tidy(line.price), _tidy(line.total_price),
            line.multiple, line.for_stock,
            _safe(line.needed_by), _safe("; ".join(line.orders)),
        ])  # fmt: skip
    return held.getvalue()


def _tidy(value: float) -> float:
    """Without the dust of conversions, which a supplier would read as 47.99999999999999."""
    return round(value, DIGITS)


def _safe(text: str) -> str:
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text
