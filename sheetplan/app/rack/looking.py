"""Look at the rack, and put right where records and book disagree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sheetplan.app.rack.cut_files import as_said, row_of
from sheetplan.app.rack.desk import BookChanges, Turn
from sheetplan.app.rack.folder import Held, drawing_name, known_name, known_text, step_name
from sheetplan.app.rack.known import cuts_listed, row_numbers, with_rack
from sheetplan.app.rack.opened import OpenRack, open_rack
from sheetplan.model import Problem
from sheetplan.pages.decimals import Decimals, decimals_of
from sheetplan.rack.cut import metal_area
from sheetplan.rack.free_space import Taken, useful_rectangle
from sheetplan.rack.record import Record, from_row, outermost
from sheetplan.rack.record_dxf import record_drawing, settled
from sheetplan.rack.step import Kind, Step, Weights, step_text, stock_step
from sheetplan.shapes import Box
from sheetplan.trade.likeness import same
from sheetplan.trade.units import Units, weight_kg
from sheetplan.workbook.columns import CUT_LOG, FINISHED_MARKS, ORDERS, REMNANTS
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.tables import CellValue
from sheetplan.workbook.words import RemnantState

if TYPE_CHECKING:
    from sheetplan.pages.part_labels import RackLabel


@dataclass(frozen=True, slots=True)
class RackLine:
    """One sheet as one walks to the rack for it.

    ``weight`` of the metal that is left (kg), None where the book does not know its metal; ``value``
    and ``place`` as the book has them.
    """

    record: Record
    state: str
    weight: float | None
    value: float | None
    place: str


@dataclass(frozen=True, slots=True)
class RackLook:
    """The rack as it stands: every sheet with its row of the book, and what does not fit together.

    ``records`` are those of the folder, ``without_record`` the tags that only the book has; ``lines``
    are of both, those that can be used first.
    """

    units: Units
    lines: tuple[RackLine, ...]
    records: tuple[Record, ...]
    without_record: tuple[str, ...]
    problems: tuple[Problem, ...]
    told: str
    decimals: Decimals


def look(book: Path) -> RackLook:
    """Read the rack and compare it with the book. A step that was interrupted is finished or dropped."""
    with open_rack(book) as rack:
        _, problems = with_rack(rack.job, rack.tables, rack.book)
        records = tuple(held.now or held.known for held in rack.held.values())
        shown = tuple(record for record in records if record is not None)
        bare = [row for row in rack.job.remnants if row.tag not in rack.held]
        mine = tuple(p for p in problems if p.page not in (ORDERS.name, FINISHED_MARKS.name))
        lines = [_line(rack, record) for record in (*shown, *map(from_row, bare))]
        lines.sort(key=lambda line: (line.record.used_up, line.record.tag))
        tags = tuple(row.tag for row in bare)
        told = (*rack.left_out, *mine)
        return RackLook(rack.job.settings.units, tuple(lines), shown, tags, told, rack.told,
                        decimals_of(rack.job))  # fmt: skip


def write_labels(seen: RackLook, path: Path) -> int:
    """Write a PDF with a sticker for every sheet that can be used; gives their number."""
    from sheetplan.pages.part_labels import rack_labels_pdf
    from sheetplan.workbook.replacing import put_file

    stickers = _labels(seen)
    put_file(path, rack_labels_pdf(stickers, seen.units, seen.decimals))
    return len(stickers)


def write_list(seen: RackLook, path: Path) -> int:
    """Write a PDF with a measured picture of every sheet that can be used; gives their number."""
    from sheetplan.pages.rack_list import rack_list_pdf
    from sheetplan.workbook.replacing import put_file

    labels = _labels(seen)
    put_file(path, rack_list_pdf(labels, seen.units, seen.decimals))
    return len(labels)


def _labels(seen: RackLook) -> list[RackLabel]:
    from sheetplan.pages.part_labels import RackLabel
    from sheetplan.pages.wording import weight_text

    return [
        RackLabel(
            line.record, "" if line.weight is None else weight_text(line.weight, seen.units), line.place
        )
        for line in seen.lines if not line.record.used_up
    ]  # fmt: skip


def _line(rack: OpenRack, record: Record) -> RackLine:
    cells = _cells(rack, record.tag)
    metal = rack.job.materials.get(record.material)
    left = metal_area(record, kerf_of(rack, record))
    weight = weight_kg(left, record.thickness.mm, metal.density) if metal else None
    value = cells.get("value")
    state = str(cells.get("state") or RemnantState.IN_RACK) if cells else "not in the book"
    return RackLine(
        record, RemnantState.USED_UP if record.used_up else state, weight,
        float(value) if isinstance(value, int | float) else None,
        str(cells.get("rack place") or record.rack_place),
    )  # fmt: skip


def kerf_of(rack: OpenRack, record: Record) -> float:
    """The kerf that its cuts have burnt, as plan, ticket and month reckon it; 0 of a gauge without a rule."""
    rules = (rule for rule in rack.job.rules if rule.material == record.material)
    return next((rule.kerf for rule in rules if same(rule.thickness, record.thickness)), 0.0)


def _cells(rack: OpenRack, tag: str) -> Mapping[str, CellValue]:
    """The row of a tag on the page Remnants, by heading; empty where it has none."""
    table = rack.tables.tables.get(REMNANTS.name)
    for row in table.rows if table else ():
        cells = {normal(name): cell.value for name, cell in row.cells.items()}
        if str(cells.get("tag") or "").strip() == tag:
            return cells
    return {}


def repair(book: Path) -> tuple[str, ...]:
    """Put right what can be, and say what was done.

    Drawings changed by hand are taken over, missing ones written again, rows that are gone from the
    page Remnants added, and the page Cut log brought to what book and rack know together. Counts on
    the page Stock are not touched.
    """
    with open_rack(book) as rack:
        said = [rack.told] if rack.told else []
        files: dict[str, bytes | None] = {}
        changes = rack.desk.changes(rack.tables)
        for held in rack.held.values():
            said += _mend_record(rack, held, files)
        said += _mend_rows(rack, changes)
        steps, more = _mend_log(rack, files)
        said += more
        if not files and not changes.made and not _differs(rack, steps) and not changes.edit.touched:
            return tuple(said) or ("Rack and book fit together; nothing was to be done.",)
        number = max(steps, default=0)
        turn = Turn([number], True, files, list(steps.values()), rack.recorded, rack.job)
        rack.desk.do(rack.rack, changes, turn)
        return (*said, *(f"Check: {one}." for one in changes.unwritten))


def _mend_record(rack: OpenRack, held: Held, files: dict[str, bytes | None]) -> Iterator[str]:
    """Bring what the tool knows of one sheet and its drawing together."""
    if held.trouble:
        remedy = "mend it, or delete it and repair again"
        yield f"{held.tag}: its drawing cannot be used ({held.trouble}); {remedy}."
    elif held.known is not None and held.drawing is None:
        drawing = record_drawing(held.known, rack.job.settings.units, room_of(rack, held.known))
        files[drawing_name(held.known)] = drawing
        files[known_name(held.tag)] = known_text(held.known, drawing).encode()
        yield f"{held.tag}: its drawing was missing and has been written again."
    elif held.now is not None and held.known is not None and _looks_changed(rack, held):
        assert held.drawing is not None, "changed drawings are there"
        record = replace(held.now, used_up=held.drawing.parent != rack.rack)
        files[known_name(held.tag)] = known_text(record, held.drawing.read_bytes()).encode()
        what = "; ".join(held.changes) or "nothing that matters for cutting"
        yield f"{held.tag}: the change of its drawing was taken over ({what})."


def _looks_changed(rack: OpenRack, held: Held) -> bool:
    """Whether the file differs from what the tool wrote, even where the loops are the same."""
    assert held.drawing is not None, "a drawing is there"
    assert held.known is not None, "it is known"
    if held.changes or (held.drawing.parent == rack.rack) == held.known.used_up:
        return True
    known = (rack.rack / known_name(held.tag)).read_text(encoding="utf-8")
    return known != known_text(held.known, held.drawing.read_bytes())


def room_of(rack: OpenRack, record: Record) -> Box | None:
    """The room left on a record, by its gauge's gap; by the metal's largest gap where that is unknown."""
    if record.used_up:
        return None
    rules = [rule for rule in rack.job.rules if rule.material == record.material]
    gaps = [rule.gap for rule in rules if same(rule.thickness, record.thickness)] or [r.gap for r in rules]
    taken = [Taken(cut.loop) for cut in outermost(record.cuts)]
    return useful_rectangle(record.edge, taken, max(gaps, default=0.0), rack.job.settings)


def _mend_rows(rack: OpenRack, changes: BookChanges) -> Iterator[str]:
    """Rows for records that the page Remnants does not have."""
    rows = row_numbers(rack.tables)
    for held in rack.held.values():
        record = held.now
        if record is None or record.used_up or held.tag in rows or not record.material:
            continue
        units = rack.job.settings.units
        row = row_of(settled(record, units), 0.0, units, kerf_of(rack, record))
        if changes.add_remnant(as_said(rack.job, row)):
            yield f"{held.tag}: a row was added to the page Remnants; its value is 0 until you write one."


def _mend_log(rack: OpenRack, files: dict[str, bytes | None]) -> tuple[dict[int, Step], list[str]]:
    """Steps that the Cut log shall list."""
    steps = {number: rack.steps[number] for number in rack.listed if number in rack.steps}
    said = []
    for number, step in rack.steps.items():
        if number not in steps and step.book == rack.book.name:
            steps[number] = step
            count = f" Check On hand of {step.sheet} on the page Stock." if step.from_stock else ""
            log = "Cut log" if step.kind is Kind.CUT else "Stock log"
            if step.lines:
                sheets = ", ".join(line.sheet for line in step.lines)
                count = f" Check the counts of {sheets} on the page Stock."
            said.append(f"Step {number} was put back on the page {log}.{count}")
    cuts = cuts_listed(rack.tables)
    for number in sorted(rack.listed - set(rack.steps)):
        if number not in cuts:
            steps[number] = stock_step(
                number, Kind.RECEIVED, (), "", rack.book.name, note="taken over from the page"
            )
            files[step_name(number)] = step_text(steps[number]).encode()
            said.append(f"Step {number} was taken over from the page Stock log as a number alone.")
            continue
        step = _from_page(rack, number)
        steps[number] = step
        files[step_name(number)] = step_text(step).encode()
        said.append(
            f"Step {number} was taken over from the page Cut log as far as it says: which orders its pieces "
            "were for and what became of the sheet is not known."
        )
    return steps, said


def _from_page(rack: OpenRack, number: int) -> Step:
    """What a row of the Cut log alone tells of a step."""
    cells: Mapping[str, CellValue] = {}
    for row in rack.tables.tables[CUT_LOG.name].rows:
        values = {normal(name): cell.value for name, cell in row.cells.items()}
        if values.get("step") == number:
            cells = values

    def text(heading: str) -> str:
        value = cells.get(heading)
        return "" if value is None else str(value)

    unit = rack.job.settings.units.weight_kg

    def weight(heading: str) -> float:
        # The heading names the unit too: Metal taken (lb).
        value = next((v for name, v in cells.items() if name.startswith(heading)), None)
        return float(value) * unit if isinstance(value, int | float) else 0.0

    times = cells.get("times cut")
    source = text("cut from")
    return Step(
        number, text("date"), text("plan"), text("layout"),
        int(times) if isinstance(times, int | float) else 1, text("gauge"),
        "" if source.startswith("remnant ") else source, "", 0, (), {}, {}, (),
        Weights(weight("metal taken"), weight("parts"), 0.0, weight("kept"), 0.0, 0.0, 0.0),
        text("by"), text("heat"), "taken over from the page", book=rack.book.name,
    )  # fmt: skip


def _differs(rack: OpenRack, steps: Mapping[int, Step]) -> bool:
    return set(steps) != set(rack.listed)
