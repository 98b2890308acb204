"""Numbers in texts with a comma where the book asks for it: on pages, in pictures, on paper; names stay."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.model import Plan
from sheetplan.money.figures import plan_figures
from sheetplan.pages.book.results import result_pages
from sheetplan.pages.values import Link, ResultPage
from sheetplan.pages.wording import Decimals, decimals_of
from tests.pages.drawn import tickets
from tests.pages.pdf_reading import pages_of, words

TODAY = datetime.date(2026, 11, 3)
POINT = re.compile(r"(?<![\w-])\d*\.\d")


@pytest.fixture
def with_comma(mm_plan: Plan) -> Plan:
    """The plan of a book that asks for commas, in millimetres."""
    settings = replace(mm_plan.job.settings, decimal_comma=True)
    return replace(mm_plan, job=replace(mm_plan.job, settings=settings))


def texts(pages: tuple[ResultPage, ...]) -> list[str]:
    cells = [cell for page in pages for table in page.tables for row in table.rows for cell in row]
    said = [cell.text if isinstance(cell, Link) else cell for cell in cells]
    lines = [line for page in pages for line in (page.title, *page.lines, *page.notes)]
    return [one for one in (*lines, *said) if isinstance(one, str)]


def test_pages_and_tickets_of_a_book_with_commas(with_comma: Plan) -> None:
    figures = plan_figures(with_comma)
    pages = result_pages(with_comma, figures, today=TODAY, mark="KRTM")
    assert any(POINT.search(one) for one in texts(pages))
    assert not [one for one in texts(decimals_of(with_comma.job).pages(pages)) if POINT.search(one)]
    printed = [
        word.text for page in pages_of(tickets(with_comma, TODAY, {}))
        for word in words(page)
    ]  # fmt: skip
    assert any("," in word and word.replace(",", "").isdigit() for word in " ".join(printed).split())
    assert not [one for one in printed if POINT.search(one)]


def test_a_book_with_points_is_left_as_it_is(inch_plan: Plan) -> None:
    pages = result_pages(inch_plan, plan_figures(inch_plan), today=TODAY, mark="KRTM")
    assert decimals_of(inch_plan.job).pages(pages) == pages


@given(st.floats(0.0, 1e7), st.integers(0, 3))
def test_every_number_that_is_written_is_turned_whole(value: float, digits: int) -> None:
    said = f"{value:,.{digits}f}"
    turned = Decimals(True).said(f"Paid {said} EUR.")
    assert turned == f"Paid {said.translate(str.maketrans('.,', ',.'))} EUR."


@pytest.mark.parametrize("text", [
    "layouts/plan-KRTM/L1_KRTM_0.25.dxf", "PLATE#1,250", "CB-1.5", "2026-11-24", "Write `1.250` or '12.5'.",
    "L1, L2, 3 of them.", "1.2.3",
])  # fmt: skip
def test_what_is_no_number_stays(text: str) -> None:
    assert Decimals(True).said(text) == text


def test_names_stay_wherever_they_stand() -> None:
    with_names = Decimals(True, frozenset({"PL 2.5", "2.5"}))
    assert with_names.said("4 PL 2.5 weigh 3.5 kg; order 2.5") == "4 PL 2.5 weigh 3,5 kg; order 2.5"
