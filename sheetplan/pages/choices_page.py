"""The page `Choices`: for each gauge the plan in use and others beside it, to be picked by a mark."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from sheetplan.model import Order, Plan
from sheetplan.model.plan import CHEAPEST
from sheetplan.money.choice_figures import ChoiceFigures, Choices, choice_figures
from sheetplan.pages.plan_page import sheets_text
from sheetplan.pages.values import (
    CHOICES_PAGE,
    Cell,
    Column,
    Kind,
    ResultPage,
    ResultTable,
    without_empty,
)
from sheetplan.pages.wording import counted, money_text, size_text
from sheetplan.planning.picking import left_out

PICKED = "x"
"""The mark of a choice that was picked; any other text that the planner writes there counts as well."""

YES = "yes"

COLUMNS = (
    Column("Choice", width=8),
    Column("Pick", width=6, asks=True),
    Column("In use", width=7),
    Column("Gauge", width=20, wrap=True),
    Column("Why choose it", width=30, wrap=True),
    Column("± To pay", Kind.MONEY_CHANGE, 10),
    Column("± Metal cost", Kind.MONEY_CHANGE, 8),
    Column("± Sheets", Kind.COUNT_CHANGE, 8),
    Column("± Layouts", Kind.COUNT_CHANGE, 8),
    Column("± Largest remnant", Kind.AREA_CHANGE, 9),
    Column("To pay", Kind.MONEY, 10),
    Column("Metal cost", Kind.MONEY, 10),
    Column("Sheets", Kind.COUNT, 8),
    Column("Layouts", Kind.COUNT, 9),
    Column("Yield", Kind.SHARE, 8),
    Column("Sheets by size", width=20, wrap=True),
    Column("Largest remnant", width=16, wrap=True),
    Column("Plan", width=8),
)

DIFFERENCES = tuple(column.heading for column in COLUMNS if column.heading.startswith("±"))

HOW = (
    "For each gauge the plan in use and up to three others. To take another: write x beside it in Pick and "
    "plan again, in the open book or with it saved and closed. It is used as it stands here, without a new "
    "search."
)
KEEPS = "A mark stays until you clear it; without one, the next plan searches anew."
WORDS_SAID = (
    "Each ± is the difference to the plan in use, which is bold. Why: at what, three things at the most, "
    "none of the gauge's other plans here is better; that no plan at all is cheaper is proven only where "
    "it says cheapest possible. "
    "To pay: the suppliers' bill, whole order multiples. Metal cost: all sheets and remnants taken, those on "
    "hand at their price in Stock. Largest remnant: the largest that one sheet leaves for the rack."
)
MOST_SAID = 3
"""Advantages that are said of a plan; the figures show the others."""

LEAST_DIFFERENCE = 0.005
"""Less than half a cent is no difference."""


def choices_page(plan: Plan | None, *, mark: str = "", choices: Choices | None = None) -> ResultPage:
    """All alternatives of all gauges; without a plan, the same table empty.

    ``choices`` are their figures, worked out here where not given.
    """
    if plan is None:
        return _page((), (), ())
    found = choices or choice_figures(plan)
    rows = tuple(
        _row(plan, one, next(one for one in ways if one.way.in_use), mark, bool(group_plan.picked))
        for group_plan, ways in zip(plan.groups, found, strict=True)
        for one in ways
    )
    numbered = list(enumerate((gauge, one) for gauge, ways in enumerate(found) for one in ways))
    page = _page(tuple(_lines(plan)), rows, (KEEPS, WORDS_SAID))
    table = replace(
        page.tables[0],
        strong=frozenset(row for row, (gauge, one) in numbered if one.way.in_use and len(found[gauge]) > 1),
        banded=frozenset(row for row, (gauge, _) in numbered if gauge % 2),
    )
    return replace(page, tables=(without_empty(table, DIFFERENCES),))


def _page(
    lines: tuple[str, ...], rows: tuple[tuple[Cell, ...], ...], notes: tuple[str, ...]
) -> ResultPage:
    table = ResultTable("ChoiceList", COLUMNS, rows)
    return ResultPage(CHOICES_PAGE, "Plans to pick from", lines, (table,), notes=notes)


def _lines(plan: Plan) -> Iterator[str]:
    yield HOW
    alone = [one.group.label for one in plan.groups if not one.choices]
    if alone:
        yield f"No other plan was found that is better at anything that matters for {_listed(alone)}."
    picked = [one.group.label for one in plan.groups if one.picked]
    if picked:
        yield f"Picked by you: {_listed(picked)}."


def _listed(names: Sequence[str]) -> str:
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)


def _row(
    plan: Plan, one: ChoiceFigures, used: ChoiceFigures, mark: str, is_picked: bool
) -> tuple[Cell, ...]:
    figures, in_use = one.figures, one.way.in_use
    units = plan.job.settings.units
    return (
        one.way.tag,
        PICKED if in_use and is_picked else None,
        YES if in_use else None,
        one.way.gauge,
        why(one, used, plan.job.orders) or None,
        *(_differences(one, used) if not in_use else [None] * 5),
        figures.money.to_pay,
        figures.money.metal,
        one.sheets,
        one.layouts,
        figures.yield_share,
        sheets_text(one.way.plan, plan),
        size_text(one.kept.length, one.kept.width, units) if one.kept else None,
        mark or None,
    )


def _differences(one: ChoiceFigures, used: ChoiceFigures) -> tuple[Cell, ...]:
    """To pay, metal, sheets, layouts and the largest remnant, each against the plan in use."""
    mine, theirs = one.figures.money, used.figures.money
    money = (mine.to_pay - theirs.to_pay, mine.metal - theirs.metal)
    return (
        *(0.0 if abs(change) < LEAST_DIFFERENCE else change for change in money),
        one.sheets - used.sheets,
        one.layouts - used.layouts,
        one.kept_area - used.kept_area,
    )


def why(one: ChoiceFigures, used: ChoiceFigures, orders: Sequence[Order] = ()) -> str:
    """What speaks for an alternative, in few words, and what is not made with it."""
    missing = left_out(used.way.plan, one.way.plan, orders)
    return "; ".join(part for part in (_for_it(one, used), missing) if part)


def _for_it(one: ChoiceFigures, used: ChoiceFigures) -> str:
    if one.best_at:
        return ", ".join(one.best_at[:MOST_SAID])
    if one.way.plan.above_least == 0.0:
        return CHEAPEST
    if one.way.in_use:
        return one.way.name
    gains = (
        _less(one.figures.money.to_pay - used.figures.money.to_pay, "to pay"),
        _less(one.figures.money.metal - used.figures.money.metal, "in metal"),
        _less(one.figures.money.cutting - used.figures.money.cutting, "in cutting"),
        _fewer(one.sheets - used.sheets, "sheet"),
        _fewer(one.layouts - used.layouts, "layout"),
        "a larger remnant" if one.kept_area > used.kept_area else "",
    )
    return ", ".join(gain for gain in gains if gain)


def _less(difference: float, what: str) -> str:
    return f"{money_text(-difference)} less {what}" if difference <= -LEAST_DIFFERENCE else ""


def _fewer(difference: int, what: str) -> str:
    return f"{counted(-difference, what)} fewer" if difference < 0 else ""
