"""The job with what the rack knows: remnants in their true shape, orders less what is already cut.

Choices
-------
Orders are lessened before planning; plan and check know nothing of cuts. `Job.progress` keeps the orders
whole, with what is cut and what came out bad, for pages and lists that tell of those (`money/order_shares`).
A step keeps row, item and quantity of the orders that its pieces are for, so that a renamed order is known.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.app.rack.belonging import apart, apart_problem, recorded
from sheetplan.app.rack.folder import (
    Held,
    RackUnreadable,
    interrupted,
    rack_of,
    read_counts,
    read_records,
    read_steps,
)
from sheetplan.model import Job, Order, OrderState, Problem, Remnant, SheetSize, Weight
from sheetplan.rack.credits import (
    credits_of,
    held_by_none,
    names_of,
    pieces_of,
    still_wanted,
    with_steps,
)
from sheetplan.rack.record import as_remnant
from sheetplan.rack.step import Ahead, Asked, Credit, Step, ahead_of
from sheetplan.rack.usable import Count, missed_twice
from sheetplan.shapes import is_rectangle, same_loop, size
from sheetplan.trade.sentences import named
from sheetplan.trade.thickness import same
from sheetplan.trade.units import SAME_LENGTH_MM, WRITTEN_SHARE, Units
from sheetplan.workbook.columns import (
    CUT_LOG,
    FINISHED_MARKS,
    HELD_MARKS,
    LAYOUT_MARKS,
    ORDERS,
    REMNANTS,
    STOCK,
)
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.tables import BookTables, RawCell, RawTable


def with_rack(job: Job, tables: BookTables, book: Path) -> tuple[Job, tuple[Problem, ...]]:
    """Put the rack into a job, and say where rack and book disagree.

    Orders are lessened by the steps that are the book's own. Where book and rack tell two histories, that
    alone is said, and it stops a plan.
    """
    rack = rack_of(book)
    if interrupted(rack):
        return job, (rack_problem(
            "A cut or its undoing is under way, or was interrupted, so book and rack may not fit together.",
            f"If nobody is at it, run: sheetplan rack {book.name}. That finishes it or drops it.",
            Weight.STOPS,
        ),)  # fmt: skip
    try:
        steps = read_steps(rack)
        held = read_records(rack, job.settings.units)
        counts = read_counts(rack)
    except RackUnreadable as trouble:
        return job, (rack_problem(str(trouble), REBUILD.format(book.name), Weight.STOPS),)
    differ = apart(steps, tables, book)
    if differ is not None:
        return without_closed(job), (apart_problem(differ, book, steps),)
    known = recorded(steps, tables, book)
    if not known and (said := _cut_and_not_listed(tables)):
        return without_closed(job), (said,)
    if not rack.is_dir():
        return without_closed(job), ()
    problems = [*_days_changed(steps, tables), *_rebuilt_notes(known)]
    problems += _same_orders(job, steps, known)
    remnants, more = _remnants(job, held, tables, known)
    problems += more
    problems += _unseen(job, counts, known, tables)
    credits = credits_of(known)
    problems += order_notes(job, credits)
    problems += _namesakes(job, credits)
    problems += lost_orders(job, credits, [one for step in known for one in step.asked], book)
    stock, more = _stock(job, known, tables)
    problems += more
    told = with_steps(job, known)
    problems += offer_notes(told, book)
    return replace(told, remnants=remnants, stock=stock), tuple(problems)


REBUILD = "Run: sheetplan rack {} --repair. It sets the file aside and rebuilds what the book still tells."
"""What to do where a file of the rack is damaged."""


def _rebuilt_notes(known: Sequence[Step]) -> list[Problem]:
    """What nobody knows of steps that were rebuilt."""
    return [
        rack_problem(
            f"Step {step.number} was rebuilt from the book. Not known any more: {' '.join(step.unknown)}",
            "Look at the counts that it names; a copy of the folder rack would still tell.",
        )
        for step in known if step.unknown
    ]  # fmt: skip


def _cut_and_not_listed(tables: BookTables) -> Problem | None:
    """A finding where the page Layouts counts cuts, and neither log nor rack knows of any step."""
    table = tables.tables.get(LAYOUT_MARKS.name)
    for row in table.rows if table else ():
        cells = {normal(name): cell for name, cell in row.cells.items()}
        count = cells.get("cut so far")
        if count is not None and isinstance(count.value, int | float) and count.value > 0:
            return Problem(
                LAYOUT_MARKS.name, row.number, count.address,
                f"The page says that {cells['layout'].value} was cut, and neither the page Cut log nor a "
                "folder rack beside the book knows of it: both are gone.",
                "Put the book back from its backup, or the folder rack. If nothing of it was cut, set Cut so "
                "far to 0.", Weight.STOPS,
            )  # fmt: skip
    return None


def _same_orders(job: Job, steps: Mapping[int, Step], known: Sequence[Step]) -> list[Problem]:
    """Say that another book of this rack has cuts of orders that stand in this one as well."""
    own = {step.number for step in known}
    mine = {(order.name, order.item, order.quantity) for order in job.orders}
    theirs = {
        step.book: (asked.order, asked.item)
        for number, step in steps.items() if number not in own
        for asked in step.asked if (asked.order, asked.item, asked.quantity) in mine
    }  # fmt: skip
    return [
        Problem(
            ORDERS.name, None, None,
            f"{book}, which has the same rack, has cuts for {order} ({item}), an order of this book too. "
            "They do not count here.",
            f"If this book is a copy of {book}, go on with that one. If these are other orders, all is well.",
            Weight.NOTE,
        )
        for book, (order, item) in sorted(theirs.items())
    ]  # fmt: skip


def without_closed(job: Job) -> Job:
    """The job with open orders only, where nothing is recorded of any."""
    if all(order.state is OrderState.OPEN for order in job.orders):
        return job
    return with_steps(job, ())


def offer_notes(job: Job, book: Path) -> list[Problem]:
    """Say which finished parts a plan reckons with, for which orders."""
    given = [
        f"{sum(one.offered.values()):,} {one.part} for {' and '.join(one.offered)}"
        for one in job.finished if one.offered
    ]  # fmt: skip
    if not given:
        return []
    return [Problem(
        FINISHED_MARKS.name, None, None,
        f"From finished parts, and not made again: {named(given, MOST_NAMED)}.",
        "Put them with the orders and record it: Record finished parts in the open book, or sheetplan parts "
        f"{book.name} --take. If they are not there, write how many there are into Counted on the page "
        "Finished parts, or say --count PART=N.", Weight.NOTE,
    )]  # fmt: skip


def _namesakes(job: Job, credits: Sequence[Credit]) -> list[Problem]:
    """Say where a name is that of an order and the earlier one of another, and pieces are cut under it."""
    cut = {(one.order, one.item) for one in credits}
    renamed = {(order.earlier_name, order.item): order.name for order in job.orders if order.earlier_name}
    return [
        Problem(
            ORDERS.name, order.line or None, None,
            f"{order.name} ({order.item}) is also the earlier name of {renamed[order.name, order.item]}, "
            "which takes what was cut under that name as far as it wants it.",
            "Write the first day whose cuts are for this order into its column Since.", Weight.NOTE,
        )
        for order in job.orders
        if not order.since and (order.name, order.item) in cut
        and renamed.get((order.name, order.item), order.name) != order.name
    ]  # fmt: skip


def lost_orders(job: Job, credits: Sequence[Credit], asked: Sequence[Asked], book: Path) -> list[Problem]:
    """Ask about orders of which pieces are cut and that the page Orders no longer has.

    Another order for as many of the same item, of which nothing is cut, may be the same one renamed. To
    plan it again in silence would make everything twice: on the same row that stops the plan.
    """
    done = {(one.order, one.item) for one in credits}
    once = {(one.order, one.item): one for one in asked}
    problems = []
    for (name, item), pieces in held_by_none(job, credits).items():
        rows = [
            order for order in job.orders
            if order.item == item and order.state is OrderState.OPEN
            and ((name, item) not in once or once[name, item].quantity == order.quantity)
            and not any((known, item) in done for known in names_of(order))
        ]  # fmt: skip
        count = sum(pieces.values())
        what = f"{count:,} good pieces are cut for order {name} ({item}), which the page Orders no longer has"
        if not rows:
            problems.append(Problem(
                ORDERS.name, None, None, f"{what}. They are for no order now.",
                "If they belong to an order, write that name into its column Earlier name. If it was "
                "shipped, put its row back with the state done; if cancelled, with the state cancelled. Or "
                "write how many still lie there into Counted on the page Finished parts and record it, or "
                f"run sheetplan parts {book.name} --count PART=N.", Weight.NOTE,
            ))  # fmt: skip
            continue
        line = once[name, item].line if (name, item) in once else 0
        row = next((order for order in rows if order.line == line), rows[0])
        problems.append(Problem(
            ORDERS.name, row.line or None, None,
            f"{what}; {row.name} asks for {row.quantity} of the same item. Is it that order, renamed?",
            f"If so, write {name} into its column Earlier name, or its old name back. If it is another "
            f"order, put {name} back on a row of its own with the state cancelled. (Older books: type the "
            "headings Earlier name and State right of the table's last one.)",
            Weight.STOPS if line and row.line == line else Weight.NOTE,
        ))  # fmt: skip
    return problems


def _stock(
    job: Job, steps: Sequence[Step], tables: BookTables
) -> tuple[tuple[SheetSize, ...], list[Problem]]:
    """The sheet sizes without what of the sheets on order is cut already, and what is odd about counts."""
    ahead = ahead_of(steps, {sheet.name: sheet.on_hand - sheet.on_order for sheet in job.stock})
    cells = {normal(name): cells for name, cells in _named_rows(tables.tables.get(STOCK.name), "sheet")}
    kept, problems = [], []
    for sheet in job.stock:
        cell = {normal(head): one for head, one in cells.get(normal(sheet.name), {}).items()}
        one = ahead.get(sheet.name)
        if one is not None and one.typed_up:
            problems.append(_typed_up(sheet, one, cell.get("on hand")))
        if one is not None and one.open:
            taken = min(one.open, sheet.on_order)
            sheet = replace(sheet, on_hand=sheet.on_hand - taken, on_order=sheet.on_order - taken)
        kept.append(sheet)
        mark = cell.get("received")
        if mark is not None and mark.value not in (None, "", 0):
            problems.append(Problem(
                STOCK.name, None, mark.address,
                f"{mark.value} of {sheet.name} are marked as received and not taken in yet.",
                "Take the delivery in, in the open book or by `sheetplan receive`.", Weight.NOTE,
            ))  # fmt: skip
    return tuple(kept), problems


def _typed_up(sheet: SheetSize, ahead: Ahead, cell: RawCell | None) -> Problem:
    now, were = sheet.on_hand - sheet.on_order, "was" if ahead.sheets == 1 else "were"
    return Problem(
        STOCK.name, None, cell.address if cell else None,
        f"On hand of {sheet.name} was {ahead.left} after step {ahead.step}, and {ahead.sheets} {were} cut "
        f"before the book knew of them; now On hand is {now}. It is taken as it stands: {now} in the rack.",
        f"If {now} is the count of the delivery with the sheets already cut, write "
        f"{max(0, now - ahead.sheets)}. `sheetplan receive` reckons with them by itself.", Weight.NOTE,
    )  # fmt: skip


def _named_rows(table: RawTable | None, key: str) -> Iterator[tuple[str, Mapping[str, RawCell]]]:
    for row in table.rows if table else ():
        for name, cell in row.cells.items():
            if normal(name) == key and cell.value is not None:
                yield str(cell.value), row.cells


def rack_problem(what: str, remedy: str, weight: Weight = Weight.NOTE, row: int | None = None) -> Problem:
    """A finding about the rack, at a row of the page Remnants where there is one."""
    cell = f"A{row}" if row else None
    return Problem(REMNANTS.name, row, cell, what, remedy, weight)


def _days_changed(steps: Mapping[int, Step], tables: BookTables) -> list[Problem]:
    """Days that somebody changed on the page Cut log, which is written by the tool alone."""
    table = tables.tables.get(CUT_LOG.name)
    problems = []
    for row in table.rows if table else ():
        cells = {normal(name): cell for name, cell in row.cells.items()}
        number, date = (cells[name].value if name in cells else None for name in ("step", "date"))
        step = steps.get(int(number)) if isinstance(number, int | float) else None
        shown = str(date)[: len("2026-11-25")]
        if step is not None and date is not None and shown != step.date:
            problems.append(Problem(
                CUT_LOG.name, row.number, cells["date"].address,
                f"The page says that step {step.number} was cut on {shown}; it is recorded for {step.date}, "
                "and that is what counts.",
                "To change the day, take the cut back and record it again with --date, or on Record.",
                Weight.NOTE,
            ))  # fmt: skip
    return problems


def _remnants(
    job: Job, held: Mapping[str, Held], tables: BookTables, known: Sequence[Step]
) -> tuple[tuple[Remnant, ...], list[Problem]]:
    """The rows of the page Remnants, those with a record in its shape."""
    rows = row_numbers(tables)
    had_record = {tag for step in known for tag in (*step.left, step.on)}
    kept, problems = [], []
    for row in job.remnants:
        one = held.get(row.tag)
        if one is None and row.tag in had_record:
            problems.append(rack_problem(
                f"The record of {row.tag}, with what has been cut from it, is gone from the folder rack. "
                "It is left out.",
                "Put the folder rack back, or run `sheetplan rack BOOK --repair` to rebuild it from its "
                "plan, or measure the sheet and enter it under a new tag.",
                Weight.LEFT_OUT, rows.get(row.tag),
            ))  # fmt: skip
            continue
        if one is None:
            kept.append(row)
            continue
        found = _judge(row, one, rows.get(row.tag), job.settings.units)
        problems += found
        if one.now is not None and not any(p.weight is Weight.LEFT_OUT for p in found):
            kept.append(as_remnant(one.now, row))
    for tag, one in held.items():
        if tag not in rows and one.known is not None and not one.known.used_up:
            problems.append(rack_problem(
                f"The rack has a record of {tag}, and the page Remnants has no row for it, so it is not "
                "planned on.",
                "Run `sheetplan rack BOOK --repair` to write the row again; if the sheet is gone, set the "
                "new row to 'used up'.",
            ))  # fmt: skip
    return tuple(kept), problems


def _unseen(
    job: Job, counts: Sequence[Count], steps: Sequence[Step], tables: BookTables
) -> list[Problem]:
    """Ask about sheets that the last two counts of the rack did not see."""
    rows = row_numbers(tables)
    return [
        rack_problem(
            f"{remnant.tag} was not seen when the rack was counted on {days}.",
            "Look for it. If it is gone, write 'used up' into State.", row=rows.get(remnant.tag),
        )
        for remnant, days in missed_twice(job.remnants, counts, steps)
    ]  # fmt: skip


def row_numbers(tables: BookTables) -> dict[str, int]:
    """Workbook row of every tag on the page Remnants, whatever its state."""
    table = tables.tables.get(REMNANTS.name)
    found: dict[str, int] = {}
    for row in table.rows if table else ():
        for name, cell in row.cells.items():
            if normal(name) == "tag" and cell.value is not None:
                found.setdefault(str(cell.value).strip(), row.number)
    return found


def _judge(row: Remnant, one: Held, number: int | None, units: Units) -> list[Problem]:
    """What is odd about one record and its row."""
    repair = "Run `sheetplan rack BOOK --repair` to {}."
    if one.trouble:
        return [rack_problem(
            f"The drawing of {row.tag} cannot be used: {one.trouble}. The remnant is left out.",
            "Mend the drawing, or delete it and run `sheetplan rack BOOK --repair` to write the last known "
            "one again.", Weight.LEFT_OUT, number,
        )]  # fmt: skip
    record = one.now
    assert record is not None, "a drawing without trouble gives a record"
    problems = []
    if record.used_up:
        problems.append(rack_problem(
            f"By its record {row.tag} is used up; the row says it is in the rack. It is left out.",
            "Set the row to 'used up', or move its drawing from 'used up' to the folder rack.",
            Weight.LEFT_OUT, number,
        ))  # fmt: skip
    if record.material and not (record.material == row.material and same(record.thickness, row.thickness)):
        problems.append(rack_problem(
            f"{row.tag} is {record.material} {record.thickness.text} by its record and {row.material} "
            f"{row.thickness.text} by this row. It is left out.",
            "Correct the row; if the record is wrong, delete its drawing.", Weight.LEFT_OUT, number,
        ))  # fmt: skip
    if one.changes:
        problems.append(rack_problem(
            f"The drawing of {row.tag} was changed by hand and is planned on as it now is: "
            + "; ".join(one.changes[:4]) + ".",
            repair.format("take the change over"), row=number,
        ))  # fmt: skip
    if one.drawing is None:
        problems.append(rack_problem(
            f"The drawing of {row.tag} is missing; its record is planned on as last known.",
            repair.format("write the drawing again"), row=number,
        ))  # fmt: skip
    problems += _size_note(row, one, number, units) or _shape_note(row, one, number)
    return problems


def _shape_note(row: Remnant, one: Held, number: int | None) -> list[Problem]:
    """Where the row, or the page Remnant shapes, says another outline than the record."""
    record = one.now
    assert record is not None, "judged before"
    plain = is_rectangle(row.edge) and not row.cuts
    known = [cut.loop for cut in record.cuts]
    same_cuts = all(any(same_loop(cut, other) for other in known) for cut in row.cuts)
    if plain or (same_loop(record.edge, row.edge) and same_cuts):
        return []
    return [rack_problem(
        f"By its record {row.tag} has another outline than the book's pages say. The record is planned on.",
        "Nothing, if the record is right. Else correct its drawing in the folder rack.", row=number,
    )]  # fmt: skip


def _size_note(row: Remnant, one: Held, number: int | None, units: Units) -> list[Problem]:
    assert one.now is not None, "judged before"
    length, width = size(one.now.edge)
    stated_length, stated_width = size(row.edge)
    off = max(abs(length - stated_length), abs(width - stated_width))
    if off <= max(SAME_LENGTH_MM, units.length_mm * WRITTEN_SHARE):
        return []
    unit = units.length_mm
    return [rack_problem(
        f"{row.tag} is {width / unit:.5g} x {length / unit:.5g} {units.value} by its record, the row says "
        f"{stated_width / unit:.5g} x {stated_length / unit:.5g}. The record is planned on.",
        "Correct the row, or the drawing in the folder rack.", row=number,
    )]  # fmt: skip


def order_notes(job: Job, credits: list[Credit]) -> list[Problem]:
    """Say on each order's row how much of it is already cut, and of those cut in full in one note."""
    notes, finished = [], []
    for order, wanted in zip(job.orders, still_wanted(job, credits), strict=True):
        asked = sum(pieces_of(order, job.kits).values())
        pieces = asked - sum(wanted.values())
        if order.state is not OrderState.OPEN:
            continue
        if pieces and pieces == asked:
            finished.append(order)
        elif pieces:
            notes.append(Problem(
                ORDERS.name, order.line or None, None,
                f"{pieces} of {asked} pieces are cut already, by the page Cut log; the rest is planned.",
                _ONCE_MORE, Weight.NOTE,
            ))  # fmt: skip
    return [*notes, *_finished_note(finished)]


_ONCE_MORE = (
    "Nothing to do. If they are wanted once more, write the day from which cuts are for the new order into "
    "its column Since, or give it a new name."
)

MOST_NAMED = 6
"""Finished orders that are named; the others are counted."""


def _finished_note(orders: list[Order]) -> list[Problem]:
    """One note for all orders that are cut in full: a book that is used for months has many of them."""
    if not orders:
        return []
    line = orders[0].line or None if len(orders) == 1 else None
    names = [f"{order.name} ({order.item})" for order in orders]
    count = "1 order line is" if len(names) == 1 else f"{len(names):,} order lines are"
    what = (
        f"{count} cut in full already, by the page Cut log, and no longer planned: "
        f"{named(names, MOST_NAMED)}."
    )
    return [Problem(ORDERS.name, line, None, what, _ONCE_MORE, Weight.NOTE)]


@dataclass(frozen=True, slots=True)
class Waiting:
    """A layout marked in Cut now: how often (-1: no whole number), where, and what was otherwise."""

    times: int
    row: int
    otherwise: str = ""


def marks_waiting(tables: BookTables) -> dict[str, Waiting]:
    """Layouts with a number in Cut now, by tag."""
    table = tables.tables.get(LAYOUT_MARKS.name)
    found = {}
    for row in table.rows if table else ():
        cells = {normal(name): cell.value for name, cell in row.cells.items()}
        tag, mark = cells.get("layout"), cells.get("cut now")
        if tag is not None and mark is not None and str(mark).strip() not in ("", "0"):
            number = float(str(mark)) if re.fullmatch(r"[0-9.]+", str(mark).strip()) else -1.0
            otherwise = cells.get("how")
            times = int(number) if number.is_integer() else -1
            found[str(tag).strip()] = Waiting(times, row.number, str(otherwise or "").strip())
    return found


def marks_problem(tables: BookTables, book: Path) -> tuple[Problem, ...]:
    """A finding where cuts or finished parts are marked and not recorded: a new plan would lose the marks."""
    return (*_cuts_unrecorded(tables, book), *_parts_unrecorded(tables, book))


def _parts_unrecorded(tables: BookTables, book: Path) -> tuple[Problem, ...]:
    for page, heading in ((FINISHED_MARKS, "counted"), (HELD_MARKS, "move")):
        table = tables.tables.get(page.name)
        for row in table.rows if table else ():
            cells = {normal(name): cell for name, cell in row.cells.items()}
            mark = cells.get(heading)
            if mark is not None and mark.value not in (None, ""):
                return (Problem(
                    table.page if table else page.name, row.number, mark.address,
                    f"{heading.capitalize()} says {mark.value}, which is not recorded yet.",
                    f"Record it in the open book, or run: sheetplan parts {book.name} --marked. Or clear it.",
                    Weight.STOPS,
                ),)  # fmt: skip
    return ()


def _cuts_unrecorded(tables: BookTables, book: Path) -> tuple[Problem, ...]:
    waiting = marks_waiting(tables)
    if not waiting:
        return ()
    tag, first = next(iter(waiting.items()))
    return (Problem(
        LAYOUT_MARKS.name, first.row, None,
        f"{len(waiting)} layouts are marked in Cut now and not recorded yet, the first is {tag}.",
        f"Record them in the open book, or run: sheetplan cut {book.name}. Or clear the marks, if nothing "
        "was cut.", Weight.STOPS,
    ),)  # fmt: skip
