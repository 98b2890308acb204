"""Draw result pages into a book that is open in Excel.

Only what xlwings offers on Windows and macOS alike is used, but for deleting a table, which it
leaves to the program's own objects.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from sheetplan.pages.values import Picture
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.chart_pictures import chart_picture
from sheetplan.workbook.errors import NotWritten, book_problem
from sheetplan.workbook.page_grid import PICTURE_SPACE, GridCell, GridTable, PageGrid, Role
from sheetplan.workbook.page_links import quoted_page
from sheetplan.workbook.page_looks import GENERAL, Look, looks_of
from sheetplan.workbook.page_places import place_of
from sheetplan.workbook.result_names import named_places
from sheetplan.workbook.splice_names import OWN_PAGE

PICTURE_NAME = "sheetplan picture"

_HEIGHTS = {"top": "top", "centre": "center", "bottom": "bottom"}


def refuse_planners_pages(book: Any, grids: Sequence[PageGrid]) -> None:
    """Raise NotWritten where a page that bears one of our names is the planner's own."""
    for grid in grids:
        sheet = _sheet(book, grid.name)
        if sheet is not None and not _is_ours(sheet) and _holds_something(sheet):
            raise NotWritten(
                book_problem(
                    Path(book.fullname),
                    f"The page {sheet.name} is your own: it was not made here, so it is not replaced.",
                    "Give your page another name, then run it again.",
                )
            )


def planners_pages(book: Any) -> list[str]:
    """Names of pages that hold something and were not made here."""
    return [sheet.name for sheet in book.sheets if not _is_ours(sheet) and _holds_something(sheet)]


def draw(book: Any, grids: Sequence[PageGrid], units: Units) -> None:
    """Draw the pages, each in its place; a new one goes where it stands in a new book."""
    for grid in grids:
        sheet = _sheet(book, grid.name)
        if sheet is None:
            there = [one.name for one in book.sheets]
            place = place_of(grid.name, there)
            where = {"after": book.sheets[place - 1]} if place else {"before": book.sheets[0]}
            sheet = book.sheets.add(grid.name, **where)
        _clear(sheet)
        _write_values(sheet, grid)
        _write_looks(sheet, grid, units)
        for cell in grid.cells:
            if cell.link is not None and isinstance(cell.value, str):
                _link(sheet, cell, cell.value)
        for table in grid.tables:
            _add_table(sheet, table)
        _insert_pictures(sheet, grid, units)
        _define(sheet.names, OWN_PAGE, f"={quoted_page(sheet.name)}!$A$1")
    for name, (page, cells) in named_places(grids).items():
        _define(book.names, name, f"={quoted_page(page)}!{cells}")


def _sheet(book: Any, name: str) -> Any:
    """Find the sheet of this name, in capitals or not."""
    return next((sheet for sheet in book.sheets if sheet.name.lower() == name.lower()), None)


def say_on_problems(book: Any, sentence: str) -> None:
    """Put a sentence under the title of the page Problems, if that is ours."""
    sheet = _sheet(book, "Problems")
    if sheet is not None and _is_ours(sheet):
        sheet.range((2, 1)).value = written(sentence)


def _is_ours(sheet: Any) -> bool:
    return any(name.name.rpartition("!")[2].lower() == OWN_PAGE for name in sheet.names)


def _holds_something(sheet: Any) -> bool:
    block = sheet.used_range.options(ndim=2).value
    return any(value is not None for row in block for value in row)


def _clear(sheet: Any) -> None:
    """Take away what the last run drew."""
    for picture in list(sheet.pictures):
        picture.delete()
    for table in list(sheet.tables):
        delete = getattr(table.api, "Delete", None) or table.api.delete  # Windows, macOS
        delete()
    sheet.clear()


def _write_values(sheet: Any, grid: PageGrid) -> None:
    """Write all cells of the page in one call."""
    rows = 1 + max(cell.row for cell in grid.cells)
    block: list[list[Any]] = [[None] * len(grid.widths) for _ in range(rows)]
    for cell in grid.cells:
        block[cell.row][cell.column] = written(cell.value)
    sheet.range((1, 1), (rows, len(grid.widths))).value = block


def written(value: str | int | float | None) -> str | int | float | None:
    """Spell a value for Excel: text carries the prefix, or it would be read as a date or a formula."""
    if isinstance(value, str):
        return "'" + value if value else None
    if isinstance(value, float) and not math.isfinite(value):
        return "'#NUM!"
    return value


def _write_looks(sheet: Any, grid: PageGrid, units: Units) -> None:
    for j, width in enumerate(grid.widths, start=1):
        # A column of no width is a hidden one.
        sheet.range((1, j)).column_width = 0.0 if j - 1 in grid.hidden else width
    for look, top, bottom, column in _runs(grid, units):
        _apply(sheet.range((top + 1, column + 1), (bottom + 1, column + 1)), look)
    sheet.range((1, 1)).row_height = style.TITLE_SIZE * 1.5
    for row, points in grid.heights:
        sheet.range((row + 1, 1)).row_height = points
    for cell in grid.cells:
        if cell.span > 1:
            last = cell.column + cell.span
            sheet.range((cell.row + 1, cell.column + 1), (cell.row + 1, last)).merge()


def _runs(grid: PageGrid, units: Units) -> Iterator[tuple[Look, int, int, int]]:
    """Runs of cells with one look under one another: a call for each run instead of one for each cell."""
    looks = {
        (cell.column, cell.row): replace(look, marked_as_text=False)
        for cell, look in zip(grid.cells, looks_of(grid, units), strict=True)
    }
    places = sorted(looks)
    start = 0
    for i, (column, row) in enumerate(places):
        following = (column, row + 1)
        if i + 1 < len(places) and places[i + 1] == following and looks[following] == looks[column, row]:
            continue
        yield looks[column, row], places[start][1], row, column
        start = i + 1


def _apply(cells: Any, look: Look) -> None:
    cells.font.name = style.FONT
    cells.font.size = look.size
    cells.font.bold = look.bold
    cells.font.color = look.ink
    if look.fill:
        cells.color = look.fill
    if look.wrap:
        cells.wrap_text = True
    if look.side:
        cells.horizontal_alignment = look.side
    cells.vertical_alignment = _HEIGHTS[look.height]
    if look.line_below:
        cells.borders.set("edge_bottom", line_style="continuous", weight="thin", color=look.line_below)
        if cells.shape[0] > 1:
            cells.borders.set(
                "inside_horizontal", line_style="continuous", weight="thin", color=look.line_below
            )
    if look.line_above:
        cells.borders.set("edge_top", line_style="continuous", weight="thin", color=look.line_above)
    if look.number_format != GENERAL:
        cells.number_format = look.number_format


def _link(sheet: Any, cell: GridCell, text: str) -> None:
    """Make the cell a link; Excel reads the shown text anew, so it is written once more as text."""
    place = sheet.range((cell.row + 1, cell.column + 1))
    place.add_hyperlink(cell.link, text_to_display=text)
    place.value = "'" + text


def _add_table(sheet: Any, table: GridTable) -> None:
    cells = sheet.range((table.head_row + 1, 1), (table.last_row + 1, len(table.headings)))
    sheet.tables.add(source=cells, name=table.name, has_headers=True, table_style_name="")


def _insert_pictures(sheet: Any, grid: PageGrid, units: Units) -> None:
    """Place the pictures; Excel takes them from files, which may go as soon as they are in the book."""
    with tempfile.TemporaryDirectory(prefix="sheetplan-") as folder:
        for number, (row, column, picture) in enumerate(_pictures(grid, units)):
            file = Path(folder) / f"{number}.png"
            file.write_bytes(picture.png)
            place = sheet.range((row + 1, column + 1))
            sheet.pictures.add(
                str(file),
                name=f"{PICTURE_NAME} {number + 1}",
                left=place.left + PICTURE_SPACE,
                top=place.top + PICTURE_SPACE,
                width=picture.width,
                height=picture.height,
            )


def _pictures(grid: PageGrid, units: Units) -> Iterator[tuple[int, int, Picture]]:
    """Row, column and picture of all that is shown; charts are pictures too.

    What xlwings offers of charts alike on Windows and macOS names no axis and no title.
    """
    for cell in grid.cells:
        if cell.picture is not None and cell.role is Role.BODY:
            yield cell.row, cell.column, cell.picture
    for placed in grid.charts:
        yield placed.row, 0, chart_picture(grid, placed, units)


def _define(names: Any, name: str, refers_to: str) -> None:
    """Set a name of the book or of a page."""
    for there in names:
        if there.name.rpartition("!")[2].lower() == name.lower():
            there.refers_to = refers_to
            return
    names.add(name, refers_to)
