"""The page Kits: a row for each part of a kit."""

from __future__ import annotations

from dataclasses import dataclass, field

from sheetplan.model.job import Kit, Part
from sheetplan.model.problem import Problem, Weight
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import KITS
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.cells import name_of, positive_count, text_of
from sheetplan.workbook.rows.names import did_you_mean
from sheetplan.workbook.rows.reader import PageRead, Place, Read, RowReader, column_problems, readers
from sheetplan.workbook.tables import ErrorValue, NotComputed, RawTable


@dataclass(slots=True)
class _Draft:
    """A kit whose rows are still coming in."""

    name: str
    place: Place
    parts: dict[str, int] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=dict)
    broken: Place | None = None


def read_kits(table: RawTable, units: Units, parts: PageRead[Part]) -> PageRead[Kit]:
    """All kits whose every row can be used; the others stop the orders that ask for them."""
    problems = list(column_problems(KITS, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    known = {normal(read.value.name): read.value.name for read in parts.rows}
    kit_names = _kit_names(table)
    drafts: dict[str, _Draft] = {}
    for row in readers(KITS, table, units):
        row.weight = Weight.STOPS  # A part without its kit's name may belong to the kit above.
        kit = row.need("Kit", name_of, "")
        row.weight = Weight.LEFT_OUT
        draft = drafts.setdefault(normal(kit), _Draft(kit, row.place)) if kit else None
        part = _part_name(row, known, kit_names, parts)
        quantity = row.need("Quantity", positive_count, 1)
        if draft is not None:
            _add(row, draft, part, quantity)
        problems += row.problems
    good = tuple(Read(Kit(d.name, d.parts), d.place) for d in drafts.values() if d.broken is None)
    broken = {key: d.broken for key, d in drafts.items() if d.broken is not None}
    names = {key: drafts[key].name for key in broken}
    return PageRead(good, broken, tuple(problems), parts.whole, names)


def _add(row: RowReader, draft: _Draft, part: str | None, quantity: int) -> None:
    """Put one row into its kit."""
    if part is None or not row.ok:
        draft.broken = draft.broken or row.place
        return
    if part in draft.parts:
        row.fault(
            "Part",
            f"Kit {draft.name} has {part} on row {draft.rows[part]} already; both count.",
            "Write it once with the whole quantity, if that is what you mean.",
            Weight.NOTE,
        )
    draft.rows.setdefault(part, row.place.row)
    draft.parts[part] = draft.parts.get(part, 0) + quantity


def _part_name(
    row: RowReader, known: dict[str, str], kit_names: set[str], parts: PageRead[Part]
) -> str | None:
    """The part as named on the page Parts; None with a problem noted where it cannot be used."""
    said = row.need("Part", name_of, "")
    key = normal(said)
    if not said or key in known or not parts.whole:
        return known.get(key)
    if key in parts.broken:
        place = parts.broken[key]
        what = f"{said} cannot be used: {place.said} has a problem."
        row.fault("Part", what, "Put that row right first.", after=place)
    elif key in kit_names:
        row.fault(
            "Part",
            f"{said} is a kit; a kit holds parts only.",
            f"Write the parts of {said} on rows of this kit instead.",
        )
    else:
        guess = did_you_mean(said, [*known.values(), *parts.names.values()])
        row.fault(
            "Part",
            f"{said} is not on the page Parts.",
            f"{guess}Correct the name, or add the part to the page Parts.",
        )
    return None


def _kit_names(table: RawTable) -> set[str]:
    """Names of all kits, faulty ones included, to tell a kit within a kit from an unknown part."""
    names: set[str] = set()
    for row in table.rows:
        for heading, cell in row.cells.items():
            if normal(heading) == "kit" and not isinstance(cell.value, ErrorValue | NotComputed):
                names.add(normal(text_of(cell.value)))
    return names - {""}


def ambiguous_names(kits: PageRead[Kit], parts: PageRead[Part]) -> tuple[Problem, ...]:
    """Kits that bear a part's name: an order for it could mean either."""
    places = {normal(read.value.name): read.place for read in parts.rows}
    return tuple(
        read.place.problem(
            "Kit",
            f"{read.value.name} is also a part ({places[normal(read.value.name)].said}); "
            "an order for it means the kit.",
            "Give the kit or the part another name.",
            Weight.NOTE,
        )
        for read in kits.rows
        if normal(read.value.name) in places
    )
