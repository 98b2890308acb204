"""The page Remnants: partly used sheets as plain rectangles."""

from __future__ import annotations

from sheetplan.model.job import Remnant
from sheetplan.model.outline import rectangle
from sheetplan.model.settings import Corner
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import REMNANTS
from sheetplan.workbook.rows.cells import money_of, name_of, size_in, text_of, word_of
from sheetplan.workbook.rows.metals import Metals
from sheetplan.workbook.rows.names import once_only
from sheetplan.workbook.rows.reader import PageRead, Read, RowReader, column_problems, readers
from sheetplan.workbook.tables import RawTable
from sheetplan.workbook.words import RemnantState


def read_remnants(table: RawTable, units: Units, metals: Metals, datum: Corner) -> PageRead[Remnant]:
    """All remnants that may be planned on; a faulty row is left out."""
    problems = list(column_problems(REMNANTS, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads: list[Read[Remnant]] = []
    for row in readers(REMNANTS, table, units):
        state = row.may("State", word_of(RemnantState), RemnantState.IN_RACK)
        if state is not RemnantState.IN_RACK:
            continue
        tag = row.need("Tag", name_of, "")
        remnant = _remnant(row, tag, metals, datum)
        problems += row.problems
        if remnant is not None:
            reads.append(Read(remnant, row.place))
    kept, _, more = once_only(reads, lambda remnant: remnant.tag, "Tag")
    return PageRead(kept, {}, (*problems, *more), metals.whole)


def _remnant(row: RowReader, tag: str, metals: Metals, datum: Corner) -> Remnant | None:
    metal = metals.of(row)
    size = size_in(row.units)
    width = row.need("Width", size, 0.0)
    length = row.need("Length", size, 0.0)
    corner = row.may("Datum corner", word_of(Corner), datum)
    place = row.may("Rack place", text_of, "")
    value = row.may("Value", money_of, 0.0)
    if not row.ok or metal is None:
        return None
    material, thickness = metal
    return Remnant(tag, material.name, thickness, rectangle(length, width).outer, (), corner, place, value)
