"""The pages that only the month's end reads, as values, with everything that is wrong with them.

Gauges are named as the plan names them: a row's thickness is the one that it is the same as on the
pages Cutting, Parts, Stock and Remnants, however it is written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from sheetplan.model.job import CuttingRule, Material, SheetSize
from sheetplan.model.problem import Problem
from sheetplan.model.settings import Settings
from sheetplan.money.month import Held
from sheetplan.money.month_books import MonthRows
from sheetplan.trade.likeness import families, same
from sheetplan.trade.thickness import Thickness
from sheetplan.workbook.columns import EARLIER_CUTS, MONTH_PAGES, PURCHASES, RACK_COUNT, REMNANTS, SCRAP_LOG
from sheetplan.workbook.rows.counted_metal import Gone, RecordsThen, missing_metal, stated_values
from sheetplan.workbook.rows.metals import Metals
from sheetplan.workbook.rows.month_rows import (
    Gauged,
    Prices,
    read_counts,
    read_earlier,
    read_purchases,
    read_scrap,
)
from sheetplan.workbook.rows.reader import PageRead, T
from sheetplan.workbook.rows.remnants import read_tape
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables, RawTable

Written = Iterable[tuple[str, Thickness]]
"""Material and thickness of everything that the other pages name."""


@dataclass(frozen=True, slots=True)
class MonthRead:
    """The rows and what is wrong with them; ``missing`` are pages that the book does not have."""

    rows: MonthRows
    problems: tuple[Problem, ...]
    missing: tuple[str, ...]


class GaugeLabels:
    """The label of a material and thickness, as the plan's groups have it."""

    def __init__(self, written: Written) -> None:
        thicknesses: dict[str, list[Thickness]] = {}
        for material, thickness in written:
            thicknesses.setdefault(material, []).append(thickness)
        self._families = {material: families(found) for material, found in thicknesses.items()}

    def of(self, material: str, thickness: Thickness) -> str:
        """The label, such as ``mild steel 10 ga``."""
        near = [
            family for family in self._families.get(material, ())
            if thickness in family or same(family[0], thickness)
        ]  # fmt: skip
        shown = min(near, key=lambda family: abs(family[0].mm - thickness.mm))[0] if near else thickness
        return f"{material} {shown.text}"


def read_month_rows(
    tables: BookTables, settings: Settings, metals: Metals, written: Written, stock: Sequence[SheetSize],
    rules: Sequence[CuttingRule], records: RecordsThen,
) -> MonthRead:  # fmt: skip
    """All usable rows of the pages for the month's end."""
    units = settings.units
    written = tuple(written)
    labels = GaugeLabels(written)

    metal_of = {labels.of(material, thickness): material for material, thickness in written}

    def label(material: Material, thickness: Thickness) -> str:
        said = labels.of(material.name, thickness)
        metal_of[said] = material.name
        return said

    gauged = Gauged(metals, label)
    on_sale: dict[str, list[SheetSize]] = {}
    for sheet in stock:
        on_sale.setdefault(labels.of(sheet.material, sheet.thickness), []).append(sheet)
    prices = Prices(on_sale, settings.remnant_share)

    def read(page: InputPage, rows: Callable[[RawTable], PageRead[T]]) -> PageRead[T]:
        table = tables.tables.get(page.name)
        return rows(table) if table is not None else PageRead()

    purchases = read(PURCHASES, lambda table: read_purchases(table, units, gauged))
    tickets = read(SCRAP_LOG, lambda table: read_scrap(table, units, gauged))
    remnants, tape = tables.tables.get(REMNANTS.name), read_tape(tables, units)
    corners = missing_metal(remnants, settings, tape) if remnants is not None else {}
    kerfs = {labels.of(rule.material, rule.thickness): rule.kerf for rule in rules}
    values = stated_values(remnants, units) if remnants is not None else {}
    gone = Gone(units, corners, kerfs, records, values)
    counts = read(RACK_COUNT, lambda table: read_counts(table, units, gauged, prices, gone))
    earlier = read(EARLIER_CUTS, lambda table: read_earlier(table, units, gauged))
    by_month: dict[str, list[Held]] = {}
    for count in counts.rows:
        by_month.setdefault(count.value.month, []).append(count.value.held)
    rows = MonthRows(
        tuple(row.value for row in purchases.rows), tuple(row.value for row in tickets.rows),
        by_month, tuple(row.value for row in earlier.rows), metal_of,
    )  # fmt: skip
    missing = tuple(page.name for page in MONTH_PAGES if page.name not in tables.tables)
    problems = (*purchases.problems, *tickets.problems, *counts.problems, *earlier.problems)
    return MonthRead(rows, problems, missing)
