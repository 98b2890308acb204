"""The page `Made`: what each order line asked for and gets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from sheetplan.model import Job, Plan
from sheetplan.money.allocation import Allocation, LineResult, allocate
from sheetplan.money.cost_shares import CostShare, CostShares, cost_shares, kit_costs, together
from sheetplan.money.figures import PlanFigures
from sheetplan.pages.values import Cell, Chart, ChartKind, Column, Kind, ResultPage, ResultTable
from sheetplan.pages.wording import counted, money_text

LINES = (
    Column("Order", width=14),
    Column("Item", width=26),
    Column("Due", width=12),
    Column("Must", width=10),
    Column("Asked", Kind.COUNT, 9),
    Column("Made", Kind.COUNT, 9),
    Column("Short", Kind.COUNT, 9),
    Column("Cost", Kind.MONEY, 11),
    Column("Note", width=54, wrap=True),
)
KITS = (
    Column("Kit", width=14),
    Column("Parts left out", width=26, wrap=True),
    Column("Metal", Kind.MONEY, 12),
    Column("Cutting", Kind.MONEY, 10),
    Column("Cost of one", Kind.MONEY, 9),
)
KIT_CHART = Chart("Cost of a kit", ChartKind.STACKED_BARS, "Kit", ("Metal", "Cutting"), "Cost of one")
PARTS = (
    Column("Part", width=14),
    Column("Gauge", width=26),
    Column("Pieces", Kind.COUNT, 12),
    Column("Metal each", Kind.MONEY, 10),
    Column("Cutting each", Kind.MONEY, 9),
    Column("Cost each", Kind.MONEY, 9),
    Column("Cost of all", Kind.MONEY, 9),
)
SPARES = (Column("Part", width=14), Column("Gauge", width=26), Column("Pieces", Kind.COUNT, 12))

MUST = "must"
IF_IT_FITS = "if it fits"

COST_SAID = (
    "Cost: every sheet is charged to the parts on it by their area, waste shared alike and the worth of the "
    "remnant kept taken off; each part pays for its own cutting."
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
    rows = tuple(
        _row(plan.job, line, cost, gauges) for line, cost in zip(shared.lines, costs.lines, strict=True)
    )
    ordered = {order.item for order in plan.job.orders}
    kits = tuple(
        (kit, ", ".join(cost.unknown) or None, cost.metal, cost.cutting, cost.each)
        for kit, cost in kit_costs(plan.job, costs.parts).items()
        if kit in ordered
    )
    spare = tuple((part, gauges.get(part), pieces) for part, pieces in sorted(shared.spare.items()))
    parts = tuple(_part_row(name, cost, gauges) for name, cost in sorted(costs.parts.items()))
    page = _page(tuple(_lines(plan.job, shared)), rows, kits, parts, spare)
    return replace(page, notes=(*page.notes, _sum_said(costs, plan.job)) if rows else ())


def _page(
    lines: tuple[str, ...],
    rows: tuple[tuple[Cell, ...], ...],
    kits: tuple[tuple[Cell, ...], ...],
    parts: tuple[tuple[Cell, ...], ...],
    spare: tuple[tuple[Cell, ...], ...],
) -> ResultPage:
    tables = (
        ResultTable("MadeList", LINES, rows, "By order line. A kit counts when all its parts are made"),
        ResultTable(
            "KitCosts", KITS, kits, "What one kit costs at this plan's cost of its parts", chart=KIT_CHART
        ),
        ResultTable("SpareList", SPARES, spare, "Made beyond what the orders ask for"),
        ResultTable("PartCosts", PARTS, parts, "What one piece of each part costs in this plan"),
    )
    return ResultPage("Made", "What is made", lines, tables, notes=(COST_SAID,) if rows else ())


def _lines(job: Job, shared: Allocation) -> Iterator[str]:
    """One sentence on the musts, one on the rest."""
    for must, name in ((True, "Must be made"), (False, "Made if it fits")):
        results = [line for line in shared.lines if job.orders[line.order].must is must]
        if not results:
            continue
        whole = sum(line.short == 0 for line in results)
        text = f"{name}: {whole:,} of {counted(len(results), 'line')} complete"
        yield text + ("." if whole == len(results) else "; the others are short, see the column Short.")


def _part_row(name: str, cost: CostShare, gauges: Mapping[str, str]) -> tuple[Cell, ...]:
    one = cost.of(1)
    return name, gauges.get(name), cost.pieces, one.metal, one.cutting, one.total, cost.total


def _sum_said(costs: CostShares, job: Job) -> str:
    """How the plan's whole cost comes of the order lines."""
    lines, spare = together(costs.lines).total, costs.spare.total
    return (
        f"Together in {job.settings.currency}: order lines {money_text(lines)}, pieces beyond the orders "
        f"{money_text(spare)}, remnants kept {money_text(costs.kept)}; the plan costs "
        f"{money_text(costs.total)}."
    )


def _row(job: Job, line: LineResult, cost: CostShare, gauges: Mapping[str, str]) -> tuple[Cell, ...]:
    order = job.orders[line.order]
    return (
        order.name,
        order.item,
        order.due or None,
        MUST if order.must else IF_IT_FITS,
        line.asked,
        line.made,
        line.short or None,
        cost.total,
        _note(line, gauges) or None,
    )


def _note(line: LineResult, gauges: Mapping[str, str]) -> str:
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
