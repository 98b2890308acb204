"""Headings of neighbouring columns keep off one another, set in the font that the pages are set in."""

from collections.abc import Iterator
from dataclasses import replace

import pytest
from PIL import ImageFont

from sheetplan.model import Settings
from sheetplan.money.figures import plan_figures
from sheetplan.pages.book.made import made_page
from sheetplan.pages.book.quoted import quoted_page
from sheetplan.pages.values import Kind, ResultPage
from sheetplan.trade.units import Units
from sheetplan.workbook.writing.grid import headings_of
from sheetplan.workbook.writing.print_setup import column_widths, print_setup
from tests.pages.conftest import job, plan_of
from tests.pages.test_month_page import NOVEMBER, page_of
from tests.pages.test_quoted import DAY, given
from tests.workbook.rendering import CARLITO, needs_carlito

BOLD = CARLITO.with_name("Carlito-Bold.ttf")

LEAST = 0.6
"""Digits between two headings: less looks like one word."""

WIDER = 0.11
"""Share of a column's width by which a heading may be too long and yet stay on one line: LibreOffice 7 leaves
14.5 digits on one line of a column of 13.2 (measured on the page Month, printed to its paper's width)."""


def wrapped(text: str, width: float, bold: ImageFont.FreeTypeFont, digit: float) -> list[tuple[str, float]]:
    """The lines of a heading in a column so many digits wide, with their widths in digits."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and bold.getlength(longer) / digit > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return [(line, bold.getlength(line) / digit) for line in lines]


def touching(page: ResultPage, units: Units) -> Iterator[str]:
    """Lines of headings that stand too near the line to their left; numbers' headings stand to the right.

    Columns of which nothing is seen stand beside nothing.
    """
    bold = ImageFont.truetype(str(BOLD), 1000)
    digit = ImageFont.truetype(str(CARLITO), 1000).getlength("0")
    asked = column_widths(page, units)
    hidden = {j for table in page.tables for j, column in enumerate(table.columns) if column.hidden}
    for table in page.tables:
        seen = list(zip(headings_of(table, units), asked, table.columns, strict=False))
        seen = [one for j, one in enumerate(seen) if j not in hidden]
        for more in (0.0, WIDER):
            lines = [wrapped(heading, width * (1.0 + more), bold, digit) for heading, width, _ in seen]
            for j in range(1, len(seen)):
                (_, width, column), (_, before, other) = seen[j], seen[j - 1]
                if column.kind is Kind.TEXT:
                    continue
                free = before if other.kind is Kind.TEXT else 0.0
                pairs = zip(reversed(lines[j - 1]), reversed(lines[j]), strict=False)
                for (left, wide), (right, own) in pairs:
                    if width - own + max(0.0, free - wide) < LEAST:
                        yield f"{table.name}: {left} {right}"


@needs_carlito
@pytest.mark.parametrize("units", Units)
def test_headings_keep_off_one_another(units: Units) -> None:
    quotes = [given("Q-101", {1: 524.83, 10: 1060.28}), given("Q-102", {4: 88.16}, customer="boat club")]
    quoted = quoted_page(quotes, quotes, today=DAY, settings=Settings(units=units))
    assert list(touching(quoted, units)) == []
    assert list(touching(page_of(NOVEMBER, units), units)) == []


MANY = [given(f"Q-{number}", {1: 524.83, 10: 1060.28, 50: 9870.55}, customer="north pier, office")
        for number in range(101, 113)]  # fmt: skip
"""A full page of quotes: its tables carry filter buttons, which take room in the headings."""


@needs_carlito
@pytest.mark.parametrize("units", Units)
def test_headings_of_long_tables_keep_off_one_another(units: Units) -> None:
    quoted = quoted_page(MANY, MANY, today=DAY, settings=Settings(units=units))
    assert list(touching(quoted, units)) == []
    plan = plan_of(job(units))
    made = made_page(plan, plan_figures(plan))
    tables = [replace(one, rows=one.rows * 12) for one in made.tables]
    assert list(touching(replace(made, tables=tables), units)) == []


@pytest.mark.parametrize("units", Units)
def test_long_tables_and_a_month_print_on_one_sheet_across(units: Units) -> None:
    long = "harbour mooring ring set, galvanised, for the north pier and the slipway"
    named = [replace(one, line=replace(one.line, item=long)) for one in MANY]
    for quotes in (MANY, named):
        shown = quoted_page(quotes, quotes, today=DAY, settings=Settings(units=units))
        assert print_setup(column_widths(shown, units), units).across == 1
    assert print_setup(column_widths(page_of(NOVEMBER, units), units), units).across == 1
