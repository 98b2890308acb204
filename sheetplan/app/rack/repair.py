"""Put right where records and book disagree; what is lost is rebuilt from logs and plans."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from sheetplan.app.making.earlier import kept_plan
from sheetplan.app.rack import Refused
from sheetplan.app.rack.belonging import Apart, apart, apart_problem, cuts_listed
from sheetplan.app.rack.changes import BookChanges, count_on
from sheetplan.app.rack.cut_files import Sheets, as_said, rack_files, row_of
from sheetplan.app.rack.folder import STEPS, Held, drawing_name, known_name, known_of, known_text, step_name
from sheetplan.app.rack.known import row_numbers
from sheetplan.app.rack.opened import For, OpenRack, open_rack
from sheetplan.model import Job, Remnant, Settings
from sheetplan.rack.credits import asked_lines, credit, credits_of
from sheetplan.rack.cut import CutFacts, Cutting, new_sheet
from sheetplan.rack.kept_plan import KeptPlan, PlannedLayout
from sheetplan.rack.record import Record
from sheetplan.rack.record_dxf import record_drawing, settled
from sheetplan.rack.step import Credit, Kind, Step, StockLine, Weights, step_text
from sheetplan.shapes import Box, area, size
from sheetplan.trade.units import weight_kg
from sheetplan.workbook.columns import CUT_LOG, REMNANTS, STOCK_LOG
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.tables import BookTables, CellValue

if TYPE_CHECKING:
    pass


# Steps and records that the rack has lost, rebuilt from the book's logs and from what its plans were.
#
# The page Cut log says what was cut, of which plan and layout, and what went back to the rack; the plan's
# exact file says where each part lay. Together they give a record as it was, as long as a layout was cut
# whole. What cannot be told is a sentence, which the step keeps (`Step.unknown`): it is said now, by every
# look at the book, and when the step is taken back.
#
# For which orders pieces were cut is worked out anew, step by step, and compared with the page; where the two
# differ, the page is believed.

Cells = Mapping[str, CellValue]

NEAR_MM = 0.5
"""By how much a record that is rebuilt may differ from the size in its row: rows are rounded."""


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """The rack with a step more, the files to write for it, and what there is to say."""

    rack: OpenRack
    files: Mapping[str, bytes | None]
    said: tuple[str, ...]


def rebuilt_steps(rack: OpenRack, lost: Sequence[int]) -> Rebuilt:
    """Steps that the book lists and the rack has lost, the earliest first."""
    cuts, files, said = cuts_listed(rack.tables), dict[str, bytes | None](), list[str]()
    for number in lost:
        one = _cut(rack, number) if number in cuts else _stock(rack, number)
        rack, files = one.rack, {**files, **one.files}
        said += one.said
    return Rebuilt(rack, files, tuple(said))


def rows_of(tables: BookTables, page: str, number: int) -> list[Cells]:
    """The rows of a step on a log, by heading as compared."""
    table = tables.tables.get(page)
    rows = [
        {normal(name): cell.value for name, cell in row.cells.items()}
        for row in (table.rows if table else ())
    ]
    return [cells for cells in rows if cells.get("step") == number]


def _text(cells: Cells, heading: str) -> str:
    value = cells.get(heading)
    return "" if value is None else str(value)


_PIECES = re.compile(r"([0-9]+) x (.+?)(?=, [0-9]+ x |$)", re.DOTALL)
_FOR = re.compile(r"^(.*): ([0-9]+) for (.*)$", re.MULTILINE)


def pieces_in(text: str) -> dict[str, int]:
    """Pieces by part as the page says them.

    >>> pieces_in("12 x CB-101, 2 x CB-100")
    {'CB-101': 12, 'CB-100': 2}
    """
    return {part: int(count) for count, part in _PIECES.findall(text)}


def _cut(rack: OpenRack, number: int) -> Rebuilt:
    """A cut, with what it left where its plan tells."""
    cells = rows_of(rack.tables, CUT_LOG.name, number)[0]
    step, unknown = _step_of(rack, number, cells)
    files: dict[str, bytes | None] = {}
    records: tuple[tuple[Record, Box | None], ...] = ()
    tags = [tag for tag in (*step.left, step.on) if tag]
    there = [tag for tag in tags if tag in rack.held and not rack.pending.get(known_name(tag))]
    if there:
        step = _as_it_lies(rack, step, there, unknown)
    elif tags:
        try:
            records = tuple(_records(rack, step))
        except Refused as reason:
            unknown.append(f"what has been cut from {', '.join(dict.fromkeys(tags))} ({reason.what})")
    if records:
        sheets = Sheets(records, (), {}, 0.0)
        files, step = rack_files(rack, sheets, step)
    weighed = _weighed(rack, step)
    step = replace(step, weights=weighed or step.weights)
    unknown += [] if weighed else ["kerf and cost, for the balance of its month"]
    told = tuple(f"{one[0].upper()}{one[1:]}." for one in unknown)
    step = replace(step, unknown=told)
    files = {**files, step_name(number): step_text(step).encode()}
    said = [f"Step {number} ({step.layout} of plan {step.plan}) was rebuilt from the page Cut log."]
    said += [f"{record.tag}: its record was rebuilt as plan {step.plan} left it." for record, _ in records]
    said += [f"Step {number}: not known any more: {one}" for one in told]
    return Rebuilt(rack.after(step, [one for one, _ in records], rack.tags, files), files, tuple(said))


def _weighed(rack: OpenRack, step: Step) -> Weights | None:
    """Where the metal went and what it cost; None where a layout was not cut whole, on its own sheet."""
    from sheetplan.money.layout_figures import layout_figures

    try:
        plan, planned = _planned(rack, step)
    except Refused:
        return None
    sheet = planned.layout.sheet
    rows = [rack.row(tag) for tag in step.left]
    if (sheet.tag if isinstance(sheet, Remnant) else sheet.name) != (step.on or step.sheet) or None in rows:
        return None
    group = planned.group
    figures = layout_figures(replace(planned.layout, repeats=1), group, plan.parts, rack.job.settings)
    bad = sum(area(plan.parts[part].outline) * count for part, count in step.bad.items())
    bad_kg = weight_kg(bad, group.thickness.mm, group.material.density)
    split = figures.split.times(step.times).rejecting(bad_kg)
    value = sum(row.value for row in rows if row is not None)
    return Weights(
        split.taken, split.parts, split.kerf, split.kept, split.bad, figures.metal_cost * step.times, value,
        split.along,
    )  # fmt: skip


def _as_it_lies(rack: OpenRack, step: Step, there: Sequence[str], unknown: list[str]) -> Step:
    """A step whose sheets still have their records: those that it brought go when it is taken back."""
    if step.on in there:
        unknown.append(f"what the record of {step.on} was before; taken back, it stays as it is")
    former: dict[str, str | None] = {}
    for tag in there:
        held = rack.held[tag]
        if tag != step.on and held.drawing is not None:
            former |= {known_name(tag): None, held.drawing.relative_to(rack.rack).as_posix(): None}
    return replace(step, former=former)


def rebuilt_record(rack: OpenRack, tag: str) -> tuple[Record, Box | None]:
    """The record of a sheet, and its room, as the last step that it was in left it; raises ``Refused``."""
    last = [step for step in rack.recorded if tag in (*step.left, step.on)][-1]
    former = last.former.get(known_name(tag)) if last.on == tag else None
    if former is not None:
        record = known_of(former.encode("latin-1").decode("utf-8"))[0]
        rack = replace(rack, held={**rack.held, tag: Held(tag, record, record)})
    elif last.on == tag and last.unknown:
        raise Refused(f"step {last.number}, the last that cut it, was itself rebuilt", "")
    return next((one, room) for one, room in _records(rack, last) if one.tag == tag)


def _step_of(rack: OpenRack, number: int, cells: Cells) -> tuple[Step, list[str]]:
    """What the row of a cut says, and what it does not."""
    unknown: list[str] = []
    times, source, note = cells.get("times cut"), _text(cells, "cut from"), _text(cells, "note")
    count = int(times) if isinstance(times, int | float) else 1
    on = source.removeprefix("remnant ") if source.startswith("remnant ") else ""
    good, bad = pieces_in(_text(cells, "good pieces")), pieces_in(_text(cells, "bad pieces"))
    date = _text(cells, "date")[: len("2026-11-25")]
    credits = _credits(rack, good, date, _text(cells, "for orders"), unknown)
    left = tuple(filter(None, (tag.strip() for tag in _text(cells, "back to the rack").split(","))))
    had = re.search(r"Stock had ([0-9]+) of ", note)
    found = int(had[1]) if had else None
    taken = 0 if on else min(count, found) if found is not None else count
    rows = {remnant.tag for remnant in rack.job.remnants}
    if on:
        unknown.append(f"what the row of {on} said before; taken back, it stays as it is")
    unit = rack.job.settings.units.weight_kg

    def weight(heading: str) -> float:
        # The heading names the unit too: Metal taken (lb).
        value = next((v for name, v in cells.items() if name.startswith(heading)), None)
        return float(value) * unit if isinstance(value, int | float) else 0.0

    weights = Weights(weight("metal taken"), weight("parts"), 0.0, weight("kept"), 0.0, 0.0, 0.0)
    step = Step(
        number=number, date=date, plan=_text(cells, "plan"), layout=_text(cells, "layout"), times=count,
        gauge=_text(cells, "gauge"), sheet="" if on else source, on=on, from_stock=taken, left=left,
        pieces=good, bad=bad, credits=credits, weights=weights, by=_text(cells, "by"),
        heat=_text(cells, "heat"), note=note, book=rack.book.name, of=rack.mark, found=found,
        new_rows=tuple(tag for tag in left if tag != on and tag in rows),
        asked=asked_lines(rack.job, credits),
    )  # fmt: skip
    return step, unknown


def _credits(
    rack: OpenRack, good: Mapping[str, int], date: str, text: str, unknown: list[str]
) -> tuple[Credit, ...]:
    """For which orders pieces were cut: worked out again, and as the page says where that differs."""
    told = Counter({(order, item): int(count) for order, count, item in _FOR.findall(text)})
    worked = credit(rack.job, credits_of(rack.recorded), good, date)
    sums: Counter[tuple[str, str]] = Counter()
    for one in worked:
        sums[one.order, one.item] += one.pieces
    if sums == told:
        return worked
    left, found = Counter(good), []
    for (order, item), count in told.items():
        for part in _parts_of(rack.job, item):
            pieces = min(count, left[part])
            if pieces:
                left[part] -= pieces
                count -= pieces
                found.append(Credit(order, item, part, pieces))
        if count:
            unknown.append(f"which {count} pieces were cut for {order} ({item})")
    return tuple(found)


def _parts_of(job: Job, item: str) -> Sequence[str]:
    return list(job.kits[item].parts) if item in job.kits else [item]


def _records(rack: OpenRack, step: Step) -> Iterator[tuple[Record, Box | None]]:
    """The records that a cut left, from what the plan was; refused where that does not give them for sure."""
    plan, planned = _planned(rack, step)
    base = _base(rack, step, planned)
    usual = rack.job.settings
    for settings in (usual, replace(usual, crop_remnants=not usual.crop_remnants)):
        found = _left(settings, step, plan, planned, base)
        if found is not None and all(_as_in_row(rack, record) for record, _ in found):
            yield from found
            return
    raise Refused("what its plan would leave is not what the page Remnants says", "")


def _planned(rack: OpenRack, step: Step) -> tuple[KeptPlan, PlannedLayout]:
    """The plan and the layout of a cut; refused where they are gone, or the layout was not cut whole."""
    plan = kept_plan(rack.book, rack.job, step.plan, rack.tables.plan)
    planned = plan.layouts.get(step.layout)
    if planned is None:
        raise Refused(f"plan {step.plan} has no layout {step.layout}", "")
    made = Counter(p.part for p in planned.layout.placements)
    if Counter(step.pieces) + Counter(step.bad) != Counter(
        {part: n * step.times for part, n in made.items()}
    ):
        raise Refused("not the whole layout was cut, and the page does not say which pieces", "")
    return plan, planned


def _base(rack: OpenRack, step: Step, planned: PlannedLayout) -> Record:
    """The sheet before it was cut."""
    settings = rack.job.settings
    if step.on:
        record = rack.record(step.on)
        if record is None:
            raise Refused(f"what {step.on} was before is not known", "")
        return settled(record, settings.units)
    sheet = next((one for one in rack.job.stock if normal(one.name) == normal(step.sheet)), None)
    if sheet is None and not isinstance(planned.layout.sheet, Remnant):
        sheet = planned.layout.sheet
    if sheet is None:
        raise Refused(f"the page Stock has no sheet {step.sheet}", "")
    return settled(new_sheet(sheet, settings.datum), settings.units)


def _left(
    settings: Settings, step: Step, plan: KeptPlan, planned: PlannedLayout, base: Record
) -> list[tuple[Record, Box | None]] | None:
    """Records with their tags as the page gives them; None where they would not be as many."""
    facts = CutFacts(step.number, step.date, step.plan, step.heat)
    layout = replace(planned.layout, repeats=1)
    after = Cutting(planned.group.rule, plan.parts, settings).after(base, layout, facts)
    units, records = settings.units, list[tuple[Record, Box | None]]()
    fresh = [(kept.record, kept.room) for kept in after.drop_outs]
    if step.on:
        records.append((settled(after.sheet, units), after.room))
        if (after.room is not None) != (step.on in step.left):
            return None
    elif after.room is not None:
        fresh.insert(0, (after.sheet, after.room))
    tags = [tag for tag in step.left if tag != step.on]
    if len(tags) != len(fresh) * step.times:
        return None
    for tag, (record, room) in zip(tags, fresh * step.times, strict=True):
        records.append((settled(replace(record, tag=tag), units), room))
    return records


def _as_in_row(rack: OpenRack, record: Record) -> bool:
    """Whether the row of a tag has the size of the record, unless a later cut has changed it."""
    row = rack.row(record.tag)
    cut_later = sum(source == f"remnant {record.tag}" for source in _sources(rack.tables))
    if row is None or record.used_up or cut_later:
        return True
    return all(abs(a - b) <= NEAR_MM for a, b in zip(size(row.edge), size(record.edge), strict=True))


def _sources(tables: BookTables) -> list[str]:
    table = tables.tables.get(CUT_LOG.name)
    return [
        str(cell.value) for row in (table.rows if table else ())
        for name, cell in row.cells.items() if normal(name) == "cut from"
    ]  # fmt: skip


def _stock(rack: OpenRack, number: int) -> Rebuilt:
    """A step of the page Stock log: sheets with their counts; of other kinds the number alone."""
    rows = rows_of(rack.tables, STOCK_LOG.name, number)
    first = rows[0] if rows else {}
    what, date = _text(first, "what"), _text(first, "date")[: len("2026-11-25")]
    step = Step(
        number=number, date=date, book=rack.book.name, kind=Kind.PARTS, by=_text(first, "by"),
        note=_text(first, "note"), of=rack.mark,
    )  # fmt: skip
    if what in (Kind.ORDERED, Kind.RECEIVED):
        lines = tuple(
            StockLine(
                _text(cells, "sheet or part"), count_on(cells.get("count")) or 0,
                covered=count_on(cells.get("cut before they came")) or 0,
            )
            for cells in rows
        )  # fmt: skip
        unknown = ("By how much On order went down, and the row of the page Purchases.",)
        step = replace(
            step, kind=Kind(what), lines=lines, plan=_text(first, "plan"),
            unknown=() if what == Kind.ORDERED else unknown,
        )  # fmt: skip
    else:
        unknown = ("Which pieces it gave to which orders, or took from them: count them.",)
        step = replace(
            step, note=step.note or "rebuilt from the page: pieces not known", unknown=unknown
        )
    files: dict[str, bytes | None] = {step_name(number): step_text(step).encode()}
    said = [f"Step {number} ({what or 'of the page Stock log'}) was rebuilt from that page."]
    said += [f"Step {number}: not known any more: {one}" for one in step.unknown]
    return Rebuilt(rack.after(step, [], rack.tags, files), files, tuple(said))


# What can be put right where records and book disagree.

TWO_RACKS = (
    "The folder rack was made anew. If the old one turns up, or another copy of this book is cut from, go on "
    "with one of the two alone: neither knows what is cut by the other."
)


def repair(book: Path) -> tuple[str, ...]:
    """Put right what can be, and say what was done and what is not known any more.

    Drawings changed by hand are taken over, missing ones written again, rows that are gone from the
    page Remnants added. Steps and records that the rack has lost are rebuilt; steps that the
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
        changes = rack.desk.changes(rack.tables)
        for held in rack.held.values():
            said += _mend_record(rack, held, files)
        said += _mend_rows(rack, changes)
        if differ is not None:
            rack, more = _mend_log(rack, changes, differ, files)
            said += more
        said += _mend_lost(rack, files)
        if differ is not None and differ.gone:
            said.append(TWO_RACKS)
        if differ is None and not files and not changes.made and not changes.edit.touched:
            return tuple(said) or ("Rack and book fit together; nothing was to be done.",)
        rack.commit(changes, files, told=f"What was mended of {rack.book.name} and its folder rack counts.")
        (rack.rack / STEPS).mkdir(exist_ok=True)  # where all were taken back it tells that this is a rack
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
        drawing = record_drawing(held.known, rack.job.settings.units, rack.room_of(held.known))
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


def _mend_rows(rack: OpenRack, changes: BookChanges) -> Iterator[str]:
    """Rows for records that the page Remnants does not have."""
    rows = row_numbers(rack.tables)
    for held in rack.held.values():
        record = held.now
        if record is None or record.used_up or held.tag in rows or not record.material:
            continue
        units = rack.job.settings.units
        row = row_of(settled(record, units), 0.0, units, rack.kerf_of(record))
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
    if back or rebuilt.said:
        said.append(f"Had one of these been taken back, take it back again: sheetplan undo {rack.book.name}")
    said += _counts_again(changes, back, rack.recorded)
    rack = rebuilt.rack
    return replace(rack, added=rack.added | {step.number for step in back}), said


def _counts_again(changes: BookChanges, back: Sequence[Step], listed: Sequence[Step]) -> Iterator[str]:
    """Counts of Stock as steps left them, where the book still has those from before them.

    ``listed`` are steps that the book has kept: where one of them came later, its count says more.
    """
    kept = _counted(listed)
    for step in back:
        for line in step.lines:
            yield f"Check On order of {line.sheet} on the page Stock."
    for sheet, counts in _counted(back).items():
        now, first, last = count_on(changes.value("Stock", sheet, "On hand")), counts[0].found, counts[-1]
        later = [one for one in kept.get(sheet, []) if one.number > counts[0].number]
        newest = max((last, *later), key=lambda one: one.number)
        if now == newest.left:
            continue
        if later or now is None or now != first or any(one.found is None for one in counts):
            yield f"Check On hand of {sheet}: the page Stock says {now}, and step {newest.number} left "\
                f"{newest.left}."
        elif changes.write_count(sheet, "On hand", last.left):
            yield f"On hand of {sheet} is {last.left} now, as these steps left it."


class _Count(NamedTuple):
    """What a step found on hand of a size of sheet, None where that is not known, and what it left."""

    number: int
    found: int | None
    left: int


def _counted(steps: Sequence[Step]) -> dict[str, list[_Count]]:
    """The counts of each size of sheet, in the order of the steps."""
    known: dict[str, list[_Count]] = {}
    for step in sorted(steps, key=lambda step: step.number):
        if step.kind is Kind.CUT and step.sheet:
            left = (step.found or 0) - step.from_stock
            known.setdefault(step.sheet, []).append(_Count(step.number, step.found, left))
        for line in step.lines if step.kind is Kind.RECEIVED else ():
            left = line.found + line.put_on_hand
            known.setdefault(line.sheet, []).append(_Count(step.number, line.found, left))
    return known
