"""Widths of words are those that printed pages set them with."""

from __future__ import annotations

import io

import pypdf
import pytest
from fontTools.pens.areaPen import AreaPen
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.pages.drawing.files import png
from sheetplan.pages.drawing.lettering import (
    _stand_ins,
    font_path,
    is_truetype,
    runs,
    shorten,
    stand_in,
    text_width,
    unprintable,
)
from sheetplan.pages.drawing.marks import Drawing, Hold, Words
from sheetplan.pages.paper.paper import (
    BOLD_FACE,
    NARROW_FACE,
    PLAIN_FACE,
    _letter_font,
    paint,
    use_faces,
)

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
    assert text_width(text, 10.0, bold=bold) == pytest.approx(printed, abs=10.0 * ROUNDING * (len(text) + 1))


@given(LETTERS, st.floats(5.0, 200.0))
def test_what_is_shortened_fits_and_is_a_beginning(text: str, room: float) -> None:
    short = shorten(text, 8.0, room)
    if short != text:
        assert short.endswith("…")
        assert text.startswith(short[:-1])
        assert text_width(short, 8.0) <= max(room, text_width("…", 8.0))


def test_what_fits_is_left_alone() -> None:
    assert shorten("CB-101", 8.0, 100.0) == "CB-101"


STEEL = "\u92fc\u677f-1 \u0416\u00e9"
"""Steel plate in Japanese, a number, a letter of Russian and one of French."""

needs_letters = pytest.mark.skipif(not _stand_ins(), reason="no typeface with more letters on this computer")


@needs_letters
def test_letters_that_the_face_lacks_come_from_one_that_has_them() -> None:
    (path, first), (own, rest) = runs(STEEL)
    assert (first, own, rest) == (STEEL[:2], "", STEEL[2:])
    # Read by another library: both letters stand in that face and in ours not.
    assert {ord(letter) for letter in first} <= TTFont(path, fontNumber=0).getBestCmap().keys()
    assert not {ord(letter) for letter in first} & TTFont(font_path()).getBestCmap().keys()


@needs_letters
@pytest.mark.parametrize("face", [PLAIN_FACE, NARROW_FACE])
def test_they_are_embedded_in_a_pdf_and_can_be_read_there(face: str) -> None:
    from reportlab.pdfbase.pdfmetrics import stringWidth
    from reportlab.pdfgen.canvas import Canvas

    use_faces()
    held = io.BytesIO()
    canvas = Canvas(held)
    paint(Drawing(200, 50, (Words(STEEL, 10, 20, 12, "#000000", Hold.START),), ""), canvas, 100, 100)
    canvas.save()
    page = pypdf.PdfReader(io.BytesIO(held.getvalue())).pages[0]
    assert STEEL in page.extract_text()
    fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
    described = [font["/FontDescriptor"] for font in fonts if "/FontDescriptor" in font]
    assert len(described) >= 2
    assert all("/FontFile2" in one for one in described)
    narrow = face == NARROW_FACE
    assert stringWidth(STEEL, face, 10.0) == pytest.approx(text_width(STEEL, 10.0, narrow=narrow), abs=0.2)


HANGUL = "\ud55c\uad6d-1"
"""Korea in Korean, which few faces with TrueType outlines hold, and a number."""


@pytest.mark.skipif(
    is_truetype(stand_in(HANGUL[0]) or font_path()), reason="no face with other outlines here that holds it"
)
def test_letters_of_a_face_with_other_outlines_are_embedded_one_by_one() -> None:
    """Drawn by another program they look as the face itself has them; the same text gives the same bytes."""
    from reportlab.pdfgen.canvas import Canvas

    def document() -> bytes:
        use_faces()
        held = io.BytesIO()
        canvas = Canvas(held, invariant=True)
        paint(Drawing(200, 50, (Words(HANGUL, 10, 20, 12, "#000000", Hold.START),), ""), canvas, 100, 100)
        canvas.save()
        return held.getvalue()

    page = pypdf.PdfReader(io.BytesIO(document())).pages[0]
    assert HANGUL in page.extract_text()
    assert unprintable(HANGUL) == ""
    fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
    described = [font["/FontDescriptor"] for font in fonts if "/FontDescriptor" in font]
    assert len(described) >= 3
    assert all("/FontFile2" in one for one in described)
    assert document() == document()
    theirs = TTFont(stand_in(HANGUL[0]), fontNumber=0)
    glyphs, names = theirs.getGlyphSet(), theirs.getBestCmap()
    for letter in HANGUL[:2]:
        built = TTFont(io.BytesIO(_letter_font(stand_in(letter), letter).face._ttf_data))
        areas = []
        for some, glyph in ((glyphs, names[ord(letter)]), (built.getGlyphSet(), "letter")):
            pen = AreaPen(some)
            some[glyph].draw(pen)
            areas.append(abs(pen.value))
        assert areas[1] == pytest.approx(areas[0], rel=0.01)
        width = glyphs[names[ord(letter)]].width / 1000.0
        assert text_width(letter, 1.0) == pytest.approx(width, abs=ROUNDING)


@needs_letters
def test_a_picture_shows_other_letters_than_boxes() -> None:
    def shown(text: str) -> bytes:
        return png(Drawing(60, 30, (Words(text, 10, 15, 16, "#000000", Hold.START),), ""))

    assert shown("\u92fc") != shown("\u677f")


def test_what_no_face_holds_is_named_once_and_what_shows_nothing_is_not() -> None:
    assert unprintable("CB-100 \u00e9\u0416\u200b") == ""
    nobody = "\U000F0000"  # for private use: no face of the system has it
    assert unprintable(f"A{nobody}B{nobody}") == nobody
    assert stand_in(nobody) == ""
