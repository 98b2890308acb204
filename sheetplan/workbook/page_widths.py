"""How wide the columns of a result page must be, in characters of body text."""

from __future__ import annotations

import math
from math import floor, inf

from sheetplan.pages.values import Cell, Column, Kind, Link, Picture, ResultPage, ResultTable
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.print_setup import most_characters
from sheetplan.workbook.safe_text import clean_text

POINTS_PER_CHARACTER = 5.25
"""Width of one digit of the body font: 7 pixels at 96 to the inch."""

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
