"""The formats of the template, each made once per book."""

from __future__ import annotations

from typing import Any

from sheetplan.pages.values import Kind
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.schema import Holds

_TEXT_LIKE = (Holds.TEXT, Holds.CHOICE, Holds.REFERENCE, Holds.THICKNESS, Holds.YES_NO)
_KINDS = {
    Holds.COUNT: Kind.COUNT, Holds.MONEY: Kind.MONEY, Holds.SHARE: Kind.SHARE,
}  # fmt: skip

GENERAL = "General"
DATE = "yyyy-mm-dd"


def input_format(holds: Holds, units: Units) -> str:
    """The number format of an input column.

    Text-like columns are text, so that a spreadsheet program leaves `3/16` and `10-12` alone. Lengths are
    general: they stand as they were typed, 48 or 1250.
    """
    if holds in _TEXT_LIKE:
        return style.number_format(Kind.TEXT, units)
    if holds is Holds.DATE:
        return DATE
    return style.number_format(_KINDS[holds], units) if holds in _KINDS else GENERAL


class Look:
    """Gives XlsxWriter formats by what a cell is."""

    def __init__(self, book: Any, units: Units) -> None:
        self._book = book
        self._units = units
        self._made: dict[tuple[tuple[str, Any], ...], Any] = {}

    def title(self) -> Any:
        """The page's title."""
        return self._get(font_size=style.TITLE_SIZE, bold=True)

    def line(self, *, bold: bool = False, wrap: bool = False, quiet: bool = False) -> Any:
        """Running text."""
        return self._get(
            bold=bold, text_wrap=wrap, font_color=style.QUIET if quiet else style.INK, valign="top"
        )

    def figure(self, number_format: str) -> Any:
        """A large figure."""
        look = {"font_size": style.FIGURE_SIZE - 2, "bold": True, "align": "left", "valign": "top"}
        return self._get(**look, num_format=number_format)

    def link(self) -> Any:
        """A link to another page."""
        return self._get(font_color=style.INK, underline=1, valign="top")

    def box(self, fill: str, *, bold: bool = False, ink: str = style.INK, wrap: bool = False) -> Any:
        """A filled cell with a border."""
        return self._get(**_bordered(fill), bold=bold, font_color=ink, text_wrap=wrap, valign="top")

    def head(self, *, needed: bool, live: bool = False) -> Any:
        """A heading; bold where every row has to fill the column.

        Up and to the left, out of the way of the filter button in the lower right corner.
        """
        return self._get(
            **_bordered(style.HELPER_FILL if live else style.HEAD_FILL), **_aligned(right=False),
            bold=needed, text_wrap=True, valign="top", font_color=style.QUIET if live else style.INK,
        )  # fmt: skip

    def input(self, holds: Holds) -> Any:
        """A cell that the planner fills."""
        look = {**_bordered(style.INPUT_FILL), **_aligned(right=holds not in _TEXT_LIKE), **_MIDDLE}
        return self._get(**look, num_format=input_format(holds, self._units))

    def live(self, number_format: str = GENERAL, *, wrap: bool = False) -> Any:
        """A cell with a formula of the template, or with text that is for reading only."""
        look = {**_bordered(style.HELPER_FILL), **_aligned(right=number_format != GENERAL), **_MIDDLE}
        return self._get(**look, text_wrap=wrap, font_color=style.QUIET, num_format=number_format)

    def message(self) -> Any:
        """The cell that shows what the tool says about the row.

        It does not wrap: it is the last column, so that a long message runs on to the right, while
        a row would not grow by itself when its formula changes.
        """
        look = {**_bordered("#FFFFFF"), **_aligned(right=False), **_MIDDLE}
        return self._get(**look, font_color=style.WARN_INK)

    def warned(self) -> Any:
        """How a row looks that has a message."""
        return self._book.add_format({"bg_color": style.WARN_FILL, "font_color": style.WARN_INK})

    def _get(self, **properties: Any) -> Any:
        whole = {"font_name": style.FONT, "font_size": style.BODY_SIZE, "font_color": style.INK, **properties}
        key = tuple(sorted(whole.items()))
        if key not in self._made:
            self._made[key] = self._book.add_format(whole)
        return self._made[key]


def _aligned(*, right: bool) -> dict[str, Any]:
    """Numbers to the right, text to the left with a little room before it."""
    return {"align": "right"} if right else {"align": "left", "indent": 1}


_MIDDLE = {"valign": "vcenter"}


def _bordered(fill: str) -> dict[str, Any]:
    return {"bg_color": fill, "border": 1, "border_color": style.LINE}
