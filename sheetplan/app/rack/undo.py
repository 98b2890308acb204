"""Take the last recorded step back: book and rack as they were before it, in one step."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from sheetplan.app.rack import Refused
from sheetplan.app.rack.changes import BookChanges, count_on
from sheetplan.app.rack.folder import TAKEN_BACK, digest_of, step_name
from sheetplan.app.rack.opened import OpenRack, open_rack, open_rack_live
from sheetplan.rack.step import Kind, Step, StockLine
from sheetplan.workbook.columns import CUTTING_MARKS, REMNANTS
from sheetplan.workbook.port import LiveHost


def undo_cut(book: Path) -> tuple[Step, tuple[str, ...]]:
    """Take back the last step that the book's page Cut log lists, with those recorded together with it.

    Gives the last one and what there is to say.

    Raises ``Refused`` where it cannot be taken back without losing what a person did since, and
    ``BookError`` where book or disk stand in the way; nothing was then changed.
    """
    with open_rack(book) as rack:
        return _undo(rack)


def undo_cut_live(host: LiveHost) -> tuple[Step, tuple[str, ...]]:
    """Take back, as `undo_cut` does, the last step of a book that is open in a program."""
    with open_rack_live(host) as rack:
        return _undo(rack)


def _undo(rack: OpenRack) -> tuple[Step, tuple[str, ...]]:
    recorded = rack.recorded
    if not recorded:
        raise Refused("Nothing is recorded in this book.", "There is nothing to take back.")
    last = recorded[-1]
    if last.closed is not None:
        raise Refused(
            f"Step {last.number} closed {last.closed.month}; what was recorded before it stands in "
            f"{last.closed.archive} and cannot be taken back.",
            "The book as it was before lies in that file.",
        )
    steps = [step for step in recorded if step is last or (last.together and step.together == last.together)]
    _refuse_changed(rack, steps)
    changes = rack.desk.changes(rack.tables)
    files: dict[str, bytes | None] = {}
    tags, said = rack.tags, [rack.told] if rack.told else []
    for step in reversed(steps):
        _restore(changes, step, shown=rack.tables.plan)
        files |= {
            place: None if text is None else text.encode("latin-1") for place, text in step.former.items()
        }
        files[step_name(step.number)] = None
        tags = tags.after_undo(step)
        said.append(f"Step {step.number} was taken back: {_what(step)}.")
        gone = [tag for tag in step.left if tag != step.on]
        said += [f"Step {step.number} had been rebuilt from the book; check: {one}" for one in step.unknown]
        said += [f"No longer in the rack: {', '.join(gone)}."] if gone else []
    if tags != rack.tags:
        files[TAKEN_BACK] = tags.content()
    rack.commit(changes, files, [step for step in recorded if step not in steps])
    return last, (*said, *(f"Check: {one}." for one in changes.unwritten))


def _what(step: Step) -> str:
    """A step in words."""
    if step.kind is Kind.PARTS:
        return step.note
    if step.kind is not Kind.CUT:
        return f"{', '.join(f'{line.count} of {line.sheet}' for line in step.lines)} {step.kind}"
    times = "once" if step.times == 1 else f"{step.times} times"
    return f"{step.layout} of plan {step.plan}, cut {times}"


def _refuse_changed(rack: OpenRack, steps: Sequence[Step]) -> None:
    """A record that somebody changed since is not overwritten."""
    wrote = {place: (digest, step.number) for step in steps for place, digest in step.wrote.items()}
    for place, (digest, number) in wrote.items():
        path = rack.rack / place
        if path.exists() and digest_of(path.read_bytes()) != digest:
            raise Refused(
                f"{path} was changed since step {number}; taking the step back would lose that.",
                "Move the file elsewhere first, then undo, and draw the change again where it belongs.",
            )


def _restore(changes: BookChanges, step: Step, shown: str) -> None:
    """Write back what the step changed; ``shown`` is the plan that the page Layouts shows by now."""
    for line in step.lines:
        _restore_line(changes, step, line)
    if step.from_stock:
        there = changes.value("Stock", step.sheet, "On hand")
        if isinstance(there, int | float) or there is None:
            changes.write("Stock", step.sheet, "On hand", int(there or 0) + step.from_stock)
        else:
            changes.unwritten.append(f"On hand of {step.sheet}: add {step.from_stock} by hand")
    other_plan = shown != (step.shown or step.plan)
    if step.unknown and step.kind is Kind.CUT and not other_plan:
        so_far = changes.value("Layouts", step.layout, "Cut so far")
        if isinstance(so_far, int | float) and so_far >= step.times:
            changes.write("Layouts", step.layout, "Cut so far", so_far - step.times)
    for change in step.changes:
        of_plan = change.page in ("Layouts", CUTTING_MARKS.name)
        if of_plan and (change.heading in ("Cut now", "How") or other_plan):
            continue  # a mark set again would be recorded twice; another plan's L1 is another layout
        if changes.value(change.page, change.row, change.heading) == change.after:
            changes.write(change.page, change.row, change.heading, change.before)
        else:
            changes.unwritten.append(
                f"{change.heading} of {change.row} on the page {change.page} was changed since and stays"
            )
    for tag in step.new_rows:
        for column in REMNANTS.columns:
            if changes.value("Remnants", tag, column.heading) is not None:
                changes.write("Remnants", tag, column.heading, None)


def _restore_line(changes: BookChanges, step: Step, line: StockLine) -> None:
    """Write the counts of one size back as differences, since they may have been changed since."""
    received = step.kind is Kind.RECEIVED
    on_hand, on_order = (-line.put_on_hand, line.off_order) if received else (0, -line.count)
    for heading, by in (("On hand", on_hand), ("On order", on_order)):
        there = count_on(changes.value("Stock", line.sheet, heading))
        if not by:
            continue
        if there is None or there + by < 0:
            changes.unwritten.append(f"{heading} of {line.sheet}: {by:+d} by hand")
        else:
            changes.write("Stock", line.sheet, heading, there + by)
    if line.purchase:
        changes.clear_purchase(line.purchase)
