"""What the live columns show is what the parts weigh."""

import pytest

from sheetplan.drawings.quick import QuickRow, quick_outline
from sheetplan.drawings.shape_table import ShapeWord
from sheetplan.model import Material
from sheetplan.shapes import area
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import MATERIALS, PARTS, REMNANTS, STOCK
from sheetplan.workbook.reading.metals import priced_amount
from sheetplan.workbook.schema import PricePer
from sheetplan.workbook.template.values import BookRows, shown

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


def test_holes_and_drawings_are_weighed_by_a_plan_alone() -> None:
    plain = weight(Width=10, Length="12 1/2")
    # Source: theoretical weight of 1/4 in steel plate, 10.21 lb/ft2.
    assert plain == pytest.approx(10 * 12.5 / 144 * 10.21, rel=1e-3)
    assert weight(Width=10, Length="12 1/2", Holes="4 x 9/16 at 1") == ""
    assert weight(Width=10, Length="12 1/2", Corner="r 1") == ""
    assert weight(Width=10, Length="12 1/2", Drawing="plate.dxf") == ""
    assert weight(Width="wide", Length=12) == weight(Width=10, Length=10, Shape="ring", Inside="x") == ""


def test_a_remnant_weighs_nothing_where_its_corner_is_missing() -> None:
    row = {"Tag": "R-1", "Material": "mild steel", "Thickness": "1/4", "Width": 48, "Length": 96}
    gone = {"Missing width": 20, "Missing length": "30 1/2", "Missing corner": "upper right"}
    book = BookRows(Units.INCH, BOOK)
    assert shown(REMNANTS, row, book)["Weight"] == pytest.approx(48 * 96 * 0.25 * 0.2836)
    expected = (48 * 96 - 20 * 30.5) * 0.25 * 0.2836
    assert shown(REMNANTS, {**row, **gone}, book)["Weight"] == pytest.approx(expected)
    with_cuts = shown(REMNANTS, {**row, **gone, "Cut away": 100.0}, book)["Weight"]
    assert with_cuts == pytest.approx(expected - 100.0 * 0.25 * 0.2836)


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("per", [*PricePer, None])
def test_the_live_price_of_a_sheet_is_the_one_that_a_plan_reads(units: Units, per: PricePer | None) -> None:
    density, mm = {Units.INCH: 0.2836, Units.MM: 7850.0}[units], units.length_mm
    rows = {**BOOK, MATERIALS.name: [{**BOOK[MATERIALS.name][0], "Density": density}]}
    row = {"Sheet": "S", "Material": "mild steel", "Thickness": "3 mm", "Width": 40, "Length": 90,
           "Price": 2.0, "Price per": per}  # fmt: skip
    each = shown(STOCK, row, BookRows(units, rows))["Price each"]
    metal = Material("mild steel", "carbon steel", 7850.0)
    amount = priced_amount(per or PricePer.SHEET, 40 * 90 * mm * mm, metal, Thickness(3.0, "3 mm"), units)
    assert each == pytest.approx(2.0 * amount, rel=1e-3)


def test_the_live_price_takes_the_weight_that_is_billed() -> None:
    row = {"Sheet": "S", "Material": "mild steel", "Thickness": "10 ga", "Width": 48, "Length": 96,
           "Price": 0.62, "Price per": "weight"}  # fmt: skip
    book = BookRows(Units.INCH, BOOK)
    real = shown(STOCK, row, book)["Price each"]
    assert real == pytest.approx(0.62 * 48 * 96 * 0.1345 * 0.2836)
    assert shown(STOCK, {**row, "Billed weight": "real"}, book)["Price each"] == real
    # Source: 15 U.S.C. 206, 10 gauge: 5.625 lb/ft2.
    assert shown(STOCK, {**row, "Billed weight": 180}, book)["Price each"] == pytest.approx(0.62 * 180)
    assert shown(STOCK, {**row, "Billed weight": "published"}, book)["Price each"] == ""
