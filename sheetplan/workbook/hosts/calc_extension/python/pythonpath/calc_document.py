"""Draw into a Calc document through UNO; rows and columns count from 0."""

from __future__ import annotations

import base64
import os
import tempfile
from typing import Any

import uno
import unohelper
from calc_charts import draw_chart, format_key
from com.sun.star.awt import Point, Size
from com.sun.star.awt.FontUnderline import SINGLE
from com.sun.star.awt.FontWeight import BOLD
from com.sun.star.beans import PropertyValue
from com.sun.star.table import BorderLine2, CellAddress, CellRangeAddress

HUNDREDTHS_PER_POINT = 2540 / 72
"""LibreOffice measures in hundredths of a millimetre."""

POINTS_PER_CHARACTER = 5.25
PICTURE_SPACE = 6.0
OWN_PAGE = "sheetplan_page"
"""Name of the first cell of pages that are ours."""

EVERYTHING = 1023
CONTENT = 1 | 2 | 4 | 16
"""Numbers, dates, text and formulas, but no formats and notes."""


class PageRefused(Exception):
    """A page that bears one of our names is the planner's own."""


def is_planners(sheet: Any, mark: str) -> bool:
    """Whether a page holds something and does not bear our mark."""
    if sheet.NamedRanges.hasByName(mark):
        return False
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    end = cursor.RangeAddress
    return bool(end.EndColumn or end.EndRow or sheet.getCellByPosition(0, 0).getString())


def _place(sheets: Any, page: dict[str, Any]) -> int:
    """Where a new page goes: after the nearest of ours that it follows, else before one, else to the end."""
    for names, beyond in ((page["follows"], 1), (page["precedes"], 0)):
        for name in names:
            if sheets.hasByName(name):
                return int(sheets.getByName(name).RangeAddress.Sheet) + beyond
    return int(sheets.Count)


class Drawing:
    """Draws pages into a document."""

    def __init__(self, context: Any, document: Any, mark: str) -> None:
        self._context, self._document, self._mark = context, document, mark
        self._folder = document.URL.rpartition("/")[0]

    def draw(self, write: dict[str, Any]) -> None:
        """Write cells and draw all pages.

        None of it goes into the list of steps to undo: taking pictures and charts back one by one leaves
        pages half old, and can end the program.
        """
        sheets = self._document.Sheets
        for page in write["pages"]:
            if sheets.hasByName(page["name"]):
                self._refuse_planners(sheets.getByName(page["name"]))
        undo = self._document.UndoManager
        undo.lock()
        self._document.lockControllers()
        try:
            for growth in write["growths"]:
                self._grow(*growth)
            for name, row, column, value in write["cells"]:
                _put(sheets.getByName(name).getCellByPosition(column, row), value)
            for page in write["pages"]:
                if not sheets.hasByName(page["name"]):
                    sheets.insertNewByName(page["name"], _place(sheets, page))
                self._draw_page(sheets.getByName(page["name"]), page)
            for name, (page_name, cells) in write["names"].items():
                self._name(self._document.NamedRanges, name, page_name, cells)
        finally:
            self._document.unlockControllers()
            undo.unlock()

    def _grow(self, name: str, table: str, left: int, top: int, right: int, bottom: int) -> None:
        """Take the row below a table into it, with the formats and formulas of its last row."""
        sheet = self._document.Sheets.getByName(name)
        number = sheet.RangeAddress.Sheet
        sheet.copyRange(
            CellAddress(number, left, bottom + 1), CellRangeAddress(number, left, bottom, right, bottom)
        )
        area = CellRangeAddress(number, left, top, right, bottom + 1)
        self._document.DatabaseRanges.getByName(table).setDataArea(area)

    def _refuse_planners(self, sheet: Any) -> None:
        if is_planners(sheet, self._mark):
            raise PageRefused(
                f"The page {sheet.Name} is your own: it was not made here, so it is not replaced."
            )

    def _draw_page(self, sheet: Any, page: dict[str, Any]) -> None:
        self._clear(sheet)
        rows = 1 + max(cell[0] for cell in page["cells"])
        block: list[list[Any]] = [[""] * len(page["widths"]) for _ in range(rows)]
        for row, column, _, _, value, _ in page["cells"]:
            block[row][column] = "" if value is None else value
        cells = sheet.getCellRangeByPosition(0, 0, len(page["widths"]) - 1, rows - 1)
        cells.setDataArray(tuple(tuple(row) for row in block))
        self._look(sheet, page)
        for row, column, _, _, value, link in page["cells"]:
            if link is not None and value:
                self._link(sheet.getCellByPosition(column, row), value, link)
        for picture in page["pictures"]:
            self._picture(sheet, picture)
        for number, chart in enumerate(page["charts"], start=1):
            # Names of charts are the document's, not the sheet's.
            draw_chart(sheet, f"sheetplan {page['name']} {number}", chart, HUNDREDTHS_PER_POINT)
        for table in page["tables"]:
            area = CellRangeAddress(
                sheet.RangeAddress.Sheet, 0, table["head_row"], table["columns"] - 1, table["last_row"]
            )
            ranges = self._document.DatabaseRanges
            if ranges.hasByName(table["name"]):
                ranges.removeByName(table["name"])
            ranges.addNewByName(table["name"], area)
        self._name(sheet.NamedRanges, self._mark, page["name"], "$A$1")

    def _clear(self, sheet: Any) -> None:
        """Take away what the last run drew."""
        ranges = self._document.DatabaseRanges
        for name in ranges.ElementNames:
            if ranges.getByName(name).DataArea.Sheet == sheet.RangeAddress.Sheet:
                ranges.removeByName(name)
        shapes = sheet.DrawPage
        for place in reversed(range(shapes.Count)):
            shapes.remove(shapes.getByIndex(place))
        cursor = sheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        end = cursor.RangeAddress
        used = sheet.getCellRangeByPosition(0, 0, max(end.EndColumn, 40), end.EndRow)
        used.merge(False)
        used.clearContents(EVERYTHING)
        used.Rows.OptimalHeight = True

    def _look(self, sheet: Any, page: dict[str, Any]) -> None:
        by_look: dict[int, list[Any]] = {}
        number = sheet.RangeAddress.Sheet
        for row, column, span, look, _, _ in page["cells"]:
            by_look.setdefault(look, []).append(CellRangeAddress(number, column, row, column + span - 1, row))
        for look, areas in by_look.items():
            cells = self._document.createInstance("com.sun.star.sheet.SheetCellRanges")
            cells.addRangeAddresses(tuple(areas), False)
            self._apply(cells, page["looks"][look])
        for row, column, span, _, _, _ in page["cells"]:
            if span > 1:
                sheet.getCellRangeByPosition(column, row, column + span - 1, row).merge(True)
        for column, width in enumerate(page["widths"]):
            points = width * POINTS_PER_CHARACTER + 4
            sheet.Columns.getByIndex(column).IsVisible = column not in page["hidden"]
            sheet.Columns.getByIndex(column).Width = int(points * HUNDREDTHS_PER_POINT)
        sheet.removeAllManualPageBreaks()
        for row in page["breaks"]:
            sheet.Rows.getByIndex(row).IsStartOfNewPage = True
        for row, points in page["heights"]:
            sheet.Rows.getByIndex(row).Height = int(points * HUNDREDTHS_PER_POINT)

    def _apply(self, cells: Any, look: dict[str, Any]) -> None:
        cells.CharHeight = look["size"]
        cells.CharWeight = BOLD if look["bold"] else 100.0
        cells.CharColor = _colour(look["ink"])
        if look["underline"]:
            cells.CharUnderline = SINGLE
        if look["fill"]:
            cells.CellBackColor = _colour(look["fill"])
        cells.IsTextWrapped = look["wrap"]
        cells.HoriJustify = _enum(
            "table.CellHoriJustify", {"left": "LEFT", "right": "RIGHT"}.get(look["side"])
        )
        heights = {"top": "TOP", "centre": "CENTER", "bottom": "BOTTOM"}
        cells.VertJustify = {"TOP": 1, "CENTER": 2, "BOTTOM": 3}[heights[look["height"]]]
        if look["indent"]:
            cells.ParaIndent = int(10 * HUNDREDTHS_PER_POINT)
        if look["line_below"]:
            cells.BottomBorder = _line(look["line_below"])
        if look["line_above"]:
            cells.TopBorder = _line(look["line_above"])
        cells.NumberFormat = format_key(self._document.NumberFormats, look["number_format"])

    def _link(self, cell: Any, text: str, link: str) -> None:
        field = self._document.createInstance("com.sun.star.text.TextField.URL")
        field.URL = "#" + link[1:].replace("!", ".") if link.startswith("#") else f"{self._folder}/{link}"
        field.Representation = text
        cell.setString("")
        cell.insertTextContent(cell.createTextCursor(), field, False)

    def _picture(self, sheet: Any, sent: dict[str, Any]) -> None:
        handle, path = tempfile.mkstemp(suffix=".png")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(base64.b64decode(sent["png"]))
            provider = self._context.ServiceManager.createInstanceWithContext(
                "com.sun.star.graphic.GraphicProvider", self._context
            )
            url = PropertyValue()
            url.Name, url.Value = "URL", unohelper.systemPathToFileUrl(path)
            graphic = provider.queryGraphic((url,))
        finally:
            os.unlink(path)
        cell = sheet.getCellByPosition(sent["column"], sent["row"])
        shape = self._document.createInstance("com.sun.star.drawing.GraphicObjectShape")
        space = int(PICTURE_SPACE * HUNDREDTHS_PER_POINT)
        shape.Position = Point(cell.Position.X + space, cell.Position.Y + space)
        shape.Size = Size(
            int(sent["width"] * HUNDREDTHS_PER_POINT), int(sent["height"] * HUNDREDTHS_PER_POINT)
        )
        sheet.DrawPage.add(shape)
        shape.Graphic = graphic
        shape.Title = sent["alt"]
        shape.Anchor = cell

    def _name(self, names: Any, name: str, page: str, cells: str) -> None:
        if names.hasByName(name):
            names.removeByName(name)
        quoted = "'" + page.replace("'", "''") + "'"
        place = self._document.Sheets.getByName(page).RangeAddress.Sheet
        # Each corner names its page: Calc writes a range on another page that way.
        content = ":".join(
            f"${quoted}.{corner}" if n == 0 else corner for n, corner in enumerate(cells.split(":"))
        )
        names.addNewByName(name, content, CellAddress(place, 0, 0), 0)


def _put(cell: Any, value: Any) -> None:
    """Write text as text, a number as a number, a day as a day; nothing clears the cell's content alone.

    Calc reads year-month-day as a day in every language, and counts it from the document's own first day. In
    a cell whose format shows no day it stays text, which is read as the same day.
    """
    if isinstance(value, dict):
        cell.setFormula(value["day"])
        if cell.getString().isdigit():
            cell.setString(value["day"])
    elif value is None or value == "":
        cell.clearContents(CONTENT)
    elif isinstance(value, str):
        cell.setString(value)
    else:
        cell.setValue(value)


def _colour(text: str) -> int:
    return int(text.lstrip("#"), 16)


def _line(colour: str) -> Any:
    line = BorderLine2()
    line.Color, line.OuterLineWidth, line.LineWidth = _colour(colour), 18, 18
    return line


def _enum(kind: str, name: str | None) -> Any:
    return uno.Enum(f"com.sun.star.{kind}", name or "STANDARD")
