"""The page Parts.

Doubts of many rows are one note: of more than `MOST_NOTED` of a kind the first and their count, and only of
parts that are ordered, since a folder that was brought in fills the page with parts that nobody wants yet.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from sheetplan.drawings.findings import named, sentence
from sheetplan.drawings.known import KnownOutlines
from sheetplan.model.job import Grain, Part
from sheetplan.model.outline import Outline
from sheetplan.model.problem import Problem, Weight
from sheetplan.model.turns import along
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import PARTS
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.cells import count_of, name_of, text_of, word_of, yes_no
from sheetplan.workbook.rows.doubts import ANSWERED_BY, TO_CONFIRM, description_of, doubts_of, unanswered
from sheetplan.workbook.rows.metals import Metals
from sheetplan.workbook.rows.names import once_only
from sheetplan.workbook.rows.part_outlines import (
    DrawingAsk,
    Drawings,
    drawing_ask,
    part_outline,
    repaired,
)
from sheetplan.workbook.rows.reader import PageRead, Place, Read, RowReader, column_problems, readers
from sheetplan.workbook.tables import RawTable
from sheetplan.workbook.words import GrainWord, Turn

MOST_NOTED = 8
"""Rows with one kind of note that are told one by one; those of more are told together."""

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


def drawing_asks(table: RawTable, units: Units) -> tuple[DrawingAsk, ...]:
    """The drawings that the page's rows name, each once."""
    asks = (drawing_ask(row) for row in readers(PARTS, table, units))
    return tuple(dict.fromkeys(ask for ask in asks if ask is not None))


def read_parts(
    table: RawTable,
    units: Units,
    metals: Metals,
    drawings: Drawings | None = None,
    ordered: Collection[str] = (),
    known: KnownOutlines | None = None,
) -> PageRead[Part]:
    """All usable rows of the page Parts; a faulty row is left out and stops the orders that need it.

    ``drawings`` holds a report for each drawing that `drawing_asks` named; ``ordered`` are the names,
    as compared by `normal`, of the parts that are ordered, as far as orders are there; ``known`` are the
    outlines that parts had when they were planned.
    """
    problems = list(column_problems(PARTS, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads: list[Read[Part]] = []
    broken: dict[str, Place] = {}
    names: dict[str, str] = {}
    speakers, to_confirm = _speakers(table, units, ordered), list[tuple[Place, str, tuple[str, ...]]]()
    repairs: list[tuple[Place, str]] = []
    for row in readers(PARTS, table, units):
        name = row.need("Part", name_of, "")
        ask = drawing_ask(row)
        then = (known or {}).get(normal(name)) if ask else None
        outline = part_outline(row, drawings or {}, speakers.get(ask) if ask else None, then)
        part = _part(row, name, metals, outline)
        problems += row.problems
        report = (drawings or {}).get(ask) if ask else None
        if ask and report and speakers.get(ask) == row.place and (mended := repaired(report)):
            repairs.append((row.place, mended))
        doubts = _open_doubts(row)
        if doubts and (not ordered or normal(name) in ordered):
            to_confirm.append((row.place, name, doubts))
        if part is not None:
            reads.append(Read(part, row.place))
        elif name:
            broken.setdefault(normal(name), row.place)
            names.setdefault(normal(name), name)
    problems += [*_unconfirmed(to_confirm), *_repaired(repairs)]
    kept, unclear, more = once_only(reads, lambda part: part.name, "Part", broken)
    return PageRead(kept, {**unclear, **broken}, (*problems, *more), metals.whole, names)


def _repaired(rows: Sequence[tuple[Place, str]]) -> Iterator[Problem]:
    """Notes on drawings that were repaired as they were read: of many, one note with the first of them."""
    remedy = "Look at it with `sheetplan show`."
    if len(rows) > MOST_NOTED:
        what = f"{len(rows)} drawings were repaired as they were read. The first, {rows[0][1]}"
        remedy = "Look at them with `sheetplan show`, which names what was repaired in each."
        yield Problem(rows[0][0].sheet, None, None, what, remedy, Weight.NOTE)
        return
    for place, what in rows:
        yield place.problem("Drawing", what, remedy, Weight.NOTE)


def _open_doubts(row: RowReader) -> tuple[str, ...]:
    """The doubts of a row's Description that no filled cell answers."""
    filled = [heading for heading in ANSWERED_BY.values() if not row.blank(heading)]
    return unanswered(doubts_of(row.may("Description", text_of, "")), filled)


def _unconfirmed(rows: Sequence[tuple[Place, str, tuple[str, ...]]]) -> Iterator[Problem]:
    """Notes on rows whose doubts nobody has looked at: of many one note, which counts each doubt."""
    if len(rows) <= MOST_NOTED:
        remedy = "Put it right where it is wrong, then write over the Description."
        for place, name, open_doubts in rows:
            what = sentence(f"{name} is still {TO_CONFIRM}: {'; '.join(open_doubts)}")
            yield place.problem("Description", what, remedy, Weight.NOTE)
        return
    doubts: dict[str, list[str]] = {}
    for _, name, open_doubts in rows:
        for doubt in open_doubts:
            doubts.setdefault(doubt.partition(", ")[0], []).append(name)
    listed = "; ".join(f"{doubt}: {named(names, 3)}" for doubt, names in list(doubts.items())[:MOST_NOTED])
    what = sentence(f"{len(rows)} parts are still {TO_CONFIRM}: {listed}")
    remedy = "Put right what is wrong in their rows, then write over each Description."
    yield Problem(rows[0][0].sheet, None, None, what, remedy, Weight.NOTE)


def _speakers(table: RawTable, units: Units, ordered: Collection[str]) -> dict[DrawingAsk, Place]:
    """For each drawing, the row on which it is spoken of: the first whose part is ordered."""
    speakers: dict[DrawingAsk, Place] = {}
    for row in readers(PARTS, table, units):
        ask = drawing_ask(row)
        if ask is not None and (not ordered or normal(row.may("Part", name_of, "")) in ordered):
            speakers.setdefault(ask, row.place)
    return speakers


def _part(row: RowReader, name: str, metals: Metals, outline: Outline | None) -> Part | None:
    metal = metals.of(row)
    turns = TURNS[row.may("Turns", word_of(Turn), Turn.ANY_QUARTER)]
    grain = GRAINS[row.may("Grain", word_of(GrainWord), GrainWord.ANY)]
    spare = row.may("Spare", count_of, 0)
    mark = row.may("Mark", yes_no, False)
    description = description_of(row.may("Description", text_of, ""))
    if row.ok and not along(turns, grain):
        row.fault("Grain", "With these turns the grain can never run along the sheet.",
                  "Allow any quarter turn, or ask for grain along length.")
    if not row.ok or metal is None or outline is None:
        return None
    material, thickness = metal
    return Part(name, material.name, thickness, outline, turns, grain, spare, mark,
                description=description)
