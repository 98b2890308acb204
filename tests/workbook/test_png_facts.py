import io

import pytest
from PIL import Image

from sheetplan.workbook.writing.page_writer import png_facts


# Pillow as the reference reader and writer of PNG.
@pytest.mark.parametrize(("size", "dpi"), [((80, 40), 96), ((1, 3000), 144), ((640, 480), 72)])
def test_size_and_resolution_agree_with_pillow(size: tuple[int, int], dpi: int) -> None:
    memory = io.BytesIO()
    Image.new("RGB", size).save(memory, "PNG", dpi=(dpi, dpi))
    facts = png_facts(memory.getvalue())
    assert (facts.width, facts.height) == size
    assert facts.dpi_x == pytest.approx(dpi, rel=1e-3)
    assert facts.dpi_y == pytest.approx(dpi, rel=1e-3)


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"\x89PNG\r\n\x1a\n", b"\x89PNG\r\n\x1a\n" + bytes(40)])
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    with pytest.raises(ValueError, match="picture"):
        png_facts(data)


def test_a_picture_without_pixels_is_refused() -> None:
    memory = io.BytesIO()
    Image.new("RGB", (2, 2)).save(memory, "PNG")
    data = bytearray(memory.getvalue())
    data[16:24] = bytes(8)
    with pytest.raises(ValueError, match="no pixels"):
        png_facts(bytes(data))
