"""The page Cutting: one rule for each material and thickness."""

from __future__ import annotations

from collections.abc import Callable

from sheetplan.model.job import CuttingRule
from sheetplan.model.problem import Problem, Weight
from sheetplan.trade.likeness import same
from sheetplan.trade.units import MM_PER_INCH, SAME_LENGTH_MM, Units
from sheetplan.workbook.columns import CUTTING
from sheetplan.workbook.rows.cells import (
    CellFault,
    check_number,
    length_in,
    money_of,
    number_of,
    positive_count,
    positive_number,
)
from sheetplan.workbook.rows.metals import Metal, Metals, faulty_row
from sheetplan.workbook.rows.reader import (
    FaultyRow,
    PageRead,
    Read,
    RowReader,
    column_problems,
    readers,
)
from sheetplan.workbook.tables import CellValue, RawTable

WIDEST_MM = 300.0
"""A kerf, gap, margin or least hole beyond this is a size in the wrong unit or column."""


def read_cutting(table: RawTable, units: Units, metals: Metals) -> PageRead[CuttingRule]:
    """All rules of the page Cutting.

    A faulty rule stops the plan: with a gap or margin that nobody meant, parts are spoilt.
    """
    problems = list(column_problems(CUTTING, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads: list[Read[CuttingRule]] = []
    faulty: list[Read[FaultyRow]] = []
    for row in readers(CUTTING, table, units, Weight.STOPS):
        row.weight = Weight.LEFT_OUT  # A rule for a metal that is not used can do no harm.
        metal = metals.of(row)
        row.weight = Weight.STOPS
        rule = _rule(row, metal)
        problems += row.problems
        if rule is not None:
            reads.append(Read(rule, row.place))
        else:
            faulty += faulty_row(row, metal)
    kept, more = _one_each(reads)
    return PageRead(kept, {}, (*problems, *more), metals.whole, faulty=tuple(faulty))


def _rule(row: RowReader, metal: Metal | None) -> CuttingRule | None:
    read = _width_in(row.units)
    kerf = row.need("Kerf", read, 0.0)
    gap = row.need("Gap", read, 0.0)
    margin = row.need("Margin", read, 0.0)
    least_hole = row.may("Least hole", read, 0.0)
    least_web = row.may("Least web", read, 0.0)
    feed = row.may("Feed", positive_number, None)
    pierce_seconds = row.may("Pierce seconds", number_of, 0.0)
    travel = row.may("Travel", positive_number, None)
    pierce_cost = row.may("Pierce cost", money_of, 0.0) + _set_share(row)
    hour_cost = row.may("Hour cost", money_of, 0.0)
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
        pierce_cost,
        hour_cost,
        travel_mm,
        least_web,
    )


def _set_share(row: RowReader) -> float:
    """What one pierce wears of a set of consumables; 0 where the row does not count by the set."""
    cost = row.may("Set cost", money_of, None)
    lasts = row.may("Pierces a set", positive_count, None)
    if (cost is None) != (lasts is None) and row.blank("Set cost") != row.blank("Pierces a set"):
        empty = "Set cost" if cost is None else "Pierces a set"
        row.fault(
            empty,
            f"{empty} is empty while the cell beside it is filled.",
            "Fill both cells to count consumables by the set, or neither.",
        )
    return cost / lasts if cost is not None and lasts else 0.0


def _width_in(units: Units) -> Callable[[CellValue], float]:
    length = length_in(units, WIDEST_MM)

    def width(value: CellValue) -> float:
        found = length(value)
        if found > WIDEST_MM:
            raise CellFault(
                f"is {found:,.0f} mm ({found / MM_PER_INCH:,.1f} in)",
                check_number(value, units),
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
    )
