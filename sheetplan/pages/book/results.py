"""All result pages of the book: with a plan, and before the first one."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from sheetplan.model import Plan
from sheetplan.money.comparison import Choices
from sheetplan.money.cutting_plan import Ordered, days_of, timetable
from sheetplan.money.figures import PlanFigures
from sheetplan.pages.book.buy import buy_page
from sheetplan.pages.book.choices import choices_page, fits_page
from sheetplan.pages.book.cutting import cutting_page
from sheetplan.pages.book.finished import finished_page, is_needed
from sheetplan.pages.book.layouts import bare_layouts_page, layout_rows, layouts_page
from sheetplan.pages.book.made import made_page
from sheetplan.pages.book.plan import NOTHING, Earlier, bare_plan_page, plan_page
from sheetplan.pages.book.problems import problems_page, unchecked_page
from sheetplan.pages.drawing.files import LayoutPicture
from sheetplan.pages.values import BookSeen, ResultPage, to_the_cent
from sheetplan.planning.whatif.fits import Fits


@dataclass(frozen=True, slots=True)
class Files:
    """Files of a plan that its pages show or lead to, by paths relative to the book, with forward slashes.

    Attributes
    ----------
    drawings : mapping
        Path of each layout's drawing by tag.
    pictures : mapping
        Pictures by layout tag.
    to_order : mapping
        Files that the buy list was also written to: path, and what for.
    shown_in : str
        The plan's page for the browser; empty where there is none.
    """

    drawings: Mapping[str, str] = field(default_factory=dict)
    pictures: Mapping[str, LayoutPicture] = field(default_factory=dict)
    to_order: Mapping[str, str] | None = None
    shown_in: str = ""


@dataclass(frozen=True, slots=True)
class Beside:
    """What pages say beside the plan, as far as it is known.

    Attributes
    ----------
    choices : Choices, optional
        The figures of the plan's choices; worked out anew where not given.
    fits : Fits, optional
        The answers for the page What fits.
    seen : BookSeen, optional
        What the page Problems has to know of the book.
    earlier : Earlier
        What the page Plan holds the plan against.
    ordered : mapping, optional
        What is on order and since when, for the page Cutting order.
    """

    choices: Choices | None = None
    fits: Fits | None = None
    seen: BookSeen | None = None
    earlier: Earlier = NOTHING
    ordered: Ordered | None = None


def result_pages(
    plan: Plan,
    figures: PlanFigures,
    *,
    today: datetime.date,
    mark: str = "",
    files: Files | None = None,
    beside: Beside | None = None,
) -> tuple[ResultPage, ...]:
    """The pages of a plan, in the order of `values.RESULT_PAGES`.

    Parameters
    ----------
    plan : Plan
        A checked plan.
    figures : PlanFigures
        Its weights, lengths and money.
    today : datetime.date
        The date that the page Plan shows.
    mark : str
        The plan's mark, which also names the folder of its drawings.
    files : Files, optional
        What was drawn and written of it.
    beside : Beside, optional
        What the pages say beside the plan.
    """
    files, beside = files or Files(), beside or Beside()
    days = days_of(plan, figures, today=today, ordered=beside.ordered)
    layouts = layouts_page(
        plan, figures, pictures=files.pictures, drawings=files.drawings, days=timetable(plan, days),
        file=files.shown_in,
    )
    pages = (
        plan_page(plan, figures, today=today, mark=mark, earlier=beside.earlier, days=days),
        buy_page(plan, files=files.to_order, days=days, today=today),
        cutting_page(plan, figures, days, today=today, rows=layout_rows(layouts)),
        layouts,
        made_page(plan, figures),
        choices_page(plan, mark=mark, choices=beside.choices),
        fits_page(plan, beside.fits),
        *([finished_page(plan.job)] if is_needed(plan.job) else []),
        problems_page(plan.problems, beside.seen),
    )
    return tuple(replace(page, tables=tuple(map(to_the_cent, page.tables))) for page in pages)


def empty_pages() -> tuple[ResultPage, ...]:
    """The pages of a new book: no plan yet."""
    return (
        bare_plan_page(),
        buy_page(None),
        cutting_page(None, None, None),
        bare_layouts_page(),
        made_page(None),
        choices_page(None),
        fits_page(None, None),
        unchecked_page(),
    )
