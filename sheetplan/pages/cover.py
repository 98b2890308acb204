"""The cover of a run of tickets: gauges, layouts to tick off, and a small picture of each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reportlab.platypus import KeepTogether, Spacer, Table, TableStyle

from sheetplan.model import GroupPlan, Plan, Remnant, SheetSize
from sheetplan.money.cutting_order import Turn, in_order
from sheetplan.money.cutting_plan import Timetable
from sheetplan.money.figures import Figures, PlanFigures
from sheetplan.money.layout_figures import LayoutFigures
from sheetplan.pages.layout_drawing import LayoutDrawings
from sheetplan.pages.line_breaks import Heads, Holds
from sheetplan.pages.paper import (
    BODY,
    HUGE,
    LARGE,
    MARGIN,
    SMALL,
    TICK,
    DrawingBox,
    Paper,
    Section,
    list_table,
    text,
)  # fmt: skip
from sheetplan.pages.ticket_facts import minutes_text, moves_said
from sheetplan.pages.wording import bare_size, bare_weight, counted, day_text, sheet_size
from sheetplan.trade.cautions import DEFERENCE, GENERAL, particular
from sheetplan.trade.units import Units

ACROSS = 3
"""Small pictures side by side."""

PICTURE_HEIGHT = 130.0


def gauge_heads(units: Units) -> Heads:
    """The columns of the list of gauges."""
    return (
        ("Gauge", Holds.TEXT), (f"Sheets {units.value}", Holds.TEXT), ("On hand", Holds.NUMBER),
        ("To buy", Holds.NUMBER), (f"Weight {units.weight}", Holds.NUMBER), ("Pieces", Holds.NUMBER),
        ("Time", Holds.NUMBER),
    )  # fmt: skip


def layout_heads(units: Units) -> Heads:
    """The columns of the list of layouts."""
    return (
        ("Cut", Holds.WHOLE), ("Layout", Holds.WHOLE), ("Day", Holds.WHOLE), ("First due", Holds.WHOLE),
        ("Late", Holds.NUMBER), ("Metal", Holds.TEXT),
        ("Gauge", Holds.TEXT), (f"Sheet {units.value}", Holds.WHOLE), ("Times", Holds.NUMBER),
        ("Pieces", Holds.NUMBER), ("Time", Holds.NUMBER),
    )  # fmt: skip


ORDER_SAID = (
    "By the day on which each is to be cut, as the page Cutting order has it; late in days. Pieces and time "
    "are of one sheet."
)


def cover_section(
    plan: Plan, figures: PlanFigures, pictures: LayoutDrawings, paper: Paper, plan_line: str, days: Timetable
) -> Section:
    """What the run is, gauge by gauge, and all its layouts."""
    return Section("cover", lambda: _content(plan, figures, pictures, paper, plan_line, days))


def _content(
    plan: Plan, figures: PlanFigures, pictures: LayoutDrawings, paper: Paper, plan_line: str, days: Timetable
) -> list[Any]:
    width, units = paper.width - 2 * MARGIN, plan.job.settings.units
    layouts = sum(len(group_plan.layouts) for group_plan in plan.groups)
    total = figures.total
    metal = counted(total.sheets_used, "sheet")
    if total.remnants_used:
        metal += f" and {counted(total.remnants_used, 'remnant')}"
    content = [
        text("Cutting run", HUGE, bold=True),
        Spacer(0, 6),
        text(plan_line, LARGE),
        text(f"{counted(total.pieces, 'piece')} from {metal} in {counted(layouts, 'layout')}", LARGE),
        Spacer(0, 10),
        list_table(gauge_heads(units), list(_gauge_rows(plan, figures)), width, closing=True),
        Spacer(0, 12),
        text("Layouts in the order of cutting", LARGE, bold=True),
        text(f"{ORDER_SAID} {moves_said(plan, 'Times')}".strip(), SMALL, narrow=True),
        Spacer(0, 3),
        list_table(layout_heads(units), list(_layout_rows(plan, figures, days)), width),
        Spacer(0, 10),
        KeepTogether([text("Cautions", BODY, bold=True), *(text(line, SMALL) for line in _cautions(plan))]),
        Spacer(0, 14),
    ]
    return content + _overview(plan, figures, pictures, width, days)


def _gauge_rows(plan: Plan, figures: PlanFigures) -> Iterator[tuple[str, ...]]:
    units = plan.job.settings.units

    def measures(found: Figures) -> tuple[str, ...]:
        return (
            f"{found.sheets_from_rack:,}", f"{found.sheets_to_buy:,}", bare_weight(found.sheet_weight, units),
            f"{found.pieces:,}", minutes_text(found.table_hours),
        )  # fmt: skip

    for group_plan, group in zip(plan.groups, figures.groups, strict=True):
        yield (group_plan.group.label, _sheets(group_plan, units), *measures(group))
    yield ("Total", "", *measures(figures.total))


def _layout_rows(plan: Plan, figures: PlanFigures, days: Timetable) -> Iterator[tuple[str, ...]]:
    for turn, of_sheet in _turns(plan, figures, days):
        layout, day = turn.layout, days[turn.layout.tag]
        yield (
            TICK, layout.tag, day_text(day.first) if day else "", turn.due,
            f"{day.late:,}" if day and day.late else "", metal_text(turn), turn.group_plan.group.label,
            _sheet(layout.sheet, plan.job.settings.units), f"{layout.repeats:,}",
            f"{len(layout.placements):,}", minutes_text(of_sheet.table_hours),
        )  # fmt: skip


def _sheets(group_plan: GroupPlan, units: Units) -> str:
    """Sheets of a gauge by size, then its remnants."""
    lines = [
        f"{count.used:,} of {bare_size(count.sheet.length, count.sheet.width, units)}"
        for count in group_plan.sheets
    ]
    return ", ".join([*lines, *(
        _sheet(layout.sheet, units)
        for layout in group_plan.layouts if isinstance(layout.sheet, Remnant)
    )])  # fmt: skip


def _sheet(sheet: SheetSize | Remnant, units: Units) -> str:
    size = bare_size(*sheet_size(sheet), units)
    return f"{sheet.tag}: {size}" if isinstance(sheet, Remnant) else size


def metal_text(turn: Turn) -> str:
    """Whether the metal of a layout is there: ``on hand``, ``1 of 3 on hand`` or ``to buy``."""
    if turn.on_hand == turn.layout.repeats:
        return "on hand"
    return f"{turn.on_hand} of {turn.layout.repeats} on hand" if turn.on_hand else "to buy"


def _turns(
    plan: Plan, figures: PlanFigures, days: Timetable
) -> Iterator[tuple[Turn, LayoutFigures]]:
    """Layouts in the order of cutting with the figures of one sheet."""
    sheets = {tag: of_sheet for group in figures.groups for tag, of_sheet in group.layouts.items()}
    for turn in in_order(plan, days):
        yield turn, sheets[turn.layout.tag]


def _cautions(plan: Plan) -> Iterator[str]:
    for material in dict.fromkeys(group_plan.group.material for group_plan in plan.groups):
        for caution in particular(material.gauge_series):
            yield f"{material.name}: {caution}"
    yield from GENERAL
    yield DEFERENCE


def _overview(
    plan: Plan, figures: PlanFigures, pictures: LayoutDrawings, width: float, days: Timetable
) -> list[Any]:
    """Small pictures in the order of cutting, so that a sheet on the table is found at a glance."""
    each = width / ACROSS
    cells = []
    for turn, of_sheet in _turns(plan, figures, days):
        layout = turn.layout
        small = pictures.small(layout, each - 8.0, PICTURE_HEIGHT, of_sheet.kept)
        words = text(f"{layout.tag}, {counted(layout.repeats, 'time')}", BODY, bold=True)
        cells.append([words, text(turn.group_plan.group.label, SMALL), DrawingBox(small)])
    rows = [_row(cells[start : start + ACROSS], each) for start in range(0, len(cells), ACROSS)]
    heading = [text("All layouts at a glance", LARGE, bold=True), Spacer(0, 4)]
    return [KeepTogether([*heading, *rows[:1]]), *rows[1:]]


def _row(cells: list[list[Any]], each: float) -> Any:
    table = Table([cells + [""] * (ACROSS - len(cells))], [each] * ACROSS)
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 8),
    ]))  # fmt: skip
    return table
