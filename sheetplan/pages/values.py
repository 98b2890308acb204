"""Result pages as values that any host can show: the closed file, Excel, Calc.

A page is a title, a few lines of text, tables under one another and closing notes. Cells are plain values in
internal units; the column's kind says how a host converts and formats them.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from math import fsum

from sheetplan.money.cents import cent, printed


class Kind(StrEnum):
    """What a column holds, and so its unit and number format."""

    TEXT = "text"
    COUNT = "count"
    LENGTH = "length"
    """mm inside, the book's length outside."""
    TRAVEL = "travel"
    """mm inside, feet or metres outside."""
    AREA = "area"
    """mm2 inside, square feet or square metres outside."""
    WEIGHT = "weight"
    """kg inside, pounds or kilograms outside."""
    MONEY = "money"
    MONEY_CHANGE = "difference in money"
    """With its sign, as is each change: ``+12.50``."""
    COUNT_CHANGE = "difference in a count"
    AREA_CHANGE = "difference in area"
    SHARE = "share"
    """0..1 inside, per cent outside."""
    HOURS = "hours"
    """Hours inside, days outside, shown as ``1 h 40 min``."""
    NUMBER = "number"
    """Without a unit, to the hundredth."""
    PICTURE = "picture"


@dataclass(frozen=True, slots=True)
class Link:
    """Text that opens a file (a path relative to the workbook, forward slashes) or a cell of the book.

    A cell is written ``#Page!A1``.
    """

    text: str
    target: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A PNG shown in its cell; sizes in points as it should appear."""

    png: bytes
    width: float
    height: float
    alt: str


Cell = str | int | float | None | Link | Picture


POINTS_PER_CHARACTER = 5.25
"""Width of a spreadsheet column's unit at the usual type: 7 dots of 96 to the inch."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, what it holds, and its width in characters.

    The planner writes in a column that ``asks``. What is ``large`` is found from a step away; what is
    ``hidden`` is for formulas to read.
    """

    heading: str
    kind: Kind = Kind.TEXT
    width: float = 12.0
    wrap: bool = False
    asks: bool = False
    large: bool = False
    hidden: bool = False


@dataclass(frozen=True, slots=True)
class ResultTable:
    """A table with a name that formulas can use; ``total`` is an optional closing row, shown bold.

    Rows that are ``strong`` are bold, those that are ``banded`` have a fill; both count from 0.
    """

    name: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    caption: str = ""
    total: tuple[Cell, ...] | None = None
    chart: Chart | None = None
    strong: frozenset[int] = frozenset()
    banded: frozenset[int] = frozenset()


def without_empty(table: ResultTable, may_go: Collection[str]) -> ResultTable:
    """A table with those of the named columns hidden that are empty in all its rows.

    They stay in the table, since a planner's formulas may name them.
    """
    columns = tuple(
        replace(column, hidden=True)
        if column.heading in may_go and all(row[place] is None for row in table.rows) else column
        for place, column in enumerate(table.columns)
    )  # fmt: skip
    return replace(table, columns=columns) if table.rows else table


def to_the_cent(table: ResultTable) -> ResultTable:
    """A table whose amounts of money are as they are printed, so that each column adds up to its total.

    A column without a total, or with one that is not the sum of its rows, stays as it is.
    """
    if table.total is None:
        return table
    rows, total = [list(row) for row in table.rows], list(table.total)
    for place, column in enumerate(table.columns):
        whole = total[place]
        filled = [row for row in rows if isinstance(row[place], int | float)]
        amounts = [float(str(row[place])) for row in filled]
        if column.kind is not Kind.MONEY or not isinstance(whole, int | float) or not amounts:
            continue
        if abs(fsum(amounts) - whole) < HALF_A_CENT:
            total[place] = cent(whole)
            for row, amount in zip(filled, printed(amounts, whole), strict=True):
                row[place] = amount
    return replace(table, rows=tuple(map(tuple, rows)), total=tuple(total))


HALF_A_CENT = 0.005


class ChartKind(StrEnum):
    """How a chart shows its series."""

    COLUMNS = "columns side by side"
    STACKED = "columns on one another"
    STACKED_BARS = "bars on one another"
    SHARE_BARS = "bars on one another, all of one whole"

    @property
    def lies(self) -> bool:
        """Whether its bars lie, the first row of the table at the top."""
        return self in (ChartKind.STACKED_BARS, ChartKind.SHARE_BARS)


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart that stands under its table and follows it.

    ``labels`` and ``series`` are headings of the table's columns as they stand in `Column`; ``axis`` says
    what the values are, without their unit. Hosts that cannot draw charts show a picture of it.
    """

    title: str
    kind: ChartKind
    labels: str
    series: tuple[str, ...]
    axis: str


@dataclass(frozen=True, slots=True)
class Headline:
    """A large figure at the top of a page: what it is, its value, and how many columns it stands over."""

    label: str
    value: Cell
    kind: Kind = Kind.TEXT
    columns: int = 1


@dataclass(frozen=True, slots=True)
class BookSeen:
    """What of a book its page Problems has to know.

    ``renamed`` gives the name in the book of each input page that does not bear its own. ``said`` gives for
    a page (by its name in the book) and a cell which of the page's columns it is in, from 1, and what stands
    there, of cells that a formula can compare with that.
    """

    renamed: Mapping[str, str] = field(default_factory=dict)
    said: Mapping[tuple[str, str], tuple[int, str | float | None]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ResultPage:
    """One page of the book that the tool owns and replaces at each plan."""

    name: str
    title: str
    lines: tuple[str, ...] = ()
    tables: tuple[ResultTable, ...] = ()
    notes: tuple[str, ...] = ()
    """Lines under the tables: what to read after the numbers."""
    headlines: tuple[Headline, ...] = ()
    """Figures under the first line, on a page with tables; formulas elsewhere find each in its place."""
    file: Link | None = None
    """A file that shows the same otherwise, linked under the first line; formulas elsewhere find it there."""


CHOICES_PAGE = "Choices"
"""The page of plans to pick from."""

CUTTING_PAGE = "Cutting order"
"""The page that says on which day which layout is cut."""

FITS_PAGE = "What fits"
"""The page of what the stock makes, what one more sheet adds and what there is room for."""

RESULT_PAGES = ("Plan", "Buy", CUTTING_PAGE, "Layouts", "Made", CHOICES_PAGE, FITS_PAGE, "Problems")
"""The pages that a plan writes, in the order in which they stand in the book."""

QUOTED_PAGE = "Quoted"
"""The page that quotes are answered on."""

MONTH_PAGE = "Month"
"""The page that the month's end writes."""

STEP_PAGES = ("Finished parts", "Cut log", "Stock log")
"""The pages that recording cuts, deliveries and finished parts writes."""

OWNED_PAGES = (*RESULT_PAGES[:-1], QUOTED_PAGE, *STEP_PAGES, MONTH_PAGE, RESULT_PAGES[-1])
"""All pages that the tool owns, in the order in which they stand in a new book."""

LAYOUT_TABLE = "LayoutList"
"""The table on the page Layouts; formulas of the template count what of it is cut."""

PART_TABLE = "PartCosts"
"""The table on the page Made with a row for each planned part; Parts shows the weights that it says."""

PROBLEM_TABLE = "ProblemList"
"""The table on the page Problems; formulas of the template find a row's message in it."""

PROBLEM_KEY = "Key"
"""The column of that table that names a row as ``Parts!12``: page and workbook row."""

PROBLEM_WHAT = "What"
"""The column of that table that says what is wrong."""

PROBLEM_TURN = "In turn"
"""The column that tells the problems of one row apart: ``Parts!12/1``, ``Parts!12/2``."""

PROBLEM_PLACE, PROBLEM_SAID = "Column", "It says"
"""Which of its page's columns a problem is about, from 1, and what stood in the cell when it was found."""
