"""Close a month: what is done goes into an archive beside the book, the rest is carried on, in one step.

Terms
-----
archive
    ``NAME 2026-11.zip``: the book as it was with its logs and the page Month, the month's steps and plans.
carried
    One step in the place of all that were archived: what orders that stay have had cut, finished parts
    that are free, how often each layout was cut, and sheets that were cut before they came.

A closed month is one step, and nothing before it can be taken back.
"""

from __future__ import annotations

import calendar
import datetime
import io
import json
import zipfile
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.app.making.folders import output_folder, plan_folders
from sheetplan.app.month import MonthOutcome, month_json, month_of, month_on
from sheetplan.app.rack import Refused
from sheetplan.app.rack.belonging import column_of
from sheetplan.app.rack.changes import BookChanges
from sheetplan.app.rack.folder import step_name
from sheetplan.app.rack.opened import OpenRack, open_rack, open_rack_live
from sheetplan.model import Order, OrderState
from sheetplan.money.month import named_differences
from sheetplan.pages.book.month import difference_text
from sheetplan.planning.grouping import gauge_metals
from sheetplan.planning.progress import quiet
from sheetplan.rack.credits import credits_of, held_by_none, may_get, names_of, shared, sources, still_wanted
from sheetplan.rack.step import AheadThen, Asked, Closed, Credit, Kind, Step, ahead_of, step_text
from sheetplan.shapes import size
from sheetplan.trade.sentences import counted
from sheetplan.workbook.columns import EARLIER_CUTS, ORDERS, RACK_COUNT
from sheetplan.workbook.port import LiveHost, Value
from sheetplan.workbook.reading.grid import normal

KEPT_FILES = ("exact.json", "plan.json", "tickets.pdf")
"""What of a plan's folder goes into the archive, as far as it is still there."""


def close_month(book: Path, month: str, *, today: datetime.date) -> tuple[str, ...]:
    """Balance a month and close it; gives sentences on what was done.

    Raises ``Refused`` or ``BookError``; then nothing was closed.
    """
    balance = month_of(book, month, report=quiet)
    with open_rack(book) as rack:
        return _close(rack, month, balance, today)


def close_live(host: LiveHost, month: str, *, today: datetime.date) -> tuple[str, ...]:
    """Balance and close a month, as `close_month` does, in a book that is open in a program."""
    balance = month_on(host, month)
    with open_rack_live(host) as rack:
        return _close(rack, month, balance, today)


@dataclass(frozen=True, slots=True)
class _Parting:
    """Steps that go into the archive and those that stay, orders that go and those that stay."""

    archived: tuple[Step, ...]
    staying: tuple[Step, ...]
    gone: tuple[Order, ...]
    orders: tuple[Order, ...]


def _close(rack: OpenRack, month: str, balance: MonthOutcome, today: datetime.date) -> tuple[str, ...]:
    if balance.metals is None:
        raise Refused(f"{month} cannot be balanced.", "Put right first what the page Problems names.")
    if month > today.strftime("%Y-%m"):
        raise Refused(f"{month} is still to come.", "Close a month when its last cut is recorded.")
    parting = _parted(rack, month)
    if not parting.archived and not parting.gone:
        raise Refused(f"There is nothing to close in {month}.", "No step of it is recorded.")
    number = rack.next_step
    archive = _archive_name(rack, month)
    job_after = replace(rack.job, orders=parting.orders)
    changes = rack.desk.changes(rack.tables)
    said = [rack.told] if rack.told else []
    said.append(f"Step {number}: {month} closed. {_archived_said(parting)} in {archive}.")
    if month == today.strftime("%Y-%m") and today.isoformat() < _last_day(month):
        said.append(f"{month} is not over yet: what is cut or comes in it from now on is balanced anew.")
    said += [difference_text(*found, balance.units) for found in named_differences(balance.metals)]
    said += _unsettled_said(rack)
    said += _clear_orders(rack, changes, parting.gone)
    said += _earlier_cuts(rack, changes, parting.archived)
    said += _count(rack, changes, month, parting.staying)
    step = _carried(rack, parting, number, today.isoformat(), Closed(
        month, archive, len(parting.archived), _times(parting.archived), _ahead(rack, changes),
    ))  # fmt: skip
    files: dict[str, bytes | None] = {step_name(one.number): None for one in parting.archived}
    files[step_name(number)] = step_text(step).encode()
    files[f"../{archive}"] = _archive(rack, parting, balance)
    rack.commit(changes, files, [*parting.staying, step], job_after=job_after)
    return (*said, *(f"Check: {one}." for one in changes.unwritten))


def _parted(rack: OpenRack, month: str) -> _Parting:
    archived = [step for step in rack.recorded if step.closed or step.date[:7] <= month]
    if all(step.closed for step in archived):
        archived = []
    over = (OrderState.DONE, OrderState.CANCELLED)
    gone = [
        order for order in rack.job.orders
        if order.state in over or (order.state is OrderState.OPEN and not may_get(rack.job, order))
    ]  # fmt: skip
    return _Parting(
        tuple(archived), tuple(step for step in rack.recorded if step not in archived),
        tuple(gone), tuple(order for order in rack.job.orders if order not in gone),
    )  # fmt: skip


def _carried(rack: OpenRack, parting: _Parting, number: int, date: str, closed: Closed) -> Step:
    """The step that stands for those in the archive.

    Afterwards orders that stay hold what they held, what was free is free, and nothing else is left: so
    its pieces are what both come to, less what the steps that stay say already.
    """
    keys = {(name, order.item) for order in parting.orders for name in names_of(order)}
    kept: Counter[tuple[str, str, str, str]] = Counter()
    for one in credits_of(parting.archived):
        if (one.order, one.item) in keys and not _of_earlier(one, parting.orders):
            kept[one.order, one.item, one.part, one.date] += one.pieces
    kept.subtract(_of_renamed(rack, parting, kept, keys))
    off: Counter[tuple[str, str, str]] = Counter()
    pieces: Counter[str] = Counter()
    for one in credits_of(parting.staying):
        if (one.order, one.item) in keys:
            pieces[one.part] += one.pieces
        else:
            off[one.order, one.item, one.part] -= one.pieces
    for (_, _, part, _), count in kept.items():
        pieces[part] += count
    for source in sources(rack.job, rack.recorded):
        if (source.order, source.item) not in keys:
            pieces[source.part] += source.pieces
    for step in parting.staying:
        pieces.subtract(step.pieces)
    credits = [Credit(*key[:3], count, key[3]) for key, count in kept.items() if count]
    credits += [Credit(*gone, count) for gone, count in off.items() if count]
    steps = closed.steps
    return Step(
        number=number, date=date, book=rack.book.name, of=rack.mark, kind=Kind.CLOSED, closed=closed,
        pieces={p: n for p, n in sorted(pieces.items()) if n}, credits=tuple(credits),
        asked=_asked(parting, keys),
        bad_for=tuple(c for s in parting.archived for c in s.bad_for if (c.order, c.item) in keys),
        note=f"{closed.month} closed: {counted(steps, 'step')} in {closed.archive}",
    )  # fmt: skip


def _of_renamed(
    rack: OpenRack, parting: _Parting, kept: Counter[tuple[str, str, str, str]], keys: set[tuple[str, str]]
) -> Counter[tuple[str, str, str, str]]:
    """What orders that go hold under an earlier name that is by now another order's, which stays."""
    owners = {(order.earlier_name, order.item): order.name for order in parting.orders if order.earlier_name}
    owners |= {(order.name, order.item): order.name for order in parting.orders}
    shares = shared(rack.job, credits_of(rack.recorded))
    more: Counter[tuple[str, str, str]] = Counter()
    for (name, item, part, _), count in kept.items():
        more[owners[name, item], item, part] += count
    for one in credits_of(parting.staying):
        if (one.order, one.item) in keys:
            more[owners[one.order, one.item], one.item, one.part] += one.pieces
    for order, held in zip(rack.job.orders, shares.held, strict=True):
        if order in parting.orders:
            more.subtract({(order.name, order.item, part): count for part, count in held.items()})
    for (name, item, part), count in shares.over.items():
        if (name, item) in keys:
            more[owners[name, item], item, part] -= count
    return Counter({(*key, ""): count for key, count in more.items() if count > 0})


def _of_earlier(one: Credit, orders: Sequence[Order]) -> bool:
    """Whether pieces were cut for an earlier order of a name that came again."""
    return any(
        order.since and one.date < order.since and (order.name, order.item) == (one.order, one.item)
        for order in orders
    )


def _asked(parting: _Parting, keys: set[tuple[str, str]]) -> tuple[Asked, ...]:
    found = {(a.order, a.item): a for step in parting.archived for a in step.asked}
    return tuple(one for key, one in found.items() if key in keys)


def _times(archived: Sequence[Step]) -> tuple[tuple[str, str, int], ...]:
    cut: Counter[tuple[str, str]] = Counter()
    for step in archived:
        if step.times:
            cut[step.plan, step.layout] += step.times
        for plan, layout, times in step.closed.cut if step.closed else ():
            cut[plan, layout] += times
    return tuple((*key, times) for key, times in sorted(cut.items()))


def _ahead(rack: OpenRack, changes: BookChanges) -> tuple[AheadThen, ...]:
    now = changes.on_hand(rack.job.stock)
    return tuple(
        AheadThen(name, one.open, one.step, one.left)
        for name, one in ahead_of(rack.recorded, now).items() if one.open
    )  # fmt: skip


def _archived_said(parting: _Parting) -> str:
    steps, orders = len(parting.archived), len(parting.gone)
    return f"{counted(steps, 'step')} and {counted(orders, 'order line')}, done or cancelled, are"


def _unsettled_said(rack: OpenRack) -> list[str]:
    """Pieces of orders that have no row any more are taken as shipped: said, since it was asked before."""
    gone = held_by_none(rack.job, credits_of(rack.recorded))
    names = ", ".join(f"{name} ({sum(pieces.values())} pieces)" for (name, _), pieces in gone.items())
    return [f"Taken as shipped, since their rows are gone: {names}."] if names else []


def _clear_orders(rack: OpenRack, changes: BookChanges, gone: Sequence[Order]) -> list[str]:
    """Blank the rows of orders that are done or cancelled."""
    table = rack.tables.tables[ORDERS.name]
    inputs = {normal(column.heading) for column in ORDERS.columns}
    lines = {order.line for order in gone}
    for row in table.rows:
        for name, cell in row.cells.items() if row.number in lines else ():
            if normal(name) in inputs and cell.value is not None:
                changes.edit.set(table.page, cell.address, None)
    wanted = still_wanted(rack.job, credits_of(rack.recorded))
    full = [
        order.name for order, left in zip(rack.job.orders, wanted, strict=True)
        if order.state is OrderState.OPEN and order not in gone and not any(left.values())
    ]  # fmt: skip
    names = ", ".join(dict.fromkeys(full))
    return [f"Cut in full and not marked as done, so they stay: {names}."] if names else []


def _earlier_cuts(rack: OpenRack, changes: BookChanges, archived: Sequence[Step]) -> list[str]:
    """A row of the page Earlier cuts for each month and gauge, so that the trend goes on."""
    metals, unit = gauge_metals(rack.job), rack.job.settings.units.weight_kg
    sums: dict[tuple[str, str], list[float]] = {}
    for step in archived:
        if step.gauge and (step.kind is Kind.CUT or step.bad):
            w = step.weights
            one = (w.taken, w.parts, w.bad, w.kerf, w.kept, w.along, w.metal_cost * unit, w.kept_value * unit)
            there = sums.setdefault((step.date[:7], step.gauge), [0.0] * len(one))
            sums[step.date[:7], step.gauge] = [a + b for a, b in zip(there, one, strict=True)]
    heads = ("Taken", "Good parts", "Bad parts", "Kerf", "Kept", "Skeleton kept", "Metal cost", "Kept value")
    inputs = tuple(column.heading for column in EARLIER_CUTS.columns)
    for (month, gauge), values in sorted(sums.items()):
        if gauge in metals:
            material, thickness = metals[gauge]
            row: dict[str, Value] = {"Month": _last_day(month), "Material": material, "Thickness": thickness}
            row |= {head: value / unit for head, value in zip(heads, values, strict=True)}
            if changes.edit.add_row(EARLIER_CUTS.table, row, inputs) is not None:
                continue
        changes.unwritten.append(f"a row for {gauge} of {month} on the page Earlier cuts is not written")
    return []


def _count(rack: OpenRack, changes: BookChanges, month: str, staying: Sequence[Step]) -> list[str]:
    """The rack at the month's end where nobody has counted it, as the book has it."""
    table = rack.tables.tables.get(RACK_COUNT.name)
    days = column_of(table, "End of") if table else []
    if any(str(day or "")[:7] == month for day in days):
        return []
    if any(step.closed is None for step in staying):
        return [f"Rack count has no row for {month}, and later steps are recorded: count the rack yourself."]
    unit = rack.job.settings.units.length_mm
    found: list[dict[str, Value]] = []
    for sheet in rack.job.stock:
        lies = sheet.on_hand - sheet.on_order
        if lies > 0:
            found.append({
                "Material": sheet.material, "Thickness": sheet.thickness.text, "Width": sheet.width / unit,
                "Length": sheet.length / unit, "Sheets": lies,
            })  # fmt: skip
    for remnant in rack.job.remnants:
        length, width = size(remnant.edge)
        found.append({
            "Material": remnant.material, "Thickness": remnant.thickness.text, "Sheets": 1,
            "Width": round(width / unit, 4), "Length": round(length / unit, 4), "Tag": remnant.tag,
        })  # fmt: skip
    inputs = tuple(column.heading for column in RACK_COUNT.columns)
    for values in found:
        if changes.edit.add_row(RACK_COUNT.table, {"End of": _last_day(month), **values}, inputs) is None:
            changes.unwritten.append("the page Rack count: a row could not be written")
            return []
    rows = counted(len(found), "row")
    return [f"Rack count: {rows} written for {month} by the book. Correct them by a count."]


def _last_day(month: str) -> str:
    year, number = map(int, month.split("-"))
    return f"{month}-{calendar.monthrange(year, number)[1]:02d}"


def _archive_name(rack: OpenRack, month: str) -> str:
    taken = {step.closed.archive for step in rack.recorded if step.closed}
    taken |= {path.name for path in rack.book.parent.glob("*.zip")}
    name, number = f"{rack.book.stem} {month}.zip", 1
    while name in taken:
        number += 1
        name = f"{rack.book.stem} {month} ({number}).zip"
    return name


FIXED_TIME = (1980, 1, 1, 0, 0, 0)
"""The time of each entry: the same content gives the same bytes."""


def _archive(rack: OpenRack, parting: _Parting, balance: MonthOutcome) -> bytes:
    """The archive's bytes."""
    entries: dict[str, bytes] = {rack.book.name: rack.desk.data}
    entries["month.json"] = (json.dumps(month_json(balance), indent=1, allow_nan=False) + "\n").encode()
    for step in parting.archived:
        entries[step_name(step.number)] = step_text(step).encode()
    folder = output_folder(rack.book, rack.job.settings.output_folder)
    marks = {step.plan for step in parting.archived if step.plan} if isinstance(folder, Path) else set()
    for mark in sorted(marks):
        for name in KEPT_FILES:
            entries |= _plan_file(Path(str(folder)), mark, name)
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in entries.items():
            archive.writestr(zipfile.ZipInfo(name, FIXED_TIME), content, zipfile.ZIP_DEFLATED)
    return made.getvalue()


def _plan_file(folder: Path, mark: str, name: str) -> Mapping[str, bytes]:
    for place in plan_folders(folder, mark):
        if (place / name).is_file():
            return {f"plan-{mark}/{name}": (place / name).read_bytes()}
    return {}
