"""The cover of a run of tickets: gauges, layouts to tick off, and a small picture of each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reportlab.platypus import KeepTogether, Spacer, Table, TableStyle

from sheetplan.model import GroupPlan, Layout, Plan
from sheetplan.money.figures import Figures, GroupFigures, PlanFigures
from sheetplan.pages.layout_drawing import draw_small
from sheetplan.pages.palette import PartColours
from sheetplan.pages.paper import BODY, HUGE, LARGE, MARGIN, SMALL, DrawingBox, Paper, Section, text
from sheetplan.pages.plan_page import sheets_text
from sheetplan.pages.ticket import RULE, TICK
from sheetplan.pages.ticket_facts import minutes_text
from sheetplan.pages.wording import counted, sheet_text, weight_text
from sheetplan.trade.cautions import DEFERENCE, GENERAL, particular

ACROSS = 3
"""Small pictures side by side."""

PICTURE_HEIGHT = 130.0
GAUGE_HEADS = ("Gauge", "Sheets", "From rack", "To buy", "Weight", "Pieces", "Time")
GAUGE_SHARES = (0.25, 0.25, 0.1, 0.09, 0.11, 0.09, 0.11)
LAYOUT_HEADS = ("Cut", "Layout", "Gauge", "Sheet", "Times", "Pieces a sheet", "Time a sheet")
LAYOUT_SHARES = (0.07, 0.1, 0.27, 0.24, 0.08, 0.12, 0.12)


def cover_section(
    plan: Plan, figures: PlanFigures, colours: PartColours, paper: Paper, plan_line: str
) -> Section:
    """What the run is, gauge by gauge, and all its layouts."""
    return Section("cover", lambda: _content(plan, figures, colours, paper, plan_line))


def _content(
    plan: Plan, figures: PlanFigures, colours: PartColours, paper: Paper, plan_line: str
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
        _table(GAUGE_HEADS, list(_gauge_rows(plan, figures)), GAUGE_SHARES, width, closing=True),
        Spacer(0, 12),
        text("Layouts in the order of cutting", LARGE, bold=True),
        Spacer(0, 3),
        _table(LAYOUT_HEADS, list(_layout_rows(plan, figures)), LAYOUT_SHARES, width),
        Spacer(0, 10),
        KeepTogether([text("Cautions", BODY, bold=True), *(text(line, SMALL) for line in _cautions(plan))]),
        Spacer(0, 14),
    ]
    return content + _overview(plan, figures, colours, width)


def _gauge_rows(plan: Plan, figures: PlanFigures) -> Iterator[tuple[str, ...]]:
    units = plan.job.settings.units

    def measures(found: Figures) -> tuple[str, ...]:
        return (
            f"{found.sheets_from_rack:,}", f"{found.sheets_to_buy:,}", weight_text(found.sheet_weight, units),
            f"{found.pieces:,}", minutes_text(found.hours),
        )  # fmt: skip

    for group_plan, group in zip(plan.groups, figures.groups, strict=True):
        yield (group_plan.group.label, sheets_text(group_plan, plan), *measures(group))
    yield ("Together", "", *measures(figures.total))


def _layout_rows(plan: Plan, figures: PlanFigures) -> Iterator[tuple[str, ...]]:
    for group_plan, layout, group in _layouts(plan, figures):
        hours = group.layouts[layout.tag].hours
        yield (
            TICK, layout.tag, group_plan.group.label, sheet_text(layout.sheet, plan.job.settings.units),
            f"{layout.repeats:,}", f"{len(layout.placements):,}", minutes_text(hours),
        )  # fmt: skip


def _layouts(plan: Plan, figures: PlanFigures) -> Iterator[tuple[GroupPlan, Layout, GroupFigures]]:
    for group_plan, group in zip(plan.groups, figures.groups, strict=True):
        for layout in group_plan.layouts:
            yield group_plan, layout, group


def _cautions(plan: Plan) -> Iterator[str]:
    for material in dict.fromkeys(group_plan.group.material for group_plan in plan.groups):
        for caution in particular(material.gauge_series):
            yield f"{material.name}: {caution}"
    yield from GENERAL
    yield DEFERENCE


def _overview(plan: Plan, figures: PlanFigures, colours: PartColours, width: float) -> list[Any]:
    """Small pictures in the order of cutting, so that a sheet on the table is found at a glance."""
    each = width / ACROSS
    cells = []
    for group_plan, layout, group in _layouts(plan, figures):
        kept = group.layouts[layout.tag].kept
        small = draw_small(
            layout, plan.job, width=each - 8.0, height=PICTURE_HEIGHT, colours=colours, keep=kept
        )
        words = text(f"{layout.tag}, {layout.repeats} x", BODY, bold=True)
        cells.append([words, text(group_plan.group.label, SMALL), DrawingBox(small)])
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


def _table(
    heads: tuple[str, ...], rows: list[tuple[str, ...]], shares: tuple[float, ...], width: float,
    closing: bool = False,
) -> Any:  # fmt: skip
    """A table whose head is repeated on every page; ``closing`` sets the last row bold."""
    body = [
        [text(cell, BODY, bold=closing and number == len(rows) - 1) for cell in row]
        for number, row in enumerate(rows)
    ]
    table = Table(
        [[text(head, SMALL, bold=True) for head in heads], *body], [share * width for share in shares],
        repeatRows=1,
    )  # fmt: skip
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("BACKGROUND", (0, 0), (-1, 0), "#E4E9EB"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
        ("TOPPADDING", (0, 0), (-1, -1), 2), ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
        ("LEFTPADDING", (0, 0), (-1, -1), 3), ("RIGHTPADDING", (0, 0), (-1, -1), 3),
    ]))  # fmt: skip
    return table
