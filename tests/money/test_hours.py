"""Times and costs of a cut against the formulas of handbooks, and what the new choices add to them."""

import math
from dataclasses import replace

import pytest

from sheetplan.model import Layout, Outline, Placement, Settings, rectangle
from sheetplan.money.figures import plan_figures
from sheetplan.money.layout_figures import cutting_work, part_facts, small_holes
from sheetplan.money.order_shares import cost_shares
from tests.money.bookmaking import INCH, RULE, circle, grid, parts, plan_of

FOOT = 12 * INCH
BARE = replace(RULE, pierce_seconds=0.0, pierce_cost=0.0)


# Source: Machinery's Handbook, machining time t = L / F (from memory): 20 in at 8 in/min take 2.5 min.
def test_time_is_length_over_feed() -> None:
    work = cutting_work(20 * INCH, 1, replace(BARE, feed=8 * INCH))
    assert work.hours is not None
    assert work.hours * 60 == pytest.approx(2.5)


# Source: The Procedure Handbook of Arc Welding (Lincoln Electric), labour and overhead a foot = rate an hour
# / (5 x travel in in/min x operating factor), from memory: 90 an hour at 100 in/min, factor 1, is 0.18.
def test_cost_of_a_foot_is_the_rate_over_five_times_the_speed() -> None:
    rule = replace(BARE, feed=100 * INCH, hour_cost=90.0)
    assert cutting_work(FOOT, 0, rule).cost(rule) == pytest.approx(90.0 / (5 * 100))


# Source: Machinery's Handbook, time of a cut with approach and overrun, t = (L + A) / F (formula from memory,
# numbers ours): 20 in with 1 in of approach at 8 in/min.
def test_a_lead_in_is_the_approach_of_the_cut() -> None:
    work = cutting_work(20 * INCH, 1, replace(BARE, feed=8 * INCH, lead_in=1 * INCH))
    assert work.hours is not None
    assert work.hours * 60 == pytest.approx(21 / 8)


# Source: W. W. Gilbert, Economics of machining (1950), and Machinery's Handbook after it: cost of a piece =
# rate x t + (t / T) x cost of an edge (formula from memory, numbers ours). At 1.00 a minute 5 minutes with
# edges of 4.00 that last 20 minutes cost 5.00 + 1.00.
def test_an_edge_that_wears_is_paid_by_its_minutes() -> None:
    rule = replace(BARE, feed=8 * INCH, hour_cost=60.0, set_cost=4.0, set_minutes=20.0)
    assert cutting_work(40 * INCH, 1, rule).cost(rule) == pytest.approx(6.0)


# Source: The Procedure Handbook of Arc Welding, the same formula with an operating factor, the arc's part of
# all time (formula from memory, numbers ours): 6 minutes of arc in 20 are 0.3. A plate of 90 x 45 in is
# 270 in of cut at 45 in/min; a sheet of it takes 14 minutes to lay on and take off.
def test_a_foot_costs_by_the_operating_factor_through_the_whole_plan() -> None:
    rule = replace(BARE, feed=45 * INCH, hour_cost=90.0)
    settings = Settings(load_minutes=5, unload_minutes=9, least_remnant_length=1e4)
    book = parts(cover=rectangle(90 * INCH, 45 * INCH))
    sheet = plan_of([]).job.stock[0]
    plan = plan_of([Layout("L1", sheet, (Placement("cover", 10, 10),), 4)], rule=rule, settings=settings,
                   book=book)  # fmt: skip
    found = plan_figures(plan).total
    feet = 4 * 270 / 12
    assert found.table_hours == pytest.approx(4 * 20 / 60)
    assert found.money.cutting / feet == pytest.approx(90.0 / (5 * 45 * 0.3))


# Source: 15 U.S.C. 206: 10 gauge weighs 90 oz a square foot, so a 4 x 8 ft sheet 180 lb.
def test_a_sheet_by_its_statutory_weight() -> None:
    from sheetplan.trade.thickness import CARBON_STEEL, published_kg
    from sheetplan.trade.units import KG_PER_POUND

    weight = published_kg(CARBON_STEEL, "10 ga", 4 * FOOT * 8 * FOOT)
    assert weight is not None
    assert weight / KG_PER_POUND == pytest.approx(180.0)


def test_small_holes_go_at_their_own_feed() -> None:
    small, large = circle(40, 50, 5), circle(150, 50, 20)
    plate = Outline(rectangle(200, 100).outer, (small, large))
    rule = replace(RULE, hole_feed=500.0, hole_times=2.0)  # 10 mm is below 2 x 6.35 mm, 40 mm is not
    assert small_holes(plate, rule) == [small]
    work, plain = part_facts(plate, rule).work, part_facts(plate, RULE).work
    assert work.hours is not None
    assert plain.hours is not None
    assert (work.hours - plain.hours) * 60 == pytest.approx(10 * math.pi * (1 / 500 - 1 / 2000))
    assert work.cut_length == plain.cut_length


def test_the_lead_in_of_a_small_hole_goes_at_the_feed_of_small_holes() -> None:
    plate = Outline(rectangle(200, 100).outer, (circle(40, 50, 5), circle(150, 50, 20)))
    work = part_facts(plate, replace(RULE, hole_feed=500.0, hole_times=2.0, lead_in=8.0)).work
    fast, slow = 600 + 40 * math.pi + 2 * 8, 10 * math.pi + 8
    assert work.hours is not None
    assert work.hours * 60 == pytest.approx(fast / 2000 + slow / 500 + 3 / 60)


def test_lead_ins_and_height_take_time_and_no_length() -> None:
    rule = replace(RULE, lead_in=8.0, sensing_seconds=2.0)
    work, plain = cutting_work(1000.0, 5, rule), cutting_work(1000.0, 5, RULE)
    assert work.hours is not None
    assert plain.hours is not None
    assert (work.hours - plain.hours) * 60 == pytest.approx(5 * 8.0 / 2000 + 5 * 2.0 / 60)
    assert work.cut_length == plain.cut_length


# Common practice, no source: a set lasts so many starts or so many minutes of arc, whichever is first.
@pytest.mark.parametrize(("starts", "minutes", "sets"), [(100, 60.0, 0.05), (100_000, 10.0, 0.0583333)])
def test_a_set_is_used_up_by_starts_or_by_minutes(starts: int, minutes: float, sets: float) -> None:
    rule = replace(RULE, set_cost=20.0, set_starts=starts, set_minutes=minutes)
    work = cutting_work(1000.0, 5, rule)  # half a minute of cutting, five seconds of piercing
    assert work.sets == pytest.approx(sets, rel=1e-4)
    assert work.consumables(rule) == pytest.approx(5 * 0.05 + 20.0 * sets, rel=1e-4)


LAYOUTS = [Layout("L1", plan_of([]).job.stock[0], tuple(grid("plate", 3, 2, (320.0, 220.0))), 2),
           Layout("L2", plan_of([]).job.stock[0], (Placement("washer", 10, 10), Placement("bar", 300, 10)))]


def test_with_the_new_choices_empty_figures_are_as_before() -> None:
    figures = plan_figures(plan_of(LAYOUTS))
    # As the version before these choices gave them, to the last digit.
    assert figures.total.hours == 0.17967312659912396
    assert figures.total.money.cutting == 17.070581393921156
    assert figures.total.table_hours == figures.total.hours
    assert (figures.total.hand_minutes, figures.total.money.handling, figures.total.money.scrap) == (0, 0, 0)


def test_sheets_and_parts_that_are_handled_cost_what_settings_say() -> None:
    settings = Settings(load_minutes=3, square_minutes=1, unload_minutes=6, clean_minutes=2, hand_hour=30.0)
    plain, plan = plan_of(LAYOUTS), plan_of(LAYOUTS, settings=settings)
    before, after = plan_figures(plain).total, plan_figures(plan).total
    assert after.table_hours == pytest.approx((before.hours or 0) + 30 / 60)
    assert after.hand_minutes == 3 * 10 + 14 * 2
    handling = 30 / 60 * (90.0 + 30.0) + 14 * 2 / 60 * 30.0
    assert after.money.cutting - before.money.cutting == pytest.approx(handling)
    shares = cost_shares(plan, plan_figures(plan))
    assert shares.total == pytest.approx(after.money.total)


def test_scrap_fetches_its_price_and_is_in_no_cost() -> None:
    plan = plan_of(LAYOUTS)
    group = plan.groups[0].group
    metal = replace(group.material, scrap_price=0.25)
    paid = replace(plan, groups=(replace(plan.groups[0], group=replace(group, material=metal)),))
    before, after = plan_figures(plan).total, plan_figures(paid).total
    assert after.money.scrap == pytest.approx(0.25 * before.split.solid_scrap)
    assert after.money.total == before.money.total


