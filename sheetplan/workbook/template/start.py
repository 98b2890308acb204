"""The page Start: how the last plan stands, the runs of the open book, what to do, every page, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from openpyxl.utils.cell import get_column_letter

from sheetplan.pages.book.finished import FINISHED as FINISHED
from sheetplan.pages.book.layouts import ON_A_TABLET
from sheetplan.pages.book.logs import CUT_LOG as CUT_LOG
from sheetplan.pages.book.logs import STOCK_LOG as STOCK_LOG
from sheetplan.pages.book.plan import NO_PLAN, headlines
from sheetplan.pages.book.problems import NOT_CHECKED
from sheetplan.pages.values import (
    CHOICES_PAGE,
    CUTTING_PAGE,
    FITS_PAGE,
    QUOTED_PAGE,
    RESULT_PAGES,
    STEP_PAGES,
    Kind,
)
from sheetplan.trade.starter import DEFERENCE, GENERAL, particular
from sheetplan.trade.thickness import SERIES
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.columns import LASTING_PAGES, MONTH_PAGES, MONTHLY_PAGES, QUOTES, START_PAGE
from sheetplan.workbook.port import RUN_LABELS, USUAL_RUN
from sheetplan.workbook.schema import Holds
from sheetplan.workbook.template.formulas import ON_OPENING
from sheetplan.workbook.template.lookup import GAUGES_PAGE, SHAPES_PAGE
from sheetplan.workbook.template.page import Look, set_up, write_note
from sheetplan.workbook.text import quoted_page
from sheetplan.workbook.writing.grid import (
    CUT,
    HEADLINE_POINTS,
    HEADLINE_ROW,
    LINE_POINTS,
    MINUTES,
    MONTH,
    PIECES,
    RUN,
    SAID,
    TIMES,
)

STEPS = (
    "Settings, Materials, Cutting: look them over once and put in your own cut chart.",
    "Parts and Kits: what you make. They stay from month to month.",
    "Orders, Stock, Remnants: what is to be made this month, and from which metal.",
    "Check: every problem in one pass, on Problems and beside its row.  sheetplan check BOOK.xlsx",
    "Plan: sheets, layouts and what to buy; drawings and tickets beside the book.  sheetplan plan BOOK.xlsx",
    "Read Plan, Buy, Layouts, Made. To take another plan for a gauge, mark it on Choices; to keep a layout, "
    "lock it on Layouts. Then plan again.",
    "Asked for a price? Write it on Quotes and run it; read Quoted, and mark Order it to make it an order.  "
    "sheetplan quote BOOK.xlsx",
    "Cut. Write the tickets that were cut on Record, or how many sheets in Cut now on Layouts, and record "
    "them: counts, remnants and orders follow.  sheetplan cut BOOK.xlsx",
    "Metal: mark what Buy lists as ordered, and take deliveries in; On order and On hand follow.  sheetplan "
    "ordered BOOK.xlsx  and  sheetplan receive BOOK.xlsx",
    "Recorded by mistake? The last recorded step can be taken back.  sheetplan undo BOOK.xlsx",
    "Good pieces that no order holds stand on Finished parts. Give them to orders, count, move or scrap them "
    "there.  sheetplan parts BOOK.xlsx --take",
    "At the month's end fill Purchases, Scrap log and Rack count, then:  sheetplan month BOOK.xlsx 2026-11",
    "Close the month: what is done goes into an archive beside the book, and its rows are free for the next "
    "orders.  sheetplan close BOOK.xlsx 2026-11",
)
COMMANDS = (
    "Commands are typed in a terminal, in the book's folder, with the book's name for BOOK.xlsx. Save and "
    "close the book first: a command that writes into it refuses to while it is open."
)
OPEN_BOOK = (
    (
        "In Excel",
        "Choose a run here, then press Run main on the tab xlwings. `sheetplan excel` says what it needs.",
    ),
    ("In Calc", "Take the run from the menu Sheetplan, which `sheetplan calc install` brings."),
)
RUN_NOTE = "What Run main of Excel's xlwings tab is to do. Calc takes the run from its menu instead."
MONTH_NOTE = (
    "The month that is balanced, written as year and month.\nFor example: 2026-11\n"
    "Empty means the month that today lies in."
)
SAID_NOTE = (
    "How the last run from within the open book went. Recording a cut, or taking one back, saves the book."
)
NO_RUN = "None yet from within the open book."
RESULTS = (
    ("Plan", "Sheets, yield, weight, cost and hours by gauge."),
    ("Buy", "What to order, by supplier."),
    (CUTTING_PAGE, "Which layout is cut on which day, what is too late, which metal must be here when."),
    ("Layouts", "Each arrangement of parts on a sheet and how often it is cut."),
    ("Made", "Each order: asked, cut good, bad, still to cut, planned."),
    (CHOICES_PAGE, "Other plans for each gauge with their figures; mark one to take it."),
    (FITS_PAGE, "Whole kits from the stock on hand, kits a sheet, one more sheet, room on the last sheets."),
    (FINISHED, "Good pieces that no order holds, who could use them, and what is cut for each order."),
    (CUT_LOG, "Every recorded cut. Pieces that stand here are not planned again."),
    (STOCK_LOG, "Every order and delivery of metal, finished parts that went elsewhere, months closed."),
    (QUOTED_PAGE, "What the page Quotes asks the price of: alone and within this month, and how it comes."),
    ("Problems", "What is wrong and what to do."),
    ("Month", "A month's end: waste by the scales beside the cuts on record, by metal and gauge; the trend."),
)
LOOKED_UP = (
    (GAUGES_PAGE, "What each gauge means in each metal."),
    (SHAPES_PAGE, "Shapes that need no drawing, with examples."),
)
DEMO = "A made-up month of a made-up harbour workshop that makes dock hardware, to try things out with."
NEW = "Fill the pages as the steps below say. Values marked as common practice are a start: put in yours."

PAGES = (
    ("What comes out", tuple(one for one in RESULTS if one[0] in RESULT_PAGES)),
    ("Each month", tuple(one for page in MONTHLY_PAGES for one in (
        (page.name, page.line), *(one for one in RESULTS if page is QUOTES and one[0] == QUOTED_PAGE)
    ))),
    ("What was done", tuple(one for one in RESULTS if one[0] in STEP_PAGES)),
    ("From month to month", tuple((page.name, page.line) for page in LASTING_PAGES)),
    ("Month's end", (*((page.name, page.line) for page in MONTH_PAGES), RESULTS[-1])),
    ("To look things up", LOOKED_UP),
)
"""Every page of the book, in the order of its tabs."""

LEFT_WIDTH, EACH_WIDTH, ACROSS = 18.0, 13.5, 8
"""Characters of the first column, of each of the others, and how many others there are."""

CHARACTERS = 145
"""Characters of body text that fit on a line over the other columns."""

SAID_LINES = 2
"""Room for what a run says: a cut names each sheet that goes back to the rack."""

NOTHING_YET = "–"
"""What stands in the place of a figure before the first plan."""

BAR_SQUARES = 20


class _Pen:
    """Writes down the page line by line."""

    def __init__(self, book: Any, sheet: Any, look: Look) -> None:
        self.book = book
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

    def links(self, left: str, pages: Sequence[tuple[str, str]]) -> None:
        """Pages side by side; what each is for is told by the tip of its link."""
        for place, (page, text) in enumerate(pages):
            if place % ACROSS == 0:
                self.sheet.write_string(self.row, 0, left if not place else "", self.look.line())
                self.row += 1
            at = f"internal:{quoted_page(page)}!A1"
            column = 1 + place % ACROSS
            self.sheet.write_url(self.row - 1, column, at, self.look.link(), page, text)

    def formula(self, left: str, formula: str, value: str) -> None:
        self.sheet.write_string(self.row, 0, left, self.look.line())
        form = self.look.line(bold=True, wrap=True)
        self.wide("", form)
        self.sheet.write_formula(self.row, 1, formula, form, value)
        self.sheet.set_row(self.row, LINE_POINTS)
        self.row += 1

    def wide(self, text: str, form: Any) -> None:
        """Text over all columns but the first."""
        self.sheet.merge_range(self.row, 1, self.row, ACROSS, text, form)

    def cell(self, left: str, name: str, value: str, form: Any, note: str, last: int = 2) -> int:
        """A cell with a name of the book, as far as a column; returns its row."""
        self.sheet.write_string(self.row, 0, left, self.look.line())
        self.sheet.merge_range(self.row, 1, self.row, last, value, form)
        self.book.define_name(name, f"={quoted_page(START_PAGE)}!$B${self.row + 1}")
        write_note(self.sheet, self.row, 1, note)
        self.row += 1
        return self.row - 1

    def sample(self, fill: str, text: str, ink: str = style.INK) -> None:
        self.sheet.write_string(self.row, 0, "like this", self.look.box(fill, ink=ink))
        self._right(text)

    def _right(self, text: str) -> None:
        self.wide(text, self.look.line(wrap=True))
        self.sheet.set_row(self.row, LINE_POINTS * (1 + len(text) // CHARACTERS))
        self.row += 1


def draw_start(book: Any, sheet: Any, units: Units, look: Look, *, demo: bool) -> None:
    """Draw the page."""
    set_up(sheet, START_PAGE, units, (LEFT_WIDTH, *[EACH_WIDTH] * ACROSS), tall=1)
    sheet.set_column(0, 0, LEFT_WIDTH)
    sheet.set_column(1, ACROSS, EACH_WIDTH)
    sheet.write_string(0, 0, "Plan a month of sheet metal cutting", look.title())
    sheet.set_row(0, style.TITLE_SIZE * 1.5)
    sheet.write_string(1, 0, DEMO if demo else NEW, look.line(quiet=True))
    pen = _Pen(book, sheet, look)
    pen.row = 2
    _last_plan(pen, units)
    pen.heading("Pages")
    for left, pages in PAGES:
        pen.links(left, pages)
    _open_book(pen)
    pen.heading("What to do")
    for number, step in enumerate(STEPS, start=1):
        pen.line(f"{number}.", step)
    pen.line("", COMMANDS)
    pen.heading("Colours")
    pen.sample(style.INPUT_FILL, "For you to fill. Add columns of your own; the tool leaves them be.")
    pen.sample(style.HELPER_FILL, "Live: worked out from your cells; the tool does not read these.")
    warning = "Something is wrong with the row; the column Message says what."
    pen.sample(style.WARN_FILL, warning, style.WARN_INK)
    _cautions(pen)


def _last_plan(pen: _Pen, units: Units) -> None:
    """The figures of the page Plan once more, what is cut of the plan, and what was said of it."""
    column = 0
    for place, one in enumerate(headlines(None, None, None)):
        at = [f"Plan!${get_column_letter(column + 1)}${HEADLINE_ROW + more}" for more in (0, 1)]
        column += one.columns
        label = f'=IFERROR(IF({at[0]}="","{one.label}",{at[0]}),"{one.label}")&{ON_OPENING}'
        anew = f"{at[1]}&{ON_OPENING}" if one.kind is Kind.TEXT else f"{at[1]}+0*NOW()"
        figure = f'=IFERROR(IF({at[1]}="","{NOTHING_YET}",{anew}),"{NOTHING_YET}")'
        number = "General" if one.kind is Kind.TEXT else style.number_format(one.kind, units)
        pen.sheet.write_formula(pen.row, place, label, pen.look.line(quiet=True), one.label)
        pen.sheet.write_formula(pen.row + 1, place, figure, pen.look.figure(number), NOTHING_YET)
    pen.sheet.set_row(pen.row + 1, HEADLINE_POINTS)
    pen.row += 3
    pen.formula("Plan", f'=IFERROR(Plan!$A$2,"")&{ON_OPENING}', NO_PLAN)
    pen.formula("Problems", f'=IFERROR(Problems!$A$2,"")&{ON_OPENING}', NOT_CHECKED)
    pen.formula("At the table", _tablet(), NOTHING_YET)
    for what, each in (("sheets", ""), ("pieces", f",{PIECES}"), ("minutes", f",{MINUTES}")):
        pen.formula(f"Cut: {what}", _bar(what, each), NOTHING_YET)


def _tablet() -> str:
    """A link to the plan's page for the browser, by the path that the page Layouts gives in its third row."""
    line = "Layouts!$A$3"
    path = f"MID({line},{len(ON_A_TABLET) + 1},1000)"
    link = f'HYPERLINK({path},"{OPEN_ON_A_TABLET}"&{ON_OPENING})'
    is_there = f'LEFT({line},{len(ON_A_TABLET)})="{ON_A_TABLET}"'
    return f'=IFERROR(IF({is_there},{link},"{NOTHING_YET}"),"{NOTHING_YET}")'


OPEN_ON_A_TABLET = "The plan as one page for a tablet or telephone"


def _bar(what: str, each: str) -> str:
    """How much of the plan is cut, as squares and in words."""
    cut, whole = f"SUMPRODUCT({CUT}{each})", f"SUMPRODUCT({TIMES}{each})"
    filled = f"MIN({BAR_SQUARES},ROUNDDOWN({BAR_SQUARES}*{cut}/{whole},0))"
    squares = f'REPT("■",{filled})&REPT("·",{BAR_SQUARES}-{filled})'
    said = f'{squares}&"  "&TEXT({cut},"0")&" of "&TEXT({whole},"0")&" {what}"'
    return f'=IFERROR({said},"{NOTHING_YET}")&{ON_OPENING}'


def _open_book(pen: _Pen) -> None:
    """Where a run is chosen, and where it says how it went."""
    pen.heading("In the open book")
    for left, text in OPEN_BOOK:
        pen.line(left, text)
    asks = pen.look.input(Holds.TEXT)
    row = pen.cell("Run", RUN, RUN_LABELS[USUAL_RUN], asks, RUN_NOTE)
    labels = list(RUN_LABELS.values())
    pen.sheet.data_validation(row, 1, row, 1, {
        "validate": "list", "source": labels, "error_title": "Not on the list",
        "error_message": "Pick one of: " + ", ".join(labels) + ".",
    })  # fmt: skip
    pen.cell("Month to balance", MONTH, "", asks, MONTH_NOTE)
    form = pen.look.line(bold=True, wrap=True)
    row = pen.cell("The last run", SAID, NO_RUN, form, SAID_NOTE, ACROSS)
    pen.sheet.set_row(row, SAID_LINES * LINE_POINTS)


def _cautions(pen: _Pen) -> None:
    pen.heading("Cautions")
    for text in GENERAL:
        pen.line("every metal", text)
    for series in SERIES:
        for text in particular(series):
            pen.line(series, text)
    pen.line("", DEFERENCE)
