"""How each cell of a result page looks, as a value that every host can draw."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sheetplan.pages.values import Kind
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.page_grid import GridCell, PageGrid, Role
from sheetplan.workbook.safe_text import looks_like_formula

LINK_INK = "#0B5A6F"
"""Ink of a link: dark enough on white (WCAG 2.1 AA) and told from body text by its underline too."""

LONGEST_AS_TEXT = 255
"""Longer text in a cell formatted as text is shown as #### by some programs, so it is left general."""

GENERAL = "General"

_NUMBERS = frozenset(Kind) - {Kind.TEXT, Kind.PICTURE}
_ROWS = (Role.BODY, Role.TOTAL)


@dataclass(frozen=True, slots=True)
class Look:
    """Font, fill, lines and place of the text; colours as ``#RRGGBB``, None where there is none."""

    size: int = style.BODY_SIZE
    bold: bool = False
    underline: bool = False
    ink: str = style.INK
    fill: str | None = None
    line_above: str | None = None
    line_below: str | None = None
    number_format: str = GENERAL
    side: str | None = None
    """left, right, or None for the program's own habit."""
    height: str = "centre"
    """centre or bottom."""
    indent: int = 0
    wrap: bool = False
    marked_as_text: bool = False
    """Whether the cell carries the mark that keeps its text from becoming a formula when edited."""


def look_of(cell: GridCell, units: Units) -> Look:
    """Look of a cell.

    Text stands in the middle of its row, also in a tall one: at the top it would touch the line above, and
    in print look half hidden under the headings.
    """
    text = cell.value if isinstance(cell.value, str) else None
    look = Look(wrap=cell.wrap, marked_as_text=text is not None and looks_like_formula(text))
    if cell.role is Role.TITLE:
        return replace(look, size=style.TITLE_SIZE, bold=True)
    if cell.role is Role.LABEL:
        return replace(look, ink=style.QUIET, side="left", height="bottom", wrap=False)
    if cell.role is Role.FIGURE:
        number = _number_format(cell, text, units)
        return replace(look, size=style.FIGURE_SIZE, bold=True, side="left", number_format=number, wrap=False)
    if cell.role is Role.CAPTION:
        return replace(look, bold=True, height="bottom")
    if cell.role is Role.HEAD:
        look = replace(look, bold=True, fill=style.HEAD_FILL, line_below=style.QUIET, height="bottom")
        return _on_its_side(look, cell)
    if cell.role in _ROWS:
        look = replace(look, line_below=style.LINE, number_format=_number_format(cell, text, units))
        if cell.banded:
            look = replace(look, fill=style.BAND_FILL)
        if cell.asks:
            look = replace(look, fill=style.INPUT_FILL)
        if cell.strong:
            look = replace(look, bold=True)
        if cell.large:
            look = replace(look, bold=True, size=style.LARGE_SIZE)
        if cell.role is Role.TOTAL:
            look = replace(look, bold=True, line_above=style.QUIET, fill=style.HELPER_FILL)
        if cell.link is not None:
            look = replace(look, ink=LINK_INK, underline=True)
        return _on_its_side(look, cell)
    return look


def looks_of(grid: PageGrid, units: Units) -> list[Look]:
    """Look of every cell of a grid, in order."""
    return [look_of(cell, units) for cell in grid.cells]


def _number_format(cell: GridCell, text: str | None, units: Units) -> str:
    if text is None:
        return style.number_format(cell.kind, units) if cell.kind in _NUMBERS else GENERAL
    return style.number_format(Kind.TEXT, units) if len(text) <= LONGEST_AS_TEXT else GENERAL


def _on_its_side(look: Look, cell: GridCell) -> Look:
    """Numbers to the right; text to the left, and off the number that may end beside it."""
    if cell.kind in _NUMBERS:
        return replace(look, side="right")
    return replace(look, side="left", indent=1 if cell.column else 0)
