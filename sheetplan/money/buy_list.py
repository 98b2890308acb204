"""What to order: by supplier and gauge, what it weighs and costs, for which orders and by when."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import fsum

from sheetplan.model.job import Job
from sheetplan.model.plan import GroupPlan, Plan, SheetCount
from sheetplan.money.cents import printed
from sheetplan.trade.units import weight_kg

NO_SUPPLIER = ""
"""Sheets whose supplier is not said stand under this, last."""


@dataclass(frozen=True, slots=True)
class BuyLine:
    """One sheet size to buy.

    ``weight`` is of one sheet (kg), ``length`` and ``width`` in mm. ``for_stock`` are the sheets
    beyond what the plan uses, bought because of the order multiple. ``orders`` are those that have to be
    made and want parts on these sheets; ``needed_by`` is the earliest of their dates, empty where none
    has one.
    """

    supplier: str
    gauge: str
    sheet: str
    length: float
    width: float
    count: int
    multiple: int
    for_stock: int
    weight: float
    price: float
    orders: tuple[str, ...]
    needed_by: str
    printed_price: float = 0.0
    """All sheets of the line as printed: with the other lines it adds up to the printed bill."""

    @property
    def total_weight(self) -> float:
        """All sheets of the line, kg."""
        return self.count * self.weight

    @property
    def total_price(self) -> float:
        """All sheets of the line."""
        return self.count * self.price


@dataclass(frozen=True, slots=True)
class SupplierTotal:
    """What one supplier delivers: what it costs and weighs."""

    supplier: str
    sheets: int
    weight: float
    price: float
    needed_by: str


def buy_list(plan: Plan) -> tuple[BuyLine, ...]:
    """Everything to buy, by supplier, then as the gauges and sizes stand in the plan."""
    lines = [
        _line(plan.job, group_plan, count)
        for group_plan in plan.groups
        for count in group_plan.sheets
        if count.to_buy > 0
    ]
    lines.sort(key=lambda line: (line.supplier == NO_SUPPLIER, line.supplier.casefold()))
    shown = printed([line.total_price for line in lines])
    return tuple(replace(line, printed_price=price) for line, price in zip(lines, shown, strict=True))


def supplier_totals(lines: Iterable[BuyLine]) -> tuple[SupplierTotal, ...]:
    """One total for each supplier, in the order of the lines."""
    by_supplier: dict[str, list[BuyLine]] = {}
    for line in lines:
        by_supplier.setdefault(line.supplier, []).append(line)
    return tuple(
        SupplierTotal(
            supplier,
            sum(line.count for line in listed),
            fsum(line.total_weight for line in listed),
            fsum(line.printed_price for line in listed),
            earliest(line.needed_by for line in listed),
        )
        for supplier, listed in by_supplier.items()
    )


def earliest(dates: Iterable[str]) -> str:
    """The first of dates written year-month-day; empty where there is none."""
    return min((date for date in dates if date), default="")


def _line(job: Job, group_plan: GroupPlan, count: SheetCount) -> BuyLine:
    sheet, group = count.sheet, group_plan.group
    on_it = {
        placement.part
        for layout in group_plan.layouts
        if layout.sheet == sheet
        for placement in layout.placements
    }
    # Orders that are made if they fit fill metal that is bought anyway, so they cause no buying.
    causes = {need.order for need in group.needs if need.part in on_it and need.must}
    orders = [job.orders[index] for index in sorted(causes)]
    return BuyLine(
        supplier=sheet.supplier, gauge=group.label, sheet=sheet.name, length=sheet.length, width=sheet.width,
        count=count.to_buy, multiple=sheet.multiple, for_stock=count.for_stock,
        weight=weight_kg(sheet.length * sheet.width, group.thickness.mm, group.material.density),
        price=sheet.price, orders=tuple(dict.fromkeys(order.name for order in orders)),
        needed_by=earliest(order.due for order in orders),
    )  # fmt: skip
