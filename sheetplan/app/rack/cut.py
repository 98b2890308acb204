"""Record that a layout was cut: one step that changes book and rack together, or nothing at all.

Choices
-------
Cuts of one command are steps of their own under one journal, each worked out on the rack as the one before
leaves it (`OpenRack.after`). A layout is put through the check again on the record as it now stands, so that
nothing is cut twice.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path

from sheetplan.app.rack import Refused
from sheetplan.app.rack.changes import BookChanges, count_on, row_name
from sheetplan.app.rack.cut_asked import (
    CutAsked,
    HandedBack,
    Way,
    agreed,
    asked_otherwise,
    cuts_in_rows,
    pieces_cut,
    plan_of,
    read_code,
    refused_at,
    with_files,
)
from sheetplan.app.rack.cut_files import OF_METAL, Cut, Sheets, rack_files
from sheetplan.app.rack.folder import TAKEN_BACK, cut_of, highest_number, step_name
from sheetplan.app.rack.known import marks_waiting
from sheetplan.app.rack.opened import OpenRack, day_said, open_rack, open_rack_live
from sheetplan.model import Layout, Problem, Remnant, Settings, SheetSize
from sheetplan.pages.book.logs import pieces_text
from sheetplan.pages.wording import shape_text, size_text
from sheetplan.rack.credits import asked_lines, credit, credits_of
from sheetplan.rack.cut import CutFacts, Cutting, new_sheet
from sheetplan.rack.kept_plan import KeptPlan, PlannedLayout
from sheetplan.rack.record import Record, as_remnant
from sheetplan.rack.record_dxf import settled
from sheetplan.rack.step import Credit, Step, Weights, step_text, times_cut
from sheetplan.shapes import area
from sheetplan.trade.sentences import counted
from sheetplan.trade.thickness import same
from sheetplan.trade.units import Units, weight_kg
from sheetplan.workbook.columns import CUTTING_MARKS, RECORD
from sheetplan.workbook.outcomes import BookError
from sheetplan.workbook.port import LiveHost
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.rows import mark_problems
from sheetplan.workbook.tables import RawRow


@dataclass(frozen=True, slots=True)
class CutDone:
    """A recorded step and what there is to say about it, in sentences."""

    step: Step
    sentences: tuple[str, ...]


def record_cuts(book: Path, asked: Sequence[CutAsked], *, today: datetime.date) -> tuple[CutDone, ...]:
    """Record cuts together, a step for each: all of them or, where one is refused, none.

    Raises ``Refused`` where one may not be recorded and ``BookError`` where book or disk stand in the way;
    nothing was then changed.
    """
    with open_rack(book) as rack:
        return _record(rack, asked, today)


def record_handed_back(
    book: Path, handed: HandedBack, *, today: datetime.date, plan: str | None = None,
    leave_out: Collection[int] = (),
) -> tuple[CutDone, ...]:  # fmt: skip
    """Record what the page of a plan handed back, all lines together or none; raises as `record_cuts`.

    ``plan`` says that a plan is meant that the book no longer shows, ``leave_out`` are lines by number.
    """
    with open_rack(book) as rack:
        return _record(rack, agreed(rack, handed, plan, leave_out), today)


def record_marked(book: Path, *, today: datetime.date, by: str = "") -> Iterator[CutDone]:
    """Record what the book tells of: the rows of the page Record, all together, then marks in Cut now.

    Gives each step as it is recorded. A row that is refused keeps all rows from being recorded; layouts
    that are marked are recorded one after the other, and where one is refused, those before it are. ``by``
    is who cut what the book does not say.
    """
    try:
        yield from _marked(lambda: open_rack(book), today, by)
    except Refused as refused:
        if refused.problems:
            _show(book, refused.problems)
        raise


def _show(book: Path, problems: tuple[Problem, ...]) -> None:
    """Put problems on their page of a closed book, and so into the messages of their rows."""
    from sheetplan.pages.book.problems import problems_page
    from sheetplan.workbook.hosts.closed import ClosedBook
    from sheetplan.workbook.reading.book import seen_in

    host = ClosedBook(book)
    with suppress(BookError):  # what is refused is said anyway
        host.write((problems_page(problems, seen_in(host.read())),), Units.INCH)


def record_marked_live(host: LiveHost, *, today: datetime.date) -> Iterator[CutDone]:
    """Record, as `record_marked` does, what a book tells of that is open in a program."""
    return _marked(lambda: open_rack_live(host), today, "")


def _marked(
    open_book: Callable[[], AbstractContextManager[OpenRack]], today: datetime.date, by: str
) -> Iterator[CutDone]:
    with open_book() as rack:
        recorded = _rows(rack, today, by)
    yield from recorded
    while True:  # each step rewrites the book, so it is read again for the next
        with open_book() as rack:
            for wrong in mark_problems(rack.tables):
                raise Refused(wrong.what, wrong.remedy)
            waiting = marks_waiting(rack.tables)
            if not waiting:
                return
            tag, mark = next(iter(waiting.items()))
            if mark.times < 1:
                what = f"Layouts, row {mark.row}: Cut now of {tag} is not a whole number."
                raise Refused(what, "Write how often it was cut.")
            # What is marked on the page is of the plan that the page shows.
            asked = CutAsked(tag, mark.times, plan=rack.tables.plan or None, by=by, way=Way.MARK)
            [done] = _record(rack, [asked_otherwise(asked, mark.otherwise)], today, marked=tag)
        yield done


def _rows(rack: OpenRack, today: datetime.date, by: str) -> tuple[CutDone, ...]:
    """Record the rows of the page Record, all or none of them."""
    rows, wrong = cuts_in_rows(rack.tables)
    if wrong:
        what = f"{counted(len(wrong), 'cell')} of the page Record cannot be read."
        raise Refused(what, _put_right(wrong), wrong)
    asked = with_files(rack, rows)
    return _record(rack, [replace(one, by=one.by or by) for one in asked], today) if rows else ()


def _put_right(wrong: Sequence[Problem]) -> str:
    return "Put it right first." if len(wrong) == 1 else "Put them right first."


def _record(
    rack: OpenRack, asked: Sequence[CutAsked], today: datetime.date, *, marked: str = ""
) -> tuple[CutDone, ...]:
    first = rack.next_step
    changes = rack.desk.changes(rack.tables)
    done, refused = [], []
    for one in asked:
        changes.begin()
        try:
            cut = _cut_of(rack, read_code(one), today)
            recorded, rack = _step(rack, changes, cut, together=first if len(asked) > 1 else 0, marked=marked)
            done.append(recorded)
        except Refused as refusal:
            if one.row is None and not one.said_in:
                raise
            refused.append(refused_at(one, refusal))
    if refused:
        row, whose = ("row", "of the page Record") if asked[0].row else ("line", "of the file")
        what = f"{counted(len(refused), row)} {whose} cannot be recorded."
        by_hand = "Leave them out by --leave-out LINE, and record by hand what is true of them."
        raise Refused(what, _put_right(refused) if asked[0].row else by_hand, tuple(refused))
    rack.commit(changes)
    if rack.told:
        done[0] = replace(done[0], sentences=(rack.told, *done[0].sentences))
    return tuple(done)


def _cut_of(rack: OpenRack, asked: CutAsked, today: datetime.date) -> Cut:
    """What was cut, from what; refused where that cannot be."""
    known = next((step for step in rack.recorded if asked.handed and step.handed == asked.handed), None)
    if known is not None:
        what = f"{asked.layout} of this line is recorded already: step {known.number} of {known.date}."
        raise Refused(what, "Leave the line out, or take that step back first by `sheetplan undo`.")
    plan, planned = plan_of(rack, asked)
    times = _times(rack, plan, planned, asked)
    layout = replace(planned.layout, repeats=1)
    if asked.only:
        if times != 1:
            raise Refused(
                f"Pieces are named for one sheet, and {planned.layout.tag} is recorded {times} times.",
                "Record the sheet that was stopped by itself, once.", about="times",
            )  # fmt: skip
        placements = pieces_cut(layout, plan.parts, asked, rack.job.settings)
        if not placements:
            what = f"No piece of {layout.tag} was cut."
            raise Refused(what, "Then there is nothing to record.", about="only")
        layout = replace(layout, placements=placements)
    sheet, base, row = _sheet(rack, planned, asked, times)
    made = PlannedLayout(replace(layout, sheet=sheet), planned.group)
    if row is not None or sheet != planned.layout.sheet:
        _refuse_misfit(made, plan, rack)
    date = _date(rack, asked, row, today)
    return Cut(asked, plan, planned, made, base, row, times, date)


def _step(
    rack: OpenRack, changes: BookChanges, cut: Cut, *, together: int, marked: str
) -> tuple[CutDone, OpenRack]:
    """One step: its changes go into the book, its files and records into the rack that is given back."""
    number, plan, row, times, asked = rack.next_step, cut.plan, cut.row, cut.times, cut.asked
    facts = CutFacts(number, cut.date.isoformat(), cut.mark, asked.heat)
    settings = rack.job.settings
    if asked.crop is not None:
        settings = replace(settings, crop_remnants=asked.crop)
    layout, group = cut.made.layout, cut.made.group
    after = Cutting(group.rule, plan.parts, settings).after(cut.base, layout, facts)
    good, bad = _pieces(cut.made, times, asked.bad or {})
    sheets = Sheets.after(rack, cut, after)
    found, from_stock = _take_from_stock(changes, layout.sheet, times)
    new_rows = tuple(values["Tag"] for values in sheets.new_rows if changes.add_remnant(values))
    for heading, value in sheets.row_changes.items():
        assert row is not None, "only a remnant's row changes"
        if heading not in OF_METAL or changes.has("Remnants", row.tag, heading):
            changes.write("Remnants", row.tag, heading, value)
    _mark_layout(changes, rack, cut)
    _clear(changes, asked, marked)
    done = credits_of(rack.recorded)
    credits = credit(rack.job, done, good, facts.date)
    bad_for = credit(rack.job, [*done, *credits], bad, facts.date)
    spare = _spare(good, credits)
    redrawn = cut.redrawn(rack)
    notes = [
        *([asked.note] if asked.note else []),
        *([f"planned on {_sheet_name(cut.planned.layout)}"] if _other_sheet(cut) else []),
        *([f"stopped, not cut: {pieces_text(cut.uncut)}"] if cut.uncut else []),
        *([f"cut as planned, before the drawing of {redrawn} changed"] if redrawn else []),
        *changes.unwritten,
        *([f"spare: {pieces_text(spare)}"] if spare else []),
    ]
    step = Step(
        number=number, date=facts.date, plan=cut.mark, shown=rack.tables.plan, layout=layout.tag, times=times,
        gauge=group.label, sheet="" if row else _sheet_name(layout), on=row.tag if row else "",
        from_stock=from_stock, left=sheets.left, pieces=good, bad=bad, credits=credits,
        weights=_weights(cut, sheets, bad, settings), by=asked.by, heat=asked.heat,
        note="; ".join(notes), changes=tuple(changes.made), new_rows=tuple(map(str, new_rows)),
        book=rack.book.name, together=together, found=found,
        bad_for=bad_for, asked=asked_lines(rack.job, credits), handed=asked.handed, of=rack.mark,
    )  # fmt: skip
    files, step = rack_files(rack, sheets, step)
    files[step_name(number)] = step_text(step).encode()
    tags = rack.tags.after_cut(cut_of(step), [tag for tag in step.left if tag != step.on])
    if tags != rack.tags:
        files[TAKEN_BACK] = tags.content()
    sentences = _sentences(step, cut, changes, rack, sheets.back)
    return CutDone(step, tuple(sentences)), rack.after(step, [one for one, _ in sheets.records], tags, files)


def _clear(changes: BookChanges, asked: CutAsked, marked: str) -> None:
    """Take away what in the book told of the cut: the row of Record, or the mark on the page Layouts."""
    if asked.row is not None and not changes.clear_row(RECORD, asked.row):
        raise Refused("The ticket is a formula.", "Write it as text, so that the row can be cleared.")
    if marked:
        changes.write("Layouts", marked, "Cut now", None)
        if changes.value("Layouts", marked, "How") is not None:
            changes.write("Layouts", marked, "How", None)


def _sheet_name(layout: Layout) -> str:
    return layout.sheet.tag if isinstance(layout.sheet, Remnant) else layout.sheet.name


def _other_sheet(cut: Cut) -> bool:
    return _sheet_name(cut.made.layout) != _sheet_name(cut.planned.layout)


def _times(rack: OpenRack, plan: KeptPlan, planned: PlannedLayout, asked: CutAsked) -> int:
    """How often it was cut; a second recording of the same is noticed here."""
    tag, repeats, mark = planned.layout.tag, planned.layout.repeats, planned.layout.of_plan or plan.mark
    so_far = times_cut(rack.steps, mark, tag) - planned.cut_before
    left = repeats - so_far
    times = asked.times if asked.times is not None else 1 if asked.only else max(left, 1)
    if times < 1:
        what = "A cut is recorded at least once."
        raise Refused(what, f"Say how often by {asked.told_by('times')}.", about="times")
    if times <= left or asked.again:
        return times
    more = f"If it was cut more often than planned, say so by {asked.told_by('again')}."
    if left <= 0:
        what = f"{tag} of plan {mark} is recorded already: {so_far} of {repeats} times."
        raise Refused(what, more, about="again")
    said = f"{tag}x{left}" if asked.way is Way.COMMAND else asked.told_by("times")
    raise Refused(
        f"{tag} of plan {mark} is planned {counted(repeats, 'time')} and recorded {counted(so_far, 'time')}; "
        f"{times} more would be too many.",
        f"Record {left}, by {said}. {more}",
        about="times",
    )


def _sheet(
    rack: OpenRack, planned: PlannedLayout, asked: CutAsked, times: int
) -> tuple[SheetSize | Remnant, Record, Remnant | None]:
    """The sheet that was cut, its record as it was before, and its row if it is a remnant."""
    sheet, on = planned.layout.sheet, asked.on
    if on and rack.row(on) is None:
        other = next((one for one in rack.job.stock if normal(one.name) == normal(on)), None)
        if other is None:
            raise Refused(
                f"There is no remnant {on} in the rack, nor a sheet {on} on the page Stock: the page "
                "Remnants has no such row, or it is used up or to be left alone.",
                "Check the tag on the sheet.", about="on",
            )  # fmt: skip
        sheet = other
    if isinstance(sheet, SheetSize) and (not on or rack.row(on) is None):
        settings = rack.job.settings
        if not any(normal(one.name) == normal(sheet.name) for one in rack.job.stock):
            raise Refused(
                f"The page Stock no longer has a sheet {sheet.name}, as planned for {planned.layout.tag}: "
                "its row was renamed or is gone.",
                f"Say which sheet was cut, by {asked.told_by('on')}; or write the old name back.", about="on",
            )  # fmt: skip
        return sheet, settled(new_sheet(sheet, settings.datum), settings.units), None
    tag = on or (sheet.tag if isinstance(sheet, Remnant) else "")
    row, record = rack.row(tag), rack.record(tag)
    if row is None:
        raise Refused(
            f"There is no remnant {tag} in the rack: the page Remnants has no such row, or it is used up or "
            "to be left alone.", "Check the tag on the sheet.", about="on",
        )  # fmt: skip
    if any(rack.steps[number].on == tag for number in rack.added):
        raise Refused(
            f"{tag} is cut twice in one go.", "Record the two cuts one after the other.", about="on"
        )
    if record is None or record.used_up:
        raise Refused(f"The record of {tag} cannot be used.", f"See: sheetplan rack {rack.book.name}")
    if times != 1:
        what = f"A remnant is cut once; {times} times cannot be."
        raise Refused(what, "Record each sheet by itself.", about="times")
    record = settled(record, rack.job.settings.units)
    return as_remnant(record, row), record, row


def _refuse_misfit(made: PlannedLayout, plan: KeptPlan, rack: OpenRack) -> None:
    """Nothing is cut twice or beside the sheet: the layout stands the check on the sheet that was used."""
    from sheetplan.checking import check_layout

    sheet, group = made.layout.sheet, made.group
    what = sheet.tag if isinstance(sheet, Remnant) else sheet.name
    metal = group.material.name
    if sheet.material != metal or not same(sheet.thickness, group.thickness):
        other = f"{what} is {sheet.material} {sheet.thickness.text}"
        what = f"{other}; the layout is for {group.label}."
        raise Refused(what, "Check the sheet's tag or name.", about="on")
    faults = check_layout(made.layout, group, plan.parts, rack.job.settings.units)
    if faults:
        told = "; ".join(fault.what for fault in faults[:3])
        stands = " as its record stands" if isinstance(sheet, Remnant) else ""
        raise Refused(
            f"{made.layout.tag} does not fit on {what}{stands}: {told}.",
            "Was it another sheet? Or was it cut by hand since: draw the cut into its record first.",
            about="on",
        )  # fmt: skip


def _date(rack: OpenRack, asked: CutAsked, row: Remnant | None, today: datetime.date) -> datetime.date:
    """The day of the cut; not to come, and no earlier than what else was done to the same remnant."""
    if asked.date is None:
        return today
    day, tag = day_said(asked.date, today).isoformat(), row.tag if row is not None else ""
    later = [step for step in rack.recorded if tag and tag in (step.on, *step.left) and step.date > day]
    if later:
        last = later[-1]
        raise Refused(
            f"{tag} was cut or came to the rack on {last.date} (step {last.number}), so it cannot have been "
            f"cut on {day}.", "Check the tag and the day.", about="date",
        )  # fmt: skip
    return asked.date


def _pieces(made: PlannedLayout, times: int, bad: Mapping[str, int]) -> tuple[dict[str, int], dict[str, int]]:
    """Good and bad pieces by part."""
    cut: Counter[str] = Counter()
    for placement in made.layout.placements:
        cut[placement.part] += times
    for part, count in bad.items():
        if part not in cut:
            what = f"{part} is not on {made.layout.tag}."
            raise Refused(what, f"Cut from it were: {', '.join(sorted(cut))}.", about="bad")
        if not 0 < count <= cut[part]:
            what = f"{count} of {part} cannot be bad: {cut[part]} were cut."
            raise Refused(what, "Check the number.", about="bad")
    good = {part: count - bad.get(part, 0) for part, count in sorted(cut.items())}
    return {part: count for part, count in good.items() if count}, dict(sorted(bad.items()))


def _spare(good: Mapping[str, int], credits: tuple[Credit, ...]) -> dict[str, int]:
    """Good pieces that no order asks for, by part."""
    left = Counter(good)
    for one in credits:
        left[one.part] -= one.pieces
    return {part: count for part, count in left.items() if count > 0}


def _take_from_stock(changes: BookChanges, sheet: SheetSize | Remnant, times: int) -> tuple[int | None, int]:
    """Lower the count on hand; gives what it was, None where there is none, and by how much it went down.

    It never goes below 0, since the book may not know yet what was bought.
    """
    if isinstance(sheet, Remnant):
        return None, 0
    there = changes.value("Stock", sheet.name, "On hand")
    count = count_on(there)
    if count is None:
        changes.unwritten.append(f"On hand of {sheet.name} on the page Stock is not a number")
        return None, 0
    taken = min(times, count)
    if taken < times:
        changes.unwritten.append(_more_cut_than_on_hand(sheet.name, count, times))
    if taken and not changes.write_count(sheet.name, "On hand", count - taken):
        return None, 0
    return count, taken


def _more_cut_than_on_hand(sheet: str, count: int, times: int) -> str:
    """What to make of sheets that were cut before the book knew of them: they are never counted again."""
    were, them = ("was", "it") if times == 1 else ("were", "them")
    return (
        f"Stock had {count} of {sheet} on hand and {times} {were} cut. What was cut counts as delivered and "
        f"used up: leave On hand as it is for {them}, and raise it only by sheets that come beyond those "
        "already cut. Or take the delivery in by `sheetplan receive`, which reckons with it"
    )


def _mark_layout(changes: BookChanges, rack: OpenRack, cut: Cut) -> None:
    """Count up on the pages Layouts and Cutting order, if they still show this plan."""
    tag = cut.planned.layout.tag
    if rack.tables.plan == cut.plan.mark and changes.value("Layouts", tag, "Layout") is not None:
        so_far = times_cut(rack.steps, cut.mark, tag) - cut.planned.cut_before + cut.times
        changes.write("Layouts", tag, "Cut so far", so_far)
        for row, done in _done_by_day(rack, tag, so_far).items():
            changes.write(CUTTING_MARKS.name, row, "Cut so far", done)


def _done_by_day(rack: OpenRack, tag: str, so_far: int) -> dict[str, int]:
    """What is cut of a layout by the rows of its days, the first first; what is beyond goes on the last.

    A row on which a sheet of the day before goes on has no sheet of its own.
    """
    table = rack.tables.tables.get(CUTTING_MARKS.name)
    rows = [row for row in (table.rows if table else ()) if row_name(row, ("Layout",)) == normal(tag)]
    planned = {row_name(row, CUTTING_MARKS.keys): count_on(_times_in(row)) or 0 for row in rows}
    days = [day for day in sorted(planned) if planned[day]]
    done: dict[str, int] = {}
    for day in days:
        done[day] = so_far if day == days[-1] else min(so_far, planned[day])
        so_far -= done[day]
    return done


def _times_in(row: RawRow) -> object:
    return next((cell.value for name, cell in row.cells.items() if normal(name) == "times"), None)


def _weights(cut: Cut, sheets: Sheets, bad: Mapping[str, int], settings: Settings) -> Weights:
    """The figures of the plan for the sheet that was cut, so that log, month and plan say the same."""
    from sheetplan.money.layout_figures import layout_figures

    group, parts, times = cut.made.group, cut.plan.parts, cut.times
    figures = layout_figures(cut.made.layout, group, parts, settings)
    bad_area = sum(area(parts[part].outline) * count for part, count in bad.items())
    bad_kg = weight_kg(bad_area, group.thickness.mm, group.material.density)
    split = figures.split.times(times).rejecting(bad_kg)
    return Weights(
        taken=split.taken,
        parts=split.parts,
        kerf=split.kerf,
        kept=split.kept,
        bad=split.bad,
        metal_cost=figures.metal_cost * times,
        kept_value=sheets.value_after,
        along=split.along,
    )


AGAIN = "they are planned again where an order asks for them"
"""What becomes of pieces that a cut did not make."""

MOST_NAMED = 2
"""Sheets of one shape and place that are named one by one; of more the first and the last."""


def _named(back: Sequence[Record], units: Units) -> Iterator[str]:
    """Sheets that went back, by tag, shape and place; many that are alike and numbered on as one."""
    for what, alike in groupby(back, lambda one: _shape_and_place(one, units)):
        tags = [one.tag for one in alike]
        numbers = [highest_number([tag]) for tag in tags]
        if len(tags) > MOST_NAMED and numbers == list(range(numbers[0], numbers[0] + len(tags))):
            yield f"{tags[0]} to {tags[-1]} (each {what})"
        else:
            yield from (f"{tag} ({what})" for tag in tags)


def _shape_and_place(record: Record, units: Units) -> str:
    return f"{shape_text(record.edge, units, has_cuts=bool(record.cuts))}{_place(record)}"


def _place(record: Record) -> str:
    return f", rack place {record.rack_place}" if record.rack_place else ""


def _sentences(
    step: Step, cut: Cut, changes: BookChanges, rack: OpenRack, back: Sequence[Record]
) -> list[str]:
    mark, planned = cut.mark, cut.planned.layout
    so_far = times_cut(rack.steps, mark, step.layout) - cut.planned.cut_before + step.times
    what = f"remnant {step.on}" if step.on else f"{step.times} of {step.sheet}"
    instead = f" instead of {_sheet_name(planned)}" if _other_sheet(cut) else ""
    on_day = f" on {step.date}" if cut.asked.date is not None else ""
    said = [
        f"Step {step.number}: {step.layout} of plan {mark} cut from {what}{instead}{on_day}; "
        f"{so_far} of {planned.repeats} recorded."
    ]
    closed = next((s.closed for s in rack.recorded if s.closed and step.date[:7] <= s.closed.month), None)
    if closed is not None:
        said.append(
            f"{closed.month} is closed: the balance in {closed.archive} is without this cut. Balance "
            f"{step.date[:7]} once more, and it counts."
        )
    if cut.uncut:
        said.append(f"Stopped half way: {pieces_text(cut.uncut)} not cut; {AGAIN}.")
    if cut.redrawn(rack):
        said.append(
            f"The drawing of {cut.redrawn(rack)} has changed or gone since it was planned; recorded is "
            "what was planned and cut. Before the next plan it has to be put right, or the change accepted."
        )
    if step.left:
        write = "Write the tag on the sheet" if len(back) == 1 else "Write its tag on each"
        said.append(f"Back to the rack: {', '.join(_named(back, rack.job.settings.units))}. {write}.")
        if any(change.heading == "Sheets above" for change in step.changes):
            said.append(
                "It is taken to lie on top of its pile now. If not, or if others lie under it, correct "
                "Sheets above."
            )
    elif step.on:
        said.append(f"Nothing useful is left of {step.on}: it is used up, its record is kept.")
    else:
        least = rack.job.settings
        smallest = size_text(least.least_remnant_length, least.least_remnant_width, least.units)
        said.append(f"Nothing worth keeping is left of the sheet (least useful size {smallest}).")
    if step.bad:
        said.append(f"Came out bad: {pieces_text(step.bad)}. They count for no order; {AGAIN}.")
    spare = _spare(step.pieces, step.credits)
    if spare:
        said.append(f"Spare, no order asks for them: {pieces_text(spare)}.")
    if step.from_stock:
        said.append(f"On hand of {step.sheet} went down by {step.from_stock}.")
    return said + [f"Check: {one}." for one in changes.unwritten]
