"""Hand back a count of the rack: what was seen on the walk along it, and what lies elsewhere."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetplan.app.rack.folder import COUNTS, read_counts
from sheetplan.app.rack.opened import OpenRack, Refused, open_rack
from sheetplan.rack.usable import Count, counts_text, missed_twice, with_count
from sheetplan.workbook.columns import REMNANTS
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.schema import RemnantState


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
