"""Printed lists: what to order from each supplier, and what to gather for each order."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain, groupby
from math import fsum
from typing import Any

from reportlab.platypus import KeepTogether, Spacer, Table

from sheetplan.model import OrderState, Plan
from sheetplan.model.job import NO_DATE, OrderKey
from sheetplan.money.buy_list import BuyLine, buy_list
from sheetplan.money.cutting_plan import Timetable
from sheetplan.money.order_shares import LineProgress, allocate, progress
from sheetplan.pages.book.buy import LIFT_CAUTION, lift_said, line_lift, order_by_text
from sheetplan.pages.contents import shares_of
from sheetplan.pages.drawing import marks as palette
from sheetplan.pages.drawing.lettering import HAIR, Columns, Heads, Holds, columns_for, text_width
from sheetplan.pages.drawing.marks import PartColours, part_colours
from sheetplan.pages.paper.paper import (
    BODY,
    LARGE,
    MARGIN,
    SMALL,
    TICK,
    Section,
    build_pdf,
    heading,
    list_table,
    paper_for,
    text,
    tight,
)
from sheetplan.pages.wording import bare_size, bare_weight, date_text, decimals_of, money_text, weight_text
from sheetplan.planning.grouping import gauge_names
from sheetplan.shapes import size
from sheetplan.trade.sentences import counted
from sheetplan.trade.starter import DEFERENCE
from sheetplan.trade.units import Units

# What to order, as a printed page for each supplier.

NOT_SAID = "supplier not said"


def order_list_pdf(
    plan: Plan, *, today: datetime.date, mark: str = "", by: Mapping[str, datetime.date] | None = None
) -> bytes | None:
    """A page for each supplier; None where nothing is to be bought.

    ``by`` is the last day on which to order, by sheet name, where it is known.
    """
    paper = paper_for(plan.job.settings.units)
    by_supplier: dict[str, list[BuyLine]] = {}
    for line in buy_list(plan):
        by_supplier.setdefault(line.supplier or NOT_SAID, []).append(line)
    if not by_supplier:
        return None
    sections = [
        Section(supplier, partial(_ordered, plan, supplier, lines, paper.width - 2 * MARGIN, by or {}, today))
        for supplier, lines in by_supplier.items()
    ]
    foot = f"plan {mark}, {date_text(today)}" if mark else date_text(today)
    return build_pdf(sections, paper, f"To order {mark}".strip(), foot, said=decimals_of(plan.job).said)


def order_heads(units: Units, currency: str) -> Heads:
    """The columns of the list."""
    return (
        ("Gauge", Holds.TEXT), (f"Size {units.value}", Holds.WHOLE), ("Sheet", Holds.WHOLE),
        ("Sheets", Holds.NUMBER), (f"Weight {units.weight}", Holds.NUMBER),
        (f"Each {currency}".strip(), Holds.NUMBER), (f"Total {currency}".strip(), Holds.NUMBER),
        ("At once", Holds.NUMBER), ("First due", Holds.WHOLE), ("Order by", Holds.WHOLE),
    )  # fmt: skip


def _ordered(
    plan: Plan, supplier: str, lines: list[BuyLine], width: float, by: Mapping[str, datetime.date],
    today: datetime.date,
) -> list[Any]:
    units, currency = plan.job.settings.units, plan.job.settings.currency
    rows = [
        (
            line.gauge, bare_size(line.length, line.width, units), line.sheet, f"{line.count:,}",
            bare_weight(line.total_weight, units), money_text(line.price) if line.price else "",
            money_text(line.printed_price) if line.price else "", _at_once(plan, line), line.needed_by,
            order_by_text(by.get(line.sheet), today),
        )
        for line in lines
    ]  # fmt: skip
    sheets = counted(sum(line.count for line in lines), "sheet")
    weight = weight_text(fsum(line.total_weight for line in lines), units)
    total = money_text(fsum(line.printed_price for line in lines))
    return [
        text(f"To order: {supplier}", LARGE + 6, bold=True),
        Spacer(0, 6),
        text(f"{sheets}, {weight} to load, {total} {currency}", LARGE),
        Spacer(0, 8),
        list_table(order_heads(units, currency), rows, width),
        Spacer(0, 8),
        text("Prices are those of the page Stock and no offer; the supplier's own list decides.", BODY),
        text(f"{lift_said(plan.job.settings)} {LIFT_CAUTION} {DEFERENCE}", BODY),
    ]


def _at_once(plan: Plan, line: BuyLine) -> str:
    at_once = line_lift(plan, line).at_once
    return "" if at_once is None else f"{at_once:,}"


# The picking list: what to gather for each order, the earliest due first, and where it comes from.
#
# Orders run on over the pages, each under its own heading, which is repeated where an order runs over.

SPARE_SAID = "No order asks for these: put them on the shelf. The page Made lists them too."

KEPT_WHOLE = 8
"""Rows of an order that are never parted by the end of a page; longer ones run over."""


def picking_heads(units: Units, *, is_spare: bool = False) -> Heads:
    """The columns of the list; what is cut already or short stands with where it comes from."""
    counts = ("Spare",) if is_spare else ("Per item", "To pick")
    return (
        ("Got", Holds.WHOLE), ("Part", Holds.TEXT), ("Description", Holds.TEXT), ("Gauge", Holds.TEXT),
        (f"Size {units.value}", Holds.WHOLE), *((count, Holds.NUMBER) for count in counts),
        ("From", Holds.TEXT),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Pick:
    """One kind of part to gather for an order, or spare; ``size`` without its unit.

    ``pieces`` come from the plan, ``cut`` are cut already, ``finished`` lie among the finished parts that
    no order holds; ``short`` are none of these.
    """

    part: str
    description: str
    gauge: str
    size: str
    per_item: int
    pieces: int
    short: int
    layouts: tuple[tuple[str, int], ...]
    """Layouts in the order of cutting, with the pieces of each that are for this."""
    cut: int = 0
    finished: int = 0


@dataclass(frozen=True, slots=True)
class PickOrder:
    """One order line with all that is to be gathered for it."""

    order: str
    item: str
    due: str
    asked: int
    whole: int
    picks: tuple[Pick, ...]
    kit: str = ""
    """Name of the kit; empty where a single part is ordered."""


def pick_orders(plan: Plan, tags: Iterable[str] | None = None) -> tuple[PickOrder, ...]:
    """Open order lines, whole, the earliest due first: that is what has to leave the yard next.

    What is cut already is to be picked as well; an order is left out once all of it was cut before the plan.
    ``tags`` are the layouts in the order of cutting.
    """
    places = _places(plan, tags)
    gauges = gauge_names(plan.job)
    told = [
        line for line in progress(plan)
        if line.order.state is OrderState.OPEN and (line.to_cut or line.offered)
    ]  # fmt: skip
    found = [_pick_order(plan, line, places, gauges) for line in told]
    return tuple(sorted(found, key=lambda order: (order.due or NO_DATE, order.order, order.item)))


def spare_picks(plan: Plan, tags: Iterable[str] | None = None) -> tuple[Pick, ...]:
    """Pieces that no order asks for, by part."""
    places, gauges = _places(plan, tags), gauge_names(plan.job)
    return tuple(
        _pick(plan, name, pieces, places.get((NO_ORDER, name), {}), gauges)
        for name, pieces in sorted(allocate(plan).spare.items())
    )


def picking_list_pdf(
    plan: Plan, *, today: datetime.date, mark: str = "", days: Timetable | None = None
) -> bytes:
    """The picking list as a PDF: all orders, then spare pieces; ``days`` says when each layout is cut."""
    paper = paper_for(plan.job.settings.units)
    section = Section("picking list", partial(_picking_content, plan, paper.width - 2 * MARGIN, days))
    foot = f"plan {mark}, {date_text(today)}" if mark else date_text(today)
    return build_pdf([section], paper, f"Picking list {mark}".strip(), foot, said=decimals_of(plan.job).said)


NO_ORDER: OrderKey = ("", 0, "")
Places = Mapping[tuple[OrderKey, str], Mapping[str, int]]
"""By order line and part, the layouts that its pieces come from, and how many from each."""


def _places(plan: Plan, tags: Iterable[str] | None) -> Places:
    found: dict[tuple[OrderKey, str], dict[str, int]] = {}
    for (tag, part), shares in shares_of(plan, tags).items():
        for index, pieces in shares.items():
            key = NO_ORDER if index is None else plan.job.orders[index].key
            there = found.setdefault((key, part), {})
            there[tag] = there.get(tag, 0) + pieces
    return found


def _pick(
    plan: Plan, name: str, pieces: int, places: Mapping[str, int], gauges: Mapping[str, str]
) -> Pick:
    """Pieces of a part for an item that has one of them, none of them lacking."""
    part = plan.job.parts[name]
    extent = bare_size(*size(part.outline), plan.job.settings.units)
    return Pick(name, part.description, gauges[name], extent, 1, pieces, 0, tuple(places.items()))


def _pick_order(
    plan: Plan, line: LineProgress, places: Places, gauges: Mapping[str, str]
) -> PickOrder:
    order = line.order
    missing = dict(line.missing)
    picks = []
    for name, each in line.each.items():
        pieces = line.planned.get(name, 0)
        there = places.get((order.key, name), {}) if pieces else {}
        picks.append(replace(
            _pick(plan, name, pieces, there, gauges), per_item=each, short=missing.get(name, 0),
            cut=line.cut.get(name, 0), finished=line.offered.get(name, 0),
        ))  # fmt: skip
    kit = order.item if order.item in plan.job.kits else ""
    return PickOrder(order.name, order.item, order.due, order.quantity, line.whole, tuple(picks), kit)


def _picking_content(plan: Plan, width: float, days: Timetable | None) -> list[Any]:
    """The orders, all set in the same columns, and what is spare."""
    orders, units = pick_orders(plan, days), plan.job.settings.units
    blocks = [tuple(block) for _, block in groupby(orders, key=_block)]
    of_blocks = [[_row(pick) for order in block for pick in order.picks] for block in blocks]
    columns = columns_for(picking_heads(units), list(chain(*of_blocks)), width, SMALL)
    colours = part_colours(plan.job)
    names = {order.order for order in orders}
    said = f"{counted(len(names), 'order')}, the earliest due first."
    content: list[Any] = [text("Picking list", LARGE + 6, bold=True), text(said, BODY), Spacer(0, 8)]
    for block, rows in zip(blocks, of_blocks, strict=True):
        band = _heading(block, colours, columns)
        table = list_table(picking_heads(units), rows, width, columns=columns, band=band)
        content += [KeepTogether([table]) if len(rows) <= KEPT_WHOLE else table, Spacer(0, 12)]
    return content + _spare(plan, width, days)


def _spare(plan: Plan, width: float, days: Timetable | None) -> list[Any]:
    picks, listed = spare_picks(plan, days), picking_heads(plan.job.settings.units, is_spare=True)
    if not picks:
        return []
    rows = [(*row[:PER_ITEM], *row[PER_ITEM + 1 :]) for row in map(_row, picks)]
    title = [text("Spare", LARGE, bold=True), text(SPARE_SAID, BODY)]
    columns = columns_for(listed, rows, width, SMALL)
    return [list_table(listed, rows, width, columns=columns, band=_over("", None, title, "", columns))]


PER_ITEM = 5
"""The column that spare pieces have not."""


def _block(order: PickOrder) -> tuple[str, ...]:
    """What stands under one heading: a kit by itself, single parts of one order together."""
    return order.due, order.order, order.kit


def _heading(
    block: tuple[PickOrder, ...], colours: PartColours, columns: Columns
) -> tuple[list[Any], list[Any]]:
    """The row above an order's list: the kit's letter on its fill, what it is, and when it is due."""
    first, kit = block[0], block[0].kit
    kits = ", ".join(f"{order.item}, {counted(order.asked, 'kit')}" for order in block)
    what = kits if kit else "single part" if len(block) == 1 else "single parts"
    due = f"due {first.due}" if first.due else "no date"
    title = [heading(f"{first.order}:  {what}", _room_beside(due, columns), LARGE)]
    title += [text(_whole_said(order), BODY) for order in block if kit and order.whole < order.asked]
    letter, fill = (colours.letters[kit], colours.fills[kit]) if kit else ("", None)
    return _over(letter, fill, title, due, columns)


def _whole_said(order: PickOrder) -> str:
    source = "what is cut and what the plan cuts" if _is_begun(order) else "what the plan cuts"
    return f"{order.whole:,} of {counted(order.asked, 'kit')} can be completed from {source}."


AIR = 6.0
"""Points between a kit's letter and its order, and between that and its date at least."""


def _room_beside(due: str, columns: Columns) -> float:
    """Points for the title of an order beside its date."""
    return sum(columns.widths[1:]) - 2 * AIR - text_width(due, LARGE, bold=True) - HAIR


def _over(
    letter: str, fill: str | None, title: list[Any], due: str, columns: Columns
) -> tuple[list[Any], list[Any]]:
    """The cells of a heading and how they look."""
    room = _room_beside(due, columns)
    line = Table(
        [[title, text(due, LARGE, bold=True, right=True)]], [room, sum(columns.widths[1:]) - AIR - room],
        style=[("VALIGN", (0, 0), (-1, -1), "TOP"), *tight(0, 0)],
    )  # fmt: skip
    looks: list[Any] = [
        ("SPAN", (1, 0), (-1, 0)), ("VALIGN", (0, 0), (-1, 0), "TOP"), ("BOTTOMPADDING", (0, 0), (-1, 0), 4),
        ("LEFTPADDING", (0, 0), (0, 0), 0), ("RIGHTPADDING", (0, 0), (0, 0), 0),
        ("LEFTPADDING", (1, 0), (1, 0), AIR), ("RIGHTPADDING", (1, 0), (1, 0), 0),
    ]  # fmt: skip
    if fill:
        looks += [("BACKGROUND", (0, 0), (0, 0), fill), ("BOX", (0, 0), (0, 0), 0.8, palette.EDGE)]
    empty = [""] * (len(columns.widths) - 2)
    return [text(letter, LARGE, bold=True, middle=True), line, *empty], looks


def _is_begun(order: PickOrder) -> bool:
    return any(pick.cut for pick in order.picks)


def _from(layouts: tuple[tuple[str, int], ...]) -> str:
    """``L3``, or with the pieces from each: ``16 on L3, 2 on L7``."""
    if len(layouts) == 1:
        return layouts[0][0]
    return ", ".join(f"{pieces:,} on {tag}" for tag, pieces in layouts)


def _row(pick: Pick) -> tuple[str, ...]:
    where = [f"{pick.finished:,} finished parts"] if pick.finished else []
    where += [f"{pick.cut:,} cut already"] if pick.cut else []
    where += [_from(pick.layouts)] if pick.layouts else []
    where += [f"{pick.short:,} short"] if pick.short else []
    pieces = pick.cut + pick.finished + pick.pieces
    return (
        TICK if pieces else "", pick.part, pick.description, pick.gauge, pick.size, f"{pick.per_item:,}",
        f"{pieces:,}", "; ".join(where),
    )  # fmt: skip
