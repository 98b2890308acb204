"""Draw result pages as a workbook of their own, in memory; the splice takes its sheets from there.

The bytes depend on the pages and units alone: same pages, same bytes.
"""

from __future__ import annotations

import datetime
import io
import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import floor
from typing import Any
from urllib.parse import quote

from sheetplan.pages.values import MONTH_PAGE, Picture, ResultPage
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.package.parts import Package
from sheetplan.workbook.text import quoted_page
from sheetplan.workbook.writing import print_setup
from sheetplan.workbook.writing.charts import add_chart
from sheetplan.workbook.writing.grid import (
    GENERAL,
    PICTURE_SPACE,
    GridCell,
    GridTable,
    Look,
    NamedColumns,
    PageGrid,
    grid_of,
    looks_of,
    named_places,
)

MOST_LINKS = 65_000
"""Links on one page; spreadsheet programs stop at 65,530. Further ones are written as plain text."""

_MADE = datetime.datetime(2000, 1, 1)
"""The date that the package says it was made: fixed, so that equal pages are equal bytes."""

_PIXELS_PER_POINT = 96 / 72


def draw_pages(
    pages: Sequence[ResultPage], units: Units, *, names: NamedColumns | None = None, home: str | None = None
) -> Package:
    """Draw pages in the given order.

    Parameters
    ----------
    pages : sequence of ResultPage
        Values in internal units.
    units : Units
        What the book is written in.
    names : mapping, optional
        Workbook names to give to columns of the tables.
    home : str, optional
        File name of the planner's book, where the pages go to another book: links to pages that
        are not drawn here then lead there.

    Returns
    -------
    Package
        A whole workbook.
    """
    import xlsxwriter

    grids = [grid_of(page, units) for page in pages]
    here = {grid.name.lower() for grid in grids}
    memory = io.BytesIO()
    book = xlsxwriter.Workbook(memory, _TEXT_STAYS_TEXT)
    book.set_properties({"created": _MADE})
    formats = Formats(book)
    for grid in grids:
        _draw_page(book, grid, units, formats, lambda link: _target(link, here, home))
    _name_columns(book, grids, names or {})
    book.close()
    return _with_forward_slashes(Package.of_bytes(memory.getvalue()))


_TEXT_STAYS_TEXT = {
    "in_memory": True,
    "nan_inf_to_errors": True,
    "strings_to_urls": False,
    "strings_to_numbers": False,
    "strings_to_formulas": False,
}


def _draw_page(
    book: Any, grid: PageGrid, units: Units, formats: Formats, leads_to: Callable[[str | None], str | None]
) -> None:
    """A page with its tables, cells, links as far as the program takes them, and charts."""
    sheet = book.add_worksheet(grid.name)
    _set_up(sheet, grid, units)
    for table in grid.tables:
        _add_table(sheet, table)
    links = 0
    for cell, look in zip(grid.cells, looks_of(grid, units), strict=True):
        target = leads_to(cell.link) if links < MOST_LINKS else None
        links += target is not None
        _draw(sheet, cell, formats.of(look), target)
    for chart in grid.charts:
        add_chart(book, sheet, grid.name, chart, units)


def _set_up(sheet: Any, grid: PageGrid, units: Units) -> None:
    """Set widths, heights, what stays on the screen and how the page prints."""
    sheet.hide_gridlines(2)
    sheet.set_tab_color(style.TAB_MONTHS_END if grid.name == MONTH_PAGE else style.TAB_RESULT)
    for j, width in enumerate(grid.widths):
        sheet.set_column(j, j, width, None, {"hidden": j in grid.hidden})
    for row, points in grid.heights:
        sheet.set_row(row, points)
    sheet.set_row(0, style.TITLE_SIZE * 1.5)
    if grid.frozen_rows:
        sheet.freeze_panes(grid.frozen_rows, 0)
    if grid.repeat_row is not None:
        sheet.repeat_rows(grid.repeat_row)
    print_setup.apply(sheet, grid.paper, grid.name, units)
    if grid.breaks:
        # Excel passes breaks over where a page is fitted to the paper's width, so it is scaled instead.
        sheet.set_print_scale(floor(100.0 * grid.paper.scale))
        sheet.set_h_pagebreaks(grid.breaks)


def _add_table(sheet: Any, table: GridTable) -> None:
    done = sheet.add_table(
        table.head_row,
        0,
        table.last_row,
        len(table.headings) - 1,
        {
            "name": table.name,
            "style": None,
            "autofilter": table.filtered,
            "columns": [{"header": heading} for heading in table.headings],
        },
    )
    if done != 0:
        raise ValueError(f"the table {table.name!r} cannot stand on its page")


def _target(link: str | None, here: set[str], home: str | None) -> str | None:
    """Spell a checked link for XlsxWriter."""
    if link is None:
        return None
    if not link.startswith("#"):
        return f"external:{link}"
    page = link[1:].rpartition("!")[0].strip("'").replace("''", "'")
    if home is None or page.lower() in here:
        return f"internal:{link[1:]}"
    return f"external:{quote(home, safe='._-~()+,=')}{link}"


def _draw(sheet: Any, cell: GridCell, look: Any, target: str | None) -> None:
    """Write one cell; text is always written as text."""
    row, column = cell.row, cell.column
    if cell.span > 1:
        sheet.merge_range(row, column, row, column + cell.span - 1, "", look)
    if cell.picture is not None:
        sheet.write_blank(row, column, None, look)
        _insert(sheet, row, column, cell.picture)
    elif cell.value is None or cell.value == "":
        sheet.write_blank(row, column, None, look)
    elif isinstance(cell.value, str):
        text = cell.value
        if target is None or sheet.write_url(row, column, target, look, text) != 0:
            sheet.write_string(row, column, text, look)
    else:
        sheet.write_number(row, column, cell.value, look)


def _insert(sheet: Any, row: int, column: int, picture: Picture) -> None:
    """Place a picture in its cell at the size asked for, whatever its own resolution says."""
    facts = png_facts(picture.png)
    natural_width = facts.width * 96 / facts.dpi_x
    natural_height = facts.height * 96 / facts.dpi_y
    sheet.insert_image(
        row,
        column,
        "picture.png",
        {
            "image_data": io.BytesIO(picture.png),
            "description": picture.alt,
            "object_position": 1,
            "x_scale": picture.width * _PIXELS_PER_POINT / natural_width,
            "y_scale": picture.height * _PIXELS_PER_POINT / natural_height,
            "x_offset": PICTURE_SPACE,
            "y_offset": PICTURE_SPACE * _PIXELS_PER_POINT,
        },
    )


def _name_columns(book: Any, grids: Sequence[PageGrid], names: NamedColumns) -> None:
    for name, (page, cells) in named_places(grids, names).items():
        book.define_name(name, f"={quoted_page(page)}!{cells}")


def _with_forward_slashes(package: Package) -> Package:
    """Spell links to files with forward slashes, which every program follows on every system."""
    for name in package.names:
        if name.startswith("xl/worksheets/_rels/"):
            package.put(name, package.read(name).replace(b"\\", b"/"))
    return package


_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_USUAL_DPI = 96.0
_METRES_PER_INCH = 0.0254


@dataclass(frozen=True, slots=True)
class PngFacts:
    """Pixels and dots per inch of a picture."""

    width: int
    height: int
    dpi_x: float
    dpi_y: float


def png_facts(data: bytes) -> PngFacts:
    """Read width, height and resolution (source: W3C, PNG specification, chunks IHDR and pHYs).

    Raises
    ------
    ValueError
        The bytes are no PNG, or one without any pixels.
    """
    if not data.startswith(_SIGNATURE) or data[12:16] != b"IHDR" or len(data) < 33:
        raise ValueError("the picture is not a PNG")
    width, height = struct.unpack(">II", data[16:24])
    if not width or not height:
        raise ValueError("the picture has no pixels")
    dpi_x = dpi_y = _USUAL_DPI
    place = 8
    while place + 12 <= len(data):
        length, kind = struct.unpack(">I4s", data[place : place + 8])
        if kind == b"IDAT":
            break
        if kind == b"pHYs" and place + 17 <= len(data):
            per_metre_x, per_metre_y, unit = struct.unpack(">IIB", data[place + 8 : place + 17])
            if unit == 1 and per_metre_x and per_metre_y:
                dpi_x, dpi_y = per_metre_x * _METRES_PER_INCH, per_metre_y * _METRES_PER_INCH
        place += length + 12
    return PngFacts(width, height, dpi_x, dpi_y)


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
