"""Finished parts: give free pieces to orders, move, scrap or count them. Each is a step, as a cut is."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from sheetplan.app.rack import Refused
from sheetplan.app.rack.folder import step_name
from sheetplan.app.rack.opened import For, OpenRack, day_said, open_rack, open_rack_live
from sheetplan.model import FinishedPart, Part
from sheetplan.planning.grouping import gauge_names
from sheetplan.rack.credits import (
    asked_lines,
    credits_of,
    drawn,
    finished_parts,
    may_get,
    offers,
    sources,
    still_wanted,
    unsettled,
    with_steps,
)
from sheetplan.rack.step import NO_WEIGHTS, Credit, Kind, Step, Weights, step_text
from sheetplan.shapes import area
from sheetplan.trade.sentences import counted
from sheetplan.trade.units import weight_kg
from sheetplan.workbook.columns import FINISHED_MARKS, HELD_MARKS
from sheetplan.workbook.port import LiveHost
from sheetplan.workbook.reading.cells import CellFault, count_of, text_of
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.tables import RawCell

FREE, SCRAP = "free", "scrap"
"""Where pieces may come from and go to, beside orders."""

EARLIER = "0001-01-01"
"""A day before any order that has the name of an earlier one begins."""


@dataclass(frozen=True, slots=True)
class Move:
    """Pieces of a part from an order, or from those that are free, to an order, to those or to scrap.

    ``item`` says which line of the order they come from; empty: any.
    """

    part: str
    pieces: int
    source: str = FREE
    target: str = FREE
    item: str = ""


@dataclass(frozen=True, slots=True)
class PartsAsked:
    """What is to be recorded: counts of the shelf first, then moves, then what the plan offers to orders."""

    counts: Mapping[str, int] = field(default_factory=dict)
    moves: Sequence[Move] = ()
    take: bool = False
    date: datetime.date | None = None
    by: str = ""


def look_at_parts(book: Path) -> tuple[FinishedPart, ...]:
    """The finished parts that no order holds."""
    with open_rack(book, For.READING) as rack:
        return finished_parts(rack.job, rack.recorded)


def record_parts(book: Path, asked: PartsAsked, *, today: datetime.date) -> tuple[str, ...]:
    """Record what became of finished parts, all of it or nothing; gives sentences on it.

    Raises ``Refused`` or ``BookError``, and nothing was then changed.
    """
    with open_rack(book) as rack:
        return _record(rack, asked, today)


def record_marked_parts(book: Path, *, today: datetime.date, by: str = "") -> tuple[str, ...]:
    """Record what is marked in Counted and Move on the page Finished parts."""
    with open_rack(book) as rack:
        return _record(rack, _marked(rack, by), today)


def parts_live(host: LiveHost, *, today: datetime.date) -> tuple[str, ...]:
    """In an open book, record what is marked on the page Finished parts, or else take over its offers."""
    with open_rack_live(host) as rack:
        asked = _marked(rack, "")
        return _record(rack, asked if asked.counts or asked.moves else PartsAsked(take=True), today)


def _record(rack: OpenRack, asked: PartsAsked, today: datetime.date) -> tuple[str, ...]:
    first = rack.next_step
    day = day_said(asked.date, today).isoformat()
    said: list[str] = [rack.told] if rack.told else []
    works = [partial(_count, name=name, count=count) for name, count in asked.counts.items()]
    works += [partial(_move, move=move) for move in asked.moves]
    works += [partial(_take)] if asked.take else []
    if not works:
        raise Refused(
            "Nothing is asked for.",
            "Mark the page Finished parts and record it, or say what became of it: --take, --count CB-1=4.",
        )
    for work in works:
        change = work(rack)
        step = Step(
            number=rack.next_step, date=day, book=rack.book.name, of=rack.mark, kind=Kind.PARTS,
            note=change.note, pieces=change.pieces, bad=change.bad, credits=tuple(change.credits),
            bad_for=tuple(change.bad_for), gauge=change.gauge, weights=change.weights, by=asked.by,
            asked=asked_lines(rack.job, change.credits), together=first if len(works) > 1 else 0,
        )  # fmt: skip
        rack = rack.after(step, [], rack.tags, {step_name(step.number): step_text(step).encode()})
        said.append(f"Step {step.number}: {change.note}.")
    rack.commit(rack.desk.changes(rack.tables))
    return tuple(said)


@dataclass(slots=True)
class _Change:
    """What a step does to pieces."""

    note: str
    pieces: dict[str, int] = field(default_factory=dict)
    credits: list[Credit] = field(default_factory=list)
    bad: dict[str, int] = field(default_factory=dict)
    bad_for: list[Credit] = field(default_factory=list)
    gauge: str = ""
    weights: Weights = NO_WEIGHTS


def _count(rack: OpenRack, name: str, count: int) -> _Change:
    """A count of the shelf: so many pieces of a part are free, whatever was thought before."""
    part, steps = _known(rack, name), rack.recorded
    there = sources(rack.job, steps)
    free = sum(one.pieces for one in there if one.part == part)
    gone = unsettled(rack.job, steps, part)
    off = {key: n for key, n in drawn(there, part, max(0, free - count)).items() if key[0]}
    note = f"{counted(count, 'piece')} of {part} counted, {free} were known as free"
    if gone:
        note += f"; what was cut for {', '.join(of for of, _ in gone)} is settled with that"
    more = count - free - sum(gone.values())
    return _Change(
        note, {part: more} if more else {},
        [Credit(of, item, part, -n) for (of, item), n in (*gone.items(), *off.items())],
    )  # fmt: skip


def _move(rack: OpenRack, move: Move) -> _Change:
    """Pieces from one place to another."""
    part = _known(rack, move.part)
    if move.pieces < 1 or normal(move.source) == normal(move.target):
        raise Refused(
            f"{move.pieces} of {part} from {move.source} to {move.target} moves nothing.",
            "Say how many, and another place.",
        )
    lost = _taken(rack, move, part)
    change = _Change(f"{move.pieces} of {part} from {_place(move.source)} to {_place(move.target)}",
                     credits=lost)  # fmt: skip
    if normal(move.target) == SCRAP:
        return _scrapped(rack, change, part, move.pieces)
    if normal(move.target) != FREE:
        change.credits = [*lost, *_given(rack, move, part)]
    return change


def _place(name: str) -> str:
    return "those free" if normal(name) == FREE else name


def _take(rack: OpenRack) -> _Change:
    """Every offer of free pieces becomes the order's own."""
    steps = rack.recorded
    given = offers(rack.job, steps)
    if not given:
        what = "No finished part is free."
        if finished_parts(rack.job, steps):
            what = "No order wants any of the finished parts that are free."
        raise Refused(what, "There is nothing to take over.")
    there = sources(rack.job, steps)
    sums: dict[str, int] = {}
    for one in given:
        sums[one.part] = sums.get(one.part, 0) + one.pieces
    off = [
        Credit(name, item, part, -count)
        for part, pieces in sums.items() for (name, item), count in drawn(there, part, pieces).items() if name
    ]  # fmt: skip
    named = ", ".join(f"{one.pieces} {one.part} for {one.order}" for one in given)
    return _Change(f"taken over from finished parts: {named}", credits=[*off, *given])


def _taken(rack: OpenRack, move: Move, part: str) -> list[Credit]:
    """The pieces as they are taken from an order, or from those that are free."""
    job, steps = rack.job, rack.recorded
    if normal(move.source) == FREE:
        there = sources(job, steps)
        found = drawn(there, part, move.pieces)
        if sum(found.values()) < move.pieces:
            raise Refused(
                f"{move.pieces} of {part} are not free: {sum(found.values())} are.",
                "If there are more, write how many in all into Counted on the page Finished parts, or say "
                f"--count {part}=N.",
            )
        return [Credit(name, item, part, -count) for (name, item), count in found.items() if name]
    left, taken = move.pieces, []
    for one in with_steps(job, steps).progress:
        of_it = normal(one.order.name) == normal(move.source)
        if of_it and (not move.item or normal(one.order.item) == normal(move.item)):
            count = min(left, one.cut.get(part, 0))
            if count:
                left -= count
                is_old = one.order.state.value == "open" and not may_get(job, one.order)
                day = EARLIER if is_old else ""
                taken.append(Credit(one.order.name, one.order.item, part, -count, day))
    if left:
        raise Refused(
            f"{move.pieces} of {part} cannot come from {move.source}: {move.pieces - left} are cut for it.",
            "Look at the page Finished parts, Cut for orders.",
        )
    return taken


def _given(rack: OpenRack, move: Move, part: str) -> list[Credit]:
    """The pieces as an order gets them."""
    job = rack.job
    asked = still_wanted(job, credits_of(rack.recorded))
    lines = [
        (order, wanted) for order, wanted in zip(job.orders, asked, strict=True)
        if normal(order.name) == normal(move.target) and may_get(job, order)
    ]  # fmt: skip
    left, given = move.pieces, []
    for order, wanted in lines:
        count = min(left, wanted.get(part, 0))
        if count:
            left -= count
            given.append(Credit(order.name, order.item, part, count))
    if left:
        wants = f"wants {move.pieces - left} of {part}" if lines else "is no open order"
        raise Refused(
            f"{move.target} {wants}, so {move.pieces} cannot be moved to it.",
            "Correct the number or the name, or the order's quantity first.",
        )
    return given


def _scrapped(rack: OpenRack, change: _Change, part: str, pieces: int) -> _Change:
    """Good pieces that turn out to be bad: no longer parts, but scrap, in counts and in weight."""
    change.pieces, change.bad = {part: -pieces}, {part: pieces}
    change.bad_for = [Credit(one.order, one.item, part, -one.pieces) for one in change.credits]
    known: Part | None = rack.job.parts.get(part)
    metal = rack.job.materials.get(known.material) if known else None
    if known is not None and metal is not None:
        change.gauge = gauge_names(rack.job)[part]
        kg = weight_kg(area(known.outline) * pieces, known.thickness.mm, metal.density)
        change.weights = Weights(0.0, -kg, 0.0, 0.0, kg, 0.0, 0.0)
    return change


def _known(rack: OpenRack, name: str) -> str:
    """A part by its name, also one that only finished pieces are left of."""
    there = {normal(part): part for part in rack.job.parts}
    there |= {normal(part): part for step in rack.recorded for part in step.pieces}
    part = there.get(normal(name))
    if part is None:
        raise Refused(f"There is no part {name}.", "Write it as on the page Parts.")
    return part


def _marked(rack: OpenRack, by: str) -> PartsAsked:
    """What the marks on the page Finished parts say."""
    counts: dict[str, int] = {}
    for cells in _rows(rack, FINISHED_MARKS.name):
        if not _blank(cells.get("counted")):
            counts[_text(cells, "part")] = _number(cells, "counted")
    moves = [
        Move(_text(cells, "part"), _number(cells, "move"), _text(cells, "order"), _text(cells, "to") or FREE,
             _text(cells, "item"))
        for cells in _rows(rack, HELD_MARKS.name) if not _blank(cells.get("move"))
    ]  # fmt: skip
    return PartsAsked(counts, tuple(moves), by=by)


def _rows(rack: OpenRack, page: str) -> list[dict[str, RawCell]]:
    table = rack.tables.tables.get(page)
    return [{normal(name): cell for name, cell in row.cells.items()} for row in (table.rows if table else ())]


def _blank(cell: RawCell | None) -> bool:
    return cell is None or cell.value is None or not str(cell.value).strip()


def _text(cells: Mapping[str, RawCell], heading: str) -> str:
    try:
        return text_of(cells[heading].value) if heading in cells and not _blank(cells[heading]) else ""
    except CellFault as fault:
        raise Refused(f"{cells[heading].address} on Finished parts {fault.what}.", fault.remedy) from fault


def _number(cells: Mapping[str, RawCell], heading: str) -> int:
    try:
        return count_of(cells[heading].value)
    except CellFault as fault:
        raise Refused(f"{cells[heading].address} on Finished parts {fault.what}.", fault.remedy) from fault
