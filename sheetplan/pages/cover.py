"""The cover of a run of tickets: gauges, layouts to tick off, and a small picture of each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reportlab.platypus import KeepTogether, Spacer, Table, TableStyle

from sheetplan.model import Plan
from sheetplan.money.cutting_order import Turn, cutting_order
from sheetplan.money.figures import Figures, PlanFigures
from sheetplan.money.layout_figures import LayoutFigures
from sheetplan.pages.layout_drawing import LayoutDrawings
from sheetplan.pages.paper import (
    BODY,
    HUGE,
    LARGE,
    MARGIN,
    SMALL,
    TICK,
    DrawingBox,
    Heads,
    Paper,
    Section,
    list_table,
    text,
)  # fmt: skip
from sheetplan.pages.plan_page import moves_said, sheets_text
from sheetplan.pages.ticket_facts import minutes_text
from sheetplan.pages.wording import counted, sheet_text, weight_text
from sheetplan.trade.cautions import DEFERENCE, GENERAL, particular

ACROSS = 3
"""Small pictures side by side."""

PICTURE_HEIGHT = 130.0
GAUGE_HEADS: Heads = (
    ("Gauge", 0.25, False), ("Sheets", 0.23, False), ("On hand", 0.1, True), ("To buy", 0.08, True),
    ("Weight", 0.12, True), ("Pieces", 0.09, True), ("Time", 0.13, True),
)  # fmt: skip
LAYOUT_HEADS: Heads = (
    ("Cut", 0.05, False), ("Layout", 0.08, False), ("First due", 0.12, False), ("Metal", 0.15, False),
    ("Gauge", 0.22, False), ("Sheet", 0.17, False), ("Times", 0.06, True), ("Pieces", 0.07, True),
    ("Time", 0.08, True),
)  # fmt: skip
ORDER_SAID = (
    "What is on hand can be cut now and stands first; then by the day on which an order that must be made "
    "first waits for it. Pieces and time are of one sheet."
)


def cover_section(
    plan: Plan, figures: PlanFigures, pictures: LayoutDrawings, paper: Paper, plan_line: str
) -> Section:
    """What the run is, gauge by gauge, and all its layouts."""
    return Section("cover", lambda: _content(plan, figures, pictures, paper, plan_line))


def _content(
    plan: Plan, figures: PlanFigures, pictures: LayoutDrawings, paper: Paper, plan_line: str
) -> list[Any]:
    width = paper.width - 2 * MARGIN
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
        list_table(GAUGE_HEADS, list(_gauge_rows(plan, figures)), width, closing=True),
        Spacer(0, 12),
        text("Layouts in the order of cutting", LARGE, bold=True),
        text(f"{ORDER_SAID} {moves_said(plan, 'Times')}".strip(), SMALL),
        Spacer(0, 3),
        list_table(LAYOUT_HEADS, list(_layout_rows(plan, figures)), width),
        Spacer(0, 10),
        KeepTogether([text("Cautions", BODY, bold=True), *(text(line, SMALL) for line in _cautions(plan))]),
        Spacer(0, 14),
    ]
    return content + _overview(plan, figures, pictures, width)


def _gauge_rows(plan: Plan, figures: PlanFigures) -> Iterator[tuple[str, ...]]:
    units = plan.job.settings.units

    def measures(found: Figures) -> tuple[str, ...]:
        return (
            f"{found.sheets_from_rack:,}", f"{found.sheets_to_buy:,}", weight_text(found.sheet_weight, units),
            f"{found.pieces:,}", minutes_text(found.hours),
        )  # fmt: skip

    for group_plan, group in zip(plan.groups, figures.groups, strict=True):
        yield (group_plan.group.label, sheets_text(group_plan, plan), *measures(group))
    yield ("Total", "", *measures(figures.total))


def _layout_rows(plan: Plan, figures: PlanFigures) -> Iterator[tuple[str, ...]]:
    for turn, of_sheet in _turns(plan, figures):
        layout = turn.layout
        yield (
            TICK, layout.tag, turn.due, metal_text(turn), turn.group_plan.group.label,
            sheet_text(layout.sheet, plan.job.settings.units), f"{layout.repeats:,}",
            f"{len(layout.placements):,}", minutes_text(of_sheet.hours),
        )  # fmt: skip


def metal_text(turn: Turn) -> str:
    """Whether the metal of a layout is there: ``on hand``, ``1 of 3 on hand`` or ``to buy``."""
    if turn.on_hand == turn.layout.repeats:
        return "on hand"
    return f"{turn.on_hand} of {turn.layout.repeats} on hand" if turn.on_hand else "to buy"


def _turns(plan: Plan, figures: PlanFigures) -> Iterator[tuple[Turn, LayoutFigures]]:
    """Layouts in the order of cutting with the figures of one sheet."""
    sheets = {tag: of_sheet for group in figures.groups for tag, of_sheet in group.layouts.items()}
    for turn in cutting_order(plan):
        yield turn, sheets[turn.layout.tag]


def _cautions(plan: Plan) -> Iterator[str]:
    for material in dict.fromkeys(group_plan.group.material for group_plan in plan.groups):
        for caution in particular(material.gauge_series):
            yield f"{material.name}: {caution}"
    yield from GENERAL
    yield DEFERENCE


def _overview(plan: Plan, figures: PlanFigures, pictures: LayoutDrawings, width: float) -> list[Any]:
    """Small pictures in the order of cutting, so that a sheet on the table is found at a glance."""
    each = width / ACROSS
    cells = []
    for turn, of_sheet in _turns(plan, figures):
        layout = turn.layout
        small = pictures.small(layout, each - 8.0, PICTURE_HEIGHT, of_sheet.kept)
        words = text(f"{layout.tag}, {layout.repeats} x", BODY, bold=True)
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
