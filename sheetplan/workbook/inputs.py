"""What the planner filled in, as distinct from the formulas beside it."""

from __future__ import annotations

from sheetplan.workbook.columns import INPUT_PAGES
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.tables import BookTables, CellValue

Inputs = dict[str, list[tuple[int, list[tuple[str, CellValue]]]]]
"""By page: for each row its number, and heading and value of each input cell."""


def inputs_only(tables: BookTables) -> Inputs:
    """Input cells of all tables; formulas beside them may change by themselves.

    Equal for two readings between which nobody has changed an input.
    """
    found: Inputs = {}
    for page in INPUT_PAGES:
        table = tables.tables.get(page.name)
        if table is None:
            continue
        wanted = {normal(column.heading) for column in page.columns}
        found[page.name] = [
            (
                row.number,
                [(heading, cell.value) for heading, cell in row.cells.items() if normal(heading) in wanted],
            )
            for row in table.rows
        ]
    return found
