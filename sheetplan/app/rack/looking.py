"""The rack as it stands beside the book, and a count of it: what was seen on the walk along it."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sheetplan.app.rack import Refused
from sheetplan.app.rack.folder import COUNTS, read_counts
from sheetplan.app.rack.known import with_rack
from sheetplan.app.rack.opened import For, OpenRack, open_rack
from sheetplan.model import Problem
from sheetplan.pages.wording import Decimals, decimals_of
from sheetplan.rack.cut import metal_area
from sheetplan.rack.record import Record, from_row
from sheetplan.rack.usable import Count, counts_text, missed_twice, with_count
from sheetplan.trade.units import Units, weight_kg
from sheetplan.workbook.columns import FINISHED_MARKS, ORDERS, REMNANTS
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.schema import RemnantState

if TYPE_CHECKING:
    from sheetplan.pages.paper.labels import RackLabel


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
        told = (*rack.left_out, *mine)
        return RackLook(rack.job.settings.units, tuple(lines), shown, tags, told, rack.told,
                        decimals_of(rack.job))  # fmt: skip


def write_labels(seen: RackLook, path: Path) -> int:
    """Write a PDF with a sticker for every sheet that can be used; gives their number."""
    from sheetplan.pages.paper.labels import rack_labels_pdf
    from sheetplan.workbook.package.saving import is_our_pdf, put_output

    stickers = _labels(seen)
    put_output(path, rack_labels_pdf(stickers, seen.units, seen.decimals), is_our_pdf)
    return len(stickers)


def write_list(seen: RackLook, path: Path) -> int:
    """Write a PDF with a measured picture of every sheet that can be used; gives their number."""
    from sheetplan.pages.paper.labels import rack_list_pdf
    from sheetplan.workbook.package.saving import is_our_pdf, put_output

    labels = _labels(seen)
    put_output(path, rack_list_pdf(labels, seen.units, seen.decimals), is_our_pdf)
    return len(labels)


def _labels(seen: RackLook) -> list[RackLabel]:
    from sheetplan.pages.paper.labels import RackLabel
    from sheetplan.pages.wording import weight_text

    return [
        RackLabel(
            line.record, "" if line.weight is None else weight_text(line.weight, seen.units), line.place
        )
        for line in seen.lines if not line.record.used_up
    ]  # fmt: skip


def _line(rack: OpenRack, record: Record) -> RackLine:
    cells = rack.cells(record.tag)
    metal = rack.job.materials.get(record.material)
    left = metal_area(record, rack.kerf_of(record))
    weight = weight_kg(left, record.thickness.mm, metal.density) if metal else None
    value = cells.get("value")
    state = str(cells.get("state") or RemnantState.IN_RACK) if cells else "not in the book"
    return RackLine(
        record, RemnantState.USED_UP if record.used_up else state, weight,
        float(value) if isinstance(value, int | float) else None,
        str(cells.get("rack place") or record.rack_place),
    )  # fmt: skip


# A count of the rack, handed back.


@dataclass(frozen=True, slots=True)
class SeenAsked:
    """What a walk along the rack found.

    ``tags`` were seen; with ``all_others`` they were not, and all others were. ``places`` are by tag where
    sheets lie that lie elsewhere than the book says; those were seen too.
    """

    tags: Sequence[str] = ()
    all_others: bool = False
    places: Mapping[str, str] | None = None


@dataclass(frozen=True, slots=True)
class _Row:
    tag: str
    place: str


def record_seen(book: Path, asked: SeenAsked, *, today: datetime.date) -> tuple[str, ...]:
    """Keep a count of the rack; one of the same day is replaced. Says what was not seen."""
    with open_rack(book) as rack:
        rows = _rows(rack)
        tags, places = {normal(tag) for tag in asked.tags}, asked.places or {}
        _refuse_unknown((*asked.tags, *places), rows)
        moved = {normal(tag): place for tag, place in places.items()}
        there = ({*rows} - tags if asked.all_others else tags) | {*moved}
        count = Count(today.isoformat(), frozenset(rows[tag].tag for tag in there))
        counts = with_count(read_counts(rack.rack), count)
        changes = rack.desk.changes(rack.tables)
        for tag, place in moved.items():
            changes.write(REMNANTS.name, rows[tag].tag, "Rack place", place)
        files = {COUNTS: counts_text(counts).encode()}
        rack.commit(changes, files, told=f"The count of {count.day} is kept.")
        return (*_said(rack, rows, count, counts), *(f"Check: {one}." for one in changes.unwritten))


def _rows(rack: OpenRack) -> dict[str, _Row]:
    """Every sheet that the book has in the rack, by its tag as compared; also what is left alone there."""
    found: dict[str, _Row] = {}
    table = rack.tables.tables.get(REMNANTS.name)
    for row in table.rows if table else ():
        cells = {normal(name): str(cell.value or "").strip() for name, cell in row.cells.items()}
        tag = cells.get("tag", "")
        if tag and normal(cells.get("state", "")) != RemnantState.USED_UP:
            found.setdefault(normal(tag), _Row(tag, cells.get("rack place", "")))
    return found


def _refuse_unknown(tags: Sequence[str], rows: Mapping[str, _Row]) -> None:
    unknown = [tag for tag in dict.fromkeys(tags) if normal(tag) not in rows]
    if unknown:
        are = "is" if len(unknown) == 1 else "are"
        raise Refused(
            f"{', '.join(unknown)} {are} not in the rack by the page Remnants.",
            "Correct the tag. A sheet that the book does not have gets a row there first.",
        )


def _said(
    rack: OpenRack, rows: Mapping[str, _Row], count: Count, counts: Sequence[Count]
) -> Iterator[str]:
    yield f"Seen on {count.day}: {len(count.seen)} of {len(rows)} sheets that the book has in the rack."
    missed = [
        f"{row.tag} (place {row.place})" if row.place else row.tag
        for row in rows.values() if row.tag not in count.seen
    ]  # fmt: skip
    if missed:
        yield f"Not seen: {', '.join(missed)}."
    twice = [remnant.tag for remnant, _ in missed_twice(rack.job.remnants, counts, rack.recorded)]
    if twice:
        yield f"Not seen at the count before either: {', '.join(twice)}. Used up or gone? Say so in State."
