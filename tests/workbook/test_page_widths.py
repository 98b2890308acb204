import string

import pytest
from PIL import ImageFont

from sheetplan.workbook.writing.print_setup import lines_needed, text_width
from tests.workbook.rendering import CARLITO, needs_carlito

TEXTS = (
    "mild steel 10 ga",
    "aluminium 5052 1/8 in",
    "CB-100, CB-110, WWW-MM-07",
    "WASTE AND YIELD",
    "Weight saved, lb",
    "The gap on the page Cutting is smaller than the kerf; make it at least as wide.",
    "1,234,567.89",
    "fill illicit",
    "R-017 @ A2 (96.0%) & more",
    "Größe des Blechs: 1500 x 3000 mm",
    '_~^`{}<>=+*#$?"',
)


@needs_carlito
@pytest.mark.parametrize("text", TEXTS)
def test_text_is_never_wider_than_counted_and_seldom_much_narrower(text: str) -> None:
    font = ImageFont.truetype(str(CARLITO), 1000)
    real = font.getlength(text) / font.getlength("0")
    assert real <= text_width(text) <= 1.5 * real + 1


@needs_carlito
def test_no_letter_is_wider_than_counted() -> None:
    font = ImageFont.truetype(str(CARLITO), 1000)
    digit = font.getlength("0")
    too_wide = [
        c
        for c in string.printable.split()[0] + string.punctuation + "äöüßÄÖÜéè"
        if font.getlength(c) / digit > text_width(c) + 0.08
    ]
    assert too_wide == []


def test_lines_are_counted_with_words_kept_whole() -> None:
    assert lines_needed("", 10) == 1
    assert lines_needed("one two", 20) == 1
    assert lines_needed("one two three", 8) == 2
    assert lines_needed("a\nb\nc", 20) == 3
    assert lines_needed("0" * 95, 20) == 5
    assert lines_needed("00000 00000", 11.5) == 1
    assert lines_needed("00000 00000", 11.5, bold=True) == 1
    assert lines_needed("00000 00000", 10.8, bold=True) == 2
