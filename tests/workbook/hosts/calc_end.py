"""The extension's end of the conversation for tests: sends a book's cells, keeps what it is told to draw."""

from __future__ import annotations

import datetime
import io
import json
import queue
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.utils import range_boundaries

ERRORS = ("#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!")


def request(path: Path, run: str = "plan") -> dict[str, Any]:
    """The request for a book, as the extension builds it."""
    book = openpyxl.load_workbook(path, data_only=True)
    return {"run": run, "path": str(path), "sheets": [_sheet(sheet) for sheet in book.worksheets]}


def _sheet(sheet: Any) -> dict[str, Any]:
    tables = [
        {
            "name": table.displayName,
            "box": list(range_boundaries(table.ref)),
            "heading_row": table.headerRowCount != 0,
            "total_row": bool(table.totalsRowCount),
            "names": [column.name for column in table.tableColumns],
        }
        for table in sheet.tables.values()
    ]
    rows = [[_sent(cell) for cell in row] for row in sheet.iter_rows()]
    return {
        "name": sheet.title,
        "tables": tables,
        "rows": rows,
        "merged": sorted(list(block.bounds) for block in sheet.merged_cells.ranges),
        "hidden": [row for row, facts in sorted(sheet.row_dimensions.items()) if facts.hidden],
        "formulas": [],
    }


def _sent(cell: Any) -> Any:
    value = cell.value
    if isinstance(value, datetime.datetime):
        return {"date": value.isoformat()}
    if cell.data_type == "e":
        return {"error": value}
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


class CalcEnd(io.TextIOBase):
    """Takes messages line by line and answers them; the other direction is `lines`."""

    def __init__(self, answer: dict[str, Any] | None = None) -> None:
        self.answer = answer or {"written": True}
        self.said: list[dict[str, Any]] = []
        self.pages: dict[str, dict[str, Any]] = {}
        self._waiting: queue.Queue[str | None] = queue.Queue()

    def write(self, text: str) -> int:
        message = json.loads(text)
        self.said.append(message)
        if "write" in message:
            self.pages |= {page["name"]: page for page in message["write"]["pages"]}
            self.send(self.answer)
        return len(text)

    def send(self, message: dict[str, Any]) -> None:
        self._waiting.put(json.dumps(message) + "\n")

    def close_line(self) -> None:
        self._waiting.put(None)

    def lines(self) -> Iterator[str]:
        while (line := self._waiting.get()) is not None:
            yield line
