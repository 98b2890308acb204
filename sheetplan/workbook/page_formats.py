"""The look of each kind of cell, as XlsxWriter formats; each look is made once per book."""

from __future__ import annotations

from typing import Any

from sheetplan.pages.values import Kind
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.page_grid import GridCell, Role
from sheetplan.workbook.safe_text import looks_like_formula

LINK_INK = "#0B5A6F"
"""Ink of a link: dark enough on white (WCAG 2.1 AA) and told from body text by its underline too."""

LONGEST_AS_TEXT = 255
"""Longer text in a cell formatted as text is shown as #### by some programs, so it is left general."""

_NUMBERS = frozenset(Kind) - {Kind.TEXT, Kind.PICTURE}
_ROWS = (Role.BODY, Role.TOTAL)


class Formats:
    """Gives the format of a cell, making each different one once in ``book``."""

    def __init__(self, book: Any, units: Units) -> None:
        self._book = book
        self._units = units
        self._made: dict[tuple[tuple[str, Any], ...], Any] = {}

    def of(self, cell: GridCell, tall: bool = False) -> Any:
        """Return the XlsxWriter format in which to write the cell; in a tall row text stands at the top."""
        properties = self._properties(cell) | ({"valign": "top"} if tall and cell.role in _ROWS else {})
        key = tuple(sorted(properties.items()))
        if key not in self._made:
            self._made[key] = self._book.add_format(properties)
        return self._made[key]

    def _properties(self, cell: GridCell) -> dict[str, Any]:
        look: dict[str, Any] = {
            "font_name": style.FONT,
            "font_size": style.BODY_SIZE,
            "font_color": style.INK,
            "valign": "vcenter",
        }
        text = cell.value if isinstance(cell.value, str) else None
        if text is not None and looks_like_formula(text):
            look["quote_prefix"] = True
        if cell.wrap:
            look["text_wrap"] = True
        if cell.role is Role.TITLE:
            look |= {"font_size": style.TITLE_SIZE, "bold": True}
        elif cell.role is Role.CAPTION:
            look |= {"bold": True, "valign": "bottom"}
        elif cell.role is Role.HEAD:
            look |= {
                "bold": True,
                "bg_color": style.HEAD_FILL,
                "bottom": 1,
                "bottom_color": style.QUIET,
                "valign": "bottom",
            }
            look |= _side(cell)
        elif cell.role in _ROWS:
            look |= self._row_look(cell, text)
        return look

    def _row_look(self, cell: GridCell, text: str | None) -> dict[str, Any]:
        """Look of a cell in a row of a table."""
        look: dict[str, Any] = {"bottom": 1, "bottom_color": style.LINE}
        if cell.role is Role.TOTAL:
            look |= {"bold": True, "top": 1, "top_color": style.QUIET, "bg_color": style.HELPER_FILL}
        if text is None and cell.kind in _NUMBERS:
            look["num_format"] = style.number_format(cell.kind, self._units)
        elif text is not None and len(text) <= LONGEST_AS_TEXT:
            look["num_format"] = style.number_format(Kind.TEXT, self._units)
        look |= _side(cell)
        if cell.link is not None:
            look |= {"font_color": LINK_INK, "underline": 1}
        return look


def _side(cell: GridCell) -> dict[str, Any]:
    """Numbers to the right; text to the left, and off the number that may end beside it."""
    if cell.kind in _NUMBERS:
        return {"align": "right"}
    return {"align": "left", "indent": 1} if cell.column else {"align": "left"}
