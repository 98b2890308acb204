"""The mark of the plan that a book shows."""

from __future__ import annotations

import re
from pathlib import Path

_SEARCHED_ROWS = 6
_LINE = re.compile(r"Plan ([A-Z]{4}), ")


def plan_mark(path: Path) -> str | None:
    """The letters that the page Plan gives; None where the book shows no plan."""
    import openpyxl

    book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    try:
        if "Plan" not in book.sheetnames:
            return None
        rows = book["Plan"].iter_rows(max_row=_SEARCHED_ROWS, max_col=1, values_only=True)
        for (text,) in rows:
            found = _LINE.match(str(text or ""))
            if found:
                return found.group(1)
        return None
    finally:
        book.close()
