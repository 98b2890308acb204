"""Findings about how a table lies on its page: merged cells, hidden rows, rows outside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from openpyxl.utils.cell import get_column_letter

from sheetplan.model.problem import Problem, Weight
from sheetplan.workbook.reading_package import Box
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import RawTable

MOST_MERGED_NOTES = 20
"""Merged blocks reported one by one; a page full of them gets one more line with the number."""


def too_many_rows(page: InputPage, sheet: str, rows: int | None, most: int) -> Problem:
    """A table longer than what is read."""
    size = f"covers {rows:,} rows" if rows else "goes on and on"
    return Problem(
        sheet,
        None,
        None,
        f"The table of {page.name} {size}; at most {most:,} are read.",
        "Drag the lower right corner of the table up to your last row, and clear the cells below.",
    )


def merged_notes(page: InputPage, table: RawTable, merged: Sequence[Box]) -> list[Problem]:
    """One note for each merged block among the rows that were read."""
    notes = []
    for box in sorted(merged, key=lambda box: (box.top, box.left))[:MOST_MERGED_NOTES]:
        first = f"{get_column_letter(box.left)}{box.top}"
        last = f"{get_column_letter(box.right)}{box.bottom}"
        notes.append(
            Problem(
                table.page,
                box.top,
                first,
                f"The cells {first}:{last} are merged: {first} holds the value, the others read as empty.",
                "Unmerge them and fill every cell.",
                Weight.NOTE,
            )
        )
    if len(merged) > MOST_MERGED_NOTES:
        notes.append(
            Problem(
                table.page,
                None,
                None,
                f"{len(merged) - MOST_MERGED_NOTES:,} more blocks of cells are merged.",
                f"Unmerge all cells of the table {page.table} and fill every cell.",
                Weight.NOTE,
            )
        )
    return notes


def hidden_note(sheet: str, rows: Sequence[int]) -> Problem:
    """Rows that a filter or a person has hidden count all the same; say so."""
    return Problem(
        sheet,
        rows[0],
        None,
        f"{_said(rows)} hidden and read all the same.",
        "Show all rows to see what is planned; delete rows that should not count.",
        Weight.NOTE,
    )


def rows_below_note(
    sheet: str, table: str, below: Sequence[int], read: Sequence[int], *, directly: bool = True
) -> Problem:
    """Rows that stand under a table without belonging to it: right under it, or with blank rows between."""
    left_out = [row for row in below if row not in set(read)]
    where = "directly below" if directly else "some blank rows below"
    what = f"{_said(below)} {where} the table {table}, not in it."
    if read and left_out:
        what += f" Read: {_numbers(read)}. Not read, for want of needed cells: {_numbers(left_out)}."
    else:
        what += " Read all the same." if read else " Not read, for want of needed cells."
    return Problem(
        sheet,
        below[0],
        None,
        what,
        "Drag the table's lower right corner down over the rows that belong to it.",
        Weight.NOTE if read and not left_out else Weight.LEFT_OUT,
    )


MOST_LONE_CELLS = 6
"""Cells outside a table that are named; the others are counted."""

MOST_LETTERS = 24
"""Letters of such a cell that are told."""


def two_pages(page: str, sheet: str, table: str, other: str) -> Problem:
    """Two tables could be the one that is meant: to read either without a word would plan the wrong month."""
    return Problem(
        other, None, None,
        f"Two pages could be the page {page}: this one by its name, {sheet} by its table's name, {table}.",
        f"Delete the one that is not meant. Or, if {sheet} is kept for reference, give its table another "
        f"name (Table Design, Table Name) and name the table of this page {table}.",
        Weight.STOPS,
    )  # fmt: skip


def lone_cells_note(sheet: str, table: str, cells: Mapping[str, object]) -> Problem:
    """Cells beside or below a table, by address: remarks perhaps, or a row that was typed elsewhere."""
    named = [f"{at} ({str(value)[:MOST_LETTERS]})" for at, value in list(cells.items())[:MOST_LONE_CELLS]]
    more = f" and {len(cells) - MOST_LONE_CELLS:,} more" if len(cells) > MOST_LONE_CELLS else ""
    return Problem(
        sheet, None, next(iter(cells)),
        f"Outside the table {table}, and not read: {', '.join(named)}{more}.",
        "If they are meant for the table, move them into a row of it; remarks may stay.",
        Weight.NOTE,
    )  # fmt: skip


def _said(rows: Sequence[int]) -> str:
    return f"Row {rows[0]} is" if len(rows) == 1 else f"Rows {_numbers(rows)} are"


def _numbers(rows: Sequence[int], most: int = 6) -> str:
    """Row numbers as a person lists them: runs as ``7 to 9``, the rest cut short.

    >>> _numbers([3, 7, 8, 9])
    '3, 7 to 9'
    """
    runs: list[list[int]] = []
    for row in rows:
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    said = [f"{a}" if a == b else f"{a} to {b}" for a, b in runs[:most]]
    return ", ".join(said) + (" and more" if len(runs) > most else "")
