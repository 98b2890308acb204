"""The page Start: what to do, how the last plan went, and the cautions for the work."""

from __future__ import annotations

from typing import Any

from sheetplan.pages.plan_page import NO_PLAN
from sheetplan.pages.problems_page import problem_summary
from sheetplan.pages.values import CHOICES_PAGE, FITS_PAGE
from sheetplan.trade.cautions import DEFERENCE, GENERAL, particular
from sheetplan.trade.gauges import SERIES
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.columns import INPUT_PAGES, MONTH_PAGES, START_PAGE
from sheetplan.workbook.page_links import quoted_page
from sheetplan.workbook.template_formulas import ON_OPENING
from sheetplan.workbook.template_look import Look
from sheetplan.workbook.template_page import set_up

STEPS = (
    "Settings, Materials, Cutting: look them over once and put in your own cut chart.",
    "Parts and Kits: what you make. They stay from month to month.",
    "Orders, Stock, Remnants: what is to be made this month, and from which metal.",
    "Save and close the book, then run:  sheetplan plan BOOK.xlsx  (put your book's name for BOOK.xlsx).",
    "Open it again and read Plan, Buy, Layouts, Made. What is wrong stands on Problems and beside its row.",
    "To take another plan for a gauge, mark it on Choices; to keep a layout, lock it on Layouts. Plan again.",
    "At the month's end: Purchases, Scrap log, Rack count, then run:  sheetplan month BOOK.xlsx 2026-11",
)
RESULTS = (
    ("Plan", "Sheets, yield, weight, cost and hours by gauge."),
    ("Buy", "What to order, by supplier."),
    ("Layouts", "Each arrangement of parts on a sheet and how often it is cut."),
    ("Made", "Each order: asked, made, short."),
    (CHOICES_PAGE, "Other plans for each gauge with their figures; mark one to take it."),
    (FITS_PAGE, "Whole kits from the stock on hand, kits a sheet, one more sheet, room on the last sheets."),
    ("Month", "A month's end: waste by the scales beside the cuts on record, by metal and gauge; the trend."),
    ("Problems", "What is wrong and what to do."),
)
DEMO = "A made-up month of a made-up harbour workshop that makes dock hardware, to try things out with."
NEW = "An empty book. Values marked as common practice are there to start with: put in your own."

LEFT_WIDTH = 16
TEXT_WIDTH = 106
LINE_POINTS = 14.0
CHARACTERS = 121
"""Characters of body text that fit on a line of the wide column."""


class _Pen:
    """Writes down the page line by line."""

    def __init__(self, sheet: Any, look: Look) -> None:
        self.sheet = sheet
        self.look = look
        self.row = 0

    def heading(self, text: str) -> None:
        self.row += 1
        self.sheet.write_string(self.row, 0, text, self.look.line(bold=True))
        self.row += 1

    def line(self, left: str, text: str) -> None:
        self.sheet.write_string(self.row, 0, left, self.look.line())
        self._right(text)

    def link(self, page: str, text: str) -> None:
        self.sheet.write_url(self.row, 0, f"internal:{quoted_page(page)}!A1", self.look.link(), page)
        self._right(text)

    def formula(self, left: str, formula: str, value: str) -> None:
        self.sheet.write_string(self.row, 0, left, self.look.line())
        self.sheet.write_formula(self.row, 1, formula, self.look.line(bold=True, wrap=True), value)
        self.sheet.set_row(self.row, 2 * LINE_POINTS)
        self.row += 1

    def sample(self, fill: str, text: str, ink: str = style.INK) -> None:
        self.sheet.write_string(self.row, 0, "like this", self.look.box(fill, ink=ink))
        self._right(text)

    def _right(self, text: str) -> None:
        self.sheet.write_string(self.row, 1, text, self.look.line(wrap=True))
        self.sheet.set_row(self.row, LINE_POINTS * (1 + len(text) // CHARACTERS))
        self.row += 1


def draw_start(sheet: Any, units: Units, look: Look, *, demo: bool) -> None:
    """Draw the page; it prints on one sheet of paper."""
    set_up(sheet, START_PAGE, units, (LEFT_WIDTH, TEXT_WIDTH), tall=1)
    sheet.set_column(0, 0, LEFT_WIDTH)
    sheet.set_column(1, 1, TEXT_WIDTH)
    sheet.write_string(0, 0, "Plan a month of sheet metal cutting", look.title())
    sheet.set_row(0, style.TITLE_SIZE * 1.5)
    sheet.write_string(1, 0, DEMO if demo else NEW, look.line(quiet=True))
    pen = _Pen(sheet, look)
    pen.row = 1
    pen.row += 1
    pen.heading("What to do")
    for number, step in enumerate(STEPS, start=1):
        pen.line(f"{number}.", step)
    pen.heading("The last plan")
    pen.formula("Plan", f'=IFERROR(Plan!$A$2,"")&{ON_OPENING}', NO_PLAN)
    pen.formula("Problems", f'=IFERROR(Problems!$A$2,"")&{ON_OPENING}', problem_summary(()))
    pen.heading("Pages that you fill")
    for page in INPUT_PAGES:
        pen.link(page.name, page.line)
    pen.heading("Pages for the month's end")
    for page in MONTH_PAGES:
        pen.link(page.name, page.line)
    pen.heading("Pages that the tool writes anew")
    for name, text in RESULTS:
        pen.link(name, text)
    pen.heading("Colours")
    pen.sample(style.INPUT_FILL, "For you to fill. Add columns of your own; the tool leaves them be.")
    pen.sample(style.HELPER_FILL, "Live: worked out from your cells; the tool does not read these.")
    warning = "Something is wrong with the row; the column Message says what."
    pen.sample(style.WARN_FILL, warning, style.WARN_INK)
    _cautions(pen)


def _cautions(pen: _Pen) -> None:
    pen.heading("Cautions")
    for text in GENERAL:
        pen.line("every metal", text)
    for series in SERIES:
        for text in particular(series):
            pen.line(series, text)
    pen.line("", DEFERENCE)
