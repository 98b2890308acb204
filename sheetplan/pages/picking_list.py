"""The picking list: what to gather for each order, the earliest due first, and where it comes from.

Orders run on over the pages, each under its own heading, which is repeated where an order runs over.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain, groupby
from typing import Any

from reportlab.platypus import KeepTogether, Spacer

from sheetplan.model import OrderState, Plan
from sheetplan.money.allocation import NO_DATE, allocate
from sheetplan.money.progress import LineProgress, progress
from sheetplan.pages import palette
from sheetplan.pages.decimals import decimals_of
from sheetplan.pages.line_breaks import Heads, Holds, columns_for
from sheetplan.pages.palette import PartColours, part_colours
from sheetplan.pages.paper import (
    BODY,
    LARGE,
    MARGIN,
    SMALL,
    TICK,
    Paper,
    Section,
    build_pdf,
    list_table,
    paper_for,
    text,
)  # fmt: skip
from sheetplan.pages.wording import bare_size, counted, date_text
from sheetplan.planning.grouping import gauge_names
from sheetplan.shapes import size
from sheetplan.trade.units import Units

SPARE_SAID = "No order asks for these: put them on the shelf. The page Made lists them too."

KEPT_WHOLE = 8
"""Rows of an order that are never parted by the end of a page; longer ones run over."""


def heads(units: Units) -> Heads:
    """The columns of the list; what is cut already or short stands with where it comes from."""
    return (
        ("Got", Holds.WHOLE), ("Part", Holds.TEXT), ("Description", Holds.TEXT), ("Gauge", Holds.TEXT),
        (f"Size {units.value}", Holds.WHOLE), ("Per item", Holds.NUMBER), ("To pick", Holds.NUMBER),
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
    layouts: tuple[str, ...]
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


def pick_orders(plan: Plan) -> tuple[PickOrder, ...]:
    """Open order lines, whole, the earliest due first: that is what has to leave the yard next.

    What is cut already is to be picked as well; an order is left out once all of it was cut before the plan.
    """
    places = _places(plan)
    gauges = gauge_names(plan.job)
    told = [
        line for line in progress(plan)
        if line.order.state is OrderState.OPEN and (line.to_cut or line.offered)
    ]  # fmt: skip
    found = [_pick_order(plan, line, places, gauges) for line in told]
    return tuple(sorted(found, key=lambda order: (order.due or NO_DATE, order.order, order.item)))


def spare_picks(plan: Plan) -> tuple[Pick, ...]:
    """Pieces that no order asks for, by part."""
    places, gauges = _places(plan), gauge_names(plan.job)
    return tuple(
        _pick(plan, name, pieces, places, gauges) for name, pieces in sorted(allocate(plan).spare.items())
    )


def picking_list_pdf(
    plan: Plan, *, today: datetime.date, mark: str = "", paper: Paper | None = None
) -> bytes:
    """The picking list as a PDF: all orders, then spare pieces."""
    paper = paper or paper_for(plan.job.settings.units)
    section = Section("picking list", partial(_content, plan, paper.width - 2 * MARGIN))
    foot = f"plan {mark}, {date_text(today)}" if mark else date_text(today)
    return build_pdf([section], paper, f"Picking list {mark}".strip(), foot, said=decimals_of(plan.job).said)


def _places(plan: Plan) -> Mapping[str, tuple[str, ...]]:
    """Layouts on which each part lies, in the order of the plan."""
    found: dict[str, dict[str, None]] = {}
    for group_plan in plan.groups:
        for layout in group_plan.layouts:
            for placement in layout.placements:
                found.setdefault(placement.part, {})[layout.tag] = None
    return {part: tuple(tags) for part, tags in found.items()}


def _pick(
    plan: Plan, name: str, pieces: int, places: Mapping[str, tuple[str, ...]], gauges: Mapping[str, str],
    per_item: int = 1, short: int = 0,
) -> Pick:  # fmt: skip
    part = plan.job.parts[name]
    extent = bare_size(*size(part.outline), plan.job.settings.units)
    layouts = places.get(name, ())
    return Pick(name, part.description, gauges[name], extent, per_item, pieces, short, layouts)


def _pick_order(
    plan: Plan, line: LineProgress, places: Mapping[str, tuple[str, ...]], gauges: Mapping[str, str]
) -> PickOrder:
    order = line.order
    missing = dict(line.missing)
    picks = []
    for name, each in line.each.items():
        pieces, short = line.planned.get(name, 0), missing.get(name, 0)
        pick = _pick(plan, name, pieces, places if pieces else {}, gauges, each, short)
        picks.append(replace(pick, cut=line.cut.get(name, 0), finished=line.offered.get(name, 0)))
    kit = order.item if order.item in plan.job.kits else ""
    return PickOrder(order.name, order.item, order.due, order.quantity, line.whole, tuple(picks), kit)


def _content(plan: Plan, width: float) -> list[Any]:
    """The orders and what is spare, all set in the same columns."""
    orders, spare, units = pick_orders(plan), spare_picks(plan), plan.job.settings.units
    blocks = [tuple(block) for _, block in groupby(orders, key=_block)]
    of_blocks = [[_row(pick) for order in block for pick in order.picks] for block in blocks]
    of_spare = [_row(pick) for pick in spare]
    listed = heads(units)
    columns = columns_for(listed, [*chain(*of_blocks), *of_spare], width, SMALL)
    colours = part_colours(plan.job)
    names = {order.order for order in orders}
    said = f"{counted(len(names), 'order')}, the earliest due first."
    content: list[Any] = [text("Picking list", LARGE + 6, bold=True), text(said, BODY), Spacer(0, 8)]
    for block, rows in zip(blocks, of_blocks, strict=True):
        over, looks = _heading(block, colours, len(listed))
        table = list_table(listed, rows, width, columns=columns, over=over, looks=looks)
        content += [KeepTogether([table]) if len(rows) <= KEPT_WHOLE else table, Spacer(0, 12)]
    if spare:
        title = [text("Spare", LARGE, bold=True), text(SPARE_SAID, BODY)]
        over, looks = _over("", None, title, "", len(listed))
        content.append(list_table(listed, of_spare, width, columns=columns, over=over, looks=looks))
    return content


def _block(order: PickOrder) -> tuple[str, ...]:
    """What stands under one heading: a kit by itself, single parts of one order together."""
    return order.due, order.order, order.kit


def _heading(
    block: tuple[PickOrder, ...], colours: PartColours, columns: int
) -> tuple[list[Any], list[Any]]:
    """The row above an order's list: the kit's letter on its fill, what it is, and when it is due."""
    first, kit = block[0], block[0].kit
    kits = ", ".join(f"{order.item}, {counted(order.asked, 'kit')}" for order in block)
    what = kits if kit else "single part" if len(block) == 1 else "single parts"
    title = [text(f"{first.order}:  {what}", LARGE, bold=True)]
    title += [text(_whole_said(order), BODY) for order in block if kit and order.whole < order.asked]
    letter, fill = (colours.letters[kit], colours.fills[kit]) if kit else ("", None)
    return _over(letter, fill, title, f"due {first.due}" if first.due else "no date", columns)


def _whole_said(order: PickOrder) -> str:
    source = "what is cut and what the plan cuts" if _is_begun(order) else "what the plan cuts"
    return f"{order.whole:,} of {counted(order.asked, 'kit')} can be completed from {source}."


TITLE_ENDS, DUE_STARTS = 4, 5
"""Columns over which the title of an order ends, and what it is due for starts."""


def _over(
    letter: str, fill: str | None, title: list[Any], due: str, columns: int
) -> tuple[list[Any], list[Any]]:
    """The cells of a heading and how they look."""
    cells = [
        text(letter, LARGE, bold=True, middle=True), title, *[""] * (DUE_STARTS - 2),
        text(due, LARGE, bold=True, right=True), *[""] * (columns - DUE_STARTS - 1),
    ]  # fmt: skip
    looks: list[Any] = [
        ("SPAN", (1, 0), (TITLE_ENDS, 0)), ("SPAN", (DUE_STARTS, 0), (-1, 0)),
        ("VALIGN", (0, 0), (-1, 0), "TOP"),
        ("LEFTPADDING", (0, 0), (0, 0), 0), ("RIGHTPADDING", (0, 0), (0, 0), 0),
        ("BOTTOMPADDING", (0, 0), (-1, 0), 4), ("LEFTPADDING", (1, 0), (1, 0), 6),
    ]  # fmt: skip
    if fill:
        looks += [("BACKGROUND", (0, 0), (0, 0), fill), ("BOX", (0, 0), (0, 0), 0.8, palette.EDGE)]
    return cells, looks


def _is_begun(order: PickOrder) -> bool:
    return any(pick.cut for pick in order.picks)


def _row(pick: Pick) -> tuple[str, ...]:
    where = [f"{pick.finished:,} finished parts"] if pick.finished else []
    where += [f"{pick.cut:,} cut already"] if pick.cut else []
    where += [", ".join(pick.layouts)] if pick.layouts else []
    where += [f"{pick.short:,} short"] if pick.short else []
    pieces = pick.cut + pick.finished + pick.pieces
    return (
        TICK if pieces else "", pick.part, pick.description, pick.gauge, pick.size, f"{pick.per_item:,}",
        f"{pieces:,}", "; ".join(where),
    )  # fmt: skip
