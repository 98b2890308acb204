"""Draw one input page: its table with drop-downs, notes, live columns and messages."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Any

from sheetplan.pages.values import Kind
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.columns import SETTINGS
from sheetplan.workbook.schema import (
    MESSAGE,
    NOT_STATED,
    SETTING_ROWS,
    Holds,
    InputColumn,
    InputPage,
    SettingRow,
    note_in,
)
from sheetplan.workbook.template.formulas import (
    FIRST_ROW,
    HEAD_ROW,
    LIST_ITEMS,
    LIST_MATERIALS,
    LIST_PARTS,
    formulas,
    message_formula,
)
from sheetplan.workbook.template.values import BookRows, Row, shown
from sheetplan.workbook.writing import print_setup
from sheetplan.workbook.writing.grid import GENERAL, LINE_POINTS
from sheetplan.workbook.writing.print_setup import CELL_PADDING, INPUT_ROW_POINTS, ROW_POINTS, lines_needed

# The formats of the template, each made once per book.

_TEXT_LIKE = (Holds.TEXT, Holds.CHOICE, Holds.REFERENCE, Holds.THICKNESS, Holds.YES_NO)
_KINDS = {
    Holds.COUNT: Kind.COUNT, Holds.MONEY: Kind.MONEY, Holds.SHARE: Kind.SHARE,
}  # fmt: skip

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


# Draw one input page: its table with drop-downs, notes, live columns and messages.

MESSAGE_WIDTH = 40.0
MESSAGE_NOTE = (
    "What the tool found wrong with this row when it last looked; the page Problems says what to do "
    "about it. It goes once the cell that it is about is changed."
)
NOTE_WIDTH, NOTE_LINE_POINTS, NOTE_CHARACTERS = 260, 14, 44
"""Size of a heading's note: pixels wide, points a line, characters a line."""

_LAST_ROW = 1_048_575
"""Of a page, from 0: a print area down to here is one of whole columns (ECMA-376 allows 1,048,576 rows)."""

_LISTS = {
    ("Materials",): LIST_MATERIALS,
    ("Parts",): LIST_PARTS,
    ("Kits", "Parts"): LIST_ITEMS,
}
"""The drop-down for names of other pages."""


def printed_widths(page: InputPage) -> tuple[float, ...]:
    """Widths of the columns that are printed.

    Whole columns, so that rows that the planner adds are printed too; without the messages, which the page
    Problems lists, and without live columns where the page is wide enough as it is.
    """
    live = page.helpers if page.prints_live else ()
    return (*(column.width for column in page.columns), *(helper.width for helper in live))


def draw_page(sheet: Any, page: InputPage, book: BookRows, rows: Sequence[Row], look: Look) -> None:
    """Draw a page with the given rows, the empty ones at the end included."""
    set_up(sheet, page.name, book.units, printed_widths(page))
    sheet.print_area(0, 0, _LAST_ROW, len(printed_widths(page)) - 1)
    sheet.write_string(0, 0, page.title, look.title())
    sheet.set_default_row(INPUT_ROW_POINTS)
    sheet.set_row(0, style.TITLE_SIZE * 1.5)
    said = f"{page.line} Columns with bold headings have to be filled."
    sheet.write_string(1, 0, said, look.line(quiet=True))
    sheet.set_row(HEAD_ROW, 30)
    sheet.freeze_panes(FIRST_ROW, 1)
    sheet.repeat_rows(HEAD_ROW)
    _table(sheet, page, len(rows))
    _headings(sheet, page, book.units, look)
    for number, row in enumerate(rows):
        _row(sheet, page, FIRST_ROW + number, row, book, look)
    last = HEAD_ROW + max(1, len(rows))
    for place, column in enumerate(page.columns):
        _allow(sheet, column, place, last)
    if page is SETTINGS:
        _allow_settings(sheet)
    message = len(page.headings) - 1
    sheet.conditional_format(FIRST_ROW, 0, last, message, {
        "type": "formula", "criteria": f'=${_letter(message)}{FIRST_ROW + 1}<>""', "format": look.warned(),
    })  # fmt: skip
    sheet.ignore_errors({"number_stored_as_text": f"A{FIRST_ROW + 1}:{_letter(message)}{last + 1}"})


def set_up(sheet: Any, name: str, units: Units, widths: Sequence[float], *, tall: int = 0) -> None:
    """Screen and print set-up that all pages of the template share; ``tall`` 1: all on one sheet of paper."""
    sheet.hide_gridlines(2)
    print_setup.apply(sheet, print_setup.print_setup(widths, units), name, units, tall=tall)


def _table(sheet: Any, page: InputPage, rows: int) -> None:
    done = sheet.add_table(HEAD_ROW, 0, HEAD_ROW + max(1, rows), len(page.headings) - 1, {
        "name": page.table, "style": None, "autofilter": page is not SETTINGS,
        "columns": [{"header": heading} for heading in page.headings],
    })  # fmt: skip
    if done != 0:
        raise ValueError(f"the table {page.table} cannot stand on its page")


def _headings(sheet: Any, page: InputPage, units: Units, look: Look) -> None:
    for place, column in enumerate(page.columns):
        sheet.write_string(HEAD_ROW, place, column.heading, look.head(needed=column.required))
        sheet.set_column(place, place, column.width)
        _note(sheet, place, _input_note(column, units))
    for place, helper in enumerate(page.helpers, start=len(page.columns)):
        sheet.write_string(HEAD_ROW, place, helper.heading, look.head(needed=False, live=True))
        sheet.set_column(place, place, helper.width)
        _note(sheet, place, note_in(helper.note, units))
    last = len(page.headings) - 1
    sheet.write_string(HEAD_ROW, last, MESSAGE, look.head(needed=False, live=True))
    sheet.set_column(last, last, MESSAGE_WIDTH)
    _note(sheet, last, MESSAGE_NOTE)


def _input_note(column: InputColumn, units: Units) -> str:
    text = note_in(column.note, units)
    if column.choices:
        text += "\nOne of: " + ", ".join(column.choices) + "."
    if column.example:
        text += f"\nFor example: {note_in(column.example, units)}"
    return f"{text}\n{f'Empty means {column.blank}.' if column.blank else 'Has to be filled.'}"


def _note(sheet: Any, place: int, text: str) -> None:
    write_note(sheet, HEAD_ROW, place, text)


def write_note(sheet: Any, row: int, place: int, text: str) -> None:
    """A cell's note, as large as its text."""
    lines = sum(1 + len(line) // NOTE_CHARACTERS for line in text.splitlines())
    sheet.write_comment(row, place, text, {
        "author": "sheetplan", "width": NOTE_WIDTH, "height": NOTE_LINE_POINTS * 96 / 72 * (lines + 1),
        "color": style.NOTE_FILL, "font_name": style.FONT, "font_size": style.BODY_SIZE,
    })  # fmt: skip


def _row(sheet: Any, page: InputPage, at: int, row: Row, book: BookRows, look: Look) -> None:
    for place, column in enumerate(page.columns):
        holds = column.holds
        if page is SETTINGS and column.heading == "Value":
            holds = next(setting.holds for setting in SETTING_ROWS if setting.name == row["Setting"])
        fixed = page is SETTINGS and column.heading != "Value"
        form = look.live(wrap=True) if fixed else look.input(holds)
        _write(sheet, at, place, row.get(column.heading), form)
    if page is SETTINGS:
        said = page.column("What it does")
        lines = lines_needed(str(row[said.heading]), said.width - CELL_PADDING)
        sheet.set_row(at, ROW_POINTS + (lines - 1) * LINE_POINTS)
    live = formulas(page, book.units)
    values = shown(page, row, book)
    for place, helper in enumerate(page.helpers, start=len(page.columns)):
        form = look.live(_live_format(helper.heading, book.units))
        sheet.write_formula(at, place, live[helper.heading], form, values[helper.heading])
    sheet.write_formula(at, len(page.headings) - 1, message_formula(page), look.message(), "")


def _write(sheet: Any, at: int, place: int, value: Any, form: Any) -> None:
    if value is None:
        sheet.write_blank(at, place, None, form)
    elif isinstance(value, datetime.date):
        sheet.write_datetime(at, place, datetime.datetime(value.year, value.month, value.day), form)
    elif isinstance(value, str):
        sheet.write_string(at, place, value, form)
    else:
        sheet.write_number(at, place, value, form)


def _live_format(heading: str, units: Units) -> str:
    """Number format of a live column."""
    kinds = {
        "Price each": Kind.MONEY, "Ordered": Kind.COUNT,
        "Pieces": Kind.COUNT, "Kits ordered": Kind.COUNT,
    }  # fmt: skip
    if heading in kinds:
        return style.number_format(kinds[heading], units)
    if heading == "Read as":
        return "0.0000" if units is Units.INCH else "0.00"
    return "#,##0.00" if heading.startswith("Weight") else GENERAL


def _allow(sheet: Any, column: InputColumn, place: int, last: int) -> None:
    """The drop-down or the limits of a column."""
    rule = _rule(column.holds, column.choices)
    if column.sources:
        rule = {
            "validate": "list", "source": f"={_LISTS[tuple(source.page for source in column.sources)]}",
            "error_type": "warning", "error_title": f"Not on the page {column.sources[-1].page}",
            "error_message": "This name is not known yet. Keep it only if you are going to add it there.",
        }  # fmt: skip
    if rule:
        sheet.data_validation(FIRST_ROW, place, last, place, rule)


def _allow_settings(sheet: Any) -> None:
    for number, setting in enumerate(SETTING_ROWS):
        rule = _rule(setting.holds, setting.choices)
        if rule:
            sheet.data_validation(FIRST_ROW + number, 1, FIRST_ROW + number, 1, rule)


def _rule(holds: Holds, choices: tuple[str, ...]) -> dict[str, Any] | None:
    """What may be typed into cells that hold this."""
    if choices:
        return {"validate": "list", "source": list(choices), "error_title": "Not on the list",
                "error_message": "Pick one of: " + ", ".join(choices) + "."}
    if holds is Holds.COUNT:
        return {"validate": "integer", "criteria": ">=", "value": 0, "error_title": "Not a whole number",
                "error_message": "Write a whole number, 0 or more."}
    if holds is Holds.SHARE:
        # Up to 100, since a cell that is no longer formatted in per cent takes 85 as it is.
        return {"validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 100,
                "error_title": "Not a share", "error_message": "Write 0% to 100%."}
    if holds in (Holds.MONEY, Holds.NUMBER):
        return {"validate": "decimal", "criteria": ">=", "value": 0, "error_title": "Not a number",
                "error_message": "Write a number, 0 or more."}
    return None


def setting_rows(units: Units) -> list[Row]:
    """The rows of the page Settings with their usual values."""
    return [_setting(row, units) for row in SETTING_ROWS]


def _setting(row: SettingRow, units: Units) -> Row:
    usual = row.usual_in(units)
    value = None if usual == NOT_STATED else usual
    return {"Setting": row.name, "Value": value, "What it does": note_in(row.note, units)}


def _letter(place: int) -> str:
    from xlsxwriter.utility import xl_col_to_name

    return str(xl_col_to_name(place))
