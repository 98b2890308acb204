"""One month, planned for real: every page of it must say the same pounds and the same cents."""

from dataclasses import replace

import pytest

from sheetplan.model import Kit, Order, Plan, Remnant, Settings, rectangle
from sheetplan.money.buy_list import buy_list
from sheetplan.money.comparison import compare
from sheetplan.money.figures import PlanFigures, lifts, plan_figures
from sheetplan.money.month import Held, MonthBook, Purchase, month_balance
from sheetplan.money.order_shares import allocate, cost_shares
from sheetplan.planning import RunOptions, plan_job
from sheetplan.trade.units import weight_kg
from tests.money.bookmaking import QUARTER, SHEET, STEEL, cut_of, plan_of

KITS = {"cleat set": Kit("cleat set", {"plate": 2, "washer": 4}), "rail": Kit("rail", {"bar": 1, "disc": 3})}
ORDERS = [Order("H-1", "cleat set", 50), Order("H-2", "rail", 40, must=False), Order("H-3", "washer", 31)]
REMNANT = Remnant("R-3", STEEL.name, QUARTER, rectangle(900.0, 700.0).outer, value=12.5)


@pytest.fixture(scope="module")
def plan() -> Plan:
    sheet = replace(SHEET, multiple=3, price=321.37)
    job = plan_of([], orders=ORDERS, kits=KITS, stock=(sheet,), settings=Settings()).job
    job = replace(job, remnants=(REMNANT,))
    return plan_job(job, RunOptions(1.0, 7))


@pytest.fixture(scope="module")
def figures(plan: Plan) -> PlanFigures:
    return plan_figures(plan)


def test_plan_and_figures(plan: Plan, figures: PlanFigures) -> None:
    layouts = [layout for group in plan.groups for layout in group.layouts]
    assert figures.total.pieces == sum(layout.repeats * len(layout.placements) for layout in layouts)
    assert figures.total.cost == pytest.approx(sum(group.cost for group in plan.groups), abs=1e-6)
    assert 0.3 < figures.total.yield_share < 1.0
    assert figures.total.sheets_used >= 2


def test_figures_and_made(plan: Plan, figures: PlanFigures) -> None:
    shares = cost_shares(plan, figures, allocate(plan))
    assert shares.total == pytest.approx(figures.total.money.total, abs=1e-6)
    assert sum(line.pieces for line in shares.lines) + shares.spare.pieces == figures.total.pieces


def test_figures_and_buy(plan: Plan, figures: PlanFigures) -> None:
    lines = buy_list(plan)
    assert sum(line.total_price for line in lines) == pytest.approx(figures.total.money.to_pay, abs=1e-6)
    assert sum(line.count for line in lines) == figures.total.sheets_to_buy
    assert all(line.count % line.multiple == 0 for line in lines)


def test_figures_and_handling(plan: Plan, figures: PlanFigures) -> None:
    lifted = sum(lift.weight * lift.count for group in plan.groups for lift in lifts(group))
    assert lifted == pytest.approx(figures.total.sheet_weight, rel=1e-9)


def test_figures_and_plain_boxes(plan: Plan, figures: PlanFigures) -> None:
    found = compare(plan.groups[0], plan.job, figures.total.sheet_weight)
    assert found.cost_saved is not None
    assert found.cost_saved >= 0
    assert found.box_floor is not None
    # The floor knows full sheets alone: what the remnant gives counts at their price per area.
    remnant_at_price = 321.37 * (900.0 * 700.0) / (SHEET.length * SHEET.width)
    assert found.box_floor <= found.plan_cost + remnant_at_price


def test_plan_and_the_months_end(plan: Plan, figures: PlanFigures) -> None:
    """Everything bought and cut as planned: the month's end tells the plan's own numbers."""
    group = figures.groups[0]
    line = buy_list(plan)[0]
    sheet_weight, price = line.weight, line.price
    left = SHEET.on_hand - group.sheets_from_rack + line.for_stock
    used_remnants = [layout.sheet for layout in plan.groups[0].layouts if isinstance(layout.sheet, Remnant)]
    weight = weight_kg(900.0 * 700.0, QUARTER.mm, STEEL.density)
    start = [Held(group.label, SHEET.on_hand * sheet_weight, SHEET.on_hand * price)]
    end = [Held(group.label, left * sheet_weight, left * price)]
    (start if used_remnants else []).append(Held(group.label, weight, REMNANT.value))
    for layout in group.layouts.values():
        end.append(Held(group.label, layout.split.kept * layout.repeats, layout.kept_value * layout.repeats))
    book = MonthBook(
        month="2026-11", start=start, end=end,
        purchases=[Purchase("2026-11-05", group.label, line.total_weight, line.total_price)],
        cuts=[cut_of(layout, group.label, "2026-11-09", layout.repeats) for layout in group.layouts.values()],
        tickets=[],
    )  # fmt: skip
    total = month_balance(book).total
    assert total.used_up == pytest.approx(group.split.used_up, rel=1e-9)
    assert total.split.parts == pytest.approx(group.part_weight, rel=1e-9)
    assert total.split.waste_share == pytest.approx(group.waste_share, rel=1e-9)
    assert total.cost_used_up == pytest.approx(group.money.metal - group.money.kept, abs=1e-6)
    assert total.good_cost == pytest.approx(total.cost_used_up, abs=1e-6)
    assert total.bought_cost == pytest.approx(group.money.to_pay, abs=1e-6)
