"""The pages Kits, Orders and Quotes: what is to be made, and what is asked the price of."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from sheetplan.model.job import Kit, Order, OrderState, Part, QuoteLine
from sheetplan.model.problem import Problem, Weight
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import KITS, ORDERS, QUOTES
from sheetplan.workbook.reading.cells import (
    CellFault,
    count_of,
    day_of,
    mark_up_of,
    name_of,
    positive_count,
    text_of,
    word_of,
)
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.rows import (
    PageRead,
    Place,
    Read,
    RowReader,
    column_problems,
    did_you_mean,
    once_only,
    readers,
)
from sheetplan.workbook.schema import MustWord, PriceBy
from sheetplan.workbook.tables import CellValue, ErrorValue, NotComputed, RawTable

# The page Kits: a row for each part of a kit.


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


# The page Orders: what is to be made, by kit or by part.

DATE_REMEDY = (
    "Type the date anew so that the program takes it as one (it then stands at the right of its cell), or "
    "write year-month-day: 2026-12-04."
)
"""What to do about a date that is text."""


def read_orders(table: RawTable, units: Units, parts: PageRead[Part], kits: PageRead[Kit]) -> PageRead[Order]:
    """All orders that can be planned.

    An order that has to be made and cannot be read stops the plan; one that is made only if it
    fits is left out.
    """
    problems = list(column_problems(ORDERS, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads: list[Read[Order]] = []
    names = {normal(read.value.name): read.value.name for read in parts.rows}
    names.update({normal(read.value.name): read.value.name for read in kits.rows})
    for row in readers(ORDERS, table, units, Weight.STOPS):
        order = _order(row, names, parts, kits)
        problems += row.problems
        if order is not None:
            reads.append(Read(order, row.place))
    return PageRead(tuple(reads), {}, (*problems, *_asked_twice(reads)), parts.whole and kits.whole)


def _order(row: RowReader, names: dict[str, str], parts: PageRead[Part], kits: PageRead[Kit]) -> Order | None:
    must = row.may("Must", word_of(MustWord), MustWord.MUST) is MustWord.MUST
    row.weight = Weight.STOPS if must else Weight.LEFT_OUT
    name = row.need("Order", name_of, "")
    item = _item(row, names, parts, kits)
    quantity = row.need("Quantity", count_of, 0)
    # An order without a date can be made as well as any other, so a wrong one is only remarked on.
    due = row.may("Due", _due, "", Weight.NOTE)
    state = row.may("State", word_of(OrderState), OrderState.OPEN)
    earlier = row.may("Earlier name", name_of, "")
    since = row.may("Since", day_of, "")
    process = row.may("Process", text_of, "")
    if row.ok and quantity == 0:
        row.fault(
            "Quantity",
            f"Order {name} asks for none of {item}.",
            "Write how many, or delete the row.",
            Weight.LEFT_OUT,
        )
    if not row.ok or item is None:
        return None
    return Order(name, item, quantity, must, due, row.place.row, state, earlier, since, process)


def _due(value: CellValue) -> str:
    try:
        return day_of(value)
    except CellFault as fault:
        raise CellFault(f"{fault.what}; the order is planned without a due date", DATE_REMEDY) from None


def _item(row: RowReader, names: dict[str, str], parts: PageRead[Part], kits: PageRead[Kit]) -> str | None:
    """The kit or part as its own page names it; None with a problem noted where it cannot be used."""
    said = row.need("Item", name_of, "")
    key = normal(said)
    whole = parts.whole and kits.whole
    broken = kits.broken.get(key) or parts.broken.get(key)
    if broken is not None and said and whole:
        what = f"{said} cannot be made: {broken.said} has a problem."
        row.fault("Item", what, "Put that row right first.", after=broken)
        return None
    if said and key not in names and whole:
        row.fault(
            "Item",
            f"{said} is neither on the page Kits nor on the page Parts.",
            f"{did_you_mean(said, _every_name(names, parts, kits))}Correct the name, or add it there.",
        )
    return names.get(key)


def _every_name(names: dict[str, str], parts: PageRead[Part], kits: PageRead[Kit]) -> list[str]:
    """All names that stand on the two pages, those on rows with a problem as well."""
    return [*parts.names.values(), *kits.names.values(), *names.values()]


def _asked_twice(reads: list[Read[Order]]) -> list[Problem]:
    """Notes on rows that ask under one order for the same thing again."""
    first: dict[tuple[str, str], Read[Order]] = {}
    notes = []
    for read in reads:
        order = read.value
        if order.state is not OrderState.OPEN:
            continue  # it counts no more
        earlier = first.setdefault((normal(order.name), order.item), read)
        if earlier is not read:
            notes.append(
                read.place.problem(
                    "Item",
                    f"{order.name} asks for {order.item} on row {earlier.place.row} already; both count.",
                    "Delete one of them if it was entered twice.",
                    Weight.NOTE,
                )
            )
    return notes


# The page Quotes: what is asked the price of.

MOST_QUANTITIES = 12
"""Quantities of one row; each is planned twice."""

_APART = re.compile(r"\s*(?:;|/|\band\b|,\s+|\s{2,})\s*")
_SHORT_COMMAS = re.compile(r"[0-9]{1,6}(?:,[0-9]{1,6})+")
_THOUSANDS = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+")


def read_quotes(table: RawTable, units: Units, items: Mapping[str, str]) -> PageRead[QuoteLine]:
    """All usable rows; a faulty row is left out. ``items`` are kits and parts by their names as compared."""
    problems = list(column_problems(QUOTES, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads = []
    for row in readers(QUOTES, table, units):
        line = _line(row, items)
        problems += row.problems
        if line is not None:
            reads.append(Read(line, row.place))
    kept, _, more = once_only(reads, lambda line: line.name, "Quote", {})
    return PageRead(kept, {}, (*problems, *more))


def _line(row: RowReader, items: Mapping[str, str]) -> QuoteLine | None:
    name = row.need("Quote", name_of, "")
    item = _quoted_item(row, name, items)
    none: tuple[int, ...] = ()
    quantities = row.need("Quantity", quantities_of, none)
    if 0 in quantities:
        row.fault("Quantity", f"Nothing is asked for: Quantity is {row.value('Quantity')}.",
                  "Write how many are asked for.", Weight.NOTE)  # fmt: skip
    wanted = row.may("Wanted", day_of, "", Weight.NOTE)
    customer = row.may("Customer", text_of, "")
    mark_up = row.may("Mark-up", mark_up_of, None)
    by_month = row.may("Price by", word_of(PriceBy), PriceBy.ALONE) is PriceBy.THIS_MONTH
    if not row.ok:
        return None
    return QuoteLine(
        name, item, quantities, wanted, customer, mark_up, by_month, row.may("Order it", text_of, ""),
        row.may("Drawing", text_of, ""), row.may("Material", text_of, ""), row.may("Thickness", text_of, ""),
        row.place.row, row.may("Drawn in", text_of, ""),
    )  # fmt: skip


def _quoted_item(row: RowReader, name: str, items: Mapping[str, str]) -> str:
    """The kit or part as its own page names it; of a drawing, the part that bears the quote's name."""
    if row.blank("Item") == row.blank("Drawing"):
        both = not row.blank("Item")
        what = "Item is filled and so is Drawing." if both else "Neither Item nor Drawing is filled."
        row.fault("Item", what, "Fill one of the two.")
        return ""
    if row.blank("Item"):
        return name
    said = row.need("Item", name_of, "")
    if said and normal(said) not in items:
        row.fault(
            "Item", f"{said} is neither on the page Kits nor on the page Parts, or has a problem there.",
            f"{did_you_mean(said, items.values())}Correct the name, or add it there.",
        )  # fmt: skip
    return items.get(normal(said), "")


def quantities_of(value: CellValue) -> tuple[int, ...]:
    """Quantities in their order, each once: 10, or 1; 10; 50. A comma alone may set them apart as well.

    ``1,000`` is refused, since it may be one quantity or two.

    >>> quantities_of("50; 1, 10"), quantities_of(12), quantities_of("1,10,50")
    ((1, 10, 50), (12,), (1, 10, 50))
    """
    said = text_of(value)
    if _THOUSANDS.fullmatch(said):
        raise CellFault(
            f"`{said}` may be one quantity or several",
            f"Write {said.replace(',', '')}, or {said.replace(',', '; ')}.",
        )
    pieces = said.split(",") if _SHORT_COMMAS.fullmatch(said) else _APART.split(said)
    found = {count_of(one) for one in pieces if one.strip()}
    if not found:
        raise CellFault("names no quantity", "Write how many, such as 10, or 1; 10; 50.")
    if len(found) > MOST_QUANTITIES:
        raise CellFault(f"names {len(found)} quantities", f"Write {MOST_QUANTITIES} at most in one row.")
    return tuple(sorted(found))
