"""The page Remnants: partly used sheets, whole or with a rectangle missing at a corner."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from sheetplan.model.job import Remnant, SheetSize
from sheetplan.model.outline import Loop, rectangle
from sheetplan.model.settings import Corner, Settings
from sheetplan.money.rack_worth import share_of_cheapest
from sheetplan.rack.free_space import free_rectangle
from sheetplan.shapes import box
from sheetplan.shapes.plain import without_corner
from sheetplan.trade.units import SAME_LENGTH_MM, Units
from sheetplan.workbook.columns import REMNANTS
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
from sheetplan.workbook.tables import RawTable
from sheetplan.workbook.words import RemnantState

CENTS = 2
"""Digits of a worth that the book does not say."""

MISSING = ("Missing width", "Missing length", "Missing corner")
"""Columns that say which rectangle was cut from a corner."""


def read_remnants(
    table: RawTable, units: Units, metals: Metals, settings: Settings, stock: Iterable[SheetSize] = ()
) -> PageRead[Remnant]:
    """All remnants that may be planned on; a faulty row is left out.

    Where the book does not say what one counts for, it is the share that the settings state of what its
    largest rectangle would cost in the cheapest sheet of its gauge in ``stock``.
    """
    sheets = tuple(stock)
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
        remnant = _remnant(row, tag, metal, settings)
        problems += row.problems
        if remnant is not None and row.blank("Value"):
            remnant = replace(remnant, value=_worth(remnant, sheets, settings))
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


def _remnant(row: RowReader, tag: str, metal: Metal | None, settings: Settings) -> Remnant | None:
    size = size_in(row.units)
    width = row.need("Width", size, 0.0)
    length = row.need("Length", size, 0.0)
    corner = row.may("Datum corner", word_of(Corner), settings.datum)
    place = row.may("Rack place", text_of, "")
    value = row.may("Value", money_of, 0.0)
    extra = row.may("Extra gap", length_in(row.units), settings.extra_gap)
    above = None if row.blank("Sheets above") else row.may("Sheets above", count_of, 0)
    edge = _edge(row, length, width, corner)
    if not row.ok or metal is None or edge is None:
        return None
    material, thickness = metal
    return Remnant(tag, material.name, thickness, edge, (), corner, place, value, extra, above)


def _worth(remnant: Remnant, stock: Iterable[SheetSize], settings: Settings) -> float:
    gauge = remnant.material, remnant.thickness.mm
    own = [sheet for sheet in stock if (sheet.material, sheet.thickness.mm) == gauge]
    room = free_rectangle(remnant.edge, (), 0.0)
    metal = room.length * room.width if room else 0.0
    return round(settings.remnant_share * share_of_cheapest(metal, own), CENTS)


def _edge(row: RowReader, length: float, width: float, datum: Corner) -> Loop | None:
    """The sheet's edge: a rectangle, or one with a corner missing."""
    if not row.ok:
        return None
    if all(row.blank(heading) for heading in MISSING):
        return rectangle(length, width).outer
    for heading in MISSING:
        if row.blank(heading):
            row.fault(
                heading, "The missing rectangle is said in part only.",
                "Write its width, its length and its corner, or clear all three.",
            )  # fmt: skip
            return None
    size = size_in(row.units)
    gone_width, gone_length = row.may(MISSING[0], size, 0.0), row.may(MISSING[1], size, 0.0)
    corner = row.may(MISSING[2], word_of(Corner), datum)
    if not row.ok:
        return None
    for heading, gone, whole, side in (
        (MISSING[0], gone_width, width, "Width"), (MISSING[1], gone_length, length, "Length"),
    ):  # fmt: skip
        if gone >= whole - SAME_LENGTH_MM:
            row.fault(
                heading, "The missing rectangle is as large as the sheet.",
                f"Where it goes right across, write what is left as {side} and clear the three cells.",
            )  # fmt: skip
            return None
    if corner is datum:
        row.fault(
            MISSING[2], "The missing corner is the datum corner, so there is nothing to measure from.",
            "Write another corner into Datum corner.",
        )  # fmt: skip
        return None
    return without_corner(length, width, gone_length, gone_width, corner)
