"""The page `Plan`: what an owner asks first in large figures, then the whole answer by gauge."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from sheetplan.model import GroupPlan, Plan, Remnant
from sheetplan.model.plan import against_cheapest
from sheetplan.money.comparison import MOST_PIECES, compare
from sheetplan.money.cutting_plan import CuttingPlan
from sheetplan.money.figures import Figures, GroupFigures, Lift, PlanFigures, lifts
from sheetplan.pages.book.cutting import warnings
from sheetplan.pages.book.problems import problem_summary
from sheetplan.pages.values import Cell, Chart, ChartKind, Column, Headline, Kind, ResultPage, ResultTable
from sheetplan.pages.wording import (
    date_text,
    minutes_text,
    moves_said,
    sheet_text,
    sheets_text,
    size_text,
    weight_text,
)
from sheetplan.trade.sentences import counted

GAUGES = (
    Column("Gauge", width=21),
    Column("Sheets", width=20, wrap=True),
    Column("On hand", Kind.COUNT, 7),
    Column("To buy", Kind.COUNT, 7),
    Column("Remnants used", Kind.COUNT, 10),
    Column("Yield", Kind.SHARE, 7),
    Column("Sheet weight", Kind.WEIGHT, 11),
    Column("Part weight", Kind.WEIGHT, 10),
    Column("Waste weight", Kind.WEIGHT, 9),
    Column("Kept weight", Kind.WEIGHT, 9),
    Column("Metal cost", Kind.MONEY, 10),
    Column("Cutting cost", Kind.MONEY, 9),
    Column("Cut length", Kind.TRAVEL, 9),
    Column("Pierces", Kind.COUNT, 8),
    Column("Cutting time", Kind.HOURS, 8),
    Column("Against the cheapest", width=14, wrap=True),
)
SHEETS = (
    Column("Gauge", width=21),
    Column("Size", width=20),
    Column("Sheets", Kind.COUNT, 8),
    Column("On hand", Kind.COUNT, 7),
    Column("To buy", Kind.COUNT, 10),
    Column("Weight each", Kind.WEIGHT, 10),
    Column("At once", Kind.COUNT, 9),
    Column("Lifts", Kind.COUNT, 9),
)
SAVINGS = (
    Column("Gauge", width=21),
    Column("Fit no full sheet", width=20, wrap=True),
    Column("Box sheets", Kind.COUNT, 8),
    Column("Box cost", Kind.MONEY, 8),
    Column("Cost saved", Kind.MONEY, 10),
    Column("Weight saved", Kind.WEIGHT, 10),
    Column("No-loss cost", Kind.MONEY, 10),
)

TITLE = "The plan"
NO_PLAN = "No plan yet. Fill in the pages as Start says, then make a plan."

YIELD_SAID = (
    "Yield: weight of the parts over weight of the metal used up, which is the sheets less the remnants kept."
)
SHEETS_CAPTION = "Sheets by size"
SAVINGS_CAPTION = "Beside plain boxes"
BOXES_SAID = (
    "Plain boxes: the box round every piece, packed by a plain rectangle packer on sheets of one size, the "
    "cheapest for all of them, all bought; empty where no one size takes every piece, or the pieces are more "
    f"than {MOST_PIECES}. No-loss cost: what the boxes would cost if they filled sheets without any loss."
)
YIELDS = (
    Column("Gauge", width=21),
    Column("Yield last month", Kind.SHARE, 20),
    Column("Parts", Kind.SHARE, 7),
    Column("Waste", Kind.SHARE, 7),
    Column("Kept", Kind.SHARE, 7),
)
YIELDS_CAPTION = "Where the metal goes, the lowest yield first"
YIELDS_CHART = Chart(
    "Where the metal goes", ChartKind.SHARE_BARS, "Gauge", ("Parts", "Waste", "Kept"), "Share of the sheets"
)
CAUTIONS_SAID = "Cautions for the work stand on the page Start and on the cover of the tickets."
CHEAPEST_SAID = (
    "Against the cheapest: how sure it is that no plan is cheaper that keeps what is locked, by the cost of "
    "the sheets. Cheapest possible: proven. At most 3% above: no plan can be cheaper by more than that, and "
    "perhaps none is. Not proven: a cheaper plan may exist; too little is known to say by how much."
)


@dataclass(frozen=True, slots=True)
class Earlier:
    """What a plan is held against: ``since`` says what has changed since the plan before.

    ``yields`` is the yield of gauges in the month before, 0 to 1.
    """

    since: str = ""
    yields: Mapping[str, float] = field(default_factory=dict)


NOTHING = Earlier()


def plan_page(
    plan: Plan, figures: PlanFigures, *, today: datetime.date, mark: str = "", earlier: Earlier = NOTHING,
    days: CuttingPlan | None = None,
) -> ResultPage:  # fmt: skip
    """The plan by gauge with a total, where its metal goes, sheets by size, and what the columns mean.

    ``days`` say when it is cut.
    """
    tables = (
        ResultTable(
            "PlanGauges",
            GAUGES,
            tuple(
                _gauge_row(plan, group_plan, group)
                for group_plan, group in zip(plan.groups, figures.groups, strict=True)
            ),
            "By gauge",
            _total(plan, figures),
        ),
        ResultTable(
            "PlanYields", YIELDS, tuple(_yield_rows(plan, figures, earlier.yields)), YIELDS_CAPTION,
            chart=YIELDS_CHART,
        ),
        ResultTable("PlanSheets", SHEETS, tuple(_sheet_rows(plan)), SHEETS_CAPTION),
        ResultTable("PlanSavings", SAVINGS, tuple(_saving_rows(plan, figures)), SAVINGS_CAPTION),
    )
    return ResultPage(
        "Plan",
        TITLE,
        tuple(_lines(plan, figures, today, mark, earlier.since, days)),
        tables,
        notes=tuple(_notes(plan, figures)),
        headlines=headlines(plan, figures, days),
    )


def headlines(
    plan: Plan | None, figures: PlanFigures | None, days: CuttingPlan | None
) -> tuple[Headline, ...]:
    """What an owner asks first; without a plan the same places, empty."""
    found = _found(plan, figures, days) if plan and figures else [None] * 9
    currency = f", {plan.job.settings.currency}" if plan and plan.job.settings.currency else ""
    due = plan and _first_due(plan)
    return tuple(
        Headline(label, value, kind, columns)
        for value, (label, kind, columns) in zip(found, (
            (f"To pay{currency}", Kind.MONEY, 1), ("Sheets to buy", Kind.COUNT, 1),
            ("On hand used", Kind.COUNT, 2), ("Remnants used", Kind.COUNT, 2), ("Yield", Kind.SHARE, 2),
            ("Cutting time", Kind.TEXT, 2), (f"First due: {due[1]}" if due else "First due", Kind.TEXT, 2),
            ("Order lines late", Kind.TEXT, 2), ("Problems and notes", Kind.TEXT, 2),
        ), strict=True)
    )  # fmt: skip


def _found(plan: Plan, figures: PlanFigures, days: CuttingPlan | None) -> list[Cell]:
    """The values of the headlines."""
    total, due = figures.total, _first_due(plan)
    late = "not known" if days is None else f"{len(days.late):,}" if days.late else _none_late(figures, days)
    return [
        sum(group_plan.to_pay for group_plan in plan.groups), total.sheets_to_buy, total.sheets_from_rack,
        total.remnants_used, total.yield_share if total.sheet_weight else None,
        minutes_text(total.table_hours),
        due[0] if due else "no date", late, f"{len(plan.problems):,}" if plan.problems else "none",
    ]  # fmt: skip


def _none_late(figures: PlanFigures, days: CuttingPlan) -> str:
    """That no order is late, as sure as that is: metal may come on a day that nobody knows, or take time."""
    sure = not figures.without_feed and all(one.comes for one in days.metal)
    return "none" if sure else "none known"


def _first_due(plan: Plan) -> tuple[str, str] | None:
    """The earliest date of an order that a layout of the plan is cut for, and that order's name."""
    open_ = {need.order for gp in plan.groups for need in gp.group.needs if need.must}
    orders = [plan.job.orders[place] for place in sorted(open_)]
    return min(((order.due, order.name) for order in orders if order.due), default=None)


def bare_plan_page() -> ResultPage:
    """The page before the first plan, its tables empty."""
    tables = (
        ResultTable("PlanGauges", GAUGES, (), "By gauge"),
        ResultTable("PlanYields", YIELDS, (), YIELDS_CAPTION),
        ResultTable("PlanSheets", SHEETS, (), SHEETS_CAPTION),
        ResultTable("PlanSavings", SAVINGS, (), SAVINGS_CAPTION),
    )
    return ResultPage("Plan", TITLE, (NO_PLAN,), tables, headlines=headlines(None, None, None))


def _on_remnants(group_plan: GroupPlan) -> list[Remnant]:
    return [layout.sheet for layout in group_plan.layouts if isinstance(layout.sheet, Remnant)]


def _lines(
    plan: Plan, figures: PlanFigures, today: datetime.date, mark: str, since: str, days: CuttingPlan | None
) -> Iterator[str]:
    """State first, then what the reader must know before acting on the numbers."""
    layouts = sum(len(group_plan.layouts) for group_plan in plan.groups)
    named = f"Plan {mark}" if mark else "Planned"
    metal = counted(figures.total.sheets_used, "sheet")
    if figures.total.remnants_used:
        metal += f" and {counted(figures.total.remnants_used, 'remnant')}"
    yield (
        f"{named}, {date_text(today)}: {counted(figures.total.pieces, 'piece')} from {metal} "
        f"in {counted(layouts, 'layout')} for {counted(len(plan.groups), 'gauge')}."
    )
    yield from warnings(plan, days, today)
    if since:
        yield since
    coming = [
        f"{count.on_order} of {count.sheet.name}"
        for group_plan in plan.groups for count in group_plan.sheets if count.on_order
    ]  # fmt: skip
    if coming:
        yield f"On hand counts sheets that are on order and still to come, too: {', '.join(coming)}."
    if plan.stopped_early:
        yield "The run was stopped early: this is the best plan found until then."
    short = sum(sum(group_plan.short.values()) for group_plan in plan.groups)
    if short:
        yield f"{counted(short, 'piece')} of orders that must be made could not be: see the page Made."
    if plan.problems:
        yield f"{problem_summary(plan.problems)} See the page Problems."


def _gauge_row(plan: Plan, group_plan: GroupPlan, figures: GroupFigures) -> tuple[Cell, ...]:
    return (
        group_plan.group.label,
        sheets_text(group_plan, plan),
        *_counts(figures),
        *_measures(figures),
        against_cheapest(group_plan.above_least),
    )


def _measures(figures: Figures) -> tuple[Cell, ...]:
    return (
        figures.yield_share if figures.sheet_weight else None,
        figures.sheet_weight,
        figures.part_weight,
        figures.split.waste,
        figures.split.useful,
        figures.money.metal,
        figures.money.cutting,
        figures.cut_length,
        figures.pierces,
        figures.table_hours,
    )


def _total(plan: Plan, figures: PlanFigures) -> tuple[Cell, ...]:
    sure = against_cheapest(plan.above_least)
    return ("Total", None, *_counts(figures.total), *_measures(figures.total), sure)


def _counts(figures: Figures) -> tuple[Cell, ...]:
    return figures.sheets_from_rack, figures.sheets_to_buy, figures.remnants_used


def _sheet_rows(plan: Plan) -> Iterator[tuple[Cell, ...]]:
    """Full sheets by size, then remnants."""
    units = plan.job.settings.units
    for group_plan in plan.groups:
        label = group_plan.group.label
        found = {lift.what: lift for lift in lifts(group_plan, plan.job.settings.lift_limit)}
        for count in group_plan.sheets:
            size = size_text(count.sheet.length, count.sheet.width, units)
            yield label, size, count.used, count.from_rack, count.to_buy, *_lift(found[count.sheet.name])
        for remnant in _on_remnants(group_plan):
            yield label, f"remnant {sheet_text(remnant, units)}", 1, 1, 0, *_lift(found[remnant.tag])


def _lift(lift: Lift) -> tuple[Cell, ...]:
    return lift.weight, lift.at_once, lift.lifts


def _yield_rows(
    plan: Plan, figures: PlanFigures, last_yields: Mapping[str, float]
) -> Iterator[tuple[Cell, ...]]:
    """The shares of each gauge's sheets, the lowest yield first."""
    cut = [
        (group.yield_share, group_plan.group.label, group)
        for group_plan, group in zip(plan.groups, figures.groups, strict=True) if group.sheet_weight
    ]  # fmt: skip
    for _, label, group in sorted(cut, key=lambda one: one[:2]):
        split, whole = group.split, group.sheet_weight
        yield (
            label, last_yields.get(label), split.parts / whole, split.waste / whole, split.useful / whole,
        )  # fmt: skip


def _saving_rows(plan: Plan, figures: PlanFigures) -> Iterator[tuple[Cell, ...]]:
    for group_plan, group in zip(plan.groups, figures.groups, strict=True):
        found = compare(group_plan, plan.job, group.sheet_weight)
        left_out = found.boxes.left_out if found.boxes else ()
        packed = found.boxes if not left_out else None
        yield (
            group_plan.group.label,
            ", ".join(left_out) or None,
            packed.sheets if packed else None,
            packed.cost if packed else None,
            found.cost_saved,
            found.weight_saved,
            found.box_floor,
        )


def _notes(plan: Plan, figures: PlanFigures) -> Iterator[str]:
    """What is to be known of the search in each gauge, then what the columns mean."""
    for group_plan in plan.groups:
        if group_plan.note:
            yield f"{group_plan.group.label}: {group_plan.note}"
    yield f"{YIELD_SAID} Costs in {plan.job.settings.currency}; metal is the sheets and remnants used."
    yield CHEAPEST_SAID
    yield BOXES_SAID
    yield from _lift_notes(plan)
    if figures.without_feed:
        yield f"Times leave out {', '.join(figures.without_feed)}: the page Cutting has no feed for them."
    moves = moves_said(plan)
    if moves:
        yield moves
    yield CAUTIONS_SAID


def _lift_notes(plan: Plan) -> Iterator[str]:
    """What the lift limit says of the sheets in this plan."""
    limit = plan.job.settings.lift_limit
    if limit is None:
        return
    said = weight_text(limit, plan.job.settings.units)
    yield f"At once: sheets in one lift of at most {said}, the lift limit in Settings."
    for group_plan in plan.groups:
        for lift in lifts(group_plan, limit):
            if lift.too_heavy:
                yield f"{lift.what} ({lift.gauge}) is heavier than the lift limit: plan how to move it."
