import math
from dataclasses import replace

import pytest

from sheetplan.model import Layout, Placement, Remnant, Settings, rectangle
from sheetplan.money.layout_figures import cutting_work, layout_figures, metal_area, part_facts, total_work
from sheetplan.trade.units import KG_PER_POUND
from tests.money.bookmaking import INCH, PARTS, QUARTER, RULE, SHEET, STEEL, circle, grid, plan_of

SETTINGS = Settings(least_remnant_length=300.0, least_remnant_width=300.0)
USED_UP = Settings(least_remnant_length=9999.0)
"""Nothing is worth keeping, so that no crop cut is made."""


def figures(layout: Layout, settings=USED_UP):
    return layout_figures(layout, plan_of([layout]).groups[0].group, PARTS, settings)


def test_kerf_loss_of_a_circle_by_hand() -> None:
    disc = figures(Layout("L1", SHEET, (Placement("disc", 10.0, 10.0),)))
    # A disc of 100 mm: 314.159 mm of cut, 2 mm of kerf, 6.35 mm thick, 7850 kg/m3.
    assert disc.split.kerf == pytest.approx(314.159265 * 2 * 6.35 * 7850e-9, rel=1e-8)
    assert disc.split.parts == pytest.approx(math.pi * 50**2 * 6.35 * 7850e-9)
    assert (disc.pierces, disc.cut_length) == (1, pytest.approx(100 * math.pi))


def test_kerf_loss_of_a_rectangle_by_hand() -> None:
    plate = figures(Layout("L1", SHEET, (Placement("plate", 10.0, 10.0),)))
    # 300 x 200 mm: 1000 mm of cut.
    assert plate.split.kerf == pytest.approx(1000 * 2 * 6.35 * 7850e-9)
    assert plate.hours == pytest.approx(1000 / 2000 / 60 + 1 / 3600)
    assert plate.cutting_cost == pytest.approx(0.05 + 90 * (0.5 / 60 + 1 / 3600))


def test_holes_are_cut_weighed_off_and_pierced() -> None:
    washer = figures(Layout("L1", SHEET, (Placement("washer", 10.0, 10.0),)))
    assert washer.split.parts == pytest.approx(math.pi * (40**2 - 15**2) * 6.35 * 7850e-9)
    assert washer.cut_length == pytest.approx(2 * math.pi * 55)
    assert washer.pierces == 2


def test_weight_of_a_full_sheet() -> None:
    sheet = figures(Layout("L1", SHEET, (Placement("plate", 10.0, 10.0),)))
    # Source: theoretical weight of 1/4 in steel plate, 10.21 lb/ft2; 32 ft2 in a 48 x 96 in sheet.
    assert sheet.split.taken / KG_PER_POUND == pytest.approx(10.21 * 32, rel=1e-3)


def test_what_is_kept_is_not_waste() -> None:
    layout = Layout("L1", SHEET, tuple(grid("plate", 3, 5, (310, 210))))
    found = figures(layout, SETTINGS)
    assert found.kept is not None
    assert found.split.kept == pytest.approx((96 * INCH - 940) * 48 * INCH * 6.35 * 7850e-9)
    assert found.kept_value == pytest.approx(0.6 * 320.0 * (96 * INCH - 940) / (96 * INCH))
    whole = figures(layout, replace(SETTINGS, remnant_share=1.0))
    assert whole.kept_value == pytest.approx(found.kept_value / 0.6)
    assert found.yield_share > found.split.parts / found.split.taken * 2


def test_shared_kerf_is_not_lost_twice() -> None:
    """Parts laid with no more than the kerf between them cannot lose more metal than there is."""
    tight = Remnant("R-1", "mild steel", QUARTER, rectangle(302.0, 202.0).outer)
    found = figures(Layout("L1", tight, (Placement("plate", 1.0, 1.0),)))
    assert found.split.kerf < 1000 * 2 * 6.35 * 7850e-9
    assert found.split.skeleton == pytest.approx(0.0, abs=1e-12)


def test_old_cuts_and_their_kerf_are_gone_from_a_remnant() -> None:
    edge = rectangle(1000.0, 600.0).outer
    remnant = Remnant("R-1", "mild steel", QUARTER, edge, cuts=(circle(500, 300, 100),), value=25.0)
    assert metal_area(remnant, 2.0) == pytest.approx(600_000 - math.pi * 100**2 - 2 * math.pi * 100 * 2.0)
    assert figures(Layout("L1", remnant, (Placement("plate", 10.0, 10.0),))).metal_cost == 25.0


def test_without_a_feed_there_are_no_hours() -> None:
    assert cutting_work(1000.0, 3, type(RULE)("mild steel", QUARTER, 2.0, 10.0, 10.0)).hours is None
    timed = cutting_work(1000.0, 3, RULE)
    untimed = type(timed)(500.0, 1, None)
    assert total_work([timed, untimed]).hours is None
    assert total_work([timed, timed]).hours == pytest.approx(2 * timed.hours)
    assert total_work([timed, untimed]).pierces == 4


def test_part_facts() -> None:
    facts = part_facts(PARTS["plate"].outline, RULE)
    assert facts.area == pytest.approx(60_000)
    assert facts.work.cost(RULE) == pytest.approx(0.05 + 90 * facts.work.hours)
    assert STEEL.density == 7850
