"""The pages that only the month's end reads: Purchases, Scrap log and Rack count, as values and problems."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from sheetplan.model.job import CuttingRule, Material, Part, Remnant, SheetSize
from sheetplan.model.problem import Problem, Weight
from sheetplan.model.settings import Settings
from sheetplan.money.layout_figures import MetalSplit
from sheetplan.money.month import Cut, Held, MonthRows, Purchase, ScrapTicket, worth
from sheetplan.trade.thickness import Thickness, families, same
from sheetplan.trade.units import Units, weight_kg
from sheetplan.workbook.columns import EARLIER_CUTS, MONTH_PAGES, PURCHASES, RACK_COUNT, REMNANTS, SCRAP_LOG
from sheetplan.workbook.reading.cells import (
    CellFault,
    count_of,
    date_of,
    day_of,
    money_of,
    name_of,
    number_of,
    positive_count,
    size_in,
    text_of,
)
from sheetplan.workbook.reading.metals import Metals
from sheetplan.workbook.reading.remnants import Gone, RecordsThen, missing_metal, read_tape, stated_values
from sheetplan.workbook.reading.rows import PageRead, Read, RowReader, T, column_problems, readers
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables, CellValue, RawTable

# The pages Purchases, Scrap log and Rack count: what the month's end needs beside the cuts.

ROUNDING = 1e-3
"""Weights written to a pound or a kilogram may add up to this much more than the whole, as a share."""

_MONTH = re.compile(r"([0-9]{4})-([0-9]{2})")


@dataclass(frozen=True, slots=True)
class Prices:
    """Sheet sizes on sale by the label of their gauge, and what remnants count of their metal's price."""

    stock: Mapping[str, Sequence[SheetSize]]
    remnant_share: float

    def of(self, label: str, length: float, width: float, tag: str) -> float:
        """What a counted sheet of this size (mm) is worth, or a remnant where it has a tag."""
        whole = worth(length, width, self.stock.get(label, ()))
        return whole * self.remnant_share if tag else whole


@dataclass(frozen=True, slots=True)
class Gauged:
    """How the rows of one page name their gauge: label and material of a row's two cells."""

    metals: Metals
    label: Callable[[Material, Thickness], str]

    def of(self, row: RowReader) -> tuple[Material, Thickness, str] | None:
        """Material, thickness and label of a row; what is wrong is noted on the row."""
        metal = self.metals.of(row)
        return (*metal, self.label(*metal)) if metal else None


@dataclass(frozen=True, slots=True)
class Counted:
    """A row of the page Rack count: what lay there at the end of ``month``."""

    month: str
    held: Held


def read_purchases(table: RawTable, units: Units, gauged: Gauged) -> PageRead[Purchase]:
    """All usable rows of the page Purchases; a faulty row is left out."""
    return _read(PURCHASES, table, units, lambda row: _purchase(row, gauged))


def read_scrap(table: RawTable, units: Units, gauged: Gauged) -> PageRead[ScrapTicket]:
    """All usable rows of the page Scrap log; a faulty row is left out."""
    read = _read(SCRAP_LOG, table, units, lambda row: _ticket(row, gauged))
    first: dict[ScrapTicket, Read[ScrapTicket]] = {}
    twice = []
    for ticket in read.rows:
        earlier = first.setdefault(ticket.value, ticket)
        if ticket.value.number and earlier is not ticket:
            twice.append(ticket.place.problem(
                "Ticket", f"Ticket {ticket.value.number} stands on row {earlier.place.row} already, with the "
                "same day and weight; it is counted once.", "Delete one of the two rows.", Weight.LEFT_OUT,
            ))  # fmt: skip
    kept = tuple(ticket for ticket in read.rows if not ticket.value.number or first[ticket.value] is ticket)
    return PageRead(kept, {}, (*read.problems, *twice), read.whole)


def read_counts(
    table: RawTable, units: Units, gauged: Gauged, prices: Prices, gone: Gone
) -> PageRead[Counted]:
    """All usable rows of the page Rack count; a faulty row is left out."""
    return _read(RACK_COUNT, table, units, lambda row: _count(row, gauged, prices, gone))


def read_earlier(table: RawTable, units: Units, gauged: Gauged) -> PageRead[Cut]:
    """All usable rows of the page Earlier cuts; a faulty row is left out."""
    return _read(EARLIER_CUTS, table, units, lambda row: _earlier(row, gauged))


def _read(
    page: InputPage, table: RawTable, units: Units, one: Callable[[RowReader], T | None]
) -> PageRead[T]:
    problems = list(column_problems(page, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads: list[Read[T]] = []
    for row in readers(page, table, units):
        value = one(row)
        problems += row.problems
        if value is not None and row.ok:
            reads.append(Read(value, row.place))
    return PageRead(tuple(reads), {}, tuple(problems))


def _purchase(row: RowReader, gauged: Gauged) -> Purchase | None:
    date = row.need("Date", day_of, "")
    metal = gauged.of(row)
    area = _area(row)
    sheets = row.may("Sheets", positive_count, 1)
    noted = row.may("Noted weight", _weight_in(row.units), None)
    paid = row.need("Paid", money_of, 0.0)
    row.may("Supplier", text_of, "")
    if row.ok and area is None and noted is None:
        row.fault(
            "Width", "The row has neither a size nor a noted weight, so its weight is not known.",
            "Write width and length, or the weight from the delivery note.",
        )  # fmt: skip
    if not row.ok or metal is None:
        return None
    material, thickness, label = metal
    if area is None:
        return Purchase(date, label, noted or 0.0, paid)
    weight = sheets * weight_kg(area, thickness.mm, material.density)
    return Purchase(date, label, weight, paid, noted)


def _ticket(row: RowReader, gauged: Gauged) -> ScrapTicket | None:
    date = row.need("Date", day_of, "")
    number = row.may("Ticket", name_of, "")
    weight = row.need("Weight", _weight_in(row.units), 0.0)
    paid = row.may("Paid", money_of, 0.0)
    if row.blank("Material"):
        if not row.blank("Thickness"):
            row.fault("Material", "Material is empty while a thickness is written.", "Write the metal too.")
        return ScrapTicket(date, weight, paid, number=number)
    if row.blank("Thickness"):
        material = gauged.metals.material_of(row)
        return ScrapTicket(date, weight, paid, metal=material.name, number=number) if material else None
    metal = gauged.of(row)
    return ScrapTicket(date, weight, paid, metal[2], metal[0].name, number) if metal else None


def _count(row: RowReader, gauged: Gauged, prices: Prices, gone: Gone) -> Counted | None:
    month = row.need("End of", month_of, "")
    metal = gauged.of(row)
    size = size_in(row.units)
    width = row.need("Width", size, 0.0)
    length = row.need("Length", size, 0.0)
    sheets = row.may("Sheets", count_of, 1)
    tag = row.may("Tag", name_of, "")
    value = row.may("Value", money_of, None)
    if not row.ok or metal is None:
        return None
    material, thickness, label = metal
    area = width * length
    left = area - gone.of(tag, month, label, width, length)
    weight = sheets * weight_kg(left, thickness.mm, material.density)
    if value is None and tag:
        # A counted remnant is worth what its own row says, so that a sheet that is missing shows.
        value = gone.value_of(tag, month, width, length)
    if value is None:
        value = sheets * prices.of(label, length, width, tag) * left / area
    return Counted(month, Held(label, weight, value))


def _earlier(row: RowReader, gauged: Gauged) -> Cut | None:
    month = row.need("Month", month_of, "")
    metal = gauged.of(row)
    weight = _weight_in(row.units)
    split = MetalSplit(
        taken=row.need("Taken", weight, 0.0),
        parts=row.need("Good parts", weight, 0.0),
        kerf=row.may("Kerf", weight, 0.0),
        kept=row.may("Kept", weight, 0.0),
        bad=row.may("Bad parts", weight, 0.0),
        along=row.may("Skeleton kept", weight, 0.0),
    )
    cost = row.may("Metal cost", money_of, 0.0)
    kept_value = row.may("Kept value", money_of, 0.0)
    if row.ok and split.skeleton < -ROUNDING * split.taken:
        row.fault(
            "Taken", "Parts, kerf and what was kept weigh more together than the metal taken.",
            "Correct one of the weights.",
        )  # fmt: skip
    if not row.ok or metal is None:
        return None
    return Cut(f"{month}-01", metal[2], split, cost, kept_value)


def _area(row: RowReader) -> float | None:
    """Width times length in mm2; None where the row gives no size."""
    if row.blank("Width") and row.blank("Length"):
        return None
    size = size_in(row.units)
    return row.need("Width", size, 0.0) * row.need("Length", size, 0.0)


def month_of(value: CellValue) -> str:
    """A month as ``2026-11``, from any day of it or written so."""
    said = date_of(value)
    found = _MONTH.fullmatch(said)
    if found and 1 <= int(found[2]) <= 12:
        return said
    try:
        return day_of(value)[:7]
    except CellFault:
        raise CellFault(f"`{said}` is not a month", "Write a day of the month, such as 2026-11-30.") from None


def _weight_in(units: Units) -> Callable[[CellValue], float]:
    def weight(value: CellValue) -> float:
        return number_of(value) * units.weight_kg

    return weight


# The pages that only the month's end reads, as values, with everything that is wrong with them.
#
# Gauges are named as the plan names them: a row's thickness is the one that it is the same as on the
# pages Cutting, Parts, Stock and Remnants, however it is written.

OfMetal = Part | SheetSize | CuttingRule | Remnant
"""What the other pages name with a material and a thickness."""


@dataclass(frozen=True, slots=True)
class MonthRead:
    """The rows and what is wrong with them; ``missing`` are pages that the book does not have."""

    rows: MonthRows
    problems: tuple[Problem, ...]
    missing: tuple[str, ...]


class GaugeLabels:
    """The label of a material and thickness, as the plan's groups have it."""

    def __init__(self, named: Iterable[OfMetal]) -> None:
        thicknesses: dict[str, list[Thickness]] = {}
        for one in named:
            thicknesses.setdefault(one.material, []).append(one.thickness)
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
    tables: BookTables, settings: Settings, metals: Metals, named: Sequence[OfMetal], records: RecordsThen
) -> MonthRead:
    """All usable rows of the pages for the month's end."""
    units = settings.units
    labels = GaugeLabels(named)

    metal_of = {labels.of(one.material, one.thickness): one.material for one in named}

    def label(material: Material, thickness: Thickness) -> str:
        said = labels.of(material.name, thickness)
        metal_of[said] = material.name
        return said

    gauged = Gauged(metals, label)
    on_sale: dict[str, list[SheetSize]] = {}
    for sheet in (one for one in named if isinstance(one, SheetSize)):
        on_sale.setdefault(labels.of(sheet.material, sheet.thickness), []).append(sheet)
    prices = Prices(on_sale, settings.remnant_share)

    def read(page: InputPage, rows: Callable[[RawTable], PageRead[T]]) -> PageRead[T]:
        table = tables.tables.get(page.name)
        return rows(table) if table is not None else PageRead()

    purchases = read(PURCHASES, lambda table: read_purchases(table, units, gauged))
    tickets = read(SCRAP_LOG, lambda table: read_scrap(table, units, gauged))
    remnants, tape = tables.tables.get(REMNANTS.name), read_tape(tables, units)
    corners = missing_metal(remnants, settings, tape) if remnants is not None else {}
    rules = (one for one in named if isinstance(one, CuttingRule))
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
