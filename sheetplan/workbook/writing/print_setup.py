"""How a page of the book fits its paper: which way round, how wide its columns are, where a new sheet
begins.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor, inf
from typing import Any

from sheetplan.pages.values import (
    POINTS_PER_CHARACTER,
    Cell,
    Column,
    Kind,
    Link,
    Picture,
    ResultPage,
    ResultTable,
)
from sheetplan.trade.units import MM_PER_INCH, Units
from sheetplan.workbook import style
from sheetplan.workbook.text import clean_text

# How a page of the book prints: which way round, on how many sheets of paper across, how many rows on each.
#
# Inch books print on Letter, millimetre books on A4. A page is fitted to the paper's width, but not below
# the least scale: type of 10 points then still comes out at 6.5. A page that is wider still runs on to a
# second sheet of paper, its first column repeated.
#
# Every page prints: text that wraps is narrowed first (`column_widths`). Input pages print whole columns, so
# that rows added later print too, and without their messages (`template.page`).

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

_POINTS_PER_CHARACTER, _CELL_POINTS = 1.07 * POINTS_PER_CHARACTER, 1.07 * 3.75
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
        return PrintSetup(landscape=False, across=1, scale=min(1.0, upright))
    room = _room(units, landscape=True)[0]
    across = max(1, ceil(LEAST_SCALE * wanted / room))
    return PrintSetup(landscape=True, across=across, scale=min(1.0, across * room / wanted))


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


# Where a page of several tables begins a new sheet of paper, so that no table is torn or stands headless.
#
# Terms
# block
#     A table with its caption above and its chart below.
# room
#     Height that one sheet of paper takes, in points of the page itself.
#
# Rows count from 0. A page has one row of headings that is repeated: it comes on the sheets of paper after
# its own, so it is that of the last table, which alone may be torn without losing them.

SURE = 0.94
"""Of the room: programs differ a little in the heights of rows."""

ROWS_WITH_HEADINGS = 4
"""Rows of a long table that its headings take along where it begins low on the paper."""


@dataclass(frozen=True, slots=True)
class Block:
    """Its first row (the caption's, if there is one), the row of its headings, and its last row."""

    first: int
    head: int
    last: int


@dataclass(frozen=True, slots=True)
class Breaks:
    """Rows at which a new sheet of paper begins, and whether the last block is torn all the same."""

    rows: tuple[int, ...]
    last_is_torn: bool


def breaks(blocks: Sequence[Block], heights: Mapping[int, float], room: float) -> Breaks:
    """Where a new sheet of paper begins.

    A block that would be torn goes to the next sheet whole. One that is longer than a sheet begins where it
    stands, if its first rows fit there, and is torn then.

    Parameters
    ----------
    blocks : sequence of Block
        In the order of the page.
    heights : mapping
        Height in points of each row that is not of the usual one.
    room : float
        Height of one sheet of paper, in points.
    """
    # A row that comes just after the end of what is surely there may still stand at the foot of that sheet.
    perhaps = room * (1.0 - SURE)
    room *= SURE

    def height(first: int, last: int) -> float:
        return sum(heights.get(row, ROW_POINTS) for row in range(first, last + 1))

    found: list[int] = []
    used, row, torn = 0.0, 0, False
    for block in blocks:
        used += height(row, block.first - 1)
        whole = height(block.first, block.last)
        least = whole if whole <= room else height(block.first, block.head + ROWS_WITH_HEADINGS)
        at_foot = used >= room and used % room < perhaps
        if at_foot or used % room + least > room:
            found.append(block.first)
            used = 0.0
        torn = used % room + whole > room
        used += whole
        row = block.last + 1
    return Breaks(tuple(found), torn)


# How wide the columns of a result page must be, in characters of body text.

CELL_PADDING = 1.5
"""Characters that the two edges of a cell take up."""

FILTER_FROM = 12
"""Tables with fewer rows carry no filter buttons: there is nothing to search, and they hide headings.

Nor do tables with pictures, which stay where they are when rows are hidden.
"""

HEADING_ROOM = 3.0
"""Characters that the button in a table's heading takes up, padding included."""

NARROWED_TO = 12.0
"""Text that wraps stays readable down to this width, where a page would be too wide for its paper."""

WIDEST_BY_CONTENT = 46.0
"""A column that was not asked to be wider grows to this for its text; longer text wraps."""

BARE_PAGE = 96.0
"""Width of a page without tables: what a landscape sheet of paper shows at full size."""

LEAST = 4.0

_HAIR = 0.001
"""Of a hundredth: what a width that was rounded already may lie below its hundredths."""

_BOLD = 1.06
"""Bold letters are this much wider."""

_SPACE = 0.6
_NARROW = frozenset(" .,:;'`()[]{}-fijlI")
_WIDE = frozenset("mwMW@%&")
_WIDEST = 1.76
_CAPITAL = 1.28
_SQUARE_FROM = 0x2E80
"""Scripts and signs from here on are as wide as they are high."""


def column_widths(page: ResultPage, units: Units) -> tuple[float, ...]:
    """Width of each column so that every table on the page can be read (characters).

    On a page that would be too wide for its paper, columns of text that wraps are narrowed, all by the
    same share, until it fits or they are as narrow as they may be.
    """
    wide = _needs(page, units, inf)
    if not wide:
        return (BARE_PAGE,)
    hidden = {j for table in page.tables for j, column in enumerate(table.columns) if column.hidden}
    shown = [width for j, width in enumerate(wide) if j not in hidden]
    over = sum(shown) - most_characters(len(shown), units)
    if over <= 0.0:
        return wide
    least = _needs(page, units, NARROWED_TO)
    slack = sum(shown) - sum(low for j, low in enumerate(least) if j not in hidden)
    share = min(1.0, over / slack) if slack > 0.0 else 0.0
    return tuple(_rounded_down(w - share * (w - low)) for w, low in zip(wide, least, strict=True))


def _rounded_down(width: float) -> float:
    """To the hundredth, so that the sum comes out no hair above the paper's width."""
    return floor(100.0 * width + _HAIR) / 100.0


def is_filtered(table: ResultTable) -> bool:
    """Whether the headings of a table carry filter buttons."""
    return len(table.rows) >= FILTER_FROM and all(c.kind is not Kind.PICTURE for c in table.columns)


def _needs(page: ResultPage, units: Units, wrapped_to: float) -> tuple[float, ...]:
    """Width that each column asks for where text that wraps asks for no more than ``wrapped_to``."""
    widths: list[float] = []
    for table in page.tables:
        rows = table.rows if table.total is None else (*table.rows, table.total)
        button = HEADING_ROOM if is_filtered(table) else CELL_PADDING
        for j, column in enumerate(table.columns):
            asked = min(column.width, wrapped_to) if column.wrap else column.width
            need = _column_need(column, [row[j] for row in rows], units, asked, button)
            if j == len(widths):
                widths.append(need)
            else:
                widths[j] = max(widths[j], need)
    return tuple(widths)


def text_width(text: str) -> float:
    """Width of text in digits of the body font (Calibri and its metric twin Carlito), on the safe side.

    >>> text_width("007")
    3.0
    """
    return sum(_character_width(character) for character in text)


def lines_needed(text: str, width: float, *, bold: bool = False) -> int:
    """Lines that text takes in a cell of this width, words kept whole.

    >>> lines_needed("Sheet length, in", 11)
    2
    """
    room = width / (_BOLD if bold else 1.0)
    return sum(_wrapped(line, room) for line in text.split("\n"))


def _wrapped(line: str, room: float) -> int:
    """Lines of one paragraph: each word goes beside the one before where there is room."""
    lines, used = 1, 0.0
    for word in line.split(" "):
        need = text_width(word)
        if used and used + _SPACE + need > room:
            lines, used = lines + 1, need
        else:
            used += need + (_SPACE if used else 0.0)
        while used > room > 0:  # a word wider than the cell is broken
            lines, used = lines + 1, used - room
    return lines


def _character_width(character: str) -> float:
    if character in _NARROW:
        return _SPACE
    if ord(character) >= _SQUARE_FROM:
        return 2.0
    if character in _WIDE:
        return _WIDEST
    return _CAPITAL if character.isupper() else 1.0


def _column_need(
    column: Column, values: list[Cell], units: Units, asked: float, heading_room: float
) -> float:
    """Width that one column of one table asks for."""
    words = style.heading(column.heading, column.kind, units).split() or [""]
    need = max(LEAST, asked, max(text_width(word) for word in words) * _BOLD + heading_room)
    bigger = _BOLD * style.LARGE_SIZE / style.BODY_SIZE if column.large else 1.0
    for value in values:
        need = max(need, bigger * _value_need(value, column, units))
    return round(need, 2)


def _value_need(value: Cell, column: Column, units: Units) -> float:
    if value is None:
        return 0.0
    if isinstance(value, Picture):
        return value.width / POINTS_PER_CHARACTER + 2 * CELL_PADDING
    if isinstance(value, Link):
        value = value.text
    if isinstance(value, str):
        if column.wrap:
            return 0.0
        longest = max(text_width(line) for line in clean_text(value).split("\n"))
        return min(longest + CELL_PADDING, WIDEST_BY_CONTENT)
    return _digits(style.shown(value, column.kind, units), column.kind, units) + CELL_PADDING


def _digits(value: float, kind: Kind, units: Units) -> int:
    """Characters of a number as its format shows it: a number cut short would show as a row of ####."""
    if not math.isfinite(value):
        return 7
    if kind is Kind.SHARE:
        return len(f"{value:.1%}")
    if kind is Kind.HOURS:
        return len(f"{value * style.HOURS_A_DAY:.0f} h 00 min")
    if kind in (Kind.MONEY_CHANGE, Kind.COUNT_CHANGE, Kind.AREA_CHANGE):
        decimals = len(style.number_format(kind, units).partition(";")[0].partition(".")[2])
        return len(f"{value:+,.{decimals}f}")
    if kind in (Kind.TEXT, Kind.PICTURE):
        return min(len(f"{value:g}"), 11)
    code = style.number_format(kind, units)
    decimals = len(code.partition(".")[2])
    return len(f"{value:,.{decimals}f}")
