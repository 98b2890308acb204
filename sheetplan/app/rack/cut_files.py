"""What a cut leaves: sheets that go back to the rack with their tags, their rows, and their files."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sheetplan.app.rack.folder import CutOf, digest_of, drawing_name, known_name, known_text
from sheetplan.app.rack.opened import OpenRack
from sheetplan.model import Job, Remnant
from sheetplan.model.job import worth_as_remnant
from sheetplan.money.cents import cent
from sheetplan.pages.wording import decimals_of, shape_cell
from sheetplan.rack.cut import AfterCut, metal_area, room_before, shares
from sheetplan.rack.kept_plan import KeptPlan, PlannedLayout
from sheetplan.rack.record import Record
from sheetplan.rack.record_dxf import record_drawing, settled
from sheetplan.rack.step import Step
from sheetplan.shapes import Box, area, box
from sheetplan.trade.units import Units
from sheetplan.workbook.port import Value
from sheetplan.workbook.reading.grid import is_blank, normal
from sheetplan.workbook.reading.remnants import MISSING

if TYPE_CHECKING:
    from sheetplan.app.rack.cut_asked import CutAsked

WRITTEN_DIGITS = 4
"""Decimals of a length that the tool writes into a row, in the book's lengths."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A cut as it really was.

    ``planned`` is the layout of the plan, ``made`` the same with the pieces that were cut on the sheet
    that was used; ``base`` is that sheet before, ``row`` its row of the page Remnants.
    """

    asked: CutAsked
    plan: KeptPlan
    planned: PlannedLayout
    made: PlannedLayout
    base: Record
    row: Remnant | None
    times: int
    date: datetime.date

    @property
    def mark(self) -> str:
        """The plan that the layout's ticket bears: the one that it was first made in."""
        return self.planned.layout.of_plan or self.plan.mark

    @property
    def uncut(self) -> dict[str, int]:
        """Pieces of the layout that were not cut, by part."""
        left = Counter(p.part for p in self.planned.layout.placements)
        left.subtract(p.part for p in self.made.layout.placements)
        return {part: count for part, count in sorted(left.items()) if count}

    def redrawn(self, rack: OpenRack) -> str:
        """Parts on it whose drawing has changed since it was planned."""
        there = {p.part for p in self.made.layout.placements}
        return ", ".join(sorted(part for part in there if normal(part) in rack.changed))


@dataclass(frozen=True, slots=True)
class Sheets:
    """The sheets of a step afterwards.

    ``records`` are all records to write, each with the room that is left on it; ``back`` those that go
    back to the rack.
    """

    records: tuple[tuple[Record, Box | None], ...]
    new_rows: tuple[Mapping[str, Value], ...]
    row_changes: Mapping[str, Value]
    value_after: float

    @property
    def back(self) -> tuple[Record, ...]:
        """Sheets that go back to the rack."""
        return tuple(record for record, _ in self.records if not record.used_up)

    @property
    def left(self) -> tuple[str, ...]:
        """Their tags."""
        return tuple(record.tag for record in self.back)

    @staticmethod
    def after(rack: OpenRack, cut: Cut, after: AfterCut) -> Sheets:
        """Give tags, values and rows to what a cut leaves.

        A sheet from stock of which nothing useful is left gets no record: it never was in the rack.
        """
        units, kerf, row = rack.job.settings.units, cut.made.group.rule.kerf, cut.row
        worth = iter(_worths(rack, cut, after))
        own = next(worth) if after.room is not None else 0.0
        fresh = [(after.sheet, after.room, own)] if row is None and after.room is not None else []
        fresh += [(kept.record, kept.room, each) for kept, each in zip(after.drop_outs, worth, strict=True)]
        what = CutOf(cut.mark, cut.made.layout.tag, cut.times, row.tag if row is not None else "")
        tags = iter(rack.free_tags(len(fresh) * cut.times, what))
        records: list[tuple[Record, Box | None]] = []
        new_rows = []
        value = 0.0
        changes: Mapping[str, Value] = {}
        if row is not None:
            sheet = settled(after.sheet, units)
            records.append((sheet, after.room))
            value += own
            changes = as_said(rack.job, row_changes(rack, row, cut.base, sheet, own, kerf))
        for _ in range(cut.times):
            for record, room, each in fresh:
                tagged = settled(replace(record, tag=next(tags)), units)
                records.append((tagged, room))
                value += each
                new_rows.append(as_said(rack.job, row_of(tagged, each, units, kerf)))
        return Sheets(tuple(records), tuple(new_rows), changes, value)


def _worths(rack: OpenRack, cut: Cut, after: AfterCut) -> list[float]:
    """What each thing that goes back counts for: its share of what the whole sheet would as a remnant."""
    if not after.rooms:
        return []
    value = worth_as_remnant(cut.made.layout.sheet if cut.row is None else cut.row, rack.job.settings)
    whole = room_before(cut.base, cut.made.group.rule.gap, rack.job.settings)
    return [cent(value * share) for share in shares(whole, after.rooms)]


def row_of(record: Record, value: float, units: Units, kerf: float) -> dict[str, Value]:
    """The row of the page Remnants for a record; ``kerf`` is what its cuts have burnt."""
    around = box(record.edge)
    return {
        "Tag": record.tag, "Material": record.material, "Thickness": record.thickness.text,
        "Width": _length(around.width, units), "Length": _length(around.length, units),
        "Datum corner": record.datum.value, "Value": value, "State": "in rack",
        **_metal_cells(record, units, kerf),
    }  # fmt: skip


def as_said(job: Job, cells: Mapping[str, Value]) -> dict[str, Value]:
    """Cells of a row with the numbers in its words as the book asks for."""
    shape = cells.get("Shape")
    return {**cells, "Shape": decimals_of(job).said(shape)} if isinstance(shape, str) else dict(cells)


OF_METAL = ("Shape", "Cut away")
"""Columns that say what is there within the box; books made before them do without."""


def _metal_cells(record: Record, units: Units, kerf: float, missing: float = 0.0) -> dict[str, Value]:
    """What a record's outline is, and how much of its box is not there, in square lengths of the book.

    ``missing`` (mm2) is said of its corner already.
    """
    gone = box(record.edge).area - metal_area(record, kerf) - missing
    away = round(gone / units.length_mm**2, WRITTEN_DIGITS)
    shape = shape_cell(record.edge, units, has_cuts=bool(record.cuts))
    return dict(zip(OF_METAL, (shape, away if away > 0.0 else None), strict=True))


def row_changes(
    rack: OpenRack, row: Remnant, before: Record, after: Record, value: float, kerf: float
) -> dict[str, Value]:
    """What changes in the row of the remnant that was cut; it is taken to go back on top of its pile."""
    if after.used_up:
        return {"State": "used up"}
    units = rack.job.settings.units
    # A shape by tape says on a page of its own what it lacks.
    said = after.edge == before.edge and not is_blank(rack.cells(row.tag).get(normal(MISSING[0])))
    missing = box(row.edge).area - area(row.edge) if said else 0.0
    changes: dict[str, Value] = {"Value": value, **_metal_cells(after, units, kerf, missing)}
    if row.above:
        changes["Sheets above"] = 0
    if after.edge != before.edge:
        around = box(after.edge)
        changes |= {"Width": _length(around.width, units), "Length": _length(around.length, units)}
        changes |= dict.fromkeys(MISSING)  # the record's edge says it all now
    return changes


def _length(mm: float, units: Units) -> float | int:
    shown = round(mm / units.length_mm, WRITTEN_DIGITS)
    return int(shown) if shown.is_integer() else shown


def rack_files(rack: OpenRack, sheets: Sheets, step: Step) -> tuple[dict[str, bytes | None], Step]:
    """The rack's new files by place, drawings last, and the step with what they replace."""
    units = rack.job.settings.units
    drawings: dict[str, bytes | None] = {}
    known: dict[str, bytes | None] = {}
    for record, room in sheets.records:
        drawing = record_drawing(record, units, room)
        held = rack.held.get(record.tag)
        if held is not None and held.drawing is not None:
            old = held.drawing.relative_to(rack.rack).as_posix()
            drawings[old] = None
        drawings[drawing_name(record)] = drawing
        known[known_name(record.tag)] = known_text(record, drawing).encode()
    files = {**known, **drawings}
    former = {place: _text(rack, place) for place in files}
    wrote = {place: digest_of(content) for place, content in files.items() if content is not None}
    return files, replace(step, former=former, wrote=wrote)


def _text(rack: OpenRack, place: str) -> str | None:
    """What a file holds now, one letter a byte; None where there is none."""
    if place in rack.pending:
        content = rack.pending[place]
        return None if content is None else content.decode("latin-1")
    path = rack.rack / place
    return path.read_bytes().decode("latin-1") if path.exists() else None
