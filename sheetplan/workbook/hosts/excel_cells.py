"""Single cells of a book that is open in Excel: how they lie, and writing them.

Excel answers questions about a block as a whole, and says nothing definite where its cells differ;
so a block is halved until every half has one answer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from sheetplan.workbook.hosts.excel_drawing import written
from sheetplan.workbook.live_edit import Edits
from sheetplan.workbook.reading_package import Box

MOST_QUESTIONS = 2_000
"""Questions asked about one block: a second or two. What is found only makes messages better."""


def hidden_rows(sheet: Any, block: Box) -> frozenset[int]:
    """Rows of a block that a filter or a person has hidden; their height is 0."""
    found: set[int] = set()

    def height(top: int, bottom: int) -> float | None:
        said = sheet.range((top, block.left), (bottom, block.left)).row_height
        return said if isinstance(said, int | float) else None

    def look(part: Box) -> bool:
        said = height(part.top, part.bottom)
        if said is None:
            return part.top < part.bottom
        if said < 1.0:
            found.update(range(part.top, part.bottom + 1))
        return False

    _halve(block, look)
    return frozenset(found)


def merged_blocks(sheet: Any, block: Box) -> tuple[Box, ...]:
    """Merged blocks of cells that begin in a block or reach into it."""
    found: dict[tuple[int, int], Box] = {}

    def look(part: Box) -> bool:
        cells = sheet.range((part.top, part.left), (part.bottom, part.right))
        if cells.merge_cells is False:
            return False
        if (part.left, part.top) != (part.right, part.bottom):
            return True
        whole = cells.merge_area
        rows, columns = whole.shape
        found[whole.row, whole.column] = Box(
            whole.column, whole.row, whole.column + columns - 1, whole.row + rows - 1
        )
        return False

    _halve(block, look)
    return tuple(found.values())


def _halve(block: Box, look: Callable[[Box], bool]) -> None:
    """Show ``look`` the block, then its halves for as long as it wants to see more."""
    waiting = [block]
    for _ in range(MOST_QUESTIONS):
        if not waiting:
            return
        part = waiting.pop()
        if not look(part):
            continue
        if part.bottom > part.top:
            middle = (part.top + part.bottom) // 2
            waiting += [replace(part, top=middle + 1), replace(part, bottom=middle)]
        elif part.right > part.left:
            middle = (part.left + part.right) // 2
            waiting += [replace(part, left=middle + 1), replace(part, right=middle)]


def write_cells(book: Any, edits: Edits) -> None:
    """Let tables grow, then write the cells."""
    for growth in edits.growths:
        sheet, box = book.sheets[growth.sheet], growth.box
        last = sheet.range((box.bottom, box.left), (box.bottom, box.right))
        last.copy(sheet.range((box.bottom + 1, box.left), (box.bottom + 1, box.right)))
        table = next(one for one in sheet.tables if one.name == growth.table)
        table.resize(sheet.range((box.top, box.left), (box.bottom + 1, box.right)))
    for cell in edits.cells:
        book.sheets[cell.sheet].range((cell.row, cell.column)).value = written(cell.value)
