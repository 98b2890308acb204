"""Read and draw a Calc document through UNO; cells to draw count from 0, cells read from 1."""

from __future__ import annotations

import base64
import datetime
import os
import tempfile
from typing import Any

import uno
import unohelper
from com.sun.star.awt import Point, Size
from com.sun.star.awt.FontUnderline import SINGLE
from com.sun.star.awt.FontWeight import BOLD
from com.sun.star.beans import PropertyValue
from com.sun.star.lang import Locale
from com.sun.star.table import BorderLine2, CellAddress, CellRangeAddress

HUNDREDTHS_PER_POINT = 2540 / 72
"""LibreOffice measures in hundredths of a millimetre."""

POINTS_PER_CHARACTER = 5.25
PICTURE_SPACE = 6.0
EVERYTHING = 1023
DATES, FORMULAS, ERRORS = 2, 16, 4
DATE_FORMAT = 2


class PageRefused(Exception):
    """A page that bears one of our names is the planner's own."""


def read_document(document: Any) -> list[dict[str, Any]]:
    """All sheets with their tables and cells, as the run wants them."""
    tables = _tables(document)
    null = document.NullDate
    start = datetime.datetime(null.Year, null.Month, null.Day)
    return [
        {"name": sheet.Name, "tables": tables.get(place, []), "rows": _rows(document, sheet, start)}
        for place, sheet in enumerate(document.Sheets)
    ]


def _tables(document: Any) -> dict[int, list[dict[str, Any]]]:
    """Tables by the number of their sheet; Calc calls them database ranges."""
    found: dict[int, list[dict[str, Any]]] = {}
    ranges = document.DatabaseRanges
    for name in ranges.ElementNames:
        area = ranges.getByName(name).DataArea
        sheet = document.Sheets.getByIndex(area.Sheet)
        head = sheet.getCellRangeByPosition(area.StartColumn, area.StartRow, area.EndColumn, area.StartRow)
        found.setdefault(area.Sheet, []).append({
            "name": name,
            "box": [area.StartColumn + 1, area.StartRow + 1, area.EndColumn + 1, area.EndRow + 1],
            "heading_row": True,
            "total_row": False,
            "names": [str(cell) for cell in head.getDataArray()[0]],
        })  # fmt: skip
    return found


def _rows(document: Any, sheet: Any, start: datetime.datetime) -> list[list[Any]]:
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    end = cursor.RangeAddress
    block = sheet.getCellRangeByPosition(0, 0, end.EndColumn, end.EndRow)
    rows: list[list[Any]] = [[c if c != "" else None for c in row] for row in block.getDataArray()]
    for area in block.queryContentCells(DATES).RangeAddresses:
        for row, column in _places(area):
            if isinstance(rows[row][column], float):
                rows[row][column] = _date(start, rows[row][column])
    formats = document.NumberFormats
    for area in block.queryContentCells(FORMULAS).RangeAddresses:
        for row, column in _places(area):
            cell = sheet.getCellByPosition(column, row)
            if cell.getError():
                rows[row][column] = {"error": cell.getString()}
            elif (
                isinstance(rows[row][column], float)
                and formats.getByKey(cell.NumberFormat).Type & DATE_FORMAT
            ):
                rows[row][column] = _date(start, rows[row][column])
    return rows


def _date(start: datetime.datetime, days: Any) -> dict[str, str]:
    return {"date": (start + datetime.timedelta(days)).isoformat()}


def _places(area: Any) -> list[tuple[int, int]]:
    return [
        (row, column)
        for row in range(area.StartRow, area.EndRow + 1)
        for column in range(area.StartColumn, area.EndColumn + 1)
    ]


class Drawing:
    """Draws pages into a document."""

    def __init__(self, context: Any, document: Any, mark: str) -> None:
        self._context, self._document, self._mark = context, document, mark
        self._folder = document.URL.rpartition("/")[0]

    def draw(self, write: dict[str, Any]) -> None:
        """Draw all pages in one step that can be undone."""
        sheets = self._document.Sheets
        for page in write["pages"]:
            if sheets.hasByName(page["name"]):
                self._refuse_planners(sheets.getByName(page["name"]))
        undo = self._document.UndoManager
        undo.enterUndoContext("sheetplan")
        self._document.lockControllers()
        try:
            for page in write["pages"]:
                if not sheets.hasByName(page["name"]):
                    sheets.insertNewByName(page["name"], sheets.Count)
                self._draw_page(sheets.getByName(page["name"]), page)
            for name, (page_name, cells) in write["names"].items():
                self._name(self._document.NamedRanges, name, page_name, cells)
        finally:
            self._document.unlockControllers()
            undo.leaveUndoContext()

    def _refuse_planners(self, sheet: Any) -> None:
        if sheet.NamedRanges.hasByName(self._mark):
            return
        cursor = sheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        end = cursor.RangeAddress
        if end.EndColumn or end.EndRow or sheet.getCellByPosition(0, 0).getString():
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
            sheet.Columns.getByIndex(column).Width = int(points * HUNDREDTHS_PER_POINT)
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
        cells.NumberFormat = self._format(look["number_format"])

    def _format(self, code: str) -> int:
        formats, english = self._document.NumberFormats, Locale("en", "US", "")
        key = formats.queryKey(code, english, False)
        return int(key if key != -1 else formats.addNew(code, english))

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


def _colour(text: str) -> int:
    return int(text.lstrip("#"), 16)


def _line(colour: str) -> Any:
    line = BorderLine2()
    line.Color, line.OuterLineWidth, line.LineWidth = _colour(colour), 18, 18
    return line


def _enum(kind: str, name: str | None) -> Any:
    return uno.Enum(f"com.sun.star.{kind}", name or "STANDARD")
