"""The page Parts."""

from __future__ import annotations

from sheetplan.model.job import Grain, Part
from sheetplan.model.outline import rectangle
from sheetplan.model.turns import along
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import PARTS
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.cells import count_of, name_of, size_in, text_of, word_of, yes_no
from sheetplan.workbook.rows.metals import Metals
from sheetplan.workbook.rows.names import once_only
from sheetplan.workbook.rows.reader import PageRead, Place, Read, RowReader, column_problems, readers
from sheetplan.workbook.tables import RawTable
from sheetplan.workbook.words import GrainWord, Turn

TURNS = {
    Turn.ANY_QUARTER: (0.0, 90.0, 180.0, 270.0),
    Turn.HALF_ONLY: (0.0, 180.0),
    Turn.AS_DRAWN: (0.0,),
}
"""Degrees that each word allows, before grain."""

GRAINS = {
    GrainWord.ANY: Grain.NONE,
    GrainWord.ALONG_LENGTH: Grain.LENGTH,
    GrainWord.ALONG_WIDTH: Grain.WIDTH,
}


def read_parts(table: RawTable, units: Units, metals: Metals) -> PageRead[Part]:
    """All usable rows of the page Parts; a faulty row is left out and stops the orders that need it."""
    problems = list(column_problems(PARTS, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads: list[Read[Part]] = []
    broken: dict[str, Place] = {}
    for row in readers(PARTS, table, units):
        name = row.need("Part", name_of, "")
        part = _part(row, name, metals)
        problems += row.problems
        if part is not None:
            reads.append(Read(part, row.place))
        elif name:
            broken[normal(name)] = row.place
    kept, unclear, more = once_only(reads, lambda part: part.name, "Part")
    return PageRead(kept, {**broken, **unclear}, (*problems, *more), metals.whole)


def _part(row: RowReader, name: str, metals: Metals) -> Part | None:
    metal = metals.of(row)
    size = size_in(row.units)
    width = row.need("Width", size, 0.0)
    length = row.need("Length", size, 0.0)
    turns = TURNS[row.may("Turns", word_of(Turn), Turn.ANY_QUARTER)]
    grain = GRAINS[row.may("Grain", word_of(GrainWord), GrainWord.ANY)]
    spare = row.may("Spare", count_of, 0)
    mark = row.may("Mark", yes_no, False)
    description = row.may("Description", text_of, "")
    if row.ok and not along(turns, grain):
        row.fault("Grain", "With these turns the grain can never run along the sheet.",
                  "Allow any quarter turn, or ask for grain along length.")
    if not row.ok or metal is None:
        return None
    material, thickness = metal
    return Part(name, material.name, thickness, rectangle(length, width), turns, grain, spare, mark,
                description=description)
