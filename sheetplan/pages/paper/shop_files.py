"""Everything that a plan prints, by file name: tickets, picking list, labels, what to order."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Mapping
from dataclasses import dataclass

from sheetplan.model import Plan
from sheetplan.money.buy_list import buy_list
from sheetplan.money.cutting_plan import Timetable
from sheetplan.trade.sentences import number

# The buy list as a CSV file, for a supplier's or a book-keeper's program.
#
# Comma separated, a full stop in numbers, dates as year-month-day, headings in the first row (RFC 4180).
# Text that a spreadsheet would take for a formula gets an apostrophe in front.

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


# Everything that a plan prints, by file name: tickets, picking list, labels, what to order.

TICKETS = "tickets.pdf"
PICKING_LIST = "picking-list.pdf"
LABELS = "labels.pdf"
TO_ORDER = "to-order.pdf"
BUY_LIST = "buy-list.csv"


LISTS_SAID = "Writing the picking list and labels"


def has_layouts(plan: Plan) -> bool:
    """Whether there is anything to cut."""
    return any(group_plan.layouts for group_plan in plan.groups)


@dataclass(frozen=True, slots=True)
class Days:
    """When each layout is cut, in the order of cutting, and by when each size is to be ordered."""

    layouts: Timetable
    order_by: Mapping[str, datetime.date]


def list_files(plan: Plan, today: datetime.date, mark: str, days: Days) -> dict[str, bytes]:
    """All of them but the tickets, as bytes, on the paper that goes with the book's units.

    A plan without layouts has no lists and labels; one that buys nothing has nothing to order.
    """
    from sheetplan.pages.paper.labels import labels_pdf
    from sheetplan.pages.paper.lists import order_list_pdf, picking_list_pdf

    files: dict[str, bytes] = {}
    if has_layouts(plan):
        files[PICKING_LIST] = picking_list_pdf(plan, today=today, mark=mark, days=days.layouts)
        files[LABELS] = labels_pdf(plan)
    to_order = order_list_pdf(plan, today=today, mark=mark, by=days.order_by)
    if to_order is not None:
        files[TO_ORDER] = to_order
        files[BUY_LIST] = buy_csv(plan).encode("utf-8-sig")
    return files
