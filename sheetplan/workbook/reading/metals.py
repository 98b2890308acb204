"""The pages Materials, Cutting and Stock: metals, the rule of each gauge, and sheet sizes with their
prices.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from sheetplan.model.job import AS_WEIGHED, CuttingRule, Material, Order, SheetSize
from sheetplan.model.problem import Problem, Weight
from sheetplan.trade.thickness import SERIES, Thickness, parse_thickness, published_kg, same, series_named
from sheetplan.trade.units import KG_PER_POUND, MM_PER_INCH, SAME_LENGTH_MM, Units, weight_kg
from sheetplan.workbook.columns import CUTTING, MATERIALS, NO_GAUGES, STOCK
from sheetplan.workbook.reading.cells import (
    CellFault,
    check_number,
    count_of,
    either,
    length_in,
    money_of,
    name_of,
    number_of,
    positive_count,
    positive_number,
    size_in,
    text_of,
    traded,
    usable,
    word_of,
)
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.rows import (
    FaultyRow,
    PageRead,
    Place,
    Read,
    RowReader,
    column_problems,
    did_you_mean,
    once_only,
    readers,
)
from sheetplan.workbook.schema import PRICED_AS, BilledBy, PricePer
from sheetplan.workbook.tables import CellValue, RawTable

# The page Materials, and the two cells that say metal and thickness on all other pages.

KG_M3_PER_LB_IN3 = KG_PER_POUND / (MM_PER_INCH / 1000) ** 3
"""From pounds per cubic inch to kg/m3; both factors exact."""

LEAST_DENSITY, GREATEST_DENSITY = 1_000.0, 23_000.0
"""kg/m3: magnesium has 1,740 and osmium, the densest metal, 22,590 (CRC Handbook, from memory)."""


def read_materials(table: RawTable, units: Units) -> PageRead[Material]:
    """All usable rows of the page Materials."""
    problems = list(column_problems(MATERIALS, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads: list[Read[Material]] = []
    broken: dict[str, Place] = {}
    for row in readers(MATERIALS, table, units):
        name = row.need("Material", name_of, "")
        series = row.need("Gauge system", _series, "")
        density = row.need("Density", _density_in(units), 0.0)
        scrap = row.may("Scrap price", money_of, 0.0, Weight.NOTE) / units.weight_kg
        problems += row.problems
        if row.ok:
            reads.append(Read(Material(name, series, density, scrap), row.place))
        elif name:
            broken.setdefault(normal(name), row.place)
    kept, unclear, more = once_only(reads, lambda material: material.name, "Material", broken)
    return PageRead(kept, {**unclear, **broken}, (*problems, *more))


Metal = tuple[Material, Thickness]


def faulty_row(row: RowReader, metal: Metal | None) -> list[Read[FaultyRow]]:
    """What is known of a row that cannot be used: its gauge, where that much can be read, and its size."""
    return [Read(FaultyRow(metal[0].name, metal[1], _room(row)), row.place)] if metal else []


def _room(row: RowReader) -> tuple[float, float] | None:
    size = size_in(row.units)
    try:
        return size(row.value("Width")), size(row.value("Length"))
    except ValueError:
        return None


class Metals:
    """The materials of the book, asked row by row."""

    def __init__(self, read: PageRead[Material], units: Units) -> None:
        self.whole = read.whole
        self.units = units
        self._known: Mapping[str, Material] = {normal(r.value.name): r.value for r in read.rows}
        self._broken = read.broken

    def of(self, row: RowReader) -> Metal | None:
        """Metal and thickness of a row; what is wrong with them is noted on the row."""
        material = self.material_of(row)
        if material is None:
            return None
        thickness = row.need("Thickness", lambda value: self._thickness(value, material), None)
        return (material, thickness) if thickness else None

    def material_of(self, row: RowReader) -> Material | None:
        """Metal of a row alone."""
        said = row.need("Material", name_of, "")
        material = self._known.get(normal(said))
        if said and material is None and self.whole:
            self._unknown(row, said)
        return material

    def _unknown(self, row: RowReader, said: str) -> None:
        broken = self._broken.get(normal(said))
        if broken:
            row.fault(
                "Material",
                f"{said} cannot be used: {broken.said} has a problem.",
                "Put that row right first.",
                after=broken,
            )
            return
        guess = did_you_mean(said, (material.name for material in self._known.values()))
        row.fault(
            "Material",
            f"{said} is not on the page Materials.",
            f"{guess}Correct the name, or add the metal to the page Materials.",
        )

    def _thickness(self, value: CellValue, material: Material) -> Thickness | None:
        return traded(lambda: parse_thickness(usable(value), material.gauge_series, self.units))


def _series(value: CellValue) -> str:
    said = text_of(value)
    if normal(said) == NO_GAUGES:
        return ""
    series = series_named(said)
    if series is None:
        raise CellFault(
            f"`{said}` is not a gauge system known here", f"Write {either([*SERIES, NO_GAUGES])}."
        )
    return series.name


def _density_in(units: Units) -> Callable[[CellValue], float]:
    factor = KG_M3_PER_LB_IN3 if units is Units.INCH else 1.0
    usual = "steel has 0.284 pounds per cubic inch" if units is Units.INCH else "steel has 7850 kg/m3"

    def density(value: CellValue) -> float:
        found = positive_number(value) * factor
        if not LEAST_DENSITY <= found <= GREATEST_DENSITY:
            raise CellFault(
                f"{text_of(value)} is the density of no metal", f"Check number and unit; {usual}."
            )
        return found

    return density


# The page Cutting: one rule for each material and thickness.

WIDEST_MM = 300.0
"""A kerf, gap, margin or least hole beyond this is a size in the wrong unit or column."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A process that an order asks for, and the gauges of its parts: material and thickness."""

    order: Read[Order]
    gauges: tuple[tuple[str, Thickness], ...]


def read_cutting(
    table: RawTable, units: Units, metals: Metals, machine_hour: float = 0.0, asked: Sequence[Asked] = ()
) -> PageRead[CuttingRule]:
    """All rules of the page Cutting; ``machine_hour`` is the cost of an hour of rows that state none.

    Of several processes for one gauge the one that orders ask for is the rule, else the one in use.

    A faulty rule stops the plan: with a gap or margin that nobody meant, parts are spoilt.
    """
    problems = list(column_problems(CUTTING, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads: list[Read[CuttingRule]] = []
    in_use: set[int] = set()
    faulty: list[Read[FaultyRow]] = []
    for row in readers(CUTTING, table, units, Weight.STOPS):
        row.weight = Weight.LEFT_OUT  # A rule for a metal that is not used can do no harm.
        metal = metals.of(row)
        row.weight = Weight.STOPS
        rule = _rule(row, metal, machine_hour)
        if row.says_yes("In use"):
            in_use.add(row.place.row)
        problems += row.problems
        if rule is not None:
            reads.append(Read(rule, row.place))
        else:
            faulty += faulty_row(row, metal)
    wanted, unmet = _asked_for(reads, asked)
    problems += unmet
    kept, more = _one_each(_used([one for one in reads if _may_serve(one, wanted)], in_use))
    return PageRead(kept, {}, (*problems, *more), metals.whole, faulty=tuple(faulty))


def _asked_for(
    reads: Sequence[Read[CuttingRule]], asked: Sequence[Asked]
) -> tuple[list[tuple[Read[CuttingRule], Read[Order]]], list[Problem]]:
    """The rules that orders ask for, each with its order; and what of it cannot be had."""
    wanted: list[tuple[Read[CuttingRule], Read[Order]]] = []
    problems = []
    for one in asked:
        order, process = one.order.value, normal(one.order.value.process)
        rows = [
            read for read in reads
            if normal(read.value.process) == process and any(_is_of(read.value, *g) for g in one.gauges)
        ]  # fmt: skip
        if not rows:
            gauges = ", ".join(f"{material} {thickness.text}" for material, thickness in one.gauges)
            problems.append(one.order.place.problem(
                "Process", f"No row of Cutting is {order.process} for {gauges}, as {order.name} asks.",
                "Add that row to Cutting, or correct the process.",
            ))  # fmt: skip
        for read in rows:
            other = next((
                first for row, first in wanted
                if _same_gauge(row.value, read.value) and normal(row.value.process) != process
            ), None)  # fmt: skip
            if other is None:
                wanted.append((read, one.order))
                continue
            rule = read.value
            problems.append(one.order.place.problem(
                "Process", f"{order.name} asks for {order.process} and {other.value.name} for "
                f"{other.value.process}, but {rule.material} {rule.thickness.text} is cut by one process "
                "in a plan.", "Plan one of them in another book, or ask for the same.",
            ))  # fmt: skip
    return wanted, problems


def _may_serve(read: Read[CuttingRule], wanted: Sequence[tuple[Read[CuttingRule], Read[Order]]]) -> bool:
    """Whether no order asks for another process of its gauge."""
    here = [row for row, _ in wanted if _same_gauge(row.value, read.value)]
    return not here or normal(here[0].value.process) == normal(read.value.process)


def _is_of(rule: CuttingRule, material: str, thickness: Thickness) -> bool:
    return rule.material == material and same(rule.thickness, thickness)


def _used(reads: list[Read[CuttingRule]], in_use: set[int]) -> list[Read[CuttingRule]]:
    """The rules with one process for each material and thickness: the one in use, else the first."""
    chosen: list[Read[CuttingRule]] = []
    for read in sorted(reads, key=lambda one: one.place.row not in in_use):
        same_gauge = [k for k in chosen if _same_gauge(k.value, read.value)]
        others = {normal(k.value.process) for k in same_gauge} - {normal(read.value.process)}
        if not others or (read.place.row in in_use and same_gauge[0].place.row in in_use):
            chosen.append(read)
    return sorted(chosen, key=lambda one: one.place.row)


def _same_gauge(one: CuttingRule, other: CuttingRule) -> bool:
    return one.material == other.material and same(one.thickness, other.thickness)


def _rule(row: RowReader, metal: Metal | None, machine_hour: float) -> CuttingRule | None:
    read = _width_in(row.units)
    kerf = row.need("Kerf", read, 0.0)
    gap = row.need("Gap", read, 0.0)
    margin = row.need("Margin", read, 0.0)
    least_hole = row.may("Least hole", read, 0.0)
    least_web = row.may("Least web", read, 0.0)
    feed = row.may("Feed", positive_number, None)
    pierce_seconds = row.may("Pierce seconds", number_of, 0.0)
    travel = row.may("Travel", positive_number, None)
    pierce_cost, wear = row.may("Pierce cost", money_of, 0.0), _set(row)
    hour_cost = row.may("Hour cost", money_of, machine_hour)
    hole_times, hole_feed = _small_holes(row)
    lead_in = row.may("Lead-in", read, 0.0)
    sensing = row.may("Height seconds", number_of, 0.0)
    process = row.may("Process", text_of, "")
    if row.ok and gap < kerf - SAME_LENGTH_MM:
        row.fault(
            "Gap",
            "The gap is less than the kerf, so parts would be cut into.",
            "Gap is the clear metal between finished parts with the kerf included: at least the kerf.",
        )
    if not row.ok or metal is None:
        return None
    feed_mm = None if feed is None else feed * row.units.length_mm
    travel_mm = None if travel is None else travel * row.units.length_mm
    material, thickness = metal
    return CuttingRule(
        material.name,
        thickness,
        kerf,
        gap,
        margin,
        least_hole,
        feed_mm,
        pierce_seconds,
        pierce_cost + wear.each,
        hour_cost,
        travel_mm,
        least_web,
        hole_feed * row.units.length_mm if hole_feed else None,
        hole_times or 0.0,
        lead_in,
        sensing,
        wear.cost if wear.minutes else 0.0,
        wear.starts if wear.minutes else None,
        wear.minutes,
        process,
    )


@dataclass(frozen=True, slots=True)
class _Set:
    """A set of consumables: its price, and its life in pierces and in minutes of arc."""

    cost: float = 0.0
    starts: int | None = None
    minutes: float | None = None

    @property
    def each(self) -> float:
        """What one pierce wears of it, where it is counted by pierces alone."""
        return self.cost / self.starts if self.starts and not self.minutes else 0.0


def _set(row: RowReader) -> _Set:
    """The set of the row; one that costs nothing where the row does not count by the set."""
    cost = row.may("Set cost", money_of, None)
    starts = row.may("Pierces a set", positive_count, None)
    minutes = row.may("Minutes a set", positive_number, None)
    lasts = not row.blank("Pierces a set") or not row.blank("Minutes a set")
    if row.blank("Set cost") == lasts:
        empty = "Set cost" if row.blank("Set cost") else "Pierces a set"
        row.fault(
            empty,
            f"{empty} is empty while the cell beside it is filled.",
            "Fill Set cost and what a set lasts to count consumables by the set, or none of them.",
        )
    return _Set(cost, starts, minutes) if cost is not None else _Set()


def _small_holes(row: RowReader) -> tuple[float | None, float | None]:
    """Below how many times the thickness a hole is small, and the feed in it; both or neither."""
    times = row.may("Small hole below", positive_number, None)
    feed = row.may("Small hole feed", positive_number, None)
    if row.blank("Small hole below") != row.blank("Small hole feed"):
        empty = "Small hole below" if row.blank("Small hole below") else "Small hole feed"
        row.fault(
            empty, f"{empty} is empty while the cell beside it is filled.",
            "Fill both cells to cut small holes at a feed of their own, or neither.", Weight.NOTE,
        )  # fmt: skip
        return None, None
    return times, feed


def _width_in(units: Units) -> Callable[[CellValue], float]:
    length = length_in(units, WIDEST_MM)

    def width(value: CellValue) -> float:
        found = length(value)
        if found > WIDEST_MM:
            raise CellFault(
                f"is {found:,.0f} mm ({found / MM_PER_INCH:,.1f} in)",
                check_number(units),
            )
        return found

    return width


def _one_each(reads: list[Read[CuttingRule]]) -> tuple[tuple[Read[CuttingRule], ...], list[Problem]]:
    """Keep the first rule of each material and thickness; a second one with other values stops the plan."""
    kept: list[Read[CuttingRule]] = []
    problems = []
    for read in reads:
        rule = read.value
        earlier = next(
            (
                k
                for k in kept
                if k.value.material == rule.material and same(k.value.thickness, rule.thickness)
            ),
            None,
        )
        if earlier is None:
            kept.append(read)
            continue
        what = f"{rule.material} {rule.thickness.text} has a rule on row {earlier.place.row} already"
        if _figures(earlier.value) == _figures(rule):
            problems.append(
                read.place.problem(
                    "Thickness", f"{what}, with the same values.", "Delete one of them.", Weight.NOTE
                )
            )
        else:
            problems.append(
                read.place.problem(
                    "Thickness", f"{what}, with other values.", "Delete the one that does not hold."
                )
            )
    return tuple(kept), problems


def _figures(rule: CuttingRule) -> tuple[float | None, ...]:
    return (
        rule.kerf,
        rule.gap,
        rule.margin,
        rule.least_hole,
        rule.feed,
        rule.pierce_seconds,
        rule.pierce_cost,
        rule.hour_cost,
        rule.travel,
        rule.least_web,
        rule.hole_feed,
        rule.hole_times,
        rule.lead_in,
        rule.sensing_seconds,
        rule.set_cost,
        rule.set_starts,
        rule.set_minutes,
    )


# The page Stock: sheet sizes with their prices, all brought to a price for one sheet.

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
