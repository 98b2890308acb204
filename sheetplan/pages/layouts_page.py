"""The page `Layouts`: one row for each layout with its picture and the link to its drawing."""

from __future__ import annotations

from collections.abc import Mapping

from sheetplan.model import GroupPlan, Layout, Plan, Remnant
from sheetplan.money.figures import PlanFigures
from sheetplan.money.layout_figures import LayoutFigures
from sheetplan.pages.parts_on import parts_text
from sheetplan.pages.pictures import CELL_WIDTH, LayoutPicture
from sheetplan.pages.values import LAYOUT_TABLE, Cell, Column, Kind, Link, ResultPage, ResultTable
from sheetplan.pages.wording import (
    counted,
    left_texts,
    money_text,
    sheet_size,
    size_text,
    under_text,
    weight_text,
)

POINTS_PER_CHARACTER = 5.25
"""Width of a spreadsheet column's unit at the usual type: 7 dots of 96 to the inch."""

LOCKED = "x"
"""The mark of a locked layout; any other text that the planner writes there counts as well."""

COLUMNS = (
    Column("Layout", width=8),
    Column("Times to cut", Kind.COUNT, 7),
    Column("Cut so far", Kind.COUNT, 6),
    Column("Cut now", Kind.COUNT, 7, asks=True),
    Column("How", width=8.5, wrap=True, asks=True),
    Column("Lock", width=6, asks=True),
    Column("Picture", Kind.PICTURE, CELL_WIDTH / POINTS_PER_CHARACTER + 2.0),
    Column("Sheet", width=17, wrap=True),
    Column("Gauge", width=16, wrap=True),
    Column("Parts on it", width=24, wrap=True),
    Column("Remnant left", width=17, wrap=True),
    Column("Drawing", width=8),
    Column("Yield", Kind.SHARE, 8),
    Column("Cut length", Kind.TRAVEL, 8),
    Column("Pierces", Kind.COUNT, 8),
    Column("Pieces", Kind.COUNT, 7),
    Column("Minutes", Kind.COUNT, 8),
)


def layouts_page(
    plan: Plan,
    figures: PlanFigures,
    *,
    pictures: Mapping[str, LayoutPicture],
    drawings: Mapping[str, str],
) -> ResultPage:
    """All layouts in the order of the plan."""
    rows = tuple(
        _row(plan, group_plan, layout, group.layouts[layout.tag], pictures.get(layout.tag), drawings)
        for group_plan, group in zip(plan.groups, figures.groups, strict=True)
        for layout in group_plan.layouts
    )
    keyed = any(picture.keys for picture in pictures.values())
    lines = [
        f"{counted(len(rows), 'layout')}. All that stands right of the picture is for one sheet.",
        "Once sheets are cut, write how many in Cut now and record them: in the open book (see Start), or "
        "close it and run `sheetplan cut`.",
        "What was not as planned goes into How, such as: on MS10-5x10; date 2026-11-24; only PLATE=4; "
        "bad PLATE=1; by Ann; heat 7741. Or write the ticket on Record, which has a column for each.",
        "A mark in Lock keeps a layout as it is; the next plan is made round it.",
    ]
    if keyed:
        lines.append("Where a part is too small for its name, the picture shows a number: '12 x CB-101 = 3'.")
    return _page(tuple(lines), rows)


def layout_rows(page: ResultPage) -> dict[str, int]:
    """The row of each layout in the book, from 1: under title, lines, a blank row and the headings."""
    [table] = page.tables
    first = len(page.lines) + 4 + bool(table.caption)
    return {str(row[0]): place for place, row in enumerate(table.rows, start=first)}


def bare_layouts_page() -> ResultPage:
    """The page without a plan."""
    return _page((), ())


def _page(lines: tuple[str, ...], rows: tuple[tuple[Cell, ...], ...]) -> ResultPage:
    return ResultPage("Layouts", "Layouts to cut", lines, (ResultTable(LAYOUT_TABLE, COLUMNS, rows),))


def _row(
    plan: Plan,
    group_plan: GroupPlan,
    layout: Layout,
    figures: LayoutFigures,
    picture: LayoutPicture | None,
    drawings: Mapping[str, str],
) -> tuple[Cell, ...]:
    return (
        layout.tag,
        layout.repeats,
        0,
        None,
        None,
        LOCKED if layout.locked else None,
        picture.picture if picture else None,
        _sheet(plan, layout),
        group_plan.group.label,
        parts_text(layout, picture.keys if picture else None),
        _left(plan, figures),
        _drawing(layout, drawings.get(layout.tag)),
        figures.yield_share,
        figures.cut_length,
        figures.pierces,
        figures.pieces,
        None if figures.work.hours is None else max(1, round(figures.work.hours * 60.0)),
    )


def _sheet(plan: Plan, layout: Layout) -> str:
    """A remnant's tag, the size, the rack place and what lies on it, as far as they are known."""
    sheet = layout.sheet
    lines = [size_text(*sheet_size(sheet), plan.job.settings.units)]
    if isinstance(sheet, Remnant):
        lines.insert(0, f"remnant {sheet.tag}")
    if sheet.rack_place:
        lines.append(f"rack {sheet.rack_place}")
    under = under_text(sheet, plan.job.settings.units)
    if under:
        lines.append(under)
    return "\n".join(lines)


def _drawing(layout: Layout, path: str | None) -> Cell:
    return Link(f"{layout.tag} DXF", path) if path else None


def _left(plan: Plan, figures: LayoutFigures) -> Cell:
    """What goes back to the rack from one sheet, its weight and what it is worth."""
    if not figures.left:
        return None
    settings = plan.job.settings
    worth = f"{weight_text(figures.split.kept, settings.units)}, {money_text(figures.kept_value)}"
    return "\n".join((*left_texts(figures.left, settings.units), f"{worth} {settings.currency}"))
