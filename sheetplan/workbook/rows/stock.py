"""The page Stock: sheet sizes with their prices, all brought to a price for one sheet."""

from __future__ import annotations

from collections.abc import Callable

from sheetplan.model.job import AS_WEIGHED, Material, SheetSize
from sheetplan.model.problem import Weight
from sheetplan.trade.gauges import published_kg
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units, weight_kg
from sheetplan.workbook.columns import STOCK
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.cells import (
    CellFault,
    count_of,
    money_of,
    name_of,
    positive_count,
    positive_number,
    size_in,
    text_of,
    word_of,
)
from sheetplan.workbook.rows.metals import Metal, Metals, faulty_row
from sheetplan.workbook.rows.names import once_only
from sheetplan.workbook.rows.reader import (
    FaultyRow,
    PageRead,
    Place,
    Read,
    RowReader,
    column_problems,
    readers,
)
from sheetplan.workbook.tables import CellValue, RawTable
from sheetplan.workbook.words import PRICED_AS, BilledBy, PricePer

LONGEST_LEAD = 730
"""Two years: longer is a typing mistake."""


def read_stock(table: RawTable, units: Units, metals: Metals) -> PageRead[SheetSize]:
    """All usable rows of the page Stock; a faulty row is left out."""
    problems = list(column_problems(STOCK, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads: list[Read[SheetSize]] = []
    broken: dict[str, Place] = {}
    faulty: list[Read[FaultyRow]] = []
    for row in readers(STOCK, table, units):
        name = row.need("Sheet", name_of, "")
        metal = metals.of(row)
        sheet = _sheet(row, name, metal)
        problems += row.problems
        if sheet is not None:
            reads.append(Read(sheet, row.place))
            continue
        faulty += faulty_row(row, metal)
        if name:
            broken.setdefault(normal(name), row.place)
    kept, unclear, more = once_only(reads, lambda sheet: sheet.name, "Sheet", broken)
    for read in reads:
        sheet = read.value
        if normal(sheet.name) in {**unclear, **broken}:
            room = sheet.width, sheet.length
            faulty.append(Read(FaultyRow(sheet.material, sheet.thickness, room), read.place))
    return PageRead(kept, {}, (*problems, *more), metals.whole, faulty=tuple(faulty))


def _sheet(row: RowReader, name: str, metal: Metal | None) -> SheetSize | None:
    size = size_in(row.units)
    width = row.need("Width", size, 0.0)
    length = row.need("Length", size, 0.0)
    on_hand = row.may("On hand", count_of, 0)
    on_order = row.may("On order", count_of, 0)
    row.may("Received", count_of, 0)
    price = row.may("Price", money_of, 0.0)
    price_per = row.may("Price per", price_per_of, PricePer.SHEET)
    buy_limit = row.may("Most to buy", count_of, None)
    multiple = row.may("Order multiple", positive_count, 1)
    supplier = row.may("Supplier", text_of, "")
    lead_days = row.may("Lead days", lead_of, None, Weight.NOTE)
    rack_place = row.may("Rack place", text_of, "")
    if not row.ok or metal is None:
        return None
    material, thickness = metal
    billed = row.may("Billed weight", _billed_in(row.units, material, thickness, length * width), None)
    if not row.ok:
        return None
    weight = billed[0] if billed is not None else None
    each = price * priced_amount(price_per, length * width, material, thickness, row.units, weight)
    return SheetSize(
        name,
        material.name,
        thickness,
        length,
        width,
        on_hand + on_order,
        each,
        buy_limit,
        multiple,
        supplier,
        rack_place,
        on_order,
        lead_days,
        billed=weight,
        billed_by=billed[1] if billed is not None else "",
    )


def _billed_in(
    units: Units, material: Material, thickness: Thickness, area: float
) -> Callable[[CellValue], tuple[float, str] | None]:
    """A reader of the weight by which a sheet is billed, kg, with the word for it; None for the real one."""

    def billed(value: CellValue) -> tuple[float, str] | None:
        said = normal(text_of(value))
        if said == BilledBy.REAL:
            return None
        if said == BilledBy.PUBLISHED:
            weight = published_kg(material.gauge_series, thickness.text, area)
            if weight is None:
                raise CellFault(
                    f"is published, and no weight is published for {material.name} {thickness.text}",
                    "Write real, or what one sheet weighs as billed; only gauges of steel have published "
                    "weights.",
                )
            return weight, BilledBy.PUBLISHED
        try:
            return positive_number(value) * units.weight_kg, AS_WEIGHED
        except CellFault as fault:
            remedy = f"Write real, published, or what one sheet weighs in {units.weight}."
            raise CellFault(fault.what, remedy) from fault

    return billed


def lead_of(value: CellValue) -> int:
    """Days from ordering to delivery."""
    days = count_of(value)
    if days > LONGEST_LEAD:
        what = f"{days:,} is more days than {LONGEST_LEAD}, and taken as not known"
        raise CellFault(what, "Write the days that a delivery takes.")
    return days


def priced_amount(
    per: PricePer, area: float, material: Material, thickness: Thickness, units: Units,
    billed: float | None = None,
) -> float:  # fmt: skip
    """How much of what the price is for makes one sheet; ``billed`` is the weight that is billed, kg."""
    weight = weight_kg(area, thickness.mm, material.density) if billed is None else billed
    match per:
        case PricePer.SHEET:
            return 1.0
        case PricePer.WEIGHT:
            return weight / units.weight_kg
        case PricePer.KILOGRAM:
            return weight / Units.MM.weight_kg
        case PricePer.POUND:
            return weight / Units.INCH.weight_kg
        case PricePer.AREA:
            return area / units.area_mm2
        case PricePer.SQUARE_METRE:
            return area / Units.MM.area_mm2
        case PricePer.SQUARE_FOOT:
            return area / Units.INCH.area_mm2


def price_per_of(value: CellValue) -> PricePer:
    """What a price is for, in one of the words for it; a currency before it, as in EUR/kg, does not count."""
    said = normal(text_of(value))
    last = said.rpartition("/")[2].removeprefix("per ").strip()
    return PRICED_AS[last] if last in PRICED_AS else word_of(PricePer)(last)
