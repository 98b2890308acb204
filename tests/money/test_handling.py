from hypothesis import given
from hypothesis import strategies as st

from sheetplan.model import Layout, Placement, Remnant, rectangle
from sheetplan.money.figures import lifts, sheets_at_once
from sheetplan.trade.units import KG_PER_POUND
from tests.money.bookmaking import QUARTER, SHEET, grid, plan_of

REMNANT = Remnant("R-7", "mild steel", QUARTER, rectangle(600.0, 400.0).outer)
PLAN = plan_of(
    [
        Layout("L1", SHEET, tuple(grid("plate", 7, 5, (310, 210))), 7),
        Layout("L2", REMNANT, (Placement("disc", 10, 10),)),
    ]
)


def test_sheets_and_remnants_of_a_gauge() -> None:
    # A 48 x 96 in sheet of 1/4 in steel weighs 327 lb: three to a lift of 1,000 lb.
    sheets, remnant = lifts(PLAN.groups[0], 1000 * KG_PER_POUND)
    assert (sheets.what, sheets.count, sheets.at_once, sheets.lifts) == ("4x8", 7, 3, 3)
    assert (remnant.what, remnant.count, remnant.lifts) == ("R-7", 1, 1)
    assert not sheets.too_heavy


def test_too_heavy_and_unlimited() -> None:
    heavy = lifts(PLAN.groups[0], 100.0)[0]
    assert heavy.too_heavy
    assert heavy.lifts is None
    assert lifts(PLAN.groups[0])[0].at_once is None


@given(st.integers(1, 50), st.floats(0.01, 5000))
def test_a_limit_of_so_many_sheets_allows_so_many(count: int, weight: float) -> None:
    assert sheets_at_once(weight, weight * count) == count
    assert sheets_at_once(weight, weight * count * 0.999) == count - 1
