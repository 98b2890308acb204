"""Lay a result page out on rows and columns, once for every host: places, looks, and names for formulas."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType

from openpyxl.utils.cell import get_column_letter

from sheetplan.pages.values import (
    LAYOUT_TABLE,
    PART_TABLE,
    POINTS_PER_CHARACTER,
    PROBLEM_KEY,
    PROBLEM_PLACE,
    PROBLEM_SAID,
    PROBLEM_TABLE,
    PROBLEM_TURN,
    PROBLEM_WHAT,
    Cell,
    Chart,
    Column,
    Headline,
    Kind,
    Link,
    Picture,
    ResultPage,
    ResultTable,
)
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.text import clean_text, looks_like_formula, target_of
from sheetplan.workbook.writing.print_setup import (
    Block,
    PrintSetup,
    breaks,
    column_widths,
    is_filtered,
    lines_needed,
    print_setup,
    room_on_paper,
    text_width,
)

# Lay a result page out on rows and columns, once for every host.
#
# Words used here:
#
# grid
#     The page as cells with places, roles and values in the book's units; a host only draws it.
# role
#     What a cell is to the reader: title, line, caption, heading, body or total.
# stacked tables
#     Tables under one another share the sheet's columns, so each column is as wide as the most
#     demanding of them needs.
#
# Rows and columns count from 0.

LINE_POINTS = 14.0
"""Height of one line of body text at style.BODY_SIZE, with its leading."""

PICTURE_SPACE = 6.0
"""Points left free above and below a picture in its row."""

MAX_ROW_POINTS = 409.0
"""Tallest row a spreadsheet takes. Source: Microsoft, "Excel specifications and limits"."""

HEADLINE_ROW = 4
"""The row of the figures: the title, a line, a blank row and the labels stand above it."""

HEADLINE_POINTS = 26.0
"""Height of that row."""

WIDEST_HEADLINE = 24.0
"""Characters: a figure is never so long."""

CHART_POINTS = 230.0
"""Height of a chart's row."""

BAR_POINTS = 22.0
"""What each bar of a chart of bars adds to it."""

MOST_CHART_POINTS = 640.0
"""Wider than this a chart is hard to take in."""

FREEZE_WITHIN = 8
"""A heading further down than this is not frozen: it would leave too little of a small screen."""


class Role(StrEnum):
    """What a cell is to the reader."""

    TITLE = "title"
    LABEL = "label"
    FIGURE = "figure"
    LINE = "line"
    CAPTION = "caption"
    HEAD = "head"
    BODY = "body"
    TOTAL = "total"


@dataclass(frozen=True, slots=True)
class GridCell:
    """One cell to draw.

    ``link`` is a checked target, ``span`` how many columns the cell covers; the planner writes in a
    cell that ``asks``. ``strong``, ``banded`` and ``large`` are of its row or column (`pages.values`).
    """

    row: int
    column: int
    value: str | int | float | None
    role: Role
    kind: Kind = Kind.TEXT
    wrap: bool = False
    link: str | None = None
    picture: Picture | None = None
    span: int = 1
    asks: bool = False
    strong: bool = False
    banded: bool = False
    large: bool = False


@dataclass(frozen=True, slots=True)
class GridTable:
    """Where a table stands: its row of headings and its last row, the total not counted."""

    name: str
    head_row: int
    last_row: int
    headings: tuple[str, ...]
    filtered: bool = False


@dataclass(frozen=True, slots=True)
class GridChart:
    """A chart in a row of its own under its table.

    ``labels`` and ``series`` are columns of the table, ``kind`` is what the series hold; ``width`` and
    ``height`` in points.
    """

    row: int
    chart: Chart
    table: GridTable
    labels: int
    series: tuple[int, ...]
    kind: Kind
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class PageGrid:
    """A page ready to draw: widths in characters, heights in points of rows that are taller than usual.

    Columns that are ``hidden`` are there for formulas; on paper a new sheet begins at each row of ``breaks``.
    """

    name: str
    cells: tuple[GridCell, ...]
    tables: tuple[GridTable, ...]
    widths: tuple[float, ...]
    heights: tuple[tuple[int, float], ...]
    frozen_rows: int
    repeat_row: int | None
    paper: PrintSetup
    charts: tuple[GridChart, ...] = ()
    hidden: frozenset[int] = frozenset()
    breaks: tuple[int, ...] = ()

    @property
    def landscape(self) -> bool:
        """Whether the page prints lengthwise."""
        return self.paper.landscape


def grid_of(page: ResultPage, units: Units) -> PageGrid:
    """Lay out a page for a book in these units."""
    widths = column_widths(page, units)
    cells, row = _above_tables(page, units, widths)
    tables: list[GridTable] = []
    charts: list[GridChart] = []
    blocks: list[Block] = []
    for table in page.tables:
        row += 1
        first = row
        if table.caption:
            cells.append(_line(row, table.caption, Role.CAPTION, widths))
            row += 1
        placed, row = _table_cells(table, row, widths, units, cells)
        tables.append(placed)
        if table.chart is not None and table.rows:
            row += 1
            charts.append(_chart(row, table, table.chart, placed, widths))
            row += 1
        blocks.append(Block(first, placed.head_row, row - 1))
    for text in page.notes:
        row += 1
        cells.append(_line(row, text, Role.LINE, widths))
    head = tables[0].head_row if len(tables) == 1 else None
    hidden = frozenset(j for table in page.tables for j, one in enumerate(table.columns) if one.hidden)
    seen = tuple(0.0 if j in hidden else width for j, width in enumerate(widths))
    visible = [cell for cell in cells if cell.column not in hidden]  # what nobody sees makes no row higher
    heights = tuple(sorted((*_heights(visible, seen), *((chart.row, chart.height) for chart in charts))))
    paper = print_setup([width for width in seen if width], units)
    torn = breaks(blocks, dict(heights), room_on_paper(paper, units))
    repeated = head if head is not None or not torn.last_is_torn else tables[-1].head_row
    return PageGrid(
        page.name,
        tuple(cells),
        tuple(tables),
        widths,
        heights,
        frozen_rows=head + 1 if head is not None and head < FREEZE_WITHIN else 0,
        repeat_row=repeated,
        paper=paper,
        charts=tuple(charts),
        hidden=hidden,
        breaks=torn.rows if head is None else (),
    )


def _above_tables(page: ResultPage, units: Units, widths: tuple[float, ...]) -> tuple[list[GridCell], int]:
    """Title, lines and headlines of a page, and the row below them."""
    cells, row = [GridCell(0, 0, clean_text(page.title), Role.TITLE)], 1
    for number, text in enumerate(page.lines):
        cells.append(_line(row, text, Role.LINE, widths))
        row += 1
        if number == 0 and page.file is not None:
            line = _line(row, page.file.text, Role.LINE, widths)
            cells.append(replace(line, link=target_of(page.file.target)))
            row += 1
        if number == 0 and page.headlines and page.tables:
            cells += _headlines(page.headlines, units)
            row = HEADLINE_ROW + (2 if len(page.lines) > 1 else 1)
    return cells, row


def headings_of(table: ResultTable, units: Units) -> tuple[str, ...]:
    """Headings as written, with units, made unique (a table needs that) and free of line ends."""
    seen: dict[str, int] = {}
    out = []
    for number, column in enumerate(table.columns, start=1):
        text = " ".join(clean_text(style.heading(column.heading, column.kind, units)).split())
        text = text or f"Column {number}"
        seen[text.lower()] = count = seen.get(text.lower(), 0) + 1
        out.append(text if count == 1 else f"{text} {count}")
    return tuple(out)


def _line(row: int, text: str, role: Role, widths: tuple[float, ...]) -> GridCell:
    """Place text across the page."""
    return GridCell(row, 0, clean_text(text), role, wrap=True, span=len(widths))


def _headlines(headlines: Sequence[Headline], units: Units) -> Iterator[GridCell]:
    """What the figures are, and under it the figures themselves, each over its own columns."""
    row, column = HEADLINE_ROW - 1, 0
    for one in headlines:
        label = clean_text(style.heading(one.label, one.kind, units))
        yield GridCell(row, column, label, Role.LABEL, one.kind, span=one.columns)
        whole = Column("", one.kind, WIDEST_HEADLINE)
        figure = GridCell(row + 1, column, None, Role.FIGURE, one.kind, span=one.columns)
        yield _filled(figure, one.value, whole, units, WIDEST_HEADLINE)
        column += one.columns


def _chart(
    row: int, table: ResultTable, chart: Chart, placed: GridTable, widths: tuple[float, ...]
) -> GridChart:
    """Give a chart its row: bars need height for each of theirs, columns the page's width."""
    places = {column.heading: place for place, column in enumerate(table.columns)}
    series = tuple(places[heading] for heading in chart.series)
    height = CHART_POINTS
    if chart.kind.lies:
        height = min(MAX_ROW_POINTS, CHART_POINTS / 2 + BAR_POINTS * len(table.rows))
    width = min(MOST_CHART_POINTS, sum(widths) * POINTS_PER_CHARACTER)
    kind = table.columns[series[0]].kind
    return GridChart(row, chart, placed, places[chart.labels], series, kind, width, height)


def _table_cells(
    table: ResultTable, row: int, widths: tuple[float, ...], units: Units, cells: list[GridCell]
) -> tuple[GridTable, int]:
    """Add a table's cells; return where it stands and the first free row after it."""
    headings = headings_of(table, units)
    for j, (text, column) in enumerate(zip(headings, table.columns, strict=True)):
        cells.append(GridCell(row, j, text, Role.HEAD, column.kind, wrap=True))
    head, row = row, row + 1
    # A table must have a row, so an empty one shows a blank row.
    for values in table.rows or ((None,) * len(table.columns),):
        for j, (value, column) in enumerate(zip(values, table.columns, strict=True)):
            at = row - head - 1
            cell = GridCell(
                row, j, None, Role.BODY, column.kind, asks=column.asks, strong=at in table.strong,
                banded=at in table.banded, large=column.large,
            )  # fmt: skip
            cells.append(_filled(cell, value, column, units, widths[j]))
        row += 1
    placed = GridTable(table.name, head, row - 1, headings, is_filtered(table))
    if table.total is not None:
        for j, (value, column) in enumerate(zip(table.total, table.columns, strict=True)):
            total = GridCell(row, j, None, Role.TOTAL, column.kind)
            cells.append(_filled(total, value, column, units, widths[j]))
        row += 1
    return placed, row


def _filled(cell: GridCell, value: Cell, column: Column, units: Units, width: float) -> GridCell:
    """A cell with a value of the page, in the book's units."""
    if isinstance(value, Picture):
        return replace(cell, picture=_fitted(value))
    if isinstance(value, Link):
        text = clean_text(value.text)
        return replace(cell, value=text, link=target_of(value.target), wrap=_wraps(text, column, width))
    if isinstance(value, str):
        text = clean_text(value)
        return replace(cell, value=text, wrap=_wraps(text, column, width))
    if value is None:
        return cell
    return replace(cell, value=style.shown(value, column.kind, units))


def _wraps(text: str, column: Column, width: float) -> bool:
    return column.wrap or "\n" in text or text_width(text) > width


def _fitted(picture: Picture) -> Picture:
    """Make a picture small enough for the tallest row, in proportion."""
    most = MAX_ROW_POINTS - 2 * PICTURE_SPACE
    if picture.height <= most:
        return picture
    return replace(picture, width=picture.width * most / picture.height, height=most)


def _heights(cells: list[GridCell], widths: tuple[float, ...]) -> tuple[tuple[int, float], ...]:
    """Heights of the rows that need more than one line: not every program makes rows grow by itself."""
    heights: dict[int, float] = {}
    for cell in cells:
        if cell.role is Role.FIGURE:
            need = HEADLINE_POINTS
        elif cell.picture is not None:
            need = cell.picture.height + 2 * PICTURE_SPACE
        elif cell.wrap and isinstance(cell.value, str):
            room = sum(widths[cell.column : cell.column + cell.span])
            lines = lines_needed(cell.value, room, bold=cell.role in (Role.HEAD, Role.CAPTION, Role.TOTAL))
            need = lines * LINE_POINTS + 3 if lines > 1 else 0.0
        else:
            continue
        if need > heights.get(cell.row, 0.0):
            heights[cell.row] = min(need, MAX_ROW_POINTS)
    return tuple(sorted(heights.items()))


# How each cell of a result page looks, as a value that every host can draw.

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


# Workbook names that result pages carry for formulas elsewhere in the book.

NamedColumns = Mapping[str, tuple[str, str]]
"""Workbook names over one column of a result table: name to (table, heading as drawn)."""

RUN, MONTH, SAID = "sheetplan_run", "sheetplan_month", "sheetplan_said"
"""Cells of the page Start: the run to do, the month to balance, and how the last run went."""

PROBLEM_KEYS = "sheetplan_problem_keys"
"""The cells that name the row of each problem, as ``Parts!12``."""

PROBLEM_MESSAGES = "sheetplan_problem_messages"
"""The cells beside them that say what is wrong."""

PROBLEM_TURNS = "sheetplan_problem_turns"
"""The cells that tell the problems of one row apart, as ``Parts!12/1``."""

PROBLEM_PLACES, PROBLEM_SAYS = "sheetplan_problem_columns", "sheetplan_problem_says"
"""The cells that say which column each is about, and what stood there."""

TIMES, CUT, PIECES, MINUTES = "sheetplan_times", "sheetplan_cut", "sheetplan_pieces", "sheetplan_minutes"
"""Of each layout: how often it is to be cut, how often it is, and pieces and minutes of one sheet."""

PLANNED_PARTS, PLANNED_WEIGHTS = "sheetplan_planned_parts", "sheetplan_planned_weights"
"""Of each part that is planned: its name, and what one weighs with its holes taken off."""

NAMED_COLUMNS: NamedColumns = MappingProxyType(
    {
        TIMES: (LAYOUT_TABLE, "Times to cut"),
        CUT: (LAYOUT_TABLE, "Cut so far"),
        PIECES: (LAYOUT_TABLE, "Pieces"),
        MINUTES: (LAYOUT_TABLE, "Minutes"),
        PLANNED_PARTS: (PART_TABLE, "Part"),
        PLANNED_WEIGHTS: (PART_TABLE, "Weight each"),
        PROBLEM_KEYS: (PROBLEM_TABLE, PROBLEM_KEY),
        PROBLEM_MESSAGES: (PROBLEM_TABLE, PROBLEM_WHAT),
        PROBLEM_TURNS: (PROBLEM_TABLE, PROBLEM_TURN),
        PROBLEM_PLACES: (PROBLEM_TABLE, PROBLEM_PLACE),
        PROBLEM_SAYS: (PROBLEM_TABLE, PROBLEM_SAID),
    }
)
"""Name to (result table, heading), for `page_writer.draw_pages`."""


def named_places(
    grids: Sequence[PageGrid], names: NamedColumns = NAMED_COLUMNS
) -> dict[str, tuple[str, str]]:
    """Page and cells (``$A$4:$A$9``) that each name stands for, for the tables that are drawn."""
    places = {table.name: (grid.name, table) for grid in grids for table in grid.tables}
    found = {}
    for name, (table_name, heading) in sorted(names.items()):
        if table_name in places:
            page, table = places[table_name]
            column = _column_of(heading, table)
            if column is None:
                continue
            letter = get_column_letter(column)
            # Rows of a grid count from 0, so the first row of data is the head's number plus 2.
            found[name] = (page, f"${letter}${table.head_row + 2}:${letter}${table.last_row + 1}")
    return found


def _column_of(heading: str, table: GridTable) -> int | None:
    """The column of a heading, from 1, whatever unit the page says behind it."""
    places = enumerate(table.headings, 1)
    return next((j for j, one in places if one == heading or one.startswith(f"{heading}, ")), None)
