"""Rows of the page Quotes that name a drawing: read as rows of Parts, told of where they stand."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from sheetplan.drawings.reading.choices import is_assumed
from sheetplan.model import Job, Problem, Weight
from sheetplan.workbook.columns import PARTS, QUOTES
from sheetplan.workbook.reading.grid import is_blank, normal
from sheetplan.workbook.tables import BookTables, RawCell, RawRow

if TYPE_CHECKING:
    from sheetplan.workbook.reading.parts import Drawings
    from sheetplan.workbook.reading.rows import Place

OF_DRAWING = 10_000_000
"""A row of Parts that stands for a drawing on the page Quotes has its row there and this much more."""

OF_PART = ("Drawing", "Material", "Thickness", "Drawn in")
"""Columns of the page Quotes that mean for a drawing what they mean on the page Parts."""


def _cell(row: RawRow, heading: str) -> RawCell | None:
    return next((cell for name, cell in row.cells.items() if normal(name) == normal(heading)), None)


def _is_drawn(row: RawRow) -> bool:
    drawing, item = _cell(row, "Drawing"), _cell(row, "Item")
    return drawing is not None and not is_blank(drawing.value) and (item is None or is_blank(item.value))


def drawn_name(quote: str) -> str:
    """What the part of a quoted drawing is called."""
    return f"{quote} drawing"


def drawn_part(row: RawRow) -> str:
    """What the part of a row with a drawing is called."""
    cell = _cell(row, "Quote")
    return drawn_name(" ".join(str(cell.value).split()) if cell and not is_blank(cell.value) else "")


def with_drawn(tables: BookTables) -> BookTables:
    """The tables with a row of Parts for each drawing on the page Quotes, so that it is read like theirs."""
    parts = tables.tables.get(PARTS.name)
    if parts is None:
        return tables
    rows = []
    for row in new_drawn(tables):
        there = {heading: _cell(row, heading) for heading in OF_PART}
        name = _cell(row, "Quote")
        cells = {heading: cell for heading, cell in there.items() if cell is not None}
        cells["Part"] = RawCell(drawn_part(row), name.address if name else "")
        rows.append(RawRow(row.number + OF_DRAWING, cells))
    return replace(tables, tables={**tables.tables, PARTS.name: replace(parts, rows=(*parts.rows, *rows))})


def new_drawn(tables: BookTables) -> list[RawRow]:
    """Rows of Quotes with a drawing that is no part of the book yet; once ordered it is one."""
    parts = tables.tables.get(PARTS.name)
    cells = [_cell(row, "Part") for row in parts.rows] if parts else []
    there = {normal(str(cell.value)) for cell in cells if cell is not None}
    return [
        row for row in tables.tables[QUOTES.name].rows
        if _is_drawn(row) and normal(drawn_part(row)) not in there
    ]  # fmt: skip


def on_its_page(problem: Problem, page: str) -> Problem:
    """A problem of a row that stands for a quoted drawing, on the page that the planner wrote it on."""
    if problem.row is None or problem.row <= OF_DRAWING:
        return problem
    weight = Weight.NOTE if problem.weight is Weight.NOTE else Weight.LEFT_OUT

    def here(found: re.Match[str]) -> str:
        row = int(found[1])
        return f"row {row - OF_DRAWING} of the page {page}" if row > OF_DRAWING else found[0]

    what = re.sub(rf"row (\d+) of the page {re.escape(problem.page)}", here, problem.what)
    row = problem.follows.rpartition("!")[2]
    follows = f"{page}!{int(row) - OF_DRAWING}" if row and int(row) > OF_DRAWING else problem.follows
    return replace(
        problem, page=page, row=problem.row - OF_DRAWING, weight=weight, what=what, follows=follows
    )


def assumed_units(
    tables: BookTables, drawings: Drawings, job: Job, places: Mapping[str, Place]
) -> Iterator[Problem]:
    """Notes on quoted drawings that state no unit: in which one they were read, and how large they come out.

    ``tables`` are those `with_drawn`, ``places`` where each quote stands. A wrong unit makes a price wrong
    some 600-fold, and looks like any other.
    """
    from sheetplan.workbook.reading.parts import UNIT_REMEDY, assumed_words, drawing_ask
    from sheetplan.workbook.reading.rows import readers

    units = job.settings.units
    by_part = {drawn_name(name): place for name, place in places.items()}
    for row in readers(PARTS, tables.tables[PARTS.name], units):
        ask, name = drawing_ask(row), row.may("Part", str, "")
        if ask is None or ask not in drawings or name not in job.parts or name not in by_part:
            continue
        if row.place.row > OF_DRAWING and is_assumed(drawings[ask].unit):
            what = assumed_words(drawings[ask], job.parts[name].outline, units)
            yield by_part[name].problem("Drawn in", what, UNIT_REMEDY, Weight.NOTE)
