from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.model import Layout, Placement, Plan, Remnant, Settings, rectangle
from sheetplan.money.figures import group_figures, plan_figures
from tests.money.bookmaking import QUARTER, RULE, SHEET, grid, plan_of

LEAST = Settings(least_remnant_length=300.0, least_remnant_width=300.0)


@st.composite
def laid_plans(draw: st.DrawFn) -> Plan:
    """One to four layouts of one part each on a grid; a remnant with old cuts may be among them."""
    layouts = []
    for number in range(draw(st.integers(1, 4))):
        part, pitch, most = draw(
            st.sampled_from([("plate", (310.0, 210.0), (7, 5)), ("washer", (90.0, 90.0), (26, 13)),
                             ("bar", (610.0, 60.0), (3, 20)), ("disc", (110.0, 110.0), (21, 10))])
        )  # fmt: skip
        placements = grid(part, draw(st.integers(1, most[0])), draw(st.integers(1, most[1])), pitch)
        layouts.append(Layout(f"L{number + 1}", SHEET, tuple(placements), draw(st.integers(1, 5))))
    if draw(st.booleans()):
        edge = rectangle(draw(st.floats(400, 2000)), draw(st.floats(400, 1200))).outer
        remnant = Remnant("R-1", "mild steel", QUARTER, edge, value=draw(st.floats(0, 100)))
        layouts.append(Layout("L9", remnant, (Placement("plate", 10.0, 10.0),)))
    multiple, on_hand = draw(st.integers(1, 4)), draw(st.integers(0, 6))
    sheet = replace(SHEET, multiple=multiple, on_hand=on_hand, price=draw(st.floats(0, 900)))
    layouts = [replace(x, sheet=sheet) if x.sheet == SHEET else x for x in layouts]
    return plan_of(layouts, stock=(sheet,), settings=LEAST)


@settings(max_examples=60, deadline=None)
@given(laid_plans())
def test_weights_and_money_balance(plan: Plan) -> None:
    found = plan_figures(plan).total
    split = found.split
    assert split.parts + split.kerf + split.kept + split.skeleton == pytest.approx(split.taken, rel=1e-9)
    assert min(split.parts, split.kerf, split.kept) >= 0
    assert split.skeleton >= -1e-9 * split.taken
    assert found.cost == pytest.approx(plan.groups[0].cost, rel=1e-9)
    assert found.sheets_used <= found.sheets_from_rack + found.sheets_to_buy
    money = found.money
    assert money.net + money.kept == pytest.approx(money.metal + money.cutting, rel=1e-9)
    assert money.to_pay >= money.bought_metal - 1e-9


def test_the_edge_of_what_is_kept_is_the_rectangle_that_is_left() -> None:
    """Three columns of plates end at 10 + 3 x 310 - 10, and the crop cut lies a kerf or more beyond."""
    plan = plan_of([Layout("L1", SHEET, tuple(grid("plate", 3, 5, (310, 210))))], settings=LEAST)
    figures = plan_figures(plan)
    kept, edge = figures.groups[0].layouts["L1"].kept, figures.kept["L1"]
    assert kept is not None
    assert (kept.right, kept.bottom, kept.top) == pytest.approx((SHEET.length, 0.0, SHEET.width))
    corners = [(kept.left, 0.0), (SHEET.length, 0.0), (SHEET.length, SHEET.width), (kept.left, SHEET.width)]
    for (x, y, bulge), corner in zip(edge.vertices, corners, strict=True):
        assert (x, y) == pytest.approx(corner)
        assert bulge == 0.0


@settings(max_examples=30, deadline=None)
@given(laid_plans())
def test_a_gauge_is_the_sum_of_its_layouts(plan: Plan) -> None:
    group = group_figures(plan.groups[0], plan.job)
    assert list(group.layouts) == [layout.tag for layout in plan.groups[0].layouts]
    for whole, each in (
        (group.sheet_weight, lambda layout: layout.split.taken),
        (group.part_weight, lambda layout: layout.split.parts),
        (group.cut_length, lambda layout: layout.cut_length),
        (group.pierces, lambda layout: layout.pierces),
        (group.hours, lambda layout: layout.hours),
        (group.money.kept, lambda layout: layout.kept_value),
    ):
        assert whole == pytest.approx(sum(each(x) * x.repeats for x in group.layouts.values()), rel=1e-9)


def test_a_plan_by_hand() -> None:
    sheet = replace(SHEET, multiple=5)
    plan = plan_of([Layout("L1", sheet, tuple(grid("plate", 7, 5, (310, 210))), 4)], stock=(sheet,))
    found = group_figures(plan.groups[0], plan.job)
    assert (found.sheets_used, found.sheets_from_rack, found.sheets_to_buy) == (4, 1, 5)
    assert (found.money.rack_metal, found.money.bought_metal, found.money.to_pay) == (320.0, 960.0, 1600.0)
    assert found.pieces == 140
    assert found.yield_share == pytest.approx(35 * 60_000 / (2438.4 * 1219.2))
    assert found.pierces == 140
    assert found.hours == pytest.approx(140 * (1000 / 2000 / 60 + 1 / 3600))


def test_gauges_without_a_feed_are_named() -> None:
    timed = plan_of([Layout("L1", SHEET, (Placement("plate", 10, 10),))])
    untimed = plan_of([Layout("L2", SHEET, (Placement("plate", 10, 10),))], rule=replace(RULE, feed=None))
    both = replace(timed, groups=timed.groups + untimed.groups)
    found = plan_figures(both)
    assert found.without_feed == ("mild steel 1/4 in",)
    assert found.total.hours == pytest.approx(plan_figures(timed).total.hours)
    assert plan_figures(untimed).total.hours is None


def test_the_edge_of_what_is_kept() -> None:
    plan = plan_of([Layout("L1", SHEET, tuple(grid("plate", 3, 5, (310, 210)))),
                    Layout("L2", SHEET, tuple(grid("plate", 7, 5, (310, 210))))], settings=LEAST)  # fmt: skip
    kept = plan_figures(plan).kept
    assert set(kept) == {"L1"}
    assert min(vertex[0] for vertex in kept["L1"].vertices) == pytest.approx(940)


def test_ten_per_cent_more_yield() -> None:
    # Common practice, no source: on ten 125-dollar sheets a month it is worth about 125 dollars.
    sheet = replace(SHEET, price=125.0, on_hand=0)
    twenty = tuple(grid("plate", 4, 5, (310, 210)))
    plan = plan_figures(plan_of([Layout("L1", sheet, twenty[:18], 10)], stock=(sheet,)))
    better = plan_figures(plan_of([Layout("L1", sheet, twenty, 9)], stock=(sheet,)))
    assert better.total.pieces == plan.total.pieces
    of_metal = [one.total.split.parts / one.total.split.taken for one in (plan, better)]
    assert of_metal[1] == pytest.approx(of_metal[0] * 10 / 9)
    assert plan.total.cost - better.total.cost == pytest.approx(125.0)
