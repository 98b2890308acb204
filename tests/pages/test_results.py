"""The pages of the book in its two states: planned, and new."""

from __future__ import annotations

import datetime
import math
from dataclasses import replace

import pytest

from sheetplan.model import Plan, Problem, Weight
from sheetplan.money.figures import plan_figures
from sheetplan.pages.book.problems import problems_page
from sheetplan.pages.book.results import Files, empty_pages, result_pages
from sheetplan.pages.values import RESULT_PAGES, Kind, Link, Picture, ResultPage
from tests.pages.drawn import layout_pictures

TODAY = datetime.date(2026, 11, 3)


def pages_of(plan: Plan) -> tuple[ResultPage, ...]:
    figures = plan_figures(plan)
    files = Files({"L1": "layouts/L1.dxf"}, layout_pictures(plan, figures))
    return result_pages(plan, figures, today=TODAY, mark="KRTM", files=files)


def states(plan: Plan) -> dict[str, tuple[ResultPage, ...]]:
    return {
        "planned": pages_of(plan),
        "new": empty_pages(),
    }


def test_every_state_has_every_page_in_the_order_of_the_book(inch_plan: Plan) -> None:
    for pages in states(inch_plan).values():
        assert tuple(page.name for page in pages) == RESULT_PAGES


def test_tables_keep_names_and_columns_in_every_state_so_that_formulas_hold(inch_plan: Plan) -> None:
    shapes = {
        state: {
            table.name: tuple(replace(column, hidden=False) for column in table.columns)
            for page in pages for table in page.tables
        }
        for state, pages in states(inch_plan).items()
    }
    for name, columns in shapes["planned"].items():
        assert shapes["new"][name] == columns
    names = [table.name for page in pages_of(inch_plan) for table in page.tables]
    assert len(names) == len(set(names))


def test_a_new_book_has_no_rows(inch_plan: Plan) -> None:
    assert all(not table.rows and table.total is None for page in empty_pages() for table in page.tables)


def test_cells_are_what_their_column_says(inch_plan: Plan, mm_plan: Plan) -> None:
    allowed: dict[Kind, tuple[type, ...]] = {
        Kind.TEXT: (str, Link),
        Kind.COUNT: (int,),
        Kind.PICTURE: (Picture,),
    }
    for plan in (inch_plan, mm_plan):
        for page in pages_of(plan):
            for table in page.tables:
                for row in (*table.rows, *((table.total,) if table.total else ())):
                    assert len(row) == len(table.columns), table.name
                    for cell, column in zip(row, table.columns, strict=True):
                        if cell is not None:
                            assert isinstance(cell, allowed.get(column.kind, (float, int))), (column, cell)
                        assert not isinstance(cell, float) or math.isfinite(cell)


@pytest.mark.parametrize("weight", list(Weight))
def test_a_row_is_found_by_page_and_number(weight: Weight) -> None:
    page = problems_page([Problem("Parts", 12, "E12", "The width is 0.", "Write more.", weight)])
    where, what, todo, matters, said, key, turn, place = page.tables[0].rows[0]
    assert where == Link("Parts!E12", "#Parts!E12")
    assert (what, todo, matters, key) == ("The width is 0.", "Write more.", str(weight), "Parts!12")
    assert (said, turn, place) == (None, "Parts!12/1", None)  # nobody has said what stands in the cell
