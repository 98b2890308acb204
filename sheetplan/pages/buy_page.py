"""The page `Buy`: what to order, by supplier and gauge, and what each supplier delivers."""

from __future__ import annotations

from collections.abc import Iterator
from math import fsum

from sheetplan.model import Plan
from sheetplan.money.buy_list import BuyLine, buy_list, supplier_totals
from sheetplan.pages.values import Cell, Column, Kind, ResultPage, ResultTable
from sheetplan.pages.wording import counted, size_text

COLUMNS = (
    Column("Supplier", width=18),
    Column("Gauge", width=22),
    Column("Sheet", width=16),
    Column("Size", width=18),
    Column("Count", Kind.COUNT, 8),
    Column("Weight", Kind.WEIGHT, 11),
    Column("Price each", Kind.MONEY, 11),
    Column("Total", Kind.MONEY, 12),
    Column("Order multiple", Kind.COUNT, 10),
    Column("For stock", Kind.COUNT, 9),
    Column("Needed by", width=12),
    Column("For orders", width=36, wrap=True),
)
TOTALS = (
    Column("Supplier", width=18),
    Column("Needed by", width=22),
    Column("Sheets", Kind.COUNT, 16),
    Column("Weight", Kind.WEIGHT, 18),
    Column("Total", Kind.MONEY, 8),
)

NOT_SAID = "not said"


def buy_page(plan: Plan | None) -> ResultPage:
    """Sheets to order; without a plan, the same tables empty."""
    if plan is None:
        return _page((), (), (), None)
    lines = buy_list(plan)
    totals = tuple(
        (total.supplier or NOT_SAID, total.needed_by or None, total.sheets, total.weight, total.price or None)
        for total in supplier_totals(lines)
    )
    rows = tuple(_row(plan, line) for line in lines)
    return _page(tuple(_lines(plan, lines)), rows, totals, _total(lines) if rows else None)


def _page(
    lines: tuple[str, ...],
    rows: tuple[tuple[Cell, ...], ...],
    totals: tuple[tuple[Cell, ...], ...],
    total: tuple[Cell, ...] | None,
) -> ResultPage:
    tables = (
        ResultTable("BuyList", COLUMNS, rows, "By supplier and gauge", total),
        ResultTable("BuyTotals", TOTALS, totals, "By supplier, for the order and for the truck"),
    )
    return ResultPage("Buy", "What to buy", lines, tables)


def _lines(plan: Plan, lines: tuple[BuyLine, ...]) -> Iterator[str]:
    if not lines:
        yield "Nothing to buy: the sheets and remnants on hand are enough for this plan."
        return
    currency = plan.job.settings.currency
    yield f"{counted(len(lines), 'line')} to order. Prices are those of the page Stock, in {currency}."
    if any(line.for_stock for line in lines):
        yield "For stock: sheets beyond what this plan uses, because the supplier sells in lots."
    if not all(line.price for line in lines):
        yield "Some sheets have no price in Stock; their total is left out."


def _row(plan: Plan, line: BuyLine) -> tuple[Cell, ...]:
    return (
        line.supplier or NOT_SAID,
        line.gauge,
        line.sheet,
        size_text(line.length, line.width, plan.job.settings.units),
        line.count,
        line.total_weight,
        line.price or None,
        line.total_price or None,
        line.multiple,
        line.for_stock or None,
        line.needed_by or None,
        ", ".join(line.orders),
    )


def _total(lines: tuple[BuyLine, ...]) -> tuple[Cell, ...]:
    totals: dict[str, Cell] = {
        "Supplier": "Total",
        "Count": sum(line.count for line in lines),
        "Weight": fsum(line.total_weight for line in lines),
        "Total": fsum(line.total_price for line in lines),
    }
    return tuple(totals.get(column.heading) for column in COLUMNS)
