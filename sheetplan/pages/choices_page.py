"""The page `Choices`: for each gauge the plan in use and others beside it, to be picked by a mark."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sheetplan.model import Order, Plan
from sheetplan.money.choice_figures import ChoiceFigures, Choices, choice_figures
from sheetplan.pages.plan_page import sheets_text
from sheetplan.pages.values import CHOICES_PAGE, Cell, Column, Kind, ResultPage, ResultTable
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
    Column("Best found", width=22, wrap=True),
    Column("To pay", Kind.MONEY, 10),
    Column("Metal cost", Kind.MONEY, 10),
    Column("Sheets", Kind.COUNT, 8),
    Column("Sheets by size", width=22, wrap=True),
    Column("Layouts", Kind.COUNT, 9),
    Column("Yield", Kind.SHARE, 8),
    Column("Waste", Kind.SHARE, 8),
    Column("Largest remnant", width=14, wrap=True),
    Column("Against the plan in use", width=34, wrap=True),
    Column("Of plan", width=8),
)

HOW = (
    "For each gauge the plan in use and up to three others. To take another: write x beside it in Pick and "
    "plan again, in the open book or with it saved and closed. It is used as it stands here, without a new "
    "search."
)
KEEPS = "A mark stays until you clear it; without one, the next plan searches anew."
WORDS_SAID = (
    "Best found: at what none of the gauge's other plans here is better; that no plan at all is cheaper is "
    "proven only where it says cheapest possible. To pay: the suppliers' bill, whole order multiples. Metal "
    "cost: all sheets and remnants taken, those on hand at their price in Stock. Largest remnant: the "
    "largest that one sheet leaves for the rack."
)
LEAST_DIFFERENCE = 0.005
"""Less than half a cent is no difference."""


def choices_page(plan: Plan | None, *, mark: str = "", choices: Choices | None = None) -> ResultPage:
    """All alternatives of all gauges; without a plan, the same table empty.

    ``choices`` are their figures, worked out here where not given.
    """
    if plan is None:
        return _page((), (), ())
    rows = tuple(
        _row(plan, one, used, mark, bool(group_plan.picked))
        for group_plan, found in zip(plan.groups, choices or choice_figures(plan), strict=True)
        for used in [one for one in found if one.way.in_use]
        for one in found
    )
    return _page(tuple(_lines(plan)), rows, (KEEPS, WORDS_SAID))


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
        ", ".join(one.best_at) or None,
        figures.money.to_pay,
        figures.money.metal,
        one.sheets,
        sheets_text(one.way.plan, plan),
        one.layouts,
        figures.yield_share,
        figures.waste_share,
        size_text(one.kept.length, one.kept.width, units) if one.kept else None,
        None if in_use else against(one, used, plan.job.orders),
        mark or None,
    )


def against(other: ChoiceFigures, used: ChoiceFigures, orders: Sequence[Order] = ()) -> str:
    """What an alternative gains and costs against the plan in use, in words."""
    said = (
        _money(other.figures.money.to_pay - used.figures.money.to_pay, "to pay"),
        _money(other.figures.money.metal - used.figures.money.metal, "in metal"),
        _money(other.figures.money.cutting - used.figures.money.cutting, "in cutting"),
        _count(other.sheets - used.sheets, "sheet"),
        _count(other.layouts - used.layouts, "layout"),
        _kept(other, used),
        left_out(used.way.plan, other.way.plan, orders),
    )
    return ", ".join(part for part in said if part) or "the same money, sheets and layouts"


def _money(difference: float, what: str) -> str:
    if abs(difference) < LEAST_DIFFERENCE:
        return ""
    return f"{money_text(abs(difference))} {'more' if difference > 0 else 'less'} {what}"


def _count(difference: int, what: str) -> str:
    if not difference:
        return ""
    return f"{counted(abs(difference), what)} {'more' if difference > 0 else 'fewer'}"


def _kept(other: ChoiceFigures, used: ChoiceFigures) -> str:
    if other.kept_area > 0.0 and used.kept_area == 0.0:
        return "a remnant worth keeping where there is none"
    if other.kept_area == 0.0 and used.kept_area > 0.0:
        return "no remnant worth keeping"
    return ""
