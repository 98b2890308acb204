"""Names that the template's formulas and drop-downs use, and how a cell of a table is written."""

from __future__ import annotations

from sheetplan.workbook.schema import InputPage

GAUGE_NUMBERS = "sheetplan_gauge_numbers"
GAUGE_SYSTEMS = "sheetplan_gauge_systems"
GAUGE_VALUES = "sheetplan_gauge_values"

LIST_MATERIALS = "sheetplan_materials"
LIST_PARTS = "sheetplan_parts"
LIST_ITEMS = "sheetplan_items"

HEAD_ROW = 3
"""Row of the headings on every input page, from 0: title, one line and a free row stand above."""

FIRST_ROW = HEAD_ROW + 1


def this(page: InputPage, heading: str) -> str:
    """The cell of this row under a heading."""
    return f"{page.table}[[#This Row],[{heading}]]"


def whole(page: InputPage, heading: str) -> str:
    """All cells under a heading."""
    return f"{page.table}[{heading}]"
