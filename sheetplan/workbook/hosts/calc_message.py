"""What a run and the Calc extension say to one another: one JSON object a line, both ways.

From the extension, first ``{"run": ..., "path": ..., "sheets": [...], "named": {...}, "facts": {...}}``,
the facts saying how the document is open; later ``{"stop": true}``, ``{"touched": true}`` once somebody
has edited the document since it was read, ``{"moved": path}`` when it was saved under another name, and
answers: to a write ``{"written": true}``, with ``"unsaved": "why"`` where it could not be saved as it should,
``{"changed": true}`` where cells are not those that were read, or ``{"refused": "sentence"}``; to a read
``{"sheets": [...]}``. When the document goes, the line goes dead, and the run ends.
From the run ``{"progress": [share, sentence]}``, ``{"note": sentence}`` for the page Start,
``{"tell": sentence}``, ``{"read": true}``, ``{"write": {...}}`` and last ``{"end": true}``. Rows and
columns of cells to write count from 0; cells read are addressed from 1.
"""

from __future__ import annotations

import base64
import datetime
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import asdict
from typing import Any

from sheetplan.pages import palette
from sheetplan.pages.values import ChartKind
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.live_edit import Edits
from sheetplan.workbook.page_charts import axis_format, axis_title
from sheetplan.workbook.page_grid import GridChart, PageGrid
from sheetplan.workbook.page_looks import Look, looks_of
from sheetplan.workbook.reading_grid import GridRow
from sheetplan.workbook.reading_package import Box, SheetMarks, SheetPlace, TablePlace
from sheetplan.workbook.result_names import named_places
from sheetplan.workbook.splice_names import OWN_PAGE
from sheetplan.workbook.tables import CellValue, ErrorValue, NotComputed


class SentView:
    """The book as the extension sent it; a `reading_book.BookView`."""

    def __init__(self, sheets: Sequence[Mapping[str, Any]]) -> None:
        self._sheets = {sheet["name"]: sheet for sheet in sheets}
        self.places = tuple(
            SheetPlace(sheet["name"], "", tuple(_table(table) for table in sheet["tables"]))
            for sheet in sheets
        )

    def rows(self, sheet: str, box: Box) -> Iterator[GridRow]:
        """Rows of a block, as far as the sheet is filled; rows come from its first row and column."""
        lines = self._sheets[sheet]["rows"]
        for number in range(box.top, min(box.bottom, len(lines)) + 1):
            cells = lines[number - 1][box.left - 1 : box.right]
            yield number, [value_of(cell) for cell in cells]

    def marks(self, sheet: SheetPlace, block: Box) -> SheetMarks:
        """Merged blocks and hidden rows."""
        sent = self._sheets[sheet.name]
        merged = tuple(Box(*block) for block in sent.get("merged", ()))
        return SheetMarks(merged, frozenset(sent.get("hidden", ())))

    def formulas(self, sheet: str, box: Box) -> Set[tuple[int, int]]:
        """Places of formulas in a block."""
        return {
            (row, column)
            for left, top, right, bottom in self._sheets[sheet].get("formulas", ())
            for row in range(max(top, box.top), min(bottom, box.bottom) + 1)
            for column in range(max(left, box.left), min(right, box.right) + 1)
        }


def _table(sent: Mapping[str, Any]) -> TablePlace:
    return TablePlace(
        sent["name"], Box(*sent["box"]), sent["heading_row"], sent["total_row"], tuple(sent["names"])
    )


def value_of(sent: Any) -> CellValue:
    """One cell as it was sent: plain, or an object that says what kind of value it is."""
    if not isinstance(sent, dict):
        if isinstance(sent, float) and sent.is_integer():
            return int(sent)
        return sent if sent != "" else None
    if "error" in sent:
        return ErrorValue(str(sent["error"]))
    if "date" in sent:
        return datetime.datetime.fromisoformat(sent["date"])
    if "time" in sent:
        return datetime.time.fromisoformat(sent["time"])
    return NotComputed()


def write_message(grids: Sequence[PageGrid], units: Units) -> dict[str, Any]:
    """All that the extension needs to draw the pages, without a rule of its own."""
    names = {name: list(place) for name, place in named_places(grids).items()}
    return {"write": {"pages": [_page(grid, units) for grid in grids], "names": names, "mark": OWN_PAGE}}


def edits_message(edits: Edits) -> dict[str, Any]:
    """Cells to write and tables to stretch, rows and columns from 0."""
    return {
        "cells": [[one.sheet, one.row - 1, one.column - 1, one.value] for one in edits.cells],
        "growths": [
            [one.sheet, one.table, one.box.left - 1, one.box.top - 1, one.box.right - 1, one.box.bottom - 1]
            for one in edits.growths
        ],
    }


def _page(grid: PageGrid, units: Units) -> dict[str, Any]:
    looks: dict[Look, int] = {}
    pictures: list[dict[str, Any]] = []
    cells = []
    for cell, look in zip(grid.cells, looks_of(grid, units), strict=True):
        place = looks.setdefault(look, len(looks))
        cells.append([cell.row, cell.column, cell.span, place, cell.value, cell.link])
        if cell.picture is not None:
            picture = cell.picture
            png = base64.b64encode(picture.png).decode("ascii")
            pictures.append({"row": cell.row, "column": cell.column, "png": png, "width": picture.width,
                             "height": picture.height, "alt": picture.alt})  # fmt: skip
    return {
        "name": grid.name,
        "landscape": grid.landscape,
        "widths": list(grid.widths),
        "heights": [[row, points] for row, points in grid.heights],
        "frozen_rows": grid.frozen_rows,
        "repeat_row": grid.repeat_row,
        "tables": [
            {"name": t.name, "head_row": t.head_row, "last_row": t.last_row, "columns": len(t.headings)}
            for t in grid.tables
        ],
        "looks": [asdict(look) for look in looks],
        "cells": cells,
        "pictures": pictures,
        "charts": [_chart(chart, units) for chart in grid.charts],
    }


def _chart(placed: GridChart, units: Units) -> dict[str, Any]:
    """A native chart of the cells of its table."""
    wanted, table = placed.chart, placed.table
    return {
        "row": placed.row, "width": placed.width, "height": placed.height, "title": wanted.title,
        "axis": axis_title(placed, units), "format": axis_format(placed),
        "stacked": wanted.kind is not ChartKind.COLUMNS, "bars": wanted.kind is ChartKind.STACKED_BARS,
        "head_row": table.head_row, "last_row": table.last_row,
        "labels": placed.labels, "series": list(placed.series),
        "fills": [palette.KIT_FILLS[n % len(palette.KIT_FILLS)] for n in range(len(placed.series))],
        "edge": palette.EDGE, "ink": style.INK, "line": style.LINE,
    }  # fmt: skip
