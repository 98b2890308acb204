"""The tickets of a whole run as one PDF: a cover by gauge, small pictures, then a ticket a layout."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Mapping
from functools import partial

from sheetplan.model import Plan
from sheetplan.money.cutting_plan import Timetable, days_of, timetable
from sheetplan.money.figures import PlanFigures
from sheetplan.pages.cover import cover_section
from sheetplan.pages.decimals import decimals_of
from sheetplan.pages.layout_drawing import LayoutDrawings
from sheetplan.pages.paper import Paper, build_pdf, paper_for
from sheetplan.pages.pictures import plan_colours
from sheetplan.pages.ticket import ticket_section
from sheetplan.pages.ticket_facts import ticket_facts
from sheetplan.pages.wording import date_text
from sheetplan.planning.progress import Progress, Report, quiet

TOLD_EVERY = 10
"""Tickets between two signs of life: less than a second."""


def tickets_pdf(
    plan: Plan,
    figures: PlanFigures,
    *,
    today: datetime.date,
    mark: str = "",
    drawings: Mapping[str, str] | None = None,
    paper: Paper | None = None,
    only: Collection[str] | None = None,
    days: Timetable | None = None,
    report: Report = quiet,
) -> bytes:
    """The tickets as a PDF, in the order of cutting.

    Parameters
    ----------
    plan : Plan
        A checked plan with at least one layout.
    figures : PlanFigures
        Its weights, lengths and times.
    today : datetime.date
        The date on every ticket.
    mark : str
        The plan's mark; the code on a ticket says mark and layout.
    drawings : mapping, optional
        Path or name of each layout's drawing by tag.
    paper : Paper, optional
        Letter or A4; where not given, what goes with the book's units.
    only : collection of str, optional
        Tags of the layouts wanted; a run without all of them has no cover.
    days : mapping, optional
        When each layout is cut, in the order of the tickets; worked out from today on where not given.
    report : callable, optional
        Hears of every tenth ticket, when it is made up and when it is set.
    """
    paper = paper or paper_for(plan.job.settings.units)
    pictures = LayoutDrawings(plan.job, plan_colours(plan))
    plan_line = f"plan {mark}\n{date_text(today)}" if mark else date_text(today)
    days = timetable(plan, days_of(plan, figures, today=today)) if days is None else days
    facts_of = ticket_facts(plan, figures, mark, drawings or {}, days)
    wanted = [facts for facts in facts_of if only is None or facts.layout.tag in only]

    def told(doing: str, number: int) -> None:
        if number % TOLD_EVERY == 0:
            report(Progress("", 1.0, f"{doing} tickets, {number} of {len(wanted)}"))

    sections = []
    for number, facts in enumerate(wanted):
        told("Making up", number)
        sections.append(ticket_section(facts, pictures, paper, plan_line, has_cover=only is None))
    if only is None:
        sections.insert(0, cover_section(plan, figures, pictures, paper, plan_line.replace("\n", ", "), days))
    foot = f"plan {mark}, {date_text(today)}" if mark else date_text(today)
    return build_pdf(
        sections, paper, f"Cut tickets {mark}".strip(), foot, partial(told, "Writing"),
        said=decimals_of(plan.job).said,
    )  # fmt: skip
