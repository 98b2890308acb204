"""Metal from order to rack: mark a buy list as ordered, take a delivery in. Each is one step, or nothing.

Choices
-------
Sheets on order are on hand to a plan (`SheetSize.on_order` of `on_hand`); pages and the order of cutting tell
them apart. Sheets cut before the book knew of them are worked out from the steps (`rack.step.ahead_of`) and
come off the next delivery, unless On hand was typed up since: then the planner's count is the truth, and
`check` says so. Counts are kept as differences, so that taking back adds.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from sheetplan.app.making.folders import RECORD, output_folder
from sheetplan.app.rack import Refused
from sheetplan.app.rack.changes import BookChanges, count_on
from sheetplan.app.rack.folder import step_name
from sheetplan.app.rack.opened import OpenRack, day_said, open_rack, open_rack_live
from sheetplan.model import SheetSize
from sheetplan.money.cents import cent
from sheetplan.rack.step import Kind, Step, StockLine, ahead_of, step_text
from sheetplan.trade.sentences import counted
from sheetplan.workbook.columns import STOCK
from sheetplan.workbook.port import LiveHost, Value
from sheetplan.workbook.reading.grid import normal


@dataclass(frozen=True, slots=True)
class SheetsAsked:
    """Sheets that were ordered or came, by name; none means all that the book itself says.

    ``date`` None means today. ``paid`` is for the whole delivery, None: by the prices of the page Stock.
    ``again`` marks a buy list as ordered a second time.
    """

    counts: Mapping[str, int] = field(default_factory=dict)
    date: datetime.date | None = None
    paid: float | None = None
    by: str = ""
    again: bool = False


Done = tuple[Step, tuple[str, ...]]
"""A recorded step, and what there is to say about it in sentences."""


def receive(book: Path, asked: SheetsAsked, *, today: datetime.date) -> Done:
    """Take a delivery in: On hand up, On order down, a row in Purchases for each size.

    Without counts, what the column Received of the page Stock says; where it says nothing, all that is on
    order. Raises ``Refused`` or ``BookError``, and nothing was then changed.
    """
    with open_rack(book) as rack:
        return _received(rack, asked, today)


def receive_live(host: LiveHost, *, today: datetime.date) -> Done:
    """Take a delivery in, as `receive` does, in a book that is open in a program."""
    with open_rack_live(host) as rack:
        return _received(rack, SheetsAsked(), today)


def ordered(book: Path, asked: SheetsAsked, *, today: datetime.date) -> Done:
    """Mark sheets as ordered; without counts, all that the page Buy lists. Raises as `receive`."""
    with open_rack(book) as rack:
        return _ordered(rack, asked, today)


def ordered_live(host: LiveHost, *, today: datetime.date) -> Done:
    """Mark the buy list as ordered, as `ordered` does, in a book that is open in a program."""
    with open_rack_live(host) as rack:
        return _ordered(rack, SheetsAsked(), today)


def _received(rack: OpenRack, asked: SheetsAsked, today: datetime.date) -> Done:
    date = day_said(asked.date, today)
    changes = rack.desk.changes(rack.tables)
    counts = _named(rack, asked.counts) or _noted(rack, changes, "Received")
    counts = counts or _noted(rack, changes, "On order")
    if not counts:
        raise Refused(
            "No sheets are on order, and nothing stands in the column Received of the page Stock.",
            f"Say what came, such as: sheetplan receive {rack.book.name} MS10-4x8=4",
        )
    if asked.paid is not None and len(counts) > 1:
        raise Refused("What was paid is told for one size.", "Take each size in by itself, or leave it out.")
    now = changes.on_hand(rack.job.stock)
    ahead = ahead_of(rack.recorded, now)
    lines, said = [], []
    for sheet, count in counts.items():
        was_ahead = ahead[sheet.name].open if sheet.name in ahead else 0
        line = _put_on_hand(changes, sheet, count, min(count, was_ahead))
        row = _purchased(rack, changes, sheet, count, date, asked.paid)
        lines.append(replace(line, purchase=row))
        said.append(_taken_in_said(lines[-1], now[sheet.name]))
        waiting = count_on(changes.value("Stock", sheet.name, "On order")) or 0
        said[-1] += f" Still on order: {waiting}." if waiting else ""
    step = Step(
        number=rack.next_step, date=date.isoformat(), kind=Kind.RECEIVED, lines=tuple(lines), by=asked.by,
        note="; ".join(changes.unwritten), changes=tuple(changes.made),
    )  # fmt: skip
    return _done(rack, changes, step, [f"Step {step.number}: delivery of {step.date} taken in.", *said])


def _put_on_hand(changes: BookChanges, sheet: SheetSize, count: int, covered: int) -> StockLine:
    """Write what one size of a delivery changes on the page Stock."""
    there = count_on(changes.value("Stock", sheet.name, "On hand"))
    if there is None:
        raise Refused(f"On hand of {sheet.name} on the page Stock is not a count.", "Correct it first.")
    up = count - covered
    if up and not changes.write_count(sheet.name, "On hand", there + up):
        raise Refused(
            f"On hand of {sheet.name} cannot be written: a formula stands there, or there is no such column.",
            "Write a plain count there first.",
        )
    on_order = count_on(changes.value("Stock", sheet.name, "On order")) or 0
    off = min(on_order, count)
    if off and not changes.write_count(sheet.name, "On order", on_order - off):
        off = 0
    if changes.value("Stock", sheet.name, "Received") is not None:
        changes.write("Stock", sheet.name, "Received", None)
    return StockLine(sheet.name, count, off, there, covered)


def _purchased(
    rack: OpenRack, changes: BookChanges, sheet: SheetSize, count: int, date: datetime.date,
    paid: float | None,
) -> Mapping[str, Value]:  # fmt: skip
    """The row that was written into Purchases; nothing where it could not be."""
    unit = rack.job.settings.units.length_mm
    price = cent(sheet.price * count) if paid is None else paid
    row: dict[str, Value] = {
        "Date": date.isoformat(), "Material": sheet.material, "Thickness": sheet.thickness.text,
        "Width": round(sheet.width / unit, 4), "Length": round(sheet.length / unit, 4), "Sheets": count,
        "Paid": price, "Supplier": sheet.supplier or None,
    }  # fmt: skip
    if not sheet.price and paid is None:
        changes.unwritten.append(f"what was paid for {sheet.name} on the page Purchases: Stock has no price")
    return row if changes.add_purchase(row) else {}


def _taken_in_said(line: StockLine, before: int) -> str:
    said = f"{line.count} of {line.sheet}: On hand {before} -> {before + line.put_on_hand}"
    if line.covered:
        were = "was" if line.covered == 1 else "were"
        said += f" ({line.covered} of them {were} cut before they came)"
    if line.off_order:
        said += f", On order down by {line.off_order}"
    if line.off_order < line.count:
        said += f"; {line.count - line.off_order} more than were on order" if line.off_order else ""
    return f"{said}." if not line.purchase else f"{said}; a row in Purchases."


def _ordered(rack: OpenRack, asked: SheetsAsked, today: datetime.date) -> Done:
    date = day_said(asked.date, today)
    mark = "" if asked.counts else rack.tables.plan
    counts = _named(rack, asked.counts) if asked.counts else _buy_list(rack, mark)
    already = [step.number for step in rack.recorded if step.kind is Kind.ORDERED and step.plan == mark != ""]
    if already and not asked.again:
        raise Refused(
            f"The buy list of plan {mark} is marked as ordered already (step {already[-1]}).",
            "Plan again, and Buy lists what is still to be ordered; if all was ordered twice, run "
            f"sheetplan ordered {rack.book.name} --again.",
        )
    changes = rack.desk.changes(rack.tables)
    lines, said = [], []
    for sheet, count in counts.items():
        there = count_on(changes.value("Stock", sheet.name, "On order"))
        if there is None or not changes.write_count(sheet.name, "On order", there + count):
            raise Refused(
                f"On order of {sheet.name} cannot be written: the table of the page Stock has no such column "
                "(books made earlier have none), or a formula stands there.",
                "Type the heading On order in the first free cell right of the table's headings, and save.",
            )
        lines.append(StockLine(sheet.name, count))
        said.append(f"{count} of {sheet.name}: On order {there} -> {there + count}.")
    step = Step(
        number=rack.next_step, date=date.isoformat(), kind=Kind.ORDERED, lines=tuple(lines), plan=mark,
        by=asked.by,
    )  # fmt: skip
    first = f"Step {step.number}: {counted(len(lines), 'size')} marked as ordered"
    return _done(rack, changes, step, [f"{first}, as plan {mark} lists." if mark else f"{first}.", *said])


def _buy_list(rack: OpenRack, mark: str) -> dict[SheetSize, int]:
    """What the plan that the book shows buys."""
    folder = output_folder(rack.book, rack.job.settings.output_folder)
    path = folder / f"plan-{mark}" / RECORD if mark and isinstance(folder, Path) else None
    if path is None or not path.exists():
        raise Refused(
            "The book shows no plan whose buy list is known.",
            f"Say what was ordered, such as: sheetplan ordered {rack.book.name} MS10-4x8=4",
        )
    try:
        groups = json.loads(path.read_text(encoding="utf-8"))["groups"]
        counts = {one["sheet"]: int(one["to_buy"]) for group in groups for one in group["sheets"]}
    except (ValueError, KeyError, TypeError) as error:
        raise Refused(f"{path} cannot be used ({error}).", "Plan again.") from error
    counts = {name: count for name, count in counts.items() if count}
    if not counts:
        raise Refused(f"Plan {mark} buys nothing.", "There is nothing to mark as ordered.")
    return _named(rack, counts)


def _named(rack: OpenRack, counts: Mapping[str, int]) -> dict[SheetSize, int]:
    """Counts by the sheet itself; a name that the page Stock does not have is refused."""
    known = {normal(sheet.name): sheet for sheet in rack.job.stock}
    found = {}
    for name, count in counts.items():
        sheet = known.get(normal(name))
        if sheet is None:
            names = ", ".join(list(sheet.name for sheet in rack.job.stock)[:20])
            raise Refused(f"There is no sheet {name} on the page Stock.", f"There are: {names}.")
        if count < 1:
            raise Refused(f"{count} of {sheet.name} is no delivery.", "Write how many sheets, 1 at least.")
        found[sheet] = count
    return found


def _noted(rack: OpenRack, changes: BookChanges, heading: str) -> dict[SheetSize, int]:
    """The counts in a column of the page Stock."""
    found = {}
    for sheet in rack.job.stock:
        count = count_on(changes.value("Stock", sheet.name, heading))
        if count is None:
            what = f"{heading} of {sheet.name} on the page {STOCK.name} is not a count."
            raise Refused(what, "Correct it first.")
        if count:
            found[sheet] = count
    return found


def _done(rack: OpenRack, changes: BookChanges, step: Step, said: list[str]) -> Done:
    """Record the step in book and rack together."""
    step = replace(step, book=rack.book.name, of=rack.mark)
    files = {step_name(step.number): step_text(step).encode()}
    rack.after(step, [], rack.tags, files).commit(changes)
    told = (rack.told,) if rack.told else ()
    return step, (*told, *said, *(f"Check: {one}." for one in changes.unwritten))
