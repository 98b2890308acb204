"""How a page of the book prints: which way round, on how many sheets of paper across, how many rows on each.

Inch books print on Letter, millimetre books on A4. A page is fitted to the paper's width, but not below the
least scale: type of 10 points then still comes out at 6.5. A page that is wider still runs on to a second
sheet of paper, its first column repeated.

Every page prints: text that wraps is narrowed first (`page_widths`). Input pages print whole columns, so that
rows added later print too, and without their messages (`template_page`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Any

from sheetplan.trade.units import MM_PER_INCH, Units

LETTER, A4 = 1, 9
"""Paper by its number (ECMA-376 part 1, 18.3.1.63)."""

LEAST_SCALE = 0.65
"""Body type of 10 points comes out at 6.5: smaller print is hard to read at arm's length."""

UPRIGHT_SCALE = 0.72
"""From this scale on a page stands upright: lists are longer than they are wide."""

SIDE_MARGIN, TOP_MARGIN, BOTTOM_MARGIN = 0.4, 0.6, 0.7
"""Inches; the footer stands in the lower one."""

ROW_POINTS = 15.0
"""Height of a row that nobody has set."""

INPUT_ROW_POINTS = 14.0
"""Height of a row of an input page, which no text wraps in: more of them stand on a sheet of paper."""

_POINTS = 72.0
_LETTER_INCHES = (8.5, 11.0)
_A4_INCHES = (210.0 / MM_PER_INCH, 297.0 / MM_PER_INCH)
"""ISO 216 A4; ANSI/ASME Y14.1 size A is Letter."""

_POINTS_PER_CHARACTER, _CELL_POINTS = 1.07 * 5.25, 1.07 * 3.75
"""A column of so many characters is 7 pixels for each and 5 for its edges, at 96 to the inch.

LibreOffice draws columns up to 7 per cent wider than that (measured), so a page is taken to be so wide.
"""


@dataclass(frozen=True, slots=True)
class PrintSetup:
    """Way round, sheets of paper across, and the scale that comes of it."""

    landscape: bool
    across: int
    scale: float


def print_setup(widths: Sequence[float], units: Units) -> PrintSetup:
    """The set-up for columns of these widths (characters)."""
    wanted = points_wide(widths)
    upright = _room(units, landscape=False)[0] / wanted
    if upright >= UPRIGHT_SCALE:
        return PrintSetup(False, 1, min(1.0, upright))
    room = _room(units, landscape=True)[0]
    across = max(1, ceil(LEAST_SCALE * wanted / room))
    return PrintSetup(True, across, min(1.0, across * room / wanted))


def points_wide(widths: Sequence[float]) -> float:
    """Width of columns at full scale, in points, at the most."""
    return sum(_POINTS_PER_CHARACTER * width + _CELL_POINTS for width in widths)


def most_characters(columns: int, units: Units) -> float:
    """Characters that so many columns may hold together on one sheet of paper at the least scale."""
    room = _room(units, landscape=True)[0] / LEAST_SCALE
    return (room - columns * _CELL_POINTS) / _POINTS_PER_CHARACTER


def room_on_paper(setup: PrintSetup, units: Units) -> float:
    """Height that one sheet of paper takes, in points of the page itself."""
    return _room(units, landscape=setup.landscape)[1] / setup.scale


def rows_on_paper(setup: PrintSetup, units: Units, height: float = ROW_POINTS) -> int:
    """Rows of one height, the usual one, that a sheet of paper takes."""
    return floor(room_on_paper(setup, units) / height)


def apply(sheet: Any, setup: PrintSetup, name: str, units: Units, *, tall: int = 0) -> None:
    """Set a page of XlsxWriter up; ``tall`` 1 puts it all on one sheet of paper."""
    if setup.landscape:
        sheet.set_landscape()
    else:
        sheet.set_portrait()
    sheet.set_paper(LETTER if units is Units.INCH else A4)
    sheet.set_margins(left=SIDE_MARGIN, right=SIDE_MARGIN, top=TOP_MARGIN, bottom=BOTTOM_MARGIN)
    sheet.fit_to_pages(setup.across, tall)
    if setup.across > 1:
        sheet.repeat_columns(0)
    sheet.set_footer(f"&L{name}&RPage &P of &N")


def _room(units: Units, *, landscape: bool) -> tuple[float, float]:
    """Width and height that may be printed on, in points."""
    short, long = _LETTER_INCHES if units is Units.INCH else _A4_INCHES
    width, height = (long, short) if landscape else (short, long)
    return (width - 2 * SIDE_MARGIN) * _POINTS, (height - TOP_MARGIN - BOTTOM_MARGIN) * _POINTS
