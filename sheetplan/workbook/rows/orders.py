"""The page Orders: what is to be made, by kit or by part."""

from __future__ import annotations

from sheetplan.model.job import Kit, Order, OrderState, Part
from sheetplan.model.problem import Problem, Weight
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import ORDERS
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.cells import CellFault, count_of, day_of, name_of, text_of, word_of
from sheetplan.workbook.rows.names import did_you_mean
from sheetplan.workbook.rows.reader import PageRead, Read, RowReader, column_problems, readers
from sheetplan.workbook.tables import CellValue, RawTable
from sheetplan.workbook.words import MustWord

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
