"""Build the books that `sheetplan new` copies; the same rows give the same bytes."""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sheetplan.pages import empty_pages
from sheetplan.pages.month_page import bare_month_page
from sheetplan.pages.plan_page import NO_PLAN
from sheetplan.pages.quoted_page import bare_quoted_page
from sheetplan.pages.values import MONTH_PAGE, QUOTED_PAGE, RESULT_PAGES, STEP_PAGES, ResultPage
from sheetplan.workbook import style
from sheetplan.workbook.columns import LASTING_PAGES, MONTH_PAGES, MONTHLY_PAGES, QUOTES, START_PAGE
from sheetplan.workbook.page_links import quoted_page
from sheetplan.workbook.page_writer import draw_pages
from sheetplan.workbook.result_names import NAMED_COLUMNS
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.splice import splice_pages
from sheetplan.workbook.splice_names import OWN_PAGE
from sheetplan.workbook.template_gauges import GAUGES_PAGE, LISTS_PAGE, draw_gauges, draw_lists
from sheetplan.workbook.template_look import Look
from sheetplan.workbook.template_page import draw_page
from sheetplan.workbook.template_rows import with_empty
from sheetplan.workbook.template_shapes import SHAPES_PAGE, draw_shapes
from sheetplan.workbook.template_start import draw_start
from sheetplan.workbook.template_values import BookRows

NOTHING_RECORDED = "Nothing is recorded yet. Cuts, deliveries and finished parts come here once they are."

MADE = datetime.datetime(2000, 1, 1)
"""The date that the books say they were made: fixed, so that equal rows are equal bytes."""


def build_book(rows: BookRows, *, demo: bool) -> bytes:
    """A whole new book: the planner's pages with these rows, and empty result pages."""
    results = draw_pages(_result_pages(), rows.units, names=NAMED_COLUMNS)
    return splice_pages(_planner_pages(rows, demo=demo), results)


def _result_pages() -> tuple[ResultPage, ...]:
    """The result pages before the first plan.

    Only Problems has its table, which the message columns look into; the others get theirs with
    the first plan.
    """
    pages = [
        page if page.name == "Problems" else replace(page, lines=(NO_PLAN,), tables=())
        for page in empty_pages()
    ]
    steps = [ResultPage(name, name, (NOTHING_RECORDED,)) for name in STEP_PAGES]
    return (*pages[:-1], bare_quoted_page(), *steps, bare_month_page(), pages[-1])


def _places(book: Any, names: Sequence[str]) -> None:
    """The places of pages that the tool owns."""
    for name in names:
        book.add_worksheet(name)
        book.define_name(f"{quoted_page(name)}!{OWN_PAGE}", f"={quoted_page(name)}!$A$1")


def _tab_of(page: InputPage) -> str:
    if page in MONTH_PAGES:
        return style.TAB_MONTHS_END
    return style.TAB_MONTHLY if page in MONTHLY_PAGES else style.TAB_LASTING


def _planner_pages(rows: BookRows, *, demo: bool) -> bytes:
    """All pages but the results, which only get their places."""
    import xlsxwriter

    memory = io.BytesIO()
    book = xlsxwriter.Workbook(memory, {"in_memory": True, "strings_to_urls": False})
    book.set_properties({"title": "sheetplan workbook", "created": MADE})
    book.set_calc_mode("auto")
    look = Look(book, rows.units)
    draw_start(book, book.add_worksheet(START_PAGE), rows.units, look, demo=demo)
    _places(book, RESULT_PAGES)
    for page in (*MONTHLY_PAGES, *LASTING_PAGES, *MONTH_PAGES):
        sheet = book.add_worksheet(page.name)
        sheet.set_tab_color(_tab_of(page))
        draw_page(sheet, page, rows, with_empty(page, rows, demo=demo), look)
        if page is QUOTES:
            _places(book, (QUOTED_PAGE,))
        if page is MONTHLY_PAGES[-1]:
            _places(book, STEP_PAGES)
    _places(book, (MONTH_PAGE,))
    draw_gauges(book, book.add_worksheet(GAUGES_PAGE), rows.units, look)
    draw_shapes(book.add_worksheet(SHAPES_PAGE), rows.units, look)
    draw_lists(book, book.add_worksheet(LISTS_PAGE), rows, look)
    book.close()
    return memory.getvalue()
