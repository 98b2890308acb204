"""Numbers, sizes and counts as a person in the shop says them, in the book's units."""

from __future__ import annotations

import datetime
import math

from sheetplan.model import Loop, Remnant, SheetSize
from sheetplan.rack.left_over import LeftOver
from sheetplan.shapes import as_circle, box, is_rectangle
from sheetplan.trade.units import Units

INCH_DIGITS = 3
"""Thousandths of an inch are the finest that a sheet or part size is written in."""

MM_DIGITS = 1

LIGHT = 10.0
"""Below so many pounds or kilograms a weight is said to the hundredth."""


def number(value: float, digits: int) -> str:
    """A number with at most so many decimals and no idle zeros.

    >>> number(48.0, 3), number(12.125, 3), number(-0.0001, 3)
    ('48', '12.125', '0')
    """
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def length_text(mm: float, units: Units) -> str:
    """A length with its unit, such as ``12.5 in``."""
    return f"{bare_length(mm, units)} {units.value}"


def bare_length(mm: float, units: Units) -> str:
    """A length without its unit."""
    return number(mm / units.length_mm, INCH_DIGITS if units is Units.INCH else MM_DIGITS)


HALF_UP = 1e-9
"""Lifts a half that rounding of sums has left a hair below, so that every Python says the same tenth."""


HAIR = 1e-9
"""Sums may leave a whole number so much above itself; that is not rounded up."""


def tenths(value: float) -> str:
    """A positive figure to the tenth, halves rounded up.

    >>> tenths(70.25), tenths(1234.0)
    ('70.3', '1,234.0')
    """
    return f"{value + HALF_UP:,.1f}"


def size_text(length: float, width: float, units: Units) -> str:
    """A size as the trade says it, width first, such as ``48 x 96 in``."""
    return f"{bare_length(width, units)} x {bare_length(length, units)} {units.value}"


CORNERS_OF_TRIANGLE = 3


def shape_text(edge: Loop, units: Units) -> str:
    """What a piece of metal is, by its outline: its size, or a disc by its diameter.

    >>> shape_text(Loop(((-50.0, 0.0, 1.0), (50.0, 0.0, 1.0))), Units.MM)
    'disc 100 mm across'
    """
    around = box(edge)
    size = size_text(around.length, around.width, units)
    if as_circle(edge) is not None:
        return f"disc {bare_length(around.length, units)} {units.value} across"
    if is_rectangle(edge):
        return size
    is_straight = not any(bulge for _, _, bulge in edge.vertices)
    is_triangle = is_straight and len(edge.vertices) == CORNERS_OF_TRIANGLE
    return f"triangle {size}" if is_triangle else f"{size} over all"


def weight_text(kg: float, units: Units) -> str:
    """A weight with its unit, such as ``148.2 lb``; light parts to the hundredth."""
    weight = kg / units.weight_kg
    return f"{weight:,.{2 if weight < LIGHT else 1}f} {units.weight}"


def money_text(amount: float) -> str:
    """An amount to the hundredth, without its currency."""
    return f"{amount:,.2f}"


def sheet_size(sheet: SheetSize | Remnant) -> tuple[float, float]:
    """Length and width of a sheet, or of the box of what is left of one, mm."""
    if isinstance(sheet, SheetSize):
        return sheet.length, sheet.width
    edge = box(sheet.edge)
    return edge.length, edge.width


def sheet_text(sheet: SheetSize | Remnant, units: Units) -> str:
    """A sheet's size; a remnant's with its tag in front."""
    size = size_text(*sheet_size(sheet), units)
    return f"{sheet.tag}: {size}" if isinstance(sheet, Remnant) else size


def under_text(sheet: SheetSize | Remnant, units: Units) -> str:
    """What lies on a remnant, such as ``under 14 sheets: up to 1,900 lb to move``; empty where nothing does.

    People lift by this weight, so it is rounded up.
    """
    if not isinstance(sheet, Remnant) or not sheet.above:
        return ""
    weight = math.ceil(sheet.weight_above / units.weight_kg - HAIR)
    most = "up to " if sheet.is_most else ""
    return f"under {counted(sheet.above, 'sheet')}: {most}{weight:,} {units.weight} to move"


def left_texts(left: LeftOver, units: Units) -> tuple[str, ...]:
    """What goes back to the rack from one sheet, a line for each piece."""
    found = []
    if left.room is not None:
        size = size_text(left.room.length, left.room.width, units)
        found.append(f"cropped to {size}" if left.cropped else f"as it is, with room for {size}")
    found += [
        f"from a hole, {shape_text(edge, units)}"
        + ("" if is_rectangle(edge) else f" with room for {size_text(room.length, room.width, units)}")
        for edge, room in zip(left.drop_out_edges, left.drop_outs, strict=True)
    ]
    return tuple(found)


def counted(count: int, one: str, many: str = "") -> str:
    """A count with its noun.

    >>> counted(1, "sheet"), counted(1200, "sheet"), counted(2, "box", "boxes")
    ('1 sheet', '1,200 sheets', '2 boxes')
    """
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def per_cent(share: float, digits: int = 1) -> str:
    """A share of 0..1 in per cent, such as ``81.5 %``."""
    return f"{100.0 * share:.{digits}f} %"


def date_text(day: datetime.date) -> str:
    """A date that nobody can read the wrong way round, such as ``2026-11-03``."""
    return day.isoformat()
