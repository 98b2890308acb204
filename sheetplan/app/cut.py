"""Record that a layout was cut: one step that changes book and rack together, or nothing at all."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.app.cut_files import Sheets, rack_files
from sheetplan.app.rack_book import BookChanges
from sheetplan.app.rack_desk import Turn
from sheetplan.app.rack_folder import step_name
from sheetplan.app.rack_job import marks_waiting, step_problems
from sheetplan.app.rack_open import OpenRack, Refused, kept_plan, open_rack, open_rack_live
from sheetplan.app.tags_given import TAKEN_BACK, cut_of
from sheetplan.model import Remnant, Settings
from sheetplan.pages.cut_log_page import pieces_text
from sheetplan.pages.wording import size_text
from sheetplan.rack.after_cut import CutFacts, Cutting, new_sheet
from sheetplan.rack.crediting import Credit, credit
from sheetplan.rack.plan_file import KeptPlan, PlannedLayout
from sheetplan.rack.record import Record, as_remnant
from sheetplan.rack.record_dxf import settled
from sheetplan.rack.step import Step, Weights, step_text, times_cut
from sheetplan.shapes import area
from sheetplan.trade.units import weight_kg
from sheetplan.workbook.port import LiveHost


@dataclass(frozen=True, slots=True)
class CutAsked:
    """What the person at the table says.

    ``times`` None means all that the plan still asks for. ``on`` names a remnant to use instead of
    the planned sheet. ``bad`` counts pieces that came out bad, by part. ``again`` records more than
    the plan asked for. ``crop`` says whether what is left was cropped to a rectangle, None: as the
    book's settings say.
    """

    layout: str
    times: int | None = None
    on: str = ""
    plan: str | None = None
    by: str = ""
    heat: str = ""
    bad: Mapping[str, int] | None = None
    again: bool = False
    crop: bool | None = None


@dataclass(frozen=True, slots=True)
class CutDone:
    """A recorded step and what there is to say about it, in sentences."""

    step: Step
    sentences: tuple[str, ...]


def record_cut(book: Path, asked: CutAsked, *, today: datetime.date) -> CutDone:
    """Record one cut.

    Raises ``Refused`` where it may not be recorded and ``BookError`` where book or disk stand in the
    way; nothing was then changed.
    """
    with open_rack(book) as rack:
        return _record(rack, asked, today, marked=False)


def record_marked(book: Path, *, today: datetime.date, by: str = "") -> Iterator[CutDone]:
    """Record every layout that has a number in the column Cut now, each as a step of its own.

    Gives each as it is recorded; where one is refused, those before it are recorded.
    """
    return _marked(lambda: open_rack(book), today, by)


def record_marked_live(host: LiveHost, *, today: datetime.date) -> Iterator[CutDone]:
    """Record, as `record_marked` does, what is marked in a book that is open in a program."""
    return _marked(lambda: open_rack_live(host), today, "")


def _marked(
    open_book: Callable[[], AbstractContextManager[OpenRack]], today: datetime.date, by: str
) -> Iterator[CutDone]:
    while True:  # each step rewrites the book, so it is read again for the next
        with open_book() as rack:
            waiting = marks_waiting(rack.tables)
            if not waiting:
                return
            tag, (times, row) = next(iter(waiting.items()))
            if times < 1:
                what = f"Layouts, row {row}: Cut now of {tag} is not a whole number."
                raise Refused(what, "Write how often it was cut.")
            done = _record(rack, CutAsked(tag, times, by=by), today, marked=True)
        yield done


def _record(rack: OpenRack, asked: CutAsked, today: datetime.date, marked: bool) -> CutDone:
    disagree = step_problems(rack.steps, rack.listed, rack.book)
    if disagree:
        raise Refused(disagree[0].what, disagree[0].remedy)
    plan = kept_plan(rack.book, rack.job, asked.plan, rack.tables.plan)
    planned = _planned(plan, asked)
    times = _times(rack, plan, planned, asked)
    base, row = _base(rack, planned, asked, times, plan)
    number = rack.next_step
    facts = CutFacts(number, today.isoformat(), plan.mark, asked.heat)
    settings = rack.job.settings
    if asked.crop is not None:
        settings = replace(settings, crop_remnants=asked.crop)
    after = Cutting(planned.group.rule, plan.parts, settings).after(base, planned.layout, facts)
    good, bad = _pieces(planned, times, asked.bad or {})
    sheets = Sheets.after(rack, base, row, after, times, planned, plan.mark)
    changes = rack.desk.changes(rack.tables)
    from_stock = _take_from_stock(changes, planned, row, times)
    new_rows = tuple(values["Tag"] for values in sheets.new_rows if changes.add_remnant(values))
    for heading, value in sheets.row_changes.items():
        assert row is not None, "only a remnant's row changes"
        changes.write("Remnants", row.tag, heading, value)
    _mark_layout(changes, rack, plan, planned.layout.tag, times, marked)
    credits = credit(rack.job, _done(rack), good)
    spare = _spare(good, credits)
    notes = [*changes.unwritten, *([f"spare: {pieces_text(spare)}"] if spare else [])]
    step = Step(
        number=number, date=facts.date, plan=plan.mark, layout=planned.layout.tag, times=times,
        gauge=planned.group.label, sheet="" if row else planned.layout.sheet.name,  # type: ignore[union-attr]
        on=row.tag if row else "", from_stock=from_stock, left=sheets.left, pieces=good, bad=bad,
        credits=credits,
        weights=_weights(planned, base, row, sheets, times, bad, plan, settings),
        by=asked.by, heat=asked.heat,
        note="; ".join(notes), changes=tuple(changes.made), new_rows=tuple(map(str, new_rows)),
        book=rack.book.name,
    )  # fmt: skip
    files, step = rack_files(rack, sheets, step)
    files[step_name(number)] = step_text(step).encode()
    tags = rack.tags.after_cut(cut_of(step), [tag for tag in step.left if tag != step.on])
    if tags != rack.tags:
        files[TAKEN_BACK] = tags.content()
    before, units = rack.recorded, rack.job.settings.units
    rack.desk.do(rack.rack, changes, Turn(number, True, files, [*before, step], before, units))
    told = (rack.told,) if rack.told else ()
    return CutDone(step, (*told, *_sentences(step, planned, changes, plan, rack)))


def _planned(plan: KeptPlan, asked: CutAsked) -> PlannedLayout:
    planned = {tag.lower(): one for tag, one in plan.layouts.items()}.get(asked.layout.strip().lower())
    if planned is None:
        tags = ", ".join(list(plan.layouts)[:30])
        raise Refused(f"Plan {plan.mark} has no layout {asked.layout}.", f"It has: {tags}.")
    return planned


def _times(rack: OpenRack, plan: KeptPlan, planned: PlannedLayout, asked: CutAsked) -> int:
    """How often it was cut; a second recording of the same is noticed here."""
    tag, repeats = planned.layout.tag, planned.layout.repeats
    so_far = times_cut(rack.steps, plan.mark, tag)
    left = repeats - so_far
    times = asked.times if asked.times is not None else max(left, 1)
    if times < 1:
        raise Refused("A cut is recorded at least once.", "Give how often with --repeats.")
    if times <= left or asked.again:
        return times
    if left <= 0:
        raise Refused(
            f"{tag} of plan {plan.mark} is recorded already: {so_far} of {repeats} times.",
            "If it was cut once more than planned, add --again.",
        )
    raise Refused(
        f"{tag} of plan {plan.mark} is planned {repeats} times and recorded {so_far} times; {times} more "
        "would be too many.",
        f"Record {left} with --repeats {left}, or add --again if more were cut than planned.",
    )


def _base(
    rack: OpenRack, planned: PlannedLayout, asked: CutAsked, times: int, plan: KeptPlan
) -> tuple[Record, Remnant | None]:
    """The sheet that was cut, as it was before."""
    sheet = planned.layout.sheet
    tag = asked.on or (sheet.tag if isinstance(sheet, Remnant) else "")
    if not tag:
        assert not isinstance(sheet, Remnant), "a remnant has a tag"
        return settled(new_sheet(sheet, rack.job.settings.datum), rack.job.settings.units), None
    row, record = rack.row(tag), rack.record(tag)
    if row is None:
        raise Refused(
            f"There is no remnant {tag} in the rack: the page Remnants has no such row, or it is used up or "
            "to be left alone.", "Check the tag on the sheet.",
        )  # fmt: skip
    if record is None or record.used_up:
        raise Refused(f"The record of {tag} cannot be used.", f"See: sheetplan rack {rack.book.name}")
    if times != 1:
        raise Refused(f"A remnant is cut once; {times} times cannot be.", "Record each sheet by itself.")
    record = settled(record, rack.job.settings.units)
    _refuse_twice(planned, as_remnant(record, row), plan, rack)
    return record, row


def _refuse_twice(planned: PlannedLayout, remnant: Remnant, plan: KeptPlan, rack: OpenRack) -> None:
    """Nothing is cut twice: the layout has to stand the check on the sheet as its record has it now."""
    from sheetplan.checking import check_layout

    sheet = replace(remnant, material=planned.group.material.name)
    if remnant.material != planned.group.material.name:
        raise Refused(
            f"{remnant.tag} is {remnant.material}; the layout is for {planned.group.label}.", "Check the tag."
        )
    layout = replace(planned.layout, sheet=sheet, repeats=1)
    finding = check_layout(layout, planned.group, plan.parts, rack.job.settings.units)
    if finding.faults:
        told = "; ".join(fault.what for fault in finding.faults[:3])
        raise Refused(
            f"{layout.tag} does not fit on {remnant.tag} as its record stands: {told}.",
            "Was it another sheet? Or was it cut by hand since: draw the cut into its record first.",
        )


def _pieces(
    planned: PlannedLayout, times: int, bad: Mapping[str, int]
) -> tuple[dict[str, int], dict[str, int]]:
    """Good and bad pieces by part."""
    made: Counter[str] = Counter()
    for placement in planned.layout.placements:
        made[placement.part] += times
    for part, count in bad.items():
        if part not in made:
            raise Refused(f"{part} is not on {planned.layout.tag}.", f"On it are: {', '.join(sorted(made))}.")
        if not 0 < count <= made[part]:
            raise Refused(f"{count} of {part} cannot be bad: {made[part]} were cut.", "Check the number.")
    good = {part: count - bad.get(part, 0) for part, count in sorted(made.items())}
    return {part: count for part, count in good.items() if count}, dict(sorted(bad.items()))


def _spare(good: Mapping[str, int], credits: tuple[Credit, ...]) -> dict[str, int]:
    """Good pieces that no order asks for, by part."""
    left = Counter(good)
    for one in credits:
        left[one.part] -= one.pieces
    return {part: count for part, count in left.items() if count > 0}


def _done(rack: OpenRack) -> list[Credit]:
    """What the steps in the book's log have been credited for."""
    return [c for number in rack.listed for c in rack.steps[number].credits]


def _take_from_stock(changes: BookChanges, planned: PlannedLayout, row: Remnant | None, times: int) -> int:
    """Lower the count on hand; never below 0, since the book may not know yet what was bought."""
    sheet = planned.layout.sheet
    if row is not None or isinstance(sheet, Remnant):
        return 0
    there = changes.value("Stock", sheet.name, "On hand")
    count = _count(there)
    if count is None:
        changes.unwritten.append(f"On hand of {sheet.name} on the page Stock is not a number")
        return 0
    taken = min(times, count)
    if taken < times:
        changes.unwritten.append(_more_cut_than_on_hand(sheet.name, count, times))
    if taken:
        before = len(changes.made)
        changes.write("Stock", sheet.name, "On hand", count - taken)
        if len(changes.made) == before:
            return 0
        changes.made.pop()
    return taken


def _more_cut_than_on_hand(sheet: str, count: int, times: int) -> str:
    """What to make of sheets that were cut before the book knew of them: they are never counted again."""
    were, them = ("was", "it") if times == 1 else ("were", "them")
    return (
        f"Stock had {count} of {sheet} on hand and {times} {were} cut. What was cut counts as delivered and "
        f"used up: leave On hand as it is for {them}, and raise it only by sheets that come beyond those "
        "already cut"
    )


def _count(value: object) -> int | None:
    if value is None or value == "":
        return 0
    try:
        number = float(str(value))
    except ValueError:
        return None
    return int(number) if number >= 0.0 and number.is_integer() else None


def _mark_layout(
    changes: BookChanges, rack: OpenRack, plan: KeptPlan, tag: str, times: int, marked: bool
) -> None:
    """Count up on the page Layouts, if it still shows this plan, and clear the mark that was recorded."""
    if rack.tables.plan != plan.mark or changes.value("Layouts", tag, "Layout") is None:
        return
    changes.write("Layouts", tag, "Cut so far", times_cut(rack.steps, plan.mark, tag) + times)
    if marked:
        changes.write("Layouts", tag, "Cut now", None)


def _weights(
    planned: PlannedLayout, base: Record, row: Remnant | None, sheets: Sheets, times: int,
    bad: Mapping[str, int], plan: KeptPlan, settings: Settings,
) -> Weights:  # fmt: skip
    """The figures of the plan for the sheet that was cut, so that log, month and plan say the same."""
    from sheetplan.money.layout_figures import layout_figures

    layout, group = replace(planned.layout, repeats=1), planned.group
    if row is not None:
        layout = replace(layout, sheet=as_remnant(base, row))
    figures = layout_figures(layout, group, plan.parts, settings)
    bad_area = sum(area(plan.parts[part].outline) * count for part, count in bad.items())
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
    )


def _sentences(
    step: Step, planned: PlannedLayout, changes: BookChanges, plan: KeptPlan, rack: OpenRack
) -> list[str]:
    so_far = times_cut(rack.steps, plan.mark, step.layout) + step.times
    what = f"remnant {step.on}" if step.on else f"{step.times} of {step.sheet}"
    said = [
        f"Step {step.number}: {step.layout} of plan {plan.mark} cut from {what}; "
        f"{so_far} of {planned.layout.repeats} recorded."
    ]
    if step.left:
        said.append(f"Back to the rack: {', '.join(step.left)}. Write the tag on the sheet.")
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
        said.append(f"Came out bad: {pieces_text(step.bad)}. They count for no order and are planned again.")
    spare = _spare(step.pieces, step.credits)
    if spare:
        said.append(f"Spare, no order asks for them: {pieces_text(spare)}.")
    if step.from_stock:
        said.append(f"On hand of {step.sheet} went down by {step.from_stock}.")
    return said + [f"Check: {one}." for one in changes.unwritten]
