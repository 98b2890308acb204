"""The page `Made`: what each order line asked for, what of it is cut, and what the plan makes of the rest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from sheetplan.model import Job, OrderState, Plan
from sheetplan.model.job import OrderKey
from sheetplan.money.cents import cent, printed, printed_by
from sheetplan.money.figures import PlanFigures
from sheetplan.money.order_shares import (
    CostShare,
    CostShares,
    LineProgress,
    allocate,
    cost_shares,
    kit_costs,
    progress,
    together,
)
from sheetplan.pages.values import (
    PART_TABLE,
    Cell,
    Chart,
    ChartKind,
    Column,
    Kind,
    ResultPage,
    ResultTable,
    without_empty,
)
from sheetplan.pages.wording import money_text
from sheetplan.shapes import area
from sheetplan.trade.sentences import counted
from sheetplan.trade.units import weight_kg

LINES = (
    Column("Order", width=12),
    Column("Item", width=20),
    Column("Due", width=12),
    Column("Must", width=9),
    Column("Asked", Kind.COUNT, 8),
    Column("Made", Kind.COUNT, 8),
    Column("Pieces", Kind.COUNT, 8),
    Column("Short", Kind.COUNT, 8),
    Column("Cut", Kind.COUNT, 7),
    Column("Cut good", Kind.COUNT, 8),
    Column("Bad", Kind.COUNT, 6),
    Column("Still to cut", Kind.COUNT, 12),
    Column("From finished", Kind.COUNT, 8),
    Column("Planned", Kind.COUNT, 8),
    Column("Finished", width=11),
    Column("Cost", Kind.MONEY, 10),
    Column("Note", width=40, wrap=True),
)
KITS = (
    Column("Kit", width=12),
    Column("Parts left out", width=20, wrap=True),
    Column("Metal", Kind.MONEY, 12),
    Column("Cutting", Kind.MONEY, 10),
    Column("Cost of one", Kind.MONEY, 11),
)
MAY_GO = ("Cut", "Short", "Cut good", "Bad", "From finished", "Finished", "Note")
"""Columns that are hidden where they are empty in all rows; no other table of the page is so wide."""

ORDERS_SAID = (
    "By order line. Made: whole ones when this plan is cut as well; Cut: those of which every part is cut. "
    "Pieces, Cut good to Planned: parts are counted; Finished shows how much of them is cut"
)
SPARES_SAID = "Made beyond what the orders ask for"
NO_SPARES = f"{SPARES_SAID}: nothing"
UNCUT_SAID = "By order line. Made: whole ones when this plan is cut. Pieces, Still to cut, Planned: parts"
KIT_CHART = Chart("Cost of a kit", ChartKind.STACKED_BARS, "Kit", ("Metal", "Cutting"), "Cost of one")
PARTS = (
    Column("Part", width=12),
    Column("Gauge", width=20),
    Column("Pieces", Kind.COUNT, 12),
    Column("Metal each", Kind.MONEY, 10),
    Column("Cutting each", Kind.MONEY, 13),
    Column("Cost each", Kind.MONEY, 9),
    Column("Cost of all", Kind.MONEY, 9),
    Column("Weight each", Kind.WEIGHT, 9),
)
SPARES = (Column("Part", width=12), Column("Gauge", width=20), Column("Pieces", Kind.COUNT, 12))

MUST = "must"
IF_IT_FITS = "if it fits"

COST_SAID = (
    "Cost: every sheet is charged to the parts on it by their area, waste shared alike and the worth of the "
    "remnant kept taken off; each part pays for its own cutting."
)

SINCE_SAID = (
    "As it was when this plan was made: what is cut after it stands on Layouts and Cut log, and comes in "
    "here with the next plan."
)

PARTS_NAMED = 6
"""Missing parts that a note names before it only counts the rest."""


def made_page(plan: Plan | None, figures: PlanFigures | None = None) -> ResultPage:
    """What is made of every order line, and what a kit costs; without a plan, the same tables empty."""
    if plan is None or figures is None:
        return _page((), (), (), (), ())
    shared = allocate(plan)
    costs = cost_shares(plan, figures, shared)
    gauges = {need.part: gp.group.label for gp in plan.groups for need in gp.group.needs}
    told = progress(plan, shared)
    pieces = cent(costs.total - costs.kept)
    sums = printed([together(costs.lines).total, costs.spare.total], pieces)
    charged = printed_by(_costs(plan.job, costs), sums[0])
    rows = tuple(_row(line, charged.get(line.order.key), gauges) for line in told)
    ordered = {line.order.item for line in told}
    kits = tuple(
        (kit, ", ".join(cost.unknown) or None, *printed([cost.metal, cost.cutting]), cent(cost.each))
        for kit, cost in kit_costs(plan.job, costs.parts).items()
        if kit in ordered
    )
    spare = tuple((part, gauges.get(part), pieces) for part, pieces in sorted(shared.spare.items()))
    weights = _weights(plan)
    totals = {name: cost.total for name, cost in sorted(costs.parts.items())}
    whole = printed_by(totals, pieces)
    parts = tuple(
        (*_part_row(name, costs.parts[name], gauges), amount, weights[name]) for name, amount in whole.items()
    )
    page = _page(tuple(_lines(told)), rows, kits, parts, spare)
    if not any(line.cut for line in told):
        page = replace(page, tables=(replace(page.tables[0], caption=UNCUT_SAID), *page.tables[1:]))
    # Of the tables on the page only the first is so wide that its columns stand alone.
    tables = (without_empty(page.tables[0], MAY_GO), *page.tables[1:])
    notes = (*page.notes, _sum_said(sums, cent(costs.total), plan.job)) if rows else ()
    return replace(page, tables=tables, notes=notes)


def _page(
    lines: tuple[str, ...],
    rows: tuple[tuple[Cell, ...], ...],
    kits: tuple[tuple[Cell, ...], ...],
    parts: tuple[tuple[Cell, ...], ...],
    spare: tuple[tuple[Cell, ...], ...],
) -> ResultPage:
    tables = (
        ResultTable("MadeList", LINES, rows, ORDERS_SAID),
        ResultTable(
            "KitCosts", KITS, kits, "What one kit costs at this plan's cost of its parts", chart=KIT_CHART
        ),
        ResultTable("SpareList", SPARES, spare, SPARES_SAID if spare or not rows else NO_SPARES),
        ResultTable(PART_TABLE, PARTS, parts, "What one piece of each part costs in this plan"),
    )
    return ResultPage("Made", "What is made", lines, tables, notes=(COST_SAID, SINCE_SAID) if rows else ())


def _lines(told: Sequence[LineProgress]) -> Iterator[str]:
    """What is cut, then a sentence on the musts, one on the rest, and one on what is not planned."""
    recorded = any(line.cut for line in told)
    if recorded:
        counts = [line for line in told if line.order.state is not OrderState.CANCELLED]
        cut = sum(line.whole_cut == line.order.quantity for line in counts)
        pieces, good = sum(line.pieces for line in counts), sum(sum(line.cut.values()) for line in counts)
        lines = counted(len(counts), "line")
        yield f"Cut so far: {cut:,} of {lines}, {good:,} of {counted(pieces, 'piece')}."
    for must, name in ((True, "Must be made"), (False, "Made if it fits")):
        results = [line for line in told if line.order.must is must and line.order.state is OrderState.OPEN]
        if not results:
            continue
        whole = sum(not line.missing for line in results)
        with_plan = " once this plan is cut" if recorded else ""
        text = f"{name}: {whole:,} of {counted(len(results), 'line')} complete{with_plan}"
        yield text + ("." if whole == len(results) else "; the others are short, see the column Short.")
    closed = Counter(str(line.order.state) for line in told if line.order.state is not OrderState.OPEN)
    if closed:
        yield f"Not planned: {', '.join(f'{count} {state}' for state, count in closed.items())}."


def _weights(plan: Plan) -> dict[str, float]:
    """The net weight of each part that is planned, holes taken off, kg."""
    return {
        name: weight_kg(area(plan.job.parts[name].outline), gp.group.thickness.mm, gp.group.material.density)
        for gp in plan.groups for name in {p.part for layout in gp.layouts for p in layout.placements}
    }  # fmt: skip


def _part_row(name: str, cost: CostShare, gauges: Mapping[str, str]) -> tuple[Cell, ...]:
    one = cost.of(1)
    each = printed([one.metal, one.cutting])
    return name, gauges.get(name), cost.pieces, *each, cent(one.total)


def _sum_said(sums: Sequence[float], whole: float, job: Job) -> str:
    """How the plan's whole cost comes of the order lines, in amounts as they are printed."""
    lines, spare = sums
    kept = cent(whole - lines - spare)
    return (
        f"Together in {job.settings.currency}: order lines {money_text(lines)}, pieces beyond the orders "
        f"{money_text(spare)}, remnants kept {money_text(kept)}; the plan costs "
        f"{money_text(whole)}."
    )


def _costs(job: Job, costs: CostShares) -> dict[OrderKey, float]:
    """What the plan's pieces cost by the order that they are for, whole kits and loose parts together."""
    found: dict[OrderKey, float] = {}
    for order, cost in zip(job.orders, costs.lines, strict=True):
        found[order.key] = found.get(order.key, 0.0) + cost.total
    return found


def _row(line: LineProgress, cost: float | None, gauges: Mapping[str, str]) -> tuple[Cell, ...]:
    order, is_open = line.order, line.order.state is OrderState.OPEN
    good = sum(line.cut.values())
    return (
        order.name,
        order.item,
        order.due or None,
        (MUST if order.must else IF_IT_FITS) if is_open else str(order.state),
        order.quantity,
        line.whole,
        line.pieces,
        (order.quantity - line.whole if is_open else 0) or None,
        line.whole_cut or None,
        good or None,
        sum(line.bad.values()) or None,
        line.to_cut or None,
        sum(line.offered.values()) or None,
        sum(line.planned.values()) or None,
        bar(good / line.pieces) if good and line.pieces else None,
        cost,
        _note(line, gauges) or None,
    )


BAR = 10
"""Squares of a bar."""


def bar(share: float) -> str:
    """A share as squares and dots; full only where nothing is missing, empty only where nothing is there.

    >>> bar(0.0), bar(0.26), bar(0.999)
    ('··········', '■■■·······', '■■■■■■■■■·')
    """
    filled = min(max(round(share * BAR), share > 0.0), BAR - (share < 1.0))
    return "■" * filled + "·" * (BAR - filled)


def _note(line: LineProgress, gauges: Mapping[str, str]) -> str:
    """Which parts a short line waits for, with their gauge, since a kit may span several."""
    if not line.missing:
        return ""
    named = [
        f"{pieces} x {part} ({gauges[part]})" if part in gauges else f"{pieces} x {part}"
        for part, pieces in line.missing[:PARTS_NAMED]
    ]
    more = len(line.missing) - PARTS_NAMED
    if more > 0:
        named.append(counted(more, "more part"))
    return "Still needs " + ", ".join(named)
