"""A plan's pictures and printed files as a run makes them, without its helpers."""

from __future__ import annotations

import datetime
from collections.abc import Mapping

from sheetplan.model import Plan
from sheetplan.money.cutting_plan import days_of, order_days, timetable
from sheetplan.money.figures import PlanFigures, plan_figures
from sheetplan.pages.drawing.files import LayoutPicture, layout_picture, plan_colours
from sheetplan.pages.drawing.layout_drawing import LayoutDrawings
from sheetplan.pages.paper.shop_files import TICKETS, Days, has_layouts, list_files
from sheetplan.pages.paper.tickets import tickets_pdf
from sheetplan.pages.ticket_facts import Issue


def layout_pictures(plan: Plan, figures: PlanFigures) -> dict[str, LayoutPicture]:
    """Pictures of all layouts by tag, with the remnants that they leave."""
    drawings = LayoutDrawings(plan.job, plan_colours(plan))
    kept = {tag: sheet.kept for group in figures.groups for tag, sheet in group.layouts.items()}
    layouts = (layout for group_plan in plan.groups for layout in group_plan.layouts)
    return {layout.tag: layout_picture(layout, drawings, kept[layout.tag]) for layout in layouts}


def printed_files(
    plan: Plan, today: datetime.date, drawings: Mapping[str, str] | None = None
) -> dict[str, bytes]:
    """All printed files of a plan of the mark KRTM, by name."""
    figures = plan_figures(plan)
    found = days_of(plan, figures, today=today)
    days = Days(timetable(plan, found), order_days(found))
    files = list_files(plan, today, "KRTM", days)
    if has_layouts(plan):
        files[TICKETS] = tickets_pdf(Issue(plan, figures, today, "KRTM", drawings or {}, days.layouts))
    return files


def tickets(plan: Plan, today: datetime.date, drawings: Mapping[str, str]) -> bytes:
    """The tickets of a plan of the mark KRTM."""
    figures = plan_figures(plan)
    days = timetable(plan, days_of(plan, figures, today=today))
    return tickets_pdf(Issue(plan, figures, today, "KRTM", drawings, days))
