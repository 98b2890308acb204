"""How much of a counted sheet is not there: cut from it before the tool came, or by the tool since."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from sheetplan.model.settings import Corner, Settings
from sheetplan.rack.cut import metal_area
from sheetplan.rack.record import Record
from sheetplan.shapes import area, box
from sheetplan.trade.units import SAME_LENGTH_MM, Units
from sheetplan.workbook.columns import REMNANTS
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.cells import money_of, name_of, size_in, word_of
from sheetplan.workbook.rows.reader import readers
from sheetplan.workbook.rows.remnant_shapes import TapeRead
from sheetplan.workbook.rows.remnants import Shapes, shape_of
from sheetplan.workbook.tables import RawTable

WRITTEN_SHARE = 0.001
"""Sizes are written to three decimals of the book's length at least."""

Sized = tuple[float, float, float]
"""Width and length (mm) of a remnant, and the area of them that is missing (mm2)."""

Valued = tuple[float, float, float]
"""Width and length (mm) of a remnant, and the value that its row states."""

LAST_MONTH = "9999-12"
"""After all that was recorded."""

RecordsThen = Callable[[Units, str], Mapping[str, Record]]
"""Records of the rack by their tags as compared, as they stood at the end of a month (``2026-11``)."""


def no_records(units: Units, month: str) -> Mapping[str, Record]:
    """Of a book without a rack."""
    return MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Gone:
    """What is missing of remnants: by the book's pages (``corners``, by tag as compared) and by records.

    ``kerfs`` are by label of the gauge, mm; it goes off round every cut, as where a cut is recorded.
    """

    units: Units
    corners: Mapping[str, Sized] = field(default_factory=dict)
    kerfs: Mapping[str, float] = field(default_factory=dict)
    records: RecordsThen = no_records
    values: Mapping[str, Valued] = field(default_factory=dict)

    def value_of(self, tag: str, month: str, width: float, length: float) -> float | None:
        """The value that the page Remnants states for a counted tag; None without a row of its size.

        None as well where it was cut since: then the row says what is left of it now.
        """
        then, now = (self.records(self.units, of).get(normal(tag)) for of in (month, LAST_MONTH))
        if then is not None and now is not None and len(then.cuts) != len(now.cuts):
            return None
        slack = max(SAME_LENGTH_MM, WRITTEN_SHARE * self.units.length_mm)
        of_width, of_length, value = self.values.get(normal(tag), (0.0, 0.0, 0.0))
        same = max(abs(of_width - width), abs(of_length - length)) <= slack
        return value if tag and same else None

    def of(self, tag: str, month: str, gauge: str, width: float, length: float) -> float:
        """Area that was missing of a counted sheet, mm2.

        Known where its tag has a record or a row of the same size; the record comes first.
        """
        if not tag:
            return 0.0
        record = self.records(self.units, month).get(normal(tag))
        known = [_of_record(record, self.kerfs.get(gauge, 0.0))] if record else []
        known += [self.corners[normal(tag)]] if normal(tag) in self.corners else []
        slack = max(SAME_LENGTH_MM, WRITTEN_SHARE * self.units.length_mm)
        for of_width, of_length, gone in known:
            if max(abs(of_width - width), abs(of_length - length)) <= slack:
                return gone
        return 0.0


def _of_record(record: Record, kerf: float) -> Sized:
    around = box(record.edge)
    return around.width, around.length, around.width * around.length - metal_area(record, kerf)


def stated_values(table: RawTable, units: Units) -> Mapping[str, Valued]:
    """What the page Remnants says that each tag is worth, by tag as compared; none for those without."""
    size, found = size_in(units), {}
    for row in readers(REMNANTS, table, units):
        tag, value = row.need("Tag", name_of, ""), row.may("Value", money_of, None)
        width, length = row.need("Width", size, 0.0), row.need("Length", size, 0.0)
        if row.ok and value is not None:
            found[normal(tag)] = (width, length, value)
    return found


def missing_metal(table: RawTable, settings: Settings, tape: TapeRead) -> Mapping[str, Sized]:
    """What the pages Remnants and Remnant shapes say is missing; also of used-up ones, once counted."""
    size = size_in(settings.units)
    found = {}
    for row in readers(REMNANTS, table, settings.units):
        tag = row.need("Tag", name_of, "")
        width, length = row.need("Width", size, 0.0), row.need("Length", size, 0.0)
        datum = row.may("Datum corner", word_of(Corner), settings.datum)
        shape = shape_of(row, tag, (length, width), datum, Shapes(tape)) if row.ok else None
        if shape is not None:
            metal = area(shape.edge) - sum(map(area, shape.cuts))
            found[normal(tag)] = (width, length, width * length - metal)
    return found
