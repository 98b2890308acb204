from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.model import Kit, Layout, Order, Placement, Plan, Settings
from sheetplan.money.figures import plan_figures
from sheetplan.money.order_shares import cost_shares, kit_costs, part_shares, together
from sheetplan.pages.book.made import made_page
from tests.money.bookmaking import RULE, SHEET, grid, plan_of

KITS = {"cleat set": Kit("cleat set", {"plate": 2, "washer": 4}), "rail": Kit("rail", {"bar": 1, "plate": 1})}
LEAST = Settings(least_remnant_length=300.0, least_remnant_width=300.0)
FULL = tuple(grid("plate", 7, 5, (310, 210)))


@st.composite
def ordered_plans(draw: st.DrawFn) -> Plan:
    """Layouts that mix parts in columns of the sheet, orders for kits and loose parts, some too many."""
    pitches = {"plate": (310.0, 210.0, 5), "washer": (90.0, 90.0, 13), "bar": (610.0, 60.0, 20)}
    layouts = []
    for number in range(draw(st.integers(1, 4))):
        placements: list[Placement] = []
        x = 10.0
        for part in draw(st.lists(st.sampled_from(sorted(pitches)), min_size=1, max_size=3)):
            step, rise, most = pitches[part]
            for row in range(draw(st.integers(1, most))):
                placements.append(Placement(part, x, 10.0 + row * rise))
            x += step
        layouts.append(Layout(f"L{number + 1}", SHEET, tuple(placements), draw(st.integers(1, 6))))
    items = st.sampled_from(["cleat set", "rail", "plate", "washer", "bar", "disc"])
    orders = [
        Order(f"H-{index}", item, quantity, must=must)
        for index, (item, quantity, must) in enumerate(
            draw(st.lists(st.tuples(items, st.integers(1, 40), st.booleans()), max_size=6))
        )
    ]
    return plan_of(layouts, orders=orders, kits=KITS, settings=LEAST)


@settings(max_examples=80, deadline=None)
@given(ordered_plans())
def test_every_way_of_sharing_adds_up_to_the_plan(plan: Plan) -> None:
    figures = plan_figures(plan)
    shares = cost_shares(plan, figures)
    cost = figures.total.money.total
    assert shares.total == pytest.approx(cost, rel=1e-9)
    by_order = together((*shares.lines, shares.spare))
    assert by_order.total + shares.kept == pytest.approx(cost, rel=1e-9)
    assert by_order.pieces == figures.total.pieces
    assert by_order.metal == pytest.approx(figures.total.cost - shares.kept, rel=1e-9)
    assert by_order.cutting == pytest.approx(figures.total.money.cutting, rel=1e-9)


def test_waste_goes_with_the_area_and_cutting_with_the_cut() -> None:
    placements = (Placement("plate", 10, 10), Placement("bar", 320, 10))
    plan = plan_of([Layout("L1", SHEET, placements)], settings=Settings(least_remnant_length=9999.0))
    parts = part_shares(plan, plan_figures(plan))
    assert parts["plate"].metal == pytest.approx(320.0 * 60 / 90)
    assert parts["bar"].metal == pytest.approx(320.0 * 30 / 90)
    assert parts["plate"].cutting == pytest.approx(0.05 + 90 * (1000 / 2000 / 60 + 1 / 3600))
    assert parts["bar"].cutting == pytest.approx(0.05 + 90 * (1300 / 2000 / 60 + 1 / 3600))


def test_a_remnant_kept_is_credited_to_the_parts() -> None:
    layouts = [Layout("L1", SHEET, tuple(grid("plate", 3, 5, (310, 210))))]
    keeping, using_up = (plan_of(layouts, settings=s) for s in (LEAST, Settings(least_remnant_length=9999.0)))
    kept = cost_shares(keeping, plan_figures(keeping))
    whole = cost_shares(using_up, plan_figures(using_up))
    assert kept.kept == pytest.approx(0.6 * 320.0 * (2438.4 - 940) / 2438.4)
    assert whole.parts["plate"].metal == pytest.approx(kept.parts["plate"].metal + kept.kept)


def test_kits_cost_what_their_parts_cost() -> None:
    plan = plan_of([Layout("L1", SHEET, (*FULL[:30], Placement("washer", 1900, 1060)))], kits=KITS)
    parts = part_shares(plan, plan_figures(plan))
    found = kit_costs(plan.job, parts)
    assert found["cleat set"].each == pytest.approx(2 * parts["plate"].each + 4 * parts["washer"].each)
    assert found["rail"].unknown == ("bar",)


def test_unfinished_kits_carry_the_pieces_that_they_get() -> None:
    orders = [Order("H-1", "cleat set", 3), Order("H-2", "plate", 2)]
    plan = plan_of([Layout("L1", SHEET, FULL[:6])], orders=orders, kits=KITS)
    shares = cost_shares(plan, plan_figures(plan))
    assert [line.pieces for line in shares.lines] == [4, 2]
    assert shares.lines[0].each == pytest.approx(shares.parts["plate"].each)
    assert shares.spare.pieces == 0


def test_free_metal_costs_cutting_only() -> None:
    free = replace(SHEET, price=0.0)
    plan = plan_of([Layout("L1", free, FULL)], stock=(free,))
    shares = cost_shares(plan, plan_figures(plan))
    assert shares.parts["plate"].metal == 0.0
    assert shares.total == pytest.approx(35 * (0.05 + 90 * (0.5 / 60 + 1 / 3600)))
    assert RULE.hour_cost == 90.0


def test_spare_pieces_carry_their_own_cost_and_orders_theirs() -> None:
    """Of 35 plates 5 are ordered: the other 30 cost what 30 cost, and none of it is in the order's price."""
    plan = plan_of([Layout("L1", SHEET, FULL)], orders=[Order("H-1", "plate", 5)])
    figures = plan_figures(plan)
    shares = cost_shares(plan, figures)
    each = shares.parts["plate"].each
    assert each == pytest.approx(figures.total.money.net / 35)
    assert (shares.lines[0].pieces, shares.spare.pieces) == (5, 30)
    assert shares.lines[0].total == pytest.approx(5 * each)
    assert shares.spare.total == pytest.approx(30 * each)
    said = made_page(plan, figures).notes[-1]
    assert f"pieces beyond the orders {shares.spare.total:,.2f}" in said
