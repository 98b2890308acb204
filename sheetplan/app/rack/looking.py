"""Look at the rack, and put right where records and book disagree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.app.rack.belonging import Apart, apart, apart_problem
from sheetplan.app.rack.cut_files import as_said, row_of
from sheetplan.app.rack.desk import BookChanges, Turn, count_on
from sheetplan.app.rack.folder import Held, drawing_name, known_name, known_text
from sheetplan.app.rack.known import row_numbers, with_rack
from sheetplan.app.rack.opened import For, OpenRack, Refused, open_rack
from sheetplan.app.rack.rebuilding import rebuilt_record, rebuilt_steps
from sheetplan.model import Problem
from sheetplan.pages.decimals import Decimals, decimals_of
from sheetplan.rack.cut import metal_area
from sheetplan.rack.free_space import Taken, useful_rectangle
from sheetplan.rack.record import Record, from_row, outermost
from sheetplan.rack.record_dxf import record_drawing, settled
from sheetplan.rack.step import Kind, Step
from sheetplan.shapes import Box
from sheetplan.trade.likeness import same
from sheetplan.trade.units import Units, weight_kg
from sheetplan.workbook.columns import FINISHED_MARKS, ORDERS, REMNANTS
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.tables import CellValue
from sheetplan.workbook.words import RemnantState


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
    with open_rack(book, For.LOOKING) as rack:
        _, problems = with_rack(rack.job, rack.tables, rack.book)
        records = tuple(held.now or held.known for held in rack.held.values())
        shown = tuple(record for record in records if record is not None)
        bare = [row for row in rack.job.remnants if row.tag not in rack.held]
        mine = tuple(p for p in problems if p.page not in (ORDERS.name, FINISHED_MARKS.name))
        lines = [_line(rack, record) for record in (*shown, *map(from_row, bare))]
        lines.sort(key=lambda line: (line.record.used_up, line.record.tag))
        tags = tuple(row.tag for row in bare)
        return RackLook(rack.job.settings.units, tuple(lines), shown, tags, mine, rack.told,
                        decimals_of(rack.job))  # fmt: skip


def write_labels(seen: RackLook, path: Path) -> int:
    """Write a PDF with a sticker for every sheet that can be used; gives their number."""
    from sheetplan.pages.part_labels import RackLabel, rack_labels_pdf
    from sheetplan.pages.wording import weight_text
    from sheetplan.workbook.outputs import is_our_pdf, put_output

    stickers = [
        RackLabel(
            line.record, "" if line.weight is None else weight_text(line.weight, seen.units), line.place
        )
        for line in seen.lines if not line.record.used_up
    ]  # fmt: skip
    put_output(path, rack_labels_pdf(stickers, seen.units, seen.decimals), is_our_pdf)
    return len(stickers)


def _line(rack: OpenRack, record: Record) -> RackLine:
    cells = _cells(rack, record.tag)
    metal = rack.job.materials.get(record.material)
    left = metal_area(record, _kerf(rack, record))
    weight = weight_kg(left, record.thickness.mm, metal.density) if metal else None
    value = cells.get("value")
    state = str(cells.get("state") or RemnantState.IN_RACK) if cells else "not in the book"
    return RackLine(
        record, RemnantState.USED_UP if record.used_up else state, weight,
        float(value) if isinstance(value, int | float) else None,
        str(cells.get("rack place") or record.rack_place),
    )  # fmt: skip


def _kerf(rack: OpenRack, record: Record) -> float:
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
    """Put right what can be, and say what was done and what is not known any more.

    Drawings changed by hand are taken over, missing ones written again, rows that are gone from the
    page Remnants added. Steps and records that the rack has lost are rebuilt (`rebuilding`); steps that the
    book has lost are entered in it with their counts. Where book and rack went separate ways nobody can say
    which is right, and nothing is done.
    """
    with open_rack(book, For.MENDING) as rack:
        differ = apart(rack.steps, rack.tables, rack.book)
        if differ is not None and differ.separate:
            problem = apart_problem(differ, rack.book, rack.steps)
            raise Refused(problem.what, problem.remedy)
        said = [rack.told] if rack.told else []
        files: dict[str, bytes | None] = {}
        before, changes = rack.recorded, rack.desk.changes(rack.tables)
        for held in rack.held.values():
            said += _mend_record(rack, held, files)
        said += _mend_rows(rack, changes)
        if differ is not None:
            rack, more = _mend_log(rack, changes, differ, files)
            said += more
        said += _mend_lost(rack, files)
        if differ is None and not files and not changes.made and not changes.edit.touched:
            return tuple(said) or ("Rack and book fit together; nothing was to be done.",)
        steps = rack.recorded
        number = max((step.number for step in steps), default=0)
        told = f"What was mended of {rack.book.name} and its folder rack counts."
        turn = Turn([number], True, files, steps, before, rack.job, rack.mark, told=told)
        rack.desk.do(rack.rack, changes, turn)
        return (*said, *(f"Check: {one}." for one in changes.unwritten))


def _mend_record(rack: OpenRack, held: Held, files: dict[str, bytes | None]) -> Iterator[str]:
    """Bring what the tool knows of one sheet and its drawing together."""
    if held.damaged and held.now is not None and held.drawing is not None:
        record = replace(held.now, used_up=held.drawing.parent != rack.rack)
        files[known_name(held.tag)] = known_text(record, held.drawing.read_bytes()).encode()
        yield f"{held.tag}: what was known of it was damaged; its drawing tells it now."
    elif held.damaged:
        return  # it is rebuilt, or said to be lost
    elif held.trouble:
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
        row = row_of(settled(record, units), 0.0, units, _kerf(rack, record))
        if changes.add_remnant(as_said(rack.job, row)):
            yield f"{held.tag}: a row was added to the page Remnants; its value is 0 until you write one."


def _mend_lost(rack: OpenRack, files: dict[str, bytes | None]) -> Iterator[str]:
    """Records that are gone of sheets that the book still has in the rack."""
    known = {tag for step in rack.recorded for tag in (*step.left, step.on)}
    for row in rack.job.remnants:
        held = rack.held.get(row.tag)
        if row.tag not in known or (held is not None and (held.now or held.known) is not None):
            continue
        try:
            record, room = rebuilt_record(rack, row.tag)
        except Refused as reason:
            yield (
                f"{row.tag}: its record is gone and cannot be rebuilt ({reason.what}). It is left out of "
                "plans: measure the sheet, and enter it under a new tag."
            )
            continue
        drawing = record_drawing(record, rack.job.settings.units, room)
        files[drawing_name(record)] = drawing
        files[known_name(row.tag)] = known_text(record, drawing).encode()
        yield f"{row.tag}: its record was gone and has been rebuilt from its plan."


def _mend_log(
    rack: OpenRack, changes: BookChanges, differ: Apart, files: dict[str, bytes | None]
) -> tuple[OpenRack, list[str]]:
    """Rebuild the steps that the rack has lost, and enter those that the book has lost."""
    rebuilt = rebuilt_steps(rack, differ.only_book)
    files |= rebuilt.files
    back = [rack.steps[number] for number in differ.only_rack]
    said = list(rebuilt.said)
    for step in back:
        log = "Cut log" if step.kind is Kind.CUT else "Stock log"
        said.append(f"Step {step.number} was put back on the page {log}.")
        of_plan = rack.tables.plan == (step.shown or step.plan)
        for change in step.changes:
            there = changes.value(change.page, change.row, change.heading)
            if there == change.before and (of_plan or change.page == REMNANTS.name):
                changes.write(change.page, change.row, change.heading, change.after)
    said += _counts_again(changes, back)
    rack = rebuilt.rack
    return replace(rack, added=rack.added | {step.number for step in back}), said


def _counts_again(changes: BookChanges, back: Sequence[Step]) -> Iterator[str]:
    """Counts of Stock as steps left them, where the book still has those from before them."""
    known: dict[str, list[tuple[int | None, int]]] = {}
    for step in back:
        if step.kind is Kind.CUT and step.sheet:
            known.setdefault(step.sheet, []).append((step.found, (step.found or 0) - step.from_stock))
        for line in step.lines:
            if step.kind is Kind.RECEIVED:
                known.setdefault(line.sheet, []).append((line.found, line.found + line.put_on_hand))
            yield f"Check On order of {line.sheet} on the page Stock."
    for sheet, counts in known.items():
        now, first, last = count_on(changes.value("Stock", sheet, "On hand")), counts[0][0], counts[-1][1]
        if now == last:
            continue
        if now is None or now != first or any(one is None for one, _ in counts):
            yield f"Check On hand of {sheet}: the page Stock says {now}, and these steps left {last}."
        elif changes.write_uncounted("Stock", sheet, "On hand", last):
            yield f"On hand of {sheet} is {last} now, as these steps left it."
