"""What the live columns show, worked out here so that a new book has values before it is recalculated.

As in the formulas, what cannot be worked out from a faulty row stays blank.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sheetplan.drawings.shape_table import ShapeWord
from sheetplan.trade.lengths import parse_length
from sheetplan.trade.thickness import parse_thickness
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import (
    CUTTING,
    KITS,
    MATERIALS,
    NO_GAUGES,
    ORDERS,
    PARTS,
    PURCHASES,
    RACK_COUNT,
    REMNANT_SHAPES,
    REMNANTS,
    STOCK,
)
from sheetplan.workbook.schema import BilledBy, InputPage, MissingPiece, PricePer

Row = Mapping[str, Any]
"""A row's cells by heading; empty ones are None."""

Shown = str | float
BLANK = ""
UNREAD = "?"


@dataclass(frozen=True, slots=True)
class BookRows:
    """All rows that the planner's pages hold, by page name, and the book's units."""

    units: Units
    rows: Mapping[str, Sequence[Row]]

    def of(self, page: InputPage) -> Sequence[Row]:
        """The rows of a page."""
        return self.rows.get(page.name, ())


def shown(page: InputPage, row: Row, book: BookRows) -> dict[str, Shown]:
    """What the live columns of one row show, by heading."""
    makers = {
        MATERIALS.name: _materials, CUTTING.name: _cutting, PARTS.name: _parts, KITS.name: _kits,
        ORDERS.name: _orders, STOCK.name: _stock, REMNANTS.name: _remnants,
        PURCHASES.name: _sheets, RACK_COUNT.name: _sheets,
    }  # fmt: skip
    maker = makers.get(page.name)
    if maker is None:
        return {}
    if all(value is None for value in row.values()):
        return {helper.heading: BLANK for helper in page.helpers}
    return maker(row, book)


def _materials(row: Row, book: BookRows) -> dict[str, Shown]:
    factor = 144.0 if book.units is Units.INCH else 1 / 1000
    return {"Weight of a plate": _count(row["Density"]) * factor}


def _cutting(row: Row, book: BookRows) -> dict[str, Shown]:
    return {"Read as": _read_as(row, book)}


def _parts(row: Row, book: BookRows) -> dict[str, Shown]:
    loose = sum(_count(order["Quantity"]) for order in book.of(ORDERS) if order["Item"] == row["Part"])
    in_kits = sum(
        _count(kit["Quantity"]) * _kits_ordered(kit, book)
        for kit in book.of(KITS)
        if kit["Part"] == row["Part"]
    )
    more = any(row.get(heading) for heading in ("Drawing", "Holes", "Corner"))
    weight = BLANK if more else _weight(row, book, _part_area(row, book))
    return {"Read as": _read_as(row, book), "Weight each": weight, "Ordered": loose + in_kits}


def _kits(row: Row, book: BookRows) -> dict[str, Shown]:
    texts = [part["Description"] or BLANK for part in book.of(PARTS) if part["Part"] == row["Part"]]
    ordered = _kits_ordered(row, book)
    return {
        "Description": texts[0] if texts else BLANK,
        "Kits ordered": ordered,
        "Pieces": _count(row["Quantity"]) * ordered,
    }


def _kits_ordered(row: Row, book: BookRows) -> float:
    return sum(_count(order["Quantity"]) for order in book.of(ORDERS) if order["Item"] == row["Kit"])


def _orders(row: Row, book: BookRows) -> dict[str, Shown]:
    quantity = _count(row["Quantity"])
    in_kit = sum(_count(kit["Quantity"]) for kit in book.of(KITS) if kit["Kit"] == row["Item"])
    if in_kit:
        return {"Kit or part": "kit", "Pieces": quantity * in_kit}
    if any(part["Part"] == row["Item"] for part in book.of(PARTS)):
        return {"Kit or part": "part", "Pieces": quantity}
    return {"Kit or part": UNREAD, "Pieces": BLANK}


def _stock(row: Row, book: BookRows) -> dict[str, Shown]:
    size = _area(row, book)
    weight = _weight(row, book, size)
    amount = _priced_amount(row["Price per"], _billed(row, weight), size, book.units)
    known = row["Price"] is not None and not isinstance(amount, str)
    each = _count(row["Price"]) * float(amount) if known else BLANK
    return {"Read as": _read_as(row, book), "Weight each": weight, "Price each": each}


def _billed(row: Row, weight: Shown) -> Shown:
    """The weight that is billed; blank for a published one, which is no live figure."""
    billed = row.get("Billed weight")
    if billed in (None, "", BilledBy.REAL):
        return weight
    return BLANK if billed == BilledBy.PUBLISHED else float(str(billed))


def _priced_amount(per: Any, weight: Shown, size: float | None, units: Units) -> Shown:
    """How much of what a price is for one sheet has; blank where that is not known."""
    if per in (None, PricePer.SHEET):
        return 1.0
    area = None if size is None else size * units.length_mm**2
    kilograms = weight if isinstance(weight, str) else float(weight) * units.weight_kg
    by = {PricePer.WEIGHT: units, PricePer.KILOGRAM: Units.MM, PricePer.POUND: Units.INCH}
    if per in by:
        return kilograms if isinstance(kilograms, str) else kilograms / by[per].weight_kg
    over = {PricePer.AREA: units, PricePer.SQUARE_METRE: Units.MM, PricePer.SQUARE_FOOT: Units.INCH}
    return BLANK if area is None or per not in over else area / over[per].area_mm2


def _remnants(row: Row, book: BookRows) -> dict[str, Shown]:
    taped = not row.get("Shape") and any(one["Tag"] == row["Tag"] for one in book.of(REMNANT_SHAPES))
    weight = BLANK if taped else _weight(row, book, _remnant_area(row, book))
    return {"Read as": _read_as(row, book), "Weight": weight}


def _sheets(row: Row, book: BookRows) -> dict[str, Shown]:
    """Rows of pages that count sheets; an empty count is one."""
    whole = _area(row, book)
    area = None if whole is None else whole - _missing_by_tag(row, book)
    each = BLANK if row["Width"] is None or row["Length"] is None else _weight(row, book, area)
    count = 1 if row["Sheets"] is None else _count(row["Sheets"])
    return {"Read as": _read_as(row, book), "Weight by size": each if isinstance(each, str) else count * each}


def _missing_by_tag(row: Row, book: BookRows) -> float:
    """Area missing at the corner of the remnant whose tag and size a counted row has; 0 without one."""
    found = [one for one in book.of(REMNANTS) if row.get("Tag") and one["Tag"] == row["Tag"]][:1]
    for one in found:
        whole, left = _area(one, book), _remnant_area(one, book)
        if whole is not None and left is not None and all(one[s] == row[s] for s in ("Width", "Length")):
            return whole - left
    return 0.0


def _material(row: Row, book: BookRows) -> Row | None:
    found = (material for material in book.of(MATERIALS) if material["Material"] == row["Material"])
    return next(found, None)


def _read_as(row: Row, book: BookRows) -> Shown:
    material = _material(row, book)
    system = material["Gauge system"] if material else NO_GAUGES
    try:
        return parse_thickness(row["Thickness"], system, book.units).mm / book.units.length_mm
    except ValueError:
        return UNREAD


def _weight(row: Row, book: BookRows, area: float | None) -> Shown:
    """Weight of so much of the row's metal, ``area`` in the book's units; blank where one is not known."""
    thickness, material = _read_as(row, book), _material(row, book)
    if isinstance(thickness, str) or material is None or area is None:
        return BLANK
    scale = 1.0 if book.units is Units.INCH else 1e-9
    return area * thickness * _count(material["Density"]) * scale


def _area(row: Row, book: BookRows) -> float | None:
    """Width times length in the book's units; None where one of them is no length."""
    try:
        width, length = (_length(row[side], book) for side in ("Width", "Length"))
    except ValueError:
        return None
    return width * length


def _remnant_area(row: Row, book: BookRows) -> float | None:
    """Area without what is missing at a corner or cut away; None where one of the sizes is no length."""
    whole = _area(row, book)
    sides = (row.get("Missing width"), row.get("Missing length"))
    if whole is None:
        return None
    whole -= _count(row.get("Cut away"))
    if None in sides:
        return whole
    try:
        gone_width, gone_length = (_length(side, book) for side in sides)
    except ValueError:
        return None
    share = 0.5 if row.get("Missing piece") == MissingPiece.TRIANGLE else 1.0
    return whole - share * gone_width * gone_length


def _part_area(row: Row, book: BookRows) -> float | None:
    """Area of a shape without holes and corners by its sizes; None where they are no lengths."""
    whole = _area(row, book)
    if whole is None:
        return None
    width, length = (_length(row[side], book) for side in ("Width", "Length"))
    try:
        inside = _length(row["Inside"], book) if row.get("Inside") is not None else 0.0
    except ValueError:
        return None
    shapes = {
        ShapeWord.DISC: math.pi / 4.0 * whole,
        ShapeWord.RING: math.pi / 4.0 * (whole - inside**2),
        ShapeWord.GUSSET: whole / 2.0,
        ShapeWord.TRAPEZOID: width * (length + inside) / 2.0,
        ShapeWord.ELL: inside * (width + length - inside),
        ShapeWord.TAB: width * (length - width / 2.0 + math.pi / 8.0 * width),
    }
    return shapes.get(row.get("Shape") or ShapeWord.RECTANGLE, whole)


def _length(value: Any, book: BookRows) -> float:
    return parse_length(value, book.units) / book.units.length_mm


def _count(value: Any) -> float:
    """A number, or nothing for what is none."""
    return value if isinstance(value, int | float) else 0
