"""Widths of words are those that printed pages set them with."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.pages.lettering import shorten, text_width
from sheetplan.pages.paint_pdf import BOLD_FACE, PLAIN_FACE, use_faces

LETTERS = st.text(
    st.characters(min_codepoint=32, max_codepoint=0x24F, exclude_characters="\x7f"), max_size=30
)
ROUNDING = 0.002
"""reportlab keeps advances to the thousandth of the em."""


@given(LETTERS, st.booleans())
def test_widths_agree_with_the_printer(text: str, bold: bool) -> None:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    use_faces()
    printed = stringWidth(text, BOLD_FACE if bold else PLAIN_FACE, 10.0)
    assert text_width(text, 10.0, bold) == pytest.approx(printed, abs=10.0 * ROUNDING * (len(text) + 1))


@given(LETTERS, st.floats(5.0, 200.0))
def test_what_is_shortened_fits_and_is_a_beginning(text: str, room: float) -> None:
    short = shorten(text, 8.0, room)
    if short != text:
        assert short.endswith("…")
        assert text.startswith(short[:-1])
        assert text_width(short, 8.0) <= max(room, text_width("…", 8.0))


def test_what_fits_is_left_alone() -> None:
    assert shorten("CB-101", 8.0, 100.0) == "CB-101"
