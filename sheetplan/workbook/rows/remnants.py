"""The page Remnants: partly used sheets, whole, with a corner missing, or as the page Remnant shapes says."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from sheetplan.model.job import Remnant, SheetSize
from sheetplan.model.outline import Loop, rectangle
from sheetplan.model.settings import Corner, Settings
from sheetplan.money.rack_worth import share_of_cheapest
from sheetplan.rack.free_space import free_rectangle
from sheetplan.shapes import box
from sheetplan.shapes.plain import across_corner, without_corner
from sheetplan.trade.units import SAME_LENGTH_MM, Units
from sheetplan.workbook.columns import REMNANT_SHAPES, REMNANTS
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.cells import count_of, length_in, money_of, name_of, size_in, text_of, word_of
from sheetplan.workbook.rows.metals import Metal, Metals, faulty_row
from sheetplan.workbook.rows.names import once_only
from sheetplan.workbook.rows.reader import (
    FaultyRow,
    PageRead,
    Place,
    Read,
    RowReader,
    column_problems,
    readers,
)
from sheetplan.workbook.rows.remnant_shapes import Taped, TapeRead, read_shapes, taped
from sheetplan.workbook.tables import BookTables, RawTable
from sheetplan.workbook.words import MissingPiece, RemnantState

CENTS = 2
"""Digits of a worth that the book does not say."""

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
    metal = room.length * room.width if room else 0.0
    return round(settings.remnant_share * share_of_cheapest(metal, own), CENTS)


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
