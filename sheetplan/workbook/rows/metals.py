"""The page Materials, and the two cells that say metal and thickness on all other pages."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from sheetplan.model.job import Material
from sheetplan.model.problem import Weight
from sheetplan.trade.gauges import SERIES, series_named
from sheetplan.trade.thickness import Thickness, parse_thickness
from sheetplan.trade.units import KG_PER_POUND, MM_PER_INCH, Units
from sheetplan.workbook.columns import MATERIALS, NO_GAUGES
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.cells import (
    CellFault,
    either,
    fault_of,
    money_of,
    name_of,
    positive_number,
    size_in,
    text_of,
    usable,
)
from sheetplan.workbook.rows.names import did_you_mean, once_only
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
        try:
            return parse_thickness(usable(value), material.gauge_series, self.units)
        except CellFault:
            raise
        except ValueError as error:
            raise fault_of(error) from error


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
