import io
import time

import pytest
from PIL import Image

from sheetplan.drawings.reading.drawing import read_bytes
from sheetplan.drawings.writing.picture import DOUBT, EDGE, MARK, METAL, TROUBLE, report_picture
from sheetplan.trade.units import Units
from tests.nasty.test_drawings import ALL

BY_NAME = {nasty.name: nasty for nasty in ALL}


def colours(name: str) -> dict[str, int]:
    """Pixels of each of our colours in the picture of a nasty drawing."""
    nasty = BY_NAME[name]
    report = read_bytes(name, nasty.data, nasty.choices, time.process_time)
    image = Image.open(io.BytesIO(report_picture(report, Units.MM))).convert("RGB")
    counts = dict.fromkeys((METAL, EDGE, MARK, TROUBLE, DOUBT), 0)
    for count, pixel in image.getcolors(1_000_000):
        colour = "#{:02X}{:02X}{:02X}".format(*pixel)
        if colour in counts:
            counts[colour] += count
    return counts


def test_a_good_part_is_metal_with_an_edge() -> None:
    seen = colours("loose_lines_in_no_order")
    assert seen[METAL] > 20_000
    assert seen[EDGE] > 100
    assert seen[TROUBLE] == seen[DOUBT] == 0


def test_trouble_is_marked_where_it_is() -> None:
    assert colours("a_stray_line_in_the_part")[TROUBLE] > 50
    assert colours("bend_line_on_the_cut_layer")[DOUBT] > 10
    crossing = colours("outline_crossing_itself")
    assert crossing[METAL] == 0
    assert crossing[TROUBLE] > 200


@pytest.mark.parametrize(("name", "is_metal"), [
    ("empty_file", False), ("nothing_drawn", False), ("holes_by_use", True), ("far_from_zero", True),
])  # fmt: skip
def test_anything_can_be_pictured(name: str, is_metal: bool) -> None:
    assert (colours(name)[METAL] > 1_000) is is_metal


def test_same_picture_every_time() -> None:
    nasty = BY_NAME["panels_with_shared_edges"]
    report = read_bytes("x", nasty.data, nasty.choices, time.process_time)
    assert report_picture(report, Units.MM) == report_picture(report, Units.MM)
