"""The page `Layouts`: one row for each layout, its picture large, what a cutter needs to know beside it.

Choices: the picture takes what one sheet of paper across leaves it, so what is said of a layout stands under
one another in few columns. Rows come in the order of the tickets.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace

from sheetplan.model import Plan, Remnant, Settings
from sheetplan.money.cutting_order import Turn, in_order
from sheetplan.money.cutting_plan import CutOn, Timetable
from sheetplan.money.figures import PlanFigures
from sheetplan.money.layout_figures import LayoutFigures
from sheetplan.pages.contents import parts_text
from sheetplan.pages.drawing.files import CELL_WIDTH, LayoutPicture
from sheetplan.pages.ticket_facts import cut_on_text
from sheetplan.pages.values import (
    LAYOUT_TABLE,
    POINTS_PER_CHARACTER,
    Cell,
    Column,
    Kind,
    Link,
    ResultPage,
    ResultTable,
)
from sheetplan.pages.wording import (
    left_texts,
    minutes_text,
    money_text,
    per_cent,
    sheet_size,
    size_text,
    travel_text,
    under_text,
    weight_text,
)
from sheetplan.trade.sentences import counted

LOCKED = "x"
"""The mark of a locked layout; any other text that the planner writes there counts as well."""

# The last two are for formulas of the pages Start and Plan.
COLUMNS = (
    Column("Layout", width=8, large=True),
    Column("Times to cut", Kind.COUNT, 6),
    Column("Cut so far", Kind.COUNT, 5),
    Column("Cut now", Kind.COUNT, 5, asks=True),
    Column("How", width=8, wrap=True, asks=True),
    Column("Lock", width=6, asks=True),
    Column("Picture", Kind.PICTURE, CELL_WIDTH / POINTS_PER_CHARACTER + 2.0),
    Column("Sheet", width=18, wrap=True),
    Column("Parts on it", width=20, wrap=True),
    Column("One sheet", width=15, wrap=True),
    Column("Drawing", width=8),
    Column("Pieces", Kind.COUNT, 7, hidden=True),
    Column("Minutes", Kind.NUMBER, 8, hidden=True),
)


def layouts_page(
    plan: Plan,
    figures: PlanFigures,
    *,
    pictures: Mapping[str, LayoutPicture],
    drawings: Mapping[str, str],
    days: Timetable,
    file: str = "",
) -> ResultPage:
    """All layouts in the order in which they are cut; ``days`` says when.

    ``file`` is the path of the page for the browser, relative to the book; empty where there is none.
    """
    found = {tag: layout for group in figures.groups for tag, layout in group.layouts.items()}
    rows = tuple(
        _row(
            plan, turn, found[turn.layout.tag], pictures.get(turn.layout.tag), drawings,
            days[turn.layout.tag],
        )
        for turn in in_order(plan, days)
    )
    keyed = any(picture.keys for picture in pictures.values())
    lines = [
        f"{counted(len(rows), 'layout')}, in the order of the tickets and of the page Cutting order.",
        "Once sheets are cut, write how many in Cut now and record them: in the open book (see Start), or "
        "close it and run `sheetplan cut`.",
        "What was not as planned goes into How, such as: on MS10-5x10; date 2026-11-24; only PLATE=4; "
        "bad PLATE=1; by Ann; heat 7741. Or write the ticket on Record, which has a column for each.",
        "A mark in Lock keeps a layout as it is; the next plan is made round it.",
    ]
    if keyed:
        lines.append("Where a part is too small for its name, the picture shows a number: '12 x CB-101 = 3'.")
    link = Link(f"{ON_A_TABLET}{file}", file) if file else None
    return replace(_page(tuple(lines), rows), file=link)


ON_A_TABLET = "On a tablet or telephone: "
"""Before the path of the page for the browser; the page Start takes the path from there."""


def layout_rows(page: ResultPage) -> dict[str, int]:
    """The row of each layout in the book, from 1: under title, lines, a blank row and the headings."""
    [table] = page.tables
    first = len(page.lines) + (page.file is not None) + 4 + bool(table.caption)
    return {str(row[0]): place for place, row in enumerate(table.rows, start=first)}


def bare_layouts_page() -> ResultPage:
    """The page without a plan."""
    return _page((), ())


def _page(lines: tuple[str, ...], rows: tuple[tuple[Cell, ...], ...]) -> ResultPage:
    return ResultPage("Layouts", "Layouts to cut", lines, (ResultTable(LAYOUT_TABLE, COLUMNS, rows),))


def _row(
    plan: Plan, turn: Turn, figures: LayoutFigures, picture: LayoutPicture | None,
    drawings: Mapping[str, str], day: CutOn | None,
) -> tuple[Cell, ...]:
    layout = turn.layout
    path = drawings.get(layout.tag)
    return (
        layout.tag,
        layout.repeats,
        0,
        None,
        None,
        LOCKED if layout.locked else None,
        picture.picture if picture else None,
        "\n".join(_sheet(plan, turn, day)),
        parts_text(layout, picture.keys if picture else None),
        "\n".join(_one_sheet(plan.job.settings, figures)),
        Link("DXF", path) if path else None,
        figures.pieces,
        None if figures.table_hours is None else figures.table_hours * 60.0,
    )


def _sheet(plan: Plan, turn: Turn, day: CutOn | None) -> Iterator[str]:
    """The gauge, a remnant's tag, size and place, what lies on it; for when, and whether it is there."""
    sheet, units = turn.layout.sheet, plan.job.settings.units
    yield turn.group_plan.group.label
    if isinstance(sheet, Remnant):
        yield f"remnant {sheet.tag}"
    yield size_text(*sheet_size(sheet), units)
    if sheet.rack_place:
        yield f"rack {sheet.rack_place}"
    under = under_text(sheet, units)
    if under:
        yield under
    if day is not None:
        yield f"cut on {cut_on_text(day)}"
    if turn.due:
        yield f"due {turn.due}"
    yield _metal(turn)


def _metal(turn: Turn) -> str:
    """Such as ``2 on hand, 1 to buy``; what is on order is still to come."""
    sheet, missing = turn.layout.sheet, turn.layout.repeats - turn.on_hand
    if isinstance(sheet, Remnant):
        return "in the rack"
    coming = any(one.on_order for one in turn.group_plan.sheets if one.sheet.name == sheet.name)
    said = [f"{turn.on_hand:,} on hand"] if turn.on_hand else []
    said += [f"{missing:,} {'to come' if coming else 'to buy'}"] if missing else []
    return ", ".join(said)


def _one_sheet(settings: Settings, figures: LayoutFigures) -> Iterator[str]:
    """Yield and work of one sheet, then what goes back to the rack, its weight and what it is worth."""
    units = settings.units
    yield f"{per_cent(figures.yield_share)} yield"
    yield f"{travel_text(figures.cut_length, units)} to cut"
    yield counted(figures.pierces, "pierce")
    if figures.table_hours is not None:
        yield minutes_text(figures.table_hours)
    if not figures.left:
        return
    for text, times in Counter(left_texts(figures.left, units)).items():
        yield text if times == 1 else f"{times} times {text}"
    yield weight_text(figures.split.kept, units)
    yield f"{money_text(figures.kept_value)} {settings.currency}"
