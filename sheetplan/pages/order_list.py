"""What to order, as a printed page for each supplier."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from functools import partial
from math import fsum
from typing import Any

from reportlab.platypus import Spacer

from sheetplan.model import Plan
from sheetplan.money.buy_list import BuyLine, buy_list
from sheetplan.pages.buy_page import LIFT_CAUTION, lift_said, line_lift, order_by_text
from sheetplan.pages.decimals import decimals_of
from sheetplan.pages.line_breaks import Heads, Holds
from sheetplan.pages.paper import (
    BODY,
    LARGE,
    MARGIN,
    Paper,
    Section,
    build_pdf,
    list_table,
    paper_for,
    text,
)  # fmt: skip
from sheetplan.pages.wording import bare_size, bare_weight, counted, date_text, money_text, weight_text
from sheetplan.trade.cautions import DEFERENCE
from sheetplan.trade.units import Units

NOT_SAID = "supplier not said"


def order_list_pdf(
    plan: Plan, *, today: datetime.date, mark: str = "", paper: Paper | None = None,
    by: Mapping[str, datetime.date] | None = None,
) -> bytes | None:  # fmt: skip
    """A page for each supplier; None where nothing is to be bought.

    ``by`` is the last day on which to order, by sheet name, where it is known.
    """
    paper = paper or paper_for(plan.job.settings.units)
    by_supplier: dict[str, list[BuyLine]] = {}
    for line in buy_list(plan):
        by_supplier.setdefault(line.supplier or NOT_SAID, []).append(line)
    if not by_supplier:
        return None
    sections = [
        Section(supplier, partial(_content, plan, supplier, lines, paper.width - 2 * MARGIN, by or {}, today))
        for supplier, lines in by_supplier.items()
    ]
    foot = f"plan {mark}, {date_text(today)}" if mark else date_text(today)
    return build_pdf(sections, paper, f"To order {mark}".strip(), foot, said=decimals_of(plan.job).said)


def heads(units: Units, currency: str) -> Heads:
    """The columns of the list."""
    return (
        ("Gauge", Holds.TEXT), (f"Size {units.value}", Holds.WHOLE), ("Sheet", Holds.WHOLE),
        ("Sheets", Holds.NUMBER), (f"Weight {units.weight}", Holds.NUMBER),
        (f"Each {currency}".strip(), Holds.NUMBER), (f"Total {currency}".strip(), Holds.NUMBER),
        ("At once", Holds.NUMBER), ("First due", Holds.WHOLE), ("Order by", Holds.WHOLE),
    )  # fmt: skip


def _content(
    plan: Plan, supplier: str, lines: list[BuyLine], width: float, by: Mapping[str, datetime.date],
    today: datetime.date,
) -> list[Any]:
    units, currency = plan.job.settings.units, plan.job.settings.currency
    rows = [
        (
            line.gauge, bare_size(line.length, line.width, units), line.sheet, f"{line.count:,}",
            bare_weight(line.total_weight, units), money_text(line.price) if line.price else "",
            money_text(line.printed_price) if line.price else "", _at_once(plan, line), line.needed_by,
            order_by_text(by.get(line.sheet), today),
        )
        for line in lines
    ]  # fmt: skip
    sheets = counted(sum(line.count for line in lines), "sheet")
    weight = weight_text(fsum(line.total_weight for line in lines), units)
    total = money_text(fsum(line.printed_price for line in lines))
    return [
        text(f"To order: {supplier}", LARGE + 6, bold=True),
        Spacer(0, 6),
        text(f"{sheets}, {weight} to load, {total} {currency}", LARGE),
        Spacer(0, 8),
        list_table(heads(units, currency), rows, width),
        Spacer(0, 8),
        text("Prices are those of the page Stock and no offer; the supplier's own list decides.", BODY),
        text(f"{lift_said(plan.job.settings)} {LIFT_CAUTION} {DEFERENCE}", BODY),
    ]


def _at_once(plan: Plan, line: BuyLine) -> str:
    at_once = line_lift(plan, line).at_once
    return "" if at_once is None else f"{at_once:,}"
