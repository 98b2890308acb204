"""Workbook names that result pages carry for formulas elsewhere in the book."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from openpyxl.utils.cell import get_column_letter

from sheetplan.pages.values import (
    LAYOUT_TABLE,
    PART_TABLE,
    PROBLEM_KEY,
    PROBLEM_PLACE,
    PROBLEM_SAID,
    PROBLEM_TABLE,
    PROBLEM_TURN,
    PROBLEM_WHAT,
)
from sheetplan.workbook.page_grid import PageGrid

NamedColumns = Mapping[str, tuple[str, str]]
"""Workbook names over one column of a result table: name to (table, heading as drawn)."""

RUN, MONTH, SAID = "sheetplan_run", "sheetplan_month", "sheetplan_said"
"""Cells of the page Start: the run to do, the month to balance, and how the last run went."""

PROBLEM_KEYS = "sheetplan_problem_keys"
"""The cells that name the row of each problem, as ``Parts!12``."""

PROBLEM_MESSAGES = "sheetplan_problem_messages"
"""The cells beside them that say what is wrong."""

PROBLEM_TURNS = "sheetplan_problem_turns"
"""The cells that tell the problems of one row apart, as ``Parts!12/1``."""

PROBLEM_PLACES, PROBLEM_SAYS = "sheetplan_problem_columns", "sheetplan_problem_says"
"""The cells that say which column each is about, and what stood there."""

TIMES, CUT, PIECES, MINUTES = "sheetplan_times", "sheetplan_cut", "sheetplan_pieces", "sheetplan_minutes"
"""Of each layout: how often it is to be cut, how often it is, and pieces and minutes of one sheet."""

PLANNED_PARTS, PLANNED_WEIGHTS = "sheetplan_planned_parts", "sheetplan_planned_weights"
"""Of each part that is planned: its name, and what one weighs with its holes taken off."""

NAMED_COLUMNS: NamedColumns = MappingProxyType(
    {
        TIMES: (LAYOUT_TABLE, "Times to cut"),
        CUT: (LAYOUT_TABLE, "Cut so far"),
        PIECES: (LAYOUT_TABLE, "Pieces"),
        MINUTES: (LAYOUT_TABLE, "Minutes"),
        PLANNED_PARTS: (PART_TABLE, "Part"),
        PLANNED_WEIGHTS: (PART_TABLE, "Weight each"),
        PROBLEM_KEYS: (PROBLEM_TABLE, PROBLEM_KEY),
        PROBLEM_MESSAGES: (PROBLEM_TABLE, PROBLEM_WHAT),
        PROBLEM_TURNS: (PROBLEM_TABLE, PROBLEM_TURN),
        PROBLEM_PLACES: (PROBLEM_TABLE, PROBLEM_PLACE),
        PROBLEM_SAYS: (PROBLEM_TABLE, PROBLEM_SAID),
    }
)
"""Name to (result table, heading), for `page_writer.draw_pages`."""


def named_places(
    grids: Sequence[PageGrid], names: NamedColumns = NAMED_COLUMNS
) -> dict[str, tuple[str, str]]:
    """Page and cells (``$A$4:$A$9``) that each name stands for, for the tables that are drawn."""
    places = {table.name: (grid.name, table) for grid in grids for table in grid.tables}
    found = {}
    for name, (table_name, heading) in sorted(names.items()):
        if table_name in places:
            page, table = places[table_name]
            if heading not in table.headings:
                continue
            letter = get_column_letter(table.headings.index(heading) + 1)
            # Rows of a grid count from 0, so the first row of data is the head's number plus 2.
            found[name] = (page, f"${letter}${table.head_row + 2}:${letter}${table.last_row + 1}")
    return found
