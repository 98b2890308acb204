"""The page Remnants: partly used sheets, and how much of a counted one is not there."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from sheetplan.model.job import Remnant, SheetSize
from sheetplan.model.outline import Loop, rectangle
from sheetplan.model.settings import Settings
from sheetplan.model.turns import Corner
from sheetplan.money.cents import cent
from sheetplan.money.month import share_of_cheapest
from sheetplan.rack.cut import metal_area
from sheetplan.rack.free_space import free_rectangle
from sheetplan.rack.record import Record
from sheetplan.shapes import area, box
from sheetplan.shapes.loops import across_corner, without_corner
from sheetplan.trade.units import SAME_LENGTH_MM, WRITTEN_SHARE, Units
from sheetplan.workbook.columns import REMNANT_SHAPES, REMNANTS
from sheetplan.workbook.reading.cells import count_of, length_in, money_of, name_of, size_in, text_of, word_of
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.metals import Metal, Metals, faulty_row
from sheetplan.workbook.reading.remnant_shapes import Taped, TapeRead, read_shapes, taped
from sheetplan.workbook.reading.rows import (
    FaultyRow,
    PageRead,
    Place,
    Read,
    RowReader,
    column_problems,
    once_only,
    readers,
)
from sheetplan.workbook.schema import MissingPiece, RemnantState
from sheetplan.workbook.tables import BookTables, RawTable

# The page Remnants: partly used sheets, whole, with a corner missing, or as the page Remnant shapes says.

MISSING = ("Missing width", "Missing length", "Missing corner", "Missing piece")
"""Columns that say what was cut from a corner; an empty last one says a rectangle."""


def no_record(tag: str) -> bool:
    """Of a book without a rack."""
    return False


@dataclass(frozen=True, slots=True)
class Shapes:
    """Where shapes come from: the page Remnant shapes, and whether the rack has a record of a tag.

    A record is planned on, whatever the page says: nothing that is wrong there matters then.
    """

    tape: TapeRead = field(default_factory=TapeRead)
    recorded: Callable[[str], bool] = no_record


def read_remnants(
    table: RawTable, units: Units, metals: Metals, settings: Settings, stock: Iterable[SheetSize] = (),
    shapes: Shapes | None = None,
) -> PageRead[Remnant]:  # fmt: skip
    """All remnants that may be planned on; a faulty row is left out.

    Where the book does not say what one counts for, it is the share that the settings state of what its
    largest rectangle would cost in the cheapest sheet of its gauge in ``stock``.
    """
    sheets, shapes = tuple(stock), shapes or Shapes()
    problems = list(column_problems(REMNANTS, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads: list[Read[Remnant]] = []
    broken: dict[str, Place] = {}
    faulty: list[Read[FaultyRow]] = []
    for row in readers(REMNANTS, table, units):
        state = row.may("State", word_of(RemnantState), RemnantState.IN_RACK)
        if state is not RemnantState.IN_RACK:
            continue
        tag = row.need("Tag", name_of, "")
        metal = metals.of(row)
        remnant = _remnant(row, tag, metal, settings, shapes)
        problems += row.problems
        if remnant is not None and row.blank("Value"):
            remnant = replace(remnant, value=worth_of(remnant, sheets, settings))
        if remnant is not None:
            reads.append(Read(remnant, row.place))
            continue
        faulty += faulty_row(row, metal)
        if tag:
            broken.setdefault(normal(tag), row.place)
    kept, unclear, more = once_only(reads, lambda remnant: remnant.tag, "Tag", broken)
    for read in reads:
        remnant = read.value
        if normal(remnant.tag) in {**unclear, **broken}:
            around = box(remnant.edge)
            room = around.width, around.length
            faulty.append(Read(FaultyRow(remnant.material, remnant.thickness, room), read.place))
    return PageRead(kept, {}, (*problems, *more), metals.whole, faulty=tuple(faulty))


def read_tape(tables: BookTables, units: Units) -> TapeRead:
    """The page Remnant shapes, for the tags of the page Remnants, whatever their state."""
    remnants = tables.tables.get(REMNANTS.name)
    rows = readers(REMNANTS, remnants, units) if remnants is not None else ()
    tags = [tag for tag in (row.may("Tag", text_of, "") for row in rows) if tag]
    return read_shapes(tables.tables.get(REMNANT_SHAPES.name), tags, units)


def _remnant(
    row: RowReader, tag: str, metal: Metal | None, settings: Settings, shapes: Shapes
) -> Remnant | None:
    size = size_in(row.units)
    width = row.need("Width", size, 0.0)
    length = row.need("Length", size, 0.0)
    corner = row.may("Datum corner", word_of(Corner), settings.datum)
    place = row.may("Rack place", text_of, "")
    value = row.may("Value", money_of, 0.0)
    extra = row.may("Extra gap", length_in(row.units), settings.extra_gap)
    above = None if row.blank("Sheets above") else row.may("Sheets above", count_of, 0)
    shape = shape_of(row, tag, (length, width), corner, shapes)
    if not row.ok or metal is None or shape is None:
        return None
    material, thickness = metal
    return Remnant(
        tag, material.name, thickness, shape.edge, shape.cuts, corner, place, value, extra, above
    )  # fmt: skip


def shape_of(
    row: RowReader, tag: str, size: tuple[float, float], datum: Corner, shapes: Shapes
) -> Taped | None:
    """Edge and openings by the row and the page Remnant shapes; what is wrong there is told there."""
    edge = _edge(row, *size, datum)
    shape = shapes.tape.shapes.get(normal(tag))
    if edge is None or shape is None:
        return None if edge is None else Taped(edge, ())
    found, problems = taped(shape, edge, size, datum, row.units)
    if found is None and shapes.recorded(tag):
        return Taped(edge, ())
    if found is None:
        row.problems += problems
        row.fault(
            "Tag", f"The shape of {tag} on the page Remnant shapes cannot be used, so {tag} is left out.",
            "Put its rows right there.", after=shape.place,
        )  # fmt: skip
    return found


def worth_of(remnant: Remnant, stock: Iterable[SheetSize], settings: Settings) -> float:
    """What a remnant counts for where the book does not say."""
    gauge = remnant.material, remnant.thickness.mm
    own = [sheet for sheet in stock if (sheet.material, sheet.thickness.mm) == gauge]
    room = free_rectangle(remnant.edge, remnant.cuts, 0.0)
    return cent(settings.remnant_share * share_of_cheapest(room.area if room else 0.0, own))


def _edge(row: RowReader, length: float, width: float, datum: Corner) -> Loop | None:
    """The sheet's edge: a rectangle, or one with a corner missing."""
    if not row.ok:
        return None
    if all(row.blank(heading) for heading in MISSING):
        return rectangle(length, width).outer
    *needed, kind = MISSING
    for heading in needed:
        if row.blank(heading):
            row.fault(
                heading, "The missing piece is said in part only.",
                "Write its width, its length and its corner, or clear all of them.",
            )  # fmt: skip
            return None
    size = size_in(row.units)
    gone_width, gone_length = row.may(MISSING[0], size, 0.0), row.may(MISSING[1], size, 0.0)
    corner = row.may(MISSING[2], word_of(Corner), datum)
    piece = row.may(kind, word_of(MissingPiece), MissingPiece.RECTANGLE)
    if not row.ok:
        return None
    slack = -SAME_LENGTH_MM if piece is MissingPiece.RECTANGLE else SAME_LENGTH_MM
    for heading, gone, whole, side in (
        (MISSING[0], gone_width, width, "Width"), (MISSING[1], gone_length, length, "Length"),
    ):  # fmt: skip
        if gone >= whole + slack:
            than = "as large as" if piece is MissingPiece.RECTANGLE else "larger than"
            row.fault(
                heading, f"The missing {piece} is {than} the sheet.",
                f"Where it goes right across, write what is left as {side} and clear these cells.",
            )  # fmt: skip
            return None
    if corner is datum:
        row.fault(
            MISSING[2], "The missing corner is the datum corner, so there is nothing to measure from.",
            "Write another corner into Datum corner.",
        )  # fmt: skip
        return None
    cut = across_corner if piece is MissingPiece.TRIANGLE else without_corner
    return cut(length, width, gone_length, gone_width, corner)


# How much of a counted sheet is not there: cut from it before the tool came, or by the tool since.

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
