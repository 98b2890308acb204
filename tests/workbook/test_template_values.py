"""What the live columns show is what the parts weigh."""

import pytest

from sheetplan.drawings.quick_words import QuickRow, quick_outline
from sheetplan.drawings.shape_words import ShapeWord
from sheetplan.shapes import area
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import MATERIALS, PARTS, REMNANTS
from sheetplan.workbook.template_values import BookRows, shown

BOOK = {
    MATERIALS.name: [{"Material": "mild steel", "Gauge system": "carbon steel", "Density": 0.2836}],
    PARTS.name: [],
}
BARE = dict.fromkeys(("Part", "Inside", "Corner", "Holes", "Drawing", "Shape"), None)


def weight(**cells: object) -> object:
    row = {**BARE, "Material": "mild steel", "Thickness": "1/4", **cells}
    return shown(PARTS, row, BookRows(Units.INCH, BOOK))["Weight each"]


@pytest.mark.parametrize("shape", [word for word in ShapeWord if word is not ShapeWord.STRAP])
def test_every_shape_weighs_what_its_outline_does(shape: ShapeWord) -> None:
    takes_inside = shape in (ShapeWord.RING, ShapeWord.TRAPEZOID, ShapeWord.ELL)
    inside = 3 if takes_inside else None
    outline = quick_outline(QuickRow(shape, 254.0, 254.0, 76.2 if takes_inside else None), Units.INCH)
    expected = area(outline) / 25.4**2 * 0.25 * 0.2836
    assert weight(Width=10, Length=10, Shape=shape.value, Inside=inside) == pytest.approx(expected)


def test_holes_are_not_taken_off_and_a_drawing_is_not_weighed() -> None:
    plain = weight(Width=10, Length="12 1/2")
    # Source: theoretical weight of 1/4 in steel plate, 10.21 lb/ft2.
    assert plain == pytest.approx(10 * 12.5 / 144 * 10.21, rel=1e-3)
    assert weight(Width=10, Length="12 1/2", Holes="4 x 9/16 at 1", Corner="r 1") == plain
    assert weight(Width=10, Length="12 1/2", Drawing="plate.dxf") == ""
    assert weight(Width="wide", Length=12) == weight(Width=10, Length=10, Shape="ring", Inside="x") == ""


def test_a_remnant_weighs_nothing_where_its_corner_is_missing() -> None:
    row = {"Tag": "R-1", "Material": "mild steel", "Thickness": "1/4", "Width": 48, "Length": 96}
    gone = {"Missing width": 20, "Missing length": "30 1/2", "Missing corner": "upper right"}
    book = BookRows(Units.INCH, BOOK)
    assert shown(REMNANTS, row, book)["Weight"] == pytest.approx(48 * 96 * 0.25 * 0.2836)
    expected = (48 * 96 - 20 * 30.5) * 0.25 * 0.2836
    assert shown(REMNANTS, {**row, **gone}, book)["Weight"] == pytest.approx(expected)
