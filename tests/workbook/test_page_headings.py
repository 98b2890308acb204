"""Headings of neighbouring columns keep off one another, set in the font that the pages are set in."""

from collections.abc import Iterator

import pytest
from PIL import ImageFont

from sheetplan.model import Settings
from sheetplan.pages.book.quoted import quoted_page
from sheetplan.pages.values import Kind, ResultPage
from sheetplan.trade.units import Units
from sheetplan.workbook.writing.grid import headings_of
from sheetplan.workbook.writing.print_setup import column_widths
from tests.pages.test_month_page import NOVEMBER, page_of
from tests.pages.test_quoted import DAY, given
from tests.workbook.rendering import CARLITO, needs_carlito

BOLD = CARLITO.with_name("Carlito-Bold.ttf")

LEAST = 0.6
"""Digits between two headings: less looks like one word."""


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
    """Lines of headings that stand too near the line to their left; numbers' headings stand to the right."""
    bold = ImageFont.truetype(str(BOLD), 1000)
    digit = ImageFont.truetype(str(CARLITO), 1000).getlength("0")
    widths = column_widths(page, units)
    for table in page.tables:
        headings = headings_of(table, units)
        lines = [wrapped(*pair, bold, digit) for pair in zip(headings, widths, strict=False)]
        for j in range(1, len(headings)):
            if table.columns[j].kind is Kind.TEXT:
                continue
            free = widths[j - 1] if table.columns[j - 1].kind is Kind.TEXT else 0.0
            for (left, wide), (right, own) in zip(reversed(lines[j - 1]), reversed(lines[j]), strict=False):
                if widths[j] - own + max(0.0, free - wide) < LEAST:
                    yield f"{table.name}: {left} {right}"


@needs_carlito
@pytest.mark.parametrize("units", Units)
def test_headings_keep_off_one_another(units: Units) -> None:
    quotes = [given("Q-101", {1: 524.83, 10: 1060.28}), given("Q-102", {4: 88.16}, customer="boat club")]
    quoted = quoted_page(quotes, quotes, today=DAY, settings=Settings(units=units))
    assert list(touching(quoted, units)) == []
    assert list(touching(page_of(NOVEMBER, units), units)) == []
