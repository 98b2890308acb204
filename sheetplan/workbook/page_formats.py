"""Looks as XlsxWriter formats; each look is made once per book."""

from __future__ import annotations

from typing import Any

from sheetplan.workbook import style
from sheetplan.workbook.page_looks import GENERAL, Look

_THIN = 1
_HEIGHTS = {"centre": "vcenter", "bottom": "bottom"}


class Formats:
    """Gives the format of a look, making each different one once in ``book``."""

    def __init__(self, book: Any) -> None:
        self._book = book
        self._made: dict[Look, Any] = {}

    def of(self, look: Look) -> Any:
        """Return the XlsxWriter format."""
        if look not in self._made:
            self._made[look] = self._book.add_format(_properties(look))
        return self._made[look]


def _properties(look: Look) -> dict[str, Any]:
    """Spell a look as XlsxWriter's properties."""
    wanted: dict[str, Any] = {
        "font_name": style.FONT,
        "font_size": look.size,
        "font_color": look.ink,
        "bold": look.bold,
        "underline": 1 if look.underline else 0,
        "valign": _HEIGHTS[look.height],
        "text_wrap": look.wrap,
        "quote_prefix": look.marked_as_text,
        "indent": look.indent,
    }
    if look.side:
        wanted["align"] = look.side
    if look.fill:
        wanted["bg_color"] = look.fill
    if look.line_above:
        wanted |= {"top": _THIN, "top_color": look.line_above}
    if look.line_below:
        wanted |= {"bottom": _THIN, "bottom_color": look.line_below}
    if look.number_format != GENERAL:
        wanted["num_format"] = look.number_format
    return wanted
