"""From raw tables to a checked job, with every problem of the book found in one pass.

The walk: settings give the units; materials give each row its gauges; then rules, sheets,
remnants and parts; then kits, which need the parts; then orders, which need both; last what only
shows when all are seen together (`reading.checks`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from sheetplan.drawings.known import KnownOutlines
from sheetplan.model.job import CuttingRule, Job, Kit, Material, Order, OrderState, Part, Remnant, SheetSize
from sheetplan.model.problem import Problem, Weight
from sheetplan.model.settings import Settings
from sheetplan.pages.drawing.lettering import unprintable
from sheetplan.shapes import size
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import (
    ALL_PAGES,
    CUTTING,
    INPUT_PAGES,
    KITS,
    MATERIALS,
    MONTH_PAGES,
    ORDERS,
    PARTS,
    REMNANTS,
    SETTINGS,
    STOCK,
)
from sheetplan.workbook.rates import RateCells, unused_hour_cost
from sheetplan.workbook.reading.cells import in_own_currency, text_of, word_of
from sheetplan.workbook.reading.checks import Gauges, as_cut, gauge_problems, shape_problems, unpriced
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.metals import Asked, Metals, read_cutting, read_materials, read_stock
from sheetplan.workbook.reading.month import MonthRead, OfMetal, read_month_rows
from sheetplan.workbook.reading.orders import ambiguous_names, read_kits, read_orders
from sheetplan.workbook.reading.parts import DrawingAsk, Drawings, drawing_asks, read_parts
from sheetplan.workbook.reading.remnants import (
    RecordsThen,
    Shapes,
    no_record,
    no_records,
    read_remnants,
    read_tape,
)
from sheetplan.workbook.reading.rows import PageRead, T, heading_problems, page_missing, readers
from sheetplan.workbook.reading.settings import read_settings, settings_missed
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables, RawTable

MAY_BE_ABSENT = (KITS, REMNANTS)
"""A shop that makes single parts only, or keeps no remnants, can do without these pages."""

_MONTHS_VALUES = (SETTINGS, MATERIALS, CUTTING, STOCK, REMNANTS, *MONTH_PAGES)
"""Pages whose columns weigh or value the metal of a month."""

_MONTHS_NEED = {page.name for page in (SETTINGS, MATERIALS, *MONTH_PAGES)}


@dataclass(frozen=True, slots=True)
class _Pages:
    """All pages of the book as read."""

    metals: Metals
    materials: PageRead[Material]
    rules: PageRead[CuttingRule]
    stock: PageRead[SheetSize]
    remnants: PageRead[Remnant]
    parts: PageRead[Part]
    kits: PageRead[Kit]
    orders: PageRead[Order]
    ordered: frozenset[str]
    """Names, as compared, of parts on open orders."""

    @property
    def problems(self) -> list[Problem]:
        reads = (self.materials, self.rules, self.stock, self.remnants, self.parts, self.kits, self.orders)
        return [problem for read in reads for problem in read.problems]


def drawings_wanted(tables: BookTables) -> tuple[Settings | None, tuple[DrawingAsk, ...]]:
    """The drawings that a book's parts name, to be read before the book is; and how they are to be read."""
    if not {SETTINGS.name, PARTS.name} <= tables.tables.keys():
        return None, ()
    settings, _ = read_settings(tables.tables[SETTINGS.name])
    return settings, drawing_asks(tables.tables[PARTS.name], settings.units) if settings else ()


def read_job(
    tables: BookTables, drawings: Drawings | None = None, known: KnownOutlines | None = None,
    recorded: Callable[[str], bool] = no_record,
) -> tuple[Job | None, tuple[Problem, ...]]:  # fmt: skip
    """The book as a job, and everything that is wrong with it.

    ``drawings`` are the reports on what `drawings_wanted` named, ``known`` the outlines that parts had
    when they were planned; ``recorded`` says of a tag whether the rack has a record of it.

    Returns
    -------
    tuple
        The job, or None where a problem stops whatever wants one; and all problems, in the order of the
        pages. A book without orders is a job, though no plan can be made of it.
    """
    problems = [*tables.problems, *_missing(tables), *heading_problems(tables)]
    settings: Settings | None = None
    if SETTINGS.name in tables.tables:
        settings, found = read_settings(tables.tables[SETTINGS.name])
        problems += [*found, *settings_missed(tables)]
    if settings is None:
        return None, _in_order(problems)
    tables = in_own_currency(tables, settings.currency)
    pages = _read_pages(tables, settings, drawings, known, recorded)
    problems += pages.problems
    problems += ambiguous_names(pages.kits, pages.parts)
    gauges = Gauges(pages.rules, pages.stock, pages.remnants, pages.parts, pages.kits, pages.orders)
    problems += gauge_problems(gauges, settings.units)
    problems += shape_problems(gauges, settings, pages.ordered)
    problems += too_many_pieces(pages.orders, pages.kits) or too_much_memory(pages)
    problems += _month_read(tables, settings, pages).problems
    priceless, without_price = unpriced(gauges)
    problems += without_price
    problems += unused_hour_cost(tables, pages.rules.rows, pages.parts.rows)
    stopped = any(problem.weight is Weight.STOPS for problem in problems)
    if not pages.orders.rows and pages.orders.whole and not pages.orders.problems:
        # A plan needs orders; a delivery after the month is closed does not.
        problems.append(_no_orders(tables.tables[ORDERS.name]))
    if stopped:
        return None, _in_order(problems)
    job = _job(settings, pages, priceless, gauges)
    return job, _in_order([*problems, *not_on_paper(job)])


def rate_cells(tables: BookTables, settings: Settings, drawings: Drawings | None = None) -> RateCells:
    """The rows that prices are reckoned from, of a book that was read as a job."""
    pages = _read_pages(in_own_currency(tables, settings.currency), settings, drawings)
    return RateCells(tables, pages.rules.rows, pages.stock.rows)


def read_month(
    tables: BookTables, records: RecordsThen = no_records
) -> tuple[Settings | None, MonthRead | None, tuple[Problem, ...]]:
    """What the month's end needs of a book, and what is wrong with it.

    ``records`` gives the records of the rack beside the book as they stood when a month ended.

    Returns
    -------
    tuple
        Settings and rows, both None where the units or the materials cannot be read or a heading is in
        doubt; and the problems of these pages alone, since orders and parts have no say in a month's balance.
    """
    problems = [problem for problem in tables.problems if problem.page in _MONTHS_NEED]
    problems += [problem for problem in _missing(tables) if problem.page in _MONTHS_NEED]
    doubts = heading_problems(tables, _MONTHS_VALUES)
    problems += doubts
    settings: Settings | None = None
    if SETTINGS.name in tables.tables:
        settings, found = read_settings(tables.tables[SETTINGS.name])
        problems += [*found, *settings_missed(tables)]
    doubtful = any(problem.weight is Weight.STOPS for problem in doubts)
    if settings is None or MATERIALS.name not in tables.tables or doubtful:
        return None, None, _in_order(problems)
    tables = in_own_currency(tables, settings.currency)
    pages = _read_pages(tables, settings)
    month = _month_read(tables, settings, pages, records)
    return settings, month, _in_order([*problems, *pages.materials.problems, *month.problems])


def _month_read(
    tables: BookTables, settings: Settings, pages: _Pages, records: RecordsThen = no_records
) -> MonthRead:
    things: list[OfMetal] = [read.value for read in pages.parts.rows]
    things += [read.value for read in pages.stock.rows]
    things += [read.value for read in pages.rules.rows]
    things += [read.value for read in pages.remnants.rows]
    return read_month_rows(tables, settings, pages.metals, things, records)


def _missing(tables: BookTables) -> list[Problem]:
    """Pages that are not there, unless the host has said already why not."""
    said = {problem.page for problem in tables.problems if problem.weight is Weight.STOPS}
    return [
        page_missing(page, Weight.NOTE if page in MAY_BE_ABSENT else Weight.STOPS)
        for page in INPUT_PAGES
        if page.name not in tables.tables and page.name not in said
    ]


def _in_order(problems: list[Problem]) -> tuple[Problem, ...]:
    """Problems page by page as the pages stand in the book, then row by row."""
    places = {page.name: place for place, page in enumerate(ALL_PAGES)}
    return tuple(sorted(problems, key=lambda p: (places.get(p.page, len(places)), p.row or 0)))


def _read_pages(
    tables: BookTables,
    settings: Settings,
    drawings: Drawings | None = None,
    known: KnownOutlines | None = None,
    recorded: Callable[[str], bool] = no_record,
) -> _Pages:
    units = settings.units

    def read(page: InputPage, rows: Callable[[RawTable], PageRead[T]]) -> PageRead[T]:
        table = tables.tables.get(page.name)
        return rows(table) if table is not None else PageRead(whole=page in MAY_BE_ABSENT)

    ordered = _ordered(tables, units)
    materials = read(MATERIALS, lambda table: read_materials(table, units))
    metals = Metals(materials, units)
    parts = read(PARTS, lambda table: read_parts(table, units, metals, drawings, ordered, known))
    kits = read(KITS, lambda table: read_kits(table, units, parts))
    stock = read(STOCK, lambda table: read_stock(table, units, metals))
    sheets = [one.value for one in stock.rows]
    shapes = Shapes(read_tape(tables, units), recorded)
    remnants = read(
        REMNANTS, lambda table: read_remnants(table, units, metals, settings, sheets, shapes)
    )  # fmt: skip
    orders = read(ORDERS, lambda table: read_orders(table, units, parts, kits))
    asked = _processes(orders, kits, parts)
    told = dict.fromkeys((*remnants.problems, *shapes.tape.problems))  # of two tags beside a row, once
    remnants = replace(remnants, problems=tuple(told))
    return _Pages(
        metals=metals,
        materials=materials,
        rules=read(CUTTING, lambda table: read_cutting(table, units, metals, settings.machine_hour, asked)),
        stock=stock,
        remnants=remnants,
        parts=parts,
        kits=kits,
        orders=orders,
        ordered=ordered,
    )


def _processes(orders: PageRead[Order], kits: PageRead[Kit], parts: PageRead[Part]) -> tuple[Asked, ...]:
    """What open orders ask for by a process, with the gauges of their parts."""
    in_kit = {one.value.name: tuple(one.value.parts) for one in kits.rows}
    known = {one.value.name: one.value for one in parts.rows}
    return tuple(
        Asked(one, tuple(dict.fromkeys(
            (known[name].material, known[name].thickness)
            for name in in_kit.get(one.value.item, (one.value.item,)) if name in known
        )))
        for one in orders.rows if one.value.process and one.value.state is OrderState.OPEN
    )  # fmt: skip


def _ordered(tables: BookTables, units: Units) -> frozenset[str]:
    """Names of parts on open orders, kits taken apart, as far as they can be read."""
    orders, kits = tables.tables.get(ORDERS.name), tables.tables.get(KITS.name)
    items = {
        normal(row.may("Item", text_of, ""))
        for row in (readers(ORDERS, orders, units) if orders else ())
        if row.may("State", word_of(OrderState), OrderState.OPEN) is OrderState.OPEN
    }
    in_kits = {
        normal(row.may("Part", text_of, ""))
        for row in (readers(KITS, kits, units) if kits else ())
        if normal(row.may("Kit", text_of, "")) in items
    }
    return frozenset(items | in_kits)


def _no_orders(table: RawTable) -> Problem:
    return Problem(
        table.page,
        None,
        None,
        "There are no orders.",
        "Write what is to be made on the page Orders: a kit or a part, and how many.",
    )


def _job(settings: Settings, pages: _Pages, priceless: frozenset[str], gauges: Gauges) -> Job:
    return Job(
        settings=settings,
        materials={read.value.name: read.value for read in pages.materials.rows},
        rules=tuple(read.value for read in pages.rules.rows),
        parts={read.value.name: as_cut(read.value, gauges, settings) for read in pages.parts.rows},
        kits={read.value.name: read.value for read in pages.kits.rows},
        orders=tuple(read.value for read in pages.orders.rows),
        stock=tuple(read.value for read in pages.stock.rows if read.value.name not in priceless),
        remnants=tuple(read.value for read in pages.remnants.rows),
    )


def not_on_paper(job: Job) -> list[Problem]:
    """A note on letters of names that tickets, lists and labels cannot show."""
    names = [
        *(word for part in job.parts.values() for word in (part.name, part.description)), *job.kits,
        *(order.name for order in job.orders), *job.materials,
        *(word for sheet in job.stock for word in (sheet.name, sheet.supplier, sheet.rack_place)),
        *(remnant.tag for remnant in job.remnants),
    ]  # fmt: skip
    odd = {name: letters for name in names if not name.isascii() and (letters := unprintable(name))}
    if not odd:
        return []
    letters = "".join(dict.fromkeys("".join(odd.values())))
    first = next(iter(odd))
    more = f" and {len(odd) - 1:,} more" if len(odd) > 1 else ""
    what = f"On tickets, lists and labels these letters are boxes: {letters}, in {first}{more}."
    remedy = "None of the typefaces that are looked for on this computer has them: write the name otherwise."
    return [Problem(PARTS.name, None, None, what, remedy, Weight.NOTE)]


MOST_PIECES = 200_000
"""Pieces in one plan: ten times the largest month that the tool is tried on; more is a typing mistake."""


def too_many_pieces(orders: PageRead[Order], kits: PageRead[Kit]) -> list[Problem]:
    """A finding on the largest order where all orders together ask for an absurd number of pieces."""
    in_kit = {read.value.name: sum(read.value.parts.values()) for read in kits.rows}
    pieces = [(read.value.quantity * in_kit.get(read.value.item, 1), read) for read in orders.rows]
    total = sum(count for count, _ in pieces)
    if total <= MOST_PIECES:
        return []
    most, read = max(pieces, key=lambda entry: entry[0])
    return [
        read.place.problem(
            "Quantity",
            f"The orders ask for {total:,} pieces, {most:,} of them here; "
            f"at most {MOST_PIECES:,} are planned at a time.",
            "Check the quantity, or plan the orders in several books.",
        )
    ]


MOST_BYTES = 4e9
"""Memory that a plan may take."""

BYTES_AT_ALL, BYTES_A_PIECE, BYTES_OF_A_CROWD = 0.25e9, 21e3, 76e3
"""What a plan takes without pieces, for each, and for each of those of which `CROWD` lie on a sheet.
Measured: 20,000 pieces of a month took 0.68 GB, as many of 10 by 15 mm 1.76 GB."""

CROWD = 500


def too_much_memory(pages: _Pages) -> list[Problem]:
    """A finding on the largest order where a plan of all would take too much memory, by estimate."""
    kits = {read.value.name: read.value.parts for read in pages.kits.rows}
    open_orders = [read for read in pages.orders.rows if read.value.state is OrderState.OPEN]
    in_item = {name: sum(parts.values()) for name, parts in kits.items()}
    pieces = sum(read.value.quantity * in_item.get(read.value.item, 1) for read in open_orders)
    if BYTES_AT_ALL + pieces * BYTES_OF_A_CROWD <= MOST_BYTES:
        return []
    sizes = {read.value.name: size(read.value.outline) for read in pages.parts.rows}
    metal = {read.value.name: read.value.material for read in pages.parts.rows}
    room: dict[str, float] = {}
    for sheet in (row.value for row in pages.stock.rows):
        room[sheet.material] = max(room.get(sheet.material, 0.0), sheet.length * sheet.width)

    def bytes_of(order: Order) -> float:
        total = 0.0
        for part, each in kits.get(order.item, {order.item: 1}).items():
            length, width = sizes.get(part, (0.0, 0.0))
            crowded = length * width > 0.0 and room.get(metal[part], 0.0) / (length * width) >= CROWD
            total += order.quantity * each * (BYTES_OF_A_CROWD if crowded else BYTES_A_PIECE)
        return total

    asked = [(bytes_of(read.value), read) for read in open_orders]
    total = BYTES_AT_ALL + sum(count for count, _ in asked)
    if total <= MOST_BYTES:
        return []
    _, most = max(asked, key=lambda entry: entry[0])
    return [
        most.place.problem(
            "Quantity",
            f"To plan all orders would take about {total / 1e9:.1f} GB of memory, most of it for this one; "
            f"at most {MOST_BYTES / 1e9:.0f} GB are taken.",
            "Check the quantity, plan the orders in several books, or order tiny pieces as strips of them.",
        )
    ]
