"""The page Cutting: one rule for each material and thickness."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from sheetplan.model.job import CuttingRule, Order
from sheetplan.model.problem import Problem, Weight
from sheetplan.trade.likeness import same
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import MM_PER_INCH, SAME_LENGTH_MM, Units
from sheetplan.workbook.columns import CUTTING
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.cells import (
    CellFault,
    check_number,
    length_in,
    money_of,
    number_of,
    positive_count,
    positive_number,
    text_of,
    yes_no,
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
        if row.may("In use", yes_no, False):
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
        rule.hole_feed,
        rule.hole_times,
        rule.lead_in,
        rule.sensing_seconds,
        rule.set_cost,
        rule.set_starts,
        rule.set_minutes,
    )
