"""The page `Buy`: what to order, by supplier and gauge."""

from __future__ import annotations

from collections.abc import Iterator

from sheetplan.model import GroupPlan, Plan, SheetCount
from sheetplan.pages.values import Cell, Column, Kind, ResultPage, ResultTable
from sheetplan.pages.wording import counted, size_text
from sheetplan.trade.units import weight_kg

COLUMNS = (
    Column("Supplier", width=18),
    Column("Gauge", width=20),
    Column("Sheet", width=16),
    Column("Size", width=16),
    Column("Count", Kind.COUNT, 8),
    Column("Weight", Kind.WEIGHT, 11),
    Column("Price each", Kind.MONEY, 11),
    Column("Total", Kind.MONEY, 12),
    Column("Order multiple", Kind.COUNT, 10),
    Column("Beyond this plan", Kind.COUNT, 11),
    Column("For orders", width=40, wrap=True),
)

NO_SUPPLIER = "not said"


def buy_page(plan: Plan | None) -> ResultPage:
    """Sheets to order; without a plan, the same table empty."""
    if plan is None:
        return _page(plan, (), None)
    bought = sorted(
        ((group_plan, count) for group_plan in plan.groups for count in group_plan.sheets if count.to_buy),
        key=lambda pair: (pair[1].sheet.supplier or NO_SUPPLIER, pair[0].group.label),
    )
    rows = tuple(_row(plan, group_plan, count) for group_plan, count in bought)
    return _page(plan, rows, _total(bought) if rows else None)


def sheet_weight(group_plan: GroupPlan, count: SheetCount) -> float:
    """Weight of one full sheet, kg."""
    group = group_plan.group
    return weight_kg(count.sheet.length * count.sheet.width, group.thickness.mm, group.material.density)


def for_orders(plan: Plan, group_plan: GroupPlan) -> str:
    """Names of the orders that need parts of a gauge, in the order of the book."""
    lines = sorted({need.order for need in group_plan.group.needs})
    return ", ".join(dict.fromkeys(plan.job.orders[line].name for line in lines))


def _page(
    plan: Plan | None, rows: tuple[tuple[Cell, ...], ...], total: tuple[Cell, ...] | None
) -> ResultPage:
    table = ResultTable("BuyList", COLUMNS, rows, "By supplier and gauge", total)
    return ResultPage("Buy", "What to buy", tuple(_lines(plan, rows)), (table,))


def _lines(plan: Plan | None, rows: tuple[tuple[Cell, ...], ...]) -> Iterator[str]:
    if plan is None:
        return
    if not rows:
        yield "Nothing to buy: the sheets and remnants on hand are enough for this plan."
        return
    currency = plan.job.settings.currency
    yield f"{counted(len(rows), 'line')} to order. Prices are those of the page Stock, in {currency}."
    if any(row[3] and not row[6] for row in rows):
        yield "Some sheets have no price in Stock; their total is left out."


def _row(plan: Plan, group_plan: GroupPlan, count: SheetCount) -> tuple[Cell, ...]:
    sheet = count.sheet
    surplus = count.to_buy - (count.used - count.from_rack)
    return (
        sheet.supplier or NO_SUPPLIER,
        group_plan.group.label,
        sheet.name,
        size_text(sheet.length, sheet.width, plan.job.settings.units),
        count.to_buy,
        count.to_buy * sheet_weight(group_plan, count),
        sheet.price or None,
        count.to_buy * sheet.price if sheet.price else None,
        sheet.multiple,
        surplus or None,
        for_orders(plan, group_plan),
    )


def _total(bought: list[tuple[GroupPlan, SheetCount]]) -> tuple[Cell, ...]:
    return (
        "Total",
        None,
        None,
        None,
        sum(count.to_buy for _, count in bought),
        sum(count.to_buy * sheet_weight(group_plan, count) for group_plan, count in bought),
        None,
        sum(count.to_buy * count.sheet.price for _, count in bought),
        None,
        None,
        None,
    )
