"""Read a Calc document through UNO, as the run wants it; rows and columns count from 1."""

from __future__ import annotations

import datetime
from typing import Any

from calc_document import OWN_PAGE, is_planners
from com.sun.star.lang import Locale

DATES, FORMULAS = 2, 16
DATE_FORMAT = 2
OUR_NAMES = "sheetplan_"


def read_document(document: Any) -> list[dict[str, Any]]:
    """All sheets with their tables and cells."""
    tables = _tables(document)
    null = document.NullDate
    start = datetime.datetime(null.Year, null.Month, null.Day)
    return [
        {"name": sheet.Name, "tables": tables.get(place, []), **_cells(document, sheet, start)}
        for place, sheet in enumerate(document.Sheets)
    ]


def read_named(document: Any) -> dict[str, str]:
    """What stands in the single cells that bear one of our names."""
    found = {}
    names = document.NamedRanges
    for name in names.ElementNames:
        cells = names.getByName(name).ReferredCells if name.startswith(OUR_NAMES) else None
        if cells is not None and cells.supportsService("com.sun.star.sheet.SheetCell"):
            found[name] = cells.getString()
        elif cells is not None and cells.Rows.Count == cells.Columns.Count == 1:
            found[name] = cells.getCellByPosition(0, 0).getString()
    return found


def facts_of(document: Any) -> dict[str, Any]:
    """How the document is open: what may stand in the way of writing, and how its program writes numbers."""
    formats = document.NumberFormats
    tenths = formats.generateFormat(formats.getStandardIndex(Locale()), Locale(), False, False, 1, 1)
    return {
        "comma": "," in tenths,
        "read only": document.isReadonly(),
        "structure protected": document.isProtected(),
        "protected": [sheet.Name for sheet in document.Sheets if sheet.isProtected()],
        "planners": [sheet.Name for sheet in document.Sheets if is_planners(sheet, OWN_PAGE)],
    }


def inputs_of(sent: list[dict[str, Any]]) -> list[Any]:
    """What a person wrote on pages with tables, without what formulas give, which may change by itself."""
    kept = []
    for sheet in sent:
        if not sheet["tables"]:
            continue  # nothing is read of it; Start is one of these, where a run says how it goes
        live = {
            (row, column)
            for left, top, right, bottom in sheet["formulas"]
            for row in range(top, bottom + 1)
            for column in range(left, right + 1)
        }
        rows = [
            [None if (number, column) in live else cell for column, cell in enumerate(cells, start=1)]
            for number, cells in enumerate(sheet["rows"], start=1)
        ]
        kept.append((sheet["name"], sheet["tables"], rows))
    return kept


def _cells(document: Any, sheet: Any, start: datetime.datetime) -> dict[str, Any]:
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    end = cursor.RangeAddress
    block = sheet.getCellRangeByPosition(0, 0, end.EndColumn, end.EndRow)
    return {
        "rows": _rows(document, sheet, block, start),
        "formulas": [_box(area) for area in block.queryContentCells(FORMULAS).RangeAddresses],
        "merged": _merged(sheet, block),
        "hidden": _hidden(block, end.EndRow),
    }


def _box(area: Any) -> list[int]:
    return [area.StartColumn + 1, area.StartRow + 1, area.EndColumn + 1, area.EndRow + 1]


def _merged(sheet: Any, block: Any) -> list[list[int]]:
    """Merged blocks. Cells of one format lie together, and the first cell of a merged block has its own."""
    found = []
    formats = block.UniqueCellFormatRanges
    for place in range(formats.Count):
        alike = formats.getByIndex(place).RangeAddresses
        first = alike[0]
        if not sheet.getCellByPosition(first.StartColumn, first.StartRow).getIsMerged():
            continue
        for row, column in (spot for area in alike for spot in _places(area)):
            cursor = sheet.createCursorByRange(sheet.getCellByPosition(column, row))
            cursor.collapseToMergedArea()
            found.append(_box(cursor.RangeAddress))
    return sorted(found)


def _hidden(block: Any, last: int) -> list[int]:
    """Rows that a filter or a person has hidden."""
    shown: set[int] = set()
    for area in block.queryVisibleCells().RangeAddresses:
        shown.update(range(area.StartRow, area.EndRow + 1))
    return [row + 1 for row in range(last + 1) if row not in shown]


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


def _rows(document: Any, sheet: Any, block: Any, start: datetime.datetime) -> list[list[Any]]:
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
