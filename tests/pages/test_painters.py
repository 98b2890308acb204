"""One drawing painted as PNG and PDF: the same marks at the same places."""

from __future__ import annotations

import io

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from reportlab.lib.rl_accel import fp_str

from sheetplan.model import Plan
from sheetplan.pages.drawing.files import picture_png, png
from sheetplan.pages.drawing.marks import Area, Drawing, Hold, Line, Words, box
from sheetplan.pages.paper.paper import number_text, paint, use_faces

DRAWING = Drawing(
    200.0,
    100.0,
    (
        Area((box(10, 10, 90, 90), box(30, 30, 70, 70)), "#FF0000", "#000000", 2.0),
        Area((box(40, 40, 60, 60),), "#0000FF"),
        Line(((100, 20), (190, 20)), "#008000", 4.0),
        Words('<Ä & 1/4">', 145, 60, 12, "#000000", Hold.MIDDLE),
        Words("up", 110, 60, 12, "#000000", Hold.START, upward=True),
    ),
    'a "test" & more',
)


def pixels(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data)).convert("RGB")


@pytest.mark.parametrize("dots", [72.0, 144.0])
def test_png_is_to_scale_with_holes_open_and_y_upwards(dots: float) -> None:
    image = pixels(png(DRAWING, dots))
    scale = dots / 72
    assert image.size == (200 * scale, 100 * scale)

    def at(x: float, y: float) -> tuple[int, int, int]:
        found = image.getpixel((int(x * scale), int((100 - y) * scale)))
        assert isinstance(found, tuple)
        return found

    assert at(20, 20) == (255, 0, 0)
    assert at(35, 35) == (255, 255, 255)
    assert at(50, 50) == (0, 0, 255)
    assert at(150, 20) == (0, 128, 0)
    assert at(150, 90) == (255, 255, 255)


def test_png_holds_dark_text_where_the_words_are() -> None:
    image = pixels(png(DRAWING, 144.0)).convert("L")
    words = image.crop((2 * 115, 2 * 30, 2 * 175, 2 * 50))
    upward = image.crop((2 * 100, 2 * 20, 2 * 116, 2 * 40))
    assert min(words.tobytes()) < 80
    assert min(upward.tobytes()) < 80


def test_the_same_drawing_gives_the_same_bytes() -> None:
    assert png(DRAWING) == png(DRAWING)


def test_pdf_keeps_text_and_vectors() -> None:
    from reportlab.pdfgen.canvas import Canvas

    use_faces()
    held = io.BytesIO()
    canvas = Canvas(held, pagesize=(300, 200), invariant=True)
    paint(DRAWING, canvas, 50.0, 25.0)
    canvas.save()
    page = pypdf.PdfReader(io.BytesIO(held.getvalue())).pages[0]
    assert '<Ä & 1/4">' in page.extract_text()
    assert b"10 10 m" in page.get_contents().get_data()  # type: ignore[union-attr]
    assert "/XObject" not in page["/Resources"]  # no raster pictures


def test_a_layout_as_a_file_of_its_own(inch_plan: Plan) -> None:
    layout = inch_plan.groups[1].layouts[0]
    image = pixels(picture_png(layout, inch_plan.job, dots_per_inch=100.0))
    assert min(image.size) > 300


@settings(max_examples=500)
@given(st.floats(-2e4, 2e4) | st.floats(-2.0, 2.0) | st.floats(-1e-6, 1e-6) | st.integers(-2000, 2000))
def test_numbers_are_written_as_reportlab_writes_them(value: float) -> None:
    """Outside reference: reportlab's own function."""
    assert number_text(value) == fp_str(value)
