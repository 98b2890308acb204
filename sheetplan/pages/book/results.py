"""All result pages of the book: with a plan, with problems that stop it, and before the first plan."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import replace

from sheetplan.model import Plan, Problem
from sheetplan.money.comparison import Choices
from sheetplan.money.cutting_plan import Ordered, days_of, timetable
from sheetplan.money.figures import PlanFigures
from sheetplan.pages.book.buy import buy_page
from sheetplan.pages.book.choices import choices_page, fits_page
from sheetplan.pages.book.cutting import cutting_page
from sheetplan.pages.book.layouts import bare_layouts_page, layout_rows, layouts_page
from sheetplan.pages.book.made import finished_page, is_needed, made_page
from sheetplan.pages.book.plan import NO_PLAN, NOTHING, bare_plan_page, plan_page, stopped_line
from sheetplan.pages.book.problems import BookSeen, problems_page, unchecked_page
from sheetplan.pages.drawing.files import LayoutPicture, layout_pictures
from sheetplan.pages.values import ResultPage, to_the_cent
from sheetplan.planning.whatif.fits import Fits


def result_pages(
    plan: Plan,
    figures: PlanFigures,
    *,
    choices: Choices | None = None,
    today: datetime.date,
    mark: str = "",
    drawings: Mapping[str, str] | None = None,
    pictures: Mapping[str, LayoutPicture] | None = None,
    buy_files: Mapping[str, str] | None = None,
    fits: Fits | None = None,
    seen: BookSeen | None = None,
    since: str = "",
    last_yields: Mapping[str, float] = NOTHING,
    ordered: Ordered | None = None,
    shown_in: str = "",
) -> tuple[ResultPage, ...]:
    """The pages of a plan, in the order of `values.RESULT_PAGES`.

    Parameters
    ----------
    plan : Plan
        A checked plan.
    figures : PlanFigures
        Its weights, lengths and money.
    choices : Choices, optional
        The figures of its choices; worked out here where not given.
    today : datetime.date
        The date that the page Plan shows.
    mark : str
        The plan's mark, which also names the folder of its drawings.
    drawings : mapping, optional
        Path of each layout's drawing by tag, relative to the book, with forward slashes.
    pictures : mapping, optional
        Pictures by layout tag; drawn here where not given.
    buy_files : mapping, optional
        Files that the buy list was also written to: path relative to the book, and what for.
    fits : Fits, optional
        The answers for the page What fits.
    seen : BookSeen, optional
        What the page Problems has to know of the book.
    since : str
        What has changed since the plan before, for the top of the page Plan.
    last_yields : mapping, optional
        The yield of gauges in the month before, 0 to 1.
    ordered : mapping, optional
        What is on order and since when, for the page Cutting order.
    shown_in : str
        Path of the plan's page for the browser, relative to the book; empty where there is none.
    """
    shown = layout_pictures(plan, figures) if pictures is None else pictures
    days = days_of(plan, figures, today=today, ordered=ordered)
    layouts = layouts_page(
        plan, figures, pictures=shown, drawings=drawings or {}, days=timetable(plan, days),
        file=shown_in,
    )
    pages = (
        plan_page(
            plan, figures, today=today, mark=mark, since=since, last_yields=last_yields, days=days,
        ),
        buy_page(plan, files=buy_files, days=days, today=today),
        cutting_page(plan, figures, days, today=today, rows=layout_rows(layouts)),
        layouts,
        made_page(plan, figures),
        choices_page(plan, mark=mark, choices=choices),
        fits_page(plan, fits),
        *([finished_page(plan.job)] if is_needed(plan.job) else []),
        problems_page(plan.problems, seen),
    )
    return tuple(replace(page, tables=tuple(map(to_the_cent, page.tables))) for page in pages)


def problems_only(problems: Sequence[Problem]) -> tuple[ResultPage, ...]:
    """The pages when problems stop the plan: the problems, and everything else empty."""
    return _without_plan(stopped_line(tuple(problems)), problems_page(problems))


def empty_pages() -> tuple[ResultPage, ...]:
    """The pages of a new book: no plan yet."""
    return _without_plan(NO_PLAN, unchecked_page())


def _without_plan(line: str, problems: ResultPage) -> tuple[ResultPage, ...]:
    return (
        bare_plan_page(line),
        buy_page(None),
        cutting_page(None, None, None),
        bare_layouts_page(),
        made_page(None),
        choices_page(None),
        fits_page(None, None),
        problems,
    )
