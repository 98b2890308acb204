"""The picking list: what to gather for each kit ordered, then single parts, and where it comes from."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from reportlab.platypus import Spacer

from sheetplan.model import OrderState, Plan
from sheetplan.money.allocation import allocate
from sheetplan.money.progress import LineProgress, progress
from sheetplan.pages.decimals import decimals_of
from sheetplan.pages.paper import (
    BODY,
    LARGE,
    MARGIN,
    TICK,
    Heads,
    Paper,
    Section,
    build_pdf,
    list_table,
    paper_for,
    text,
)  # fmt: skip
from sheetplan.pages.wording import counted, date_text, size_text
from sheetplan.shapes import size

_START: Heads = (
    ("Got", 0.05, False), ("Part", 0.13, False), ("Description", 0.16, False), ("Gauge", 0.17, False),
    ("Size", 0.13, False),
)  # fmt: skip
_END: Heads = (
    ("To pick", 0.07, True), ("Cut", 0.05, True), ("Short", 0.06, True), ("From", 0.11, False),
)  # fmt: skip
KIT_HEADS: Heads = (*_START, ("Per kit", 0.08, True), *_END)
SINGLE_HEADS: Heads = (*_START, ("Order", 0.11, False), ("Due", 0.12, False), *_END)
SPARE_HEADS: Heads = (*_START, ("Spare", 0.07, True), ("From layouts", 0.11, False))

SPARE_SAID = "No order asks for these: put them on the shelf. The page Made lists them too."


@dataclass(frozen=True, slots=True)
class Pick:
    """One kind of part to gather for an order, or spare.

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


def pick_orders(plan: Plan) -> tuple[PickOrder, ...]:
    """Open order lines, whole, by item, then by due date, as a person walks the floor for them.

    What is cut already is to be picked as well; an order is left out once all of it was cut before the plan.
    """
    places = _places(plan)
    gauges = _gauges(plan)
    told = [
        line for line in progress(plan)
        if line.order.state is OrderState.OPEN and (line.to_cut or line.offered)
    ]  # fmt: skip
    found = [_pick_order(plan, line, places, gauges) for line in told]
    return tuple(sorted(found, key=lambda order: (order.item, order.due or "9999", order.order)))


def spare_picks(plan: Plan) -> tuple[Pick, ...]:
    """Pieces that no order asks for, by part."""
    places, gauges = _places(plan), _gauges(plan)
    return tuple(
        _pick(plan, name, pieces, places, gauges) for name, pieces in sorted(allocate(plan).spare.items())
    )


def picking_list_pdf(
    plan: Plan, *, today: datetime.date, mark: str = "", paper: Paper | None = None
) -> bytes:
    """The picking list as a PDF: a section for each kit, one for single parts, one for spare pieces."""
    paper = paper or paper_for(plan.job.settings.units)
    width = paper.width - 2 * MARGIN
    by_kit: dict[str, list[PickOrder]] = {}
    single: list[PickOrder] = []
    for order in pick_orders(plan):
        if order.item in plan.job.kits:
            by_kit.setdefault(order.item, []).append(order)
        else:
            single.append(order)
    sections = [Section(kit, partial(_kit_content, kit, orders, width)) for kit, orders in by_kit.items()]
    if single:
        sections.append(Section("single parts", partial(_single_content, single, width)))
    spare = spare_picks(plan)
    if spare:
        sections.append(Section("spare", partial(_spare_content, spare, width)))
    foot = f"plan {mark}, {date_text(today)}" if mark else date_text(today)
    return build_pdf(sections, paper, f"Picking list {mark}".strip(), foot, said=decimals_of(plan.job).said)


def _places(plan: Plan) -> Mapping[str, tuple[str, ...]]:
    """Layouts on which each part lies, in the order of the plan."""
    found: dict[str, dict[str, None]] = {}
    for group_plan in plan.groups:
        for layout in group_plan.layouts:
            for placement in layout.placements:
                found.setdefault(placement.part, {})[layout.tag] = None
    return {part: tuple(tags) for part, tags in found.items()}


def _gauges(plan: Plan) -> Mapping[str, str]:
    return {need.part: gp.group.label for gp in plan.groups for need in gp.group.needs}


def _pick(
    plan: Plan, name: str, pieces: int, places: Mapping[str, tuple[str, ...]], gauges: Mapping[str, str],
    per_item: int = 1, short: int = 0,
) -> Pick:  # fmt: skip
    part = plan.job.parts[name]
    extent = size_text(*size(part.outline), plan.job.settings.units)
    return Pick(
        name, part.description, gauges.get(name, ""), extent, per_item, pieces, short, places.get(name, ())
    )


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
    return PickOrder(order.name, order.item, order.due, order.quantity, line.whole, tuple(picks))


def _kit_content(kit: str, orders: list[PickOrder], width: float) -> list[Any]:
    content: list[Any] = [text(f"Pick: {kit}", LARGE + 6, bold=True), Spacer(0, 8)]
    for order in orders:
        due = f", due {order.due}" if order.due else ""
        content.append(text(f"Order {order.order}: {counted(order.asked, 'kit')}{due}", LARGE, bold=True))
        if order.whole < order.asked:
            what = "what is cut and what the plan cuts" if _is_begun(order) else "what the plan cuts"
            said = f"{order.whole:,} of {counted(order.asked, 'kit')} can be completed from {what}."
            content.append(text(said, BODY))
        cells = [_cells(pick, f"{pick.per_item:,}") for pick in order.picks]
        content += [Spacer(0, 3), list_table(KIT_HEADS, cells, width), Spacer(0, 14)]
    return content


def _single_content(orders: list[PickOrder], width: float) -> list[Any]:
    cells = [_cells(pick, order.order, order.due) for order in orders for pick in order.picks]
    heading = text("Pick: single parts", LARGE + 6, bold=True)
    return [heading, Spacer(0, 8), list_table(SINGLE_HEADS, cells, width)]


def _spare_content(picks: tuple[Pick, ...], width: float) -> list[Any]:
    cells = [(*_named(pick), f"{pick.pieces:,}", ", ".join(pick.layouts)) for pick in picks]
    heading = [text("Spare", LARGE + 6, bold=True), Spacer(0, 4), text(SPARE_SAID, BODY), Spacer(0, 6)]
    return [*heading, list_table(SPARE_HEADS, cells, width)]


def _is_begun(order: PickOrder) -> bool:
    return any(pick.cut for pick in order.picks)


def _cells(pick: Pick, *between: str) -> tuple[str, ...]:
    return (
        *_named(pick), *between, f"{pick.cut + pick.finished + pick.pieces:,}",
        f"{pick.cut:,}" if pick.cut else "", f"{pick.short:,}" if pick.short else "",
        ", ".join([*([f"{pick.finished:,} finished parts"] if pick.finished else []), *pick.layouts]),
    )  # fmt: skip


def _named(pick: Pick) -> tuple[str, ...]:
    return TICK, pick.part, pick.description, pick.gauge, pick.size
