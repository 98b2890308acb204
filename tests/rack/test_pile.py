"""What lies on a remnant: by hand from sizes and densities, and what moving it costs."""

from dataclasses import replace

import pytest

from sheetplan.model import Job, Remnant, Settings, SheetSize, rectangle
from sheetplan.rack.usable import weight_above, with_piles
from sheetplan.trade.units import KG_PER_POUND
from tests.money.bookmaking import INCH, QUARTER, SHEET, STEEL, circle

PLATE_KG = 96 * INCH * 48 * INCH * 6.35 * 7850e-9
"""A quarter-inch sheet of 48 x 96 in."""


def remnant(tag: str, above: int | None, place: str = "R1", **more: object) -> Remnant:
    edge = rectangle(1000.0, 600.0).outer
    return Remnant(tag, "mild steel", QUARTER, edge, rack_place=place, value=10.0, above=above, **more)


def job(*remnants: Remnant, stock: tuple[SheetSize, ...] = (SHEET,), price: float = 0.0) -> Job:
    return Job(Settings(moving_cost=price), {STEEL.name: STEEL}, (), {}, {}, (), stock, remnants)


def test_fourteen_sheets_are_nearly_two_tons() -> None:
    # Source: theoretical weight of 1/4 in steel plate, 10.21 lb/ft2; 32 ft2 in a 48 x 96 in sheet, 14 sheets.
    found, is_most = weight_above(remnant("R-1", 14), job(remnant("R-1", 14)))
    assert not is_most
    assert found / KG_PER_POUND == pytest.approx(14 * 32 * 10.21, rel=2e-3)


def test_nothing_said_is_nothing_to_move() -> None:
    for above in (None, 0):
        one = remnant("R-1", above)
        assert weight_above(one, job(one)) == (0.0, False)


def test_remnants_known_to_lie_higher_are_weighed_themselves() -> None:
    low = remnant("R-1", 3)
    holed = remnant("R-2", 0, cuts=(circle(500, 300, 100),))
    elsewhere = remnant("R-3", 1, place="R9")
    below = remnant("R-4", 7)
    found, _ = weight_above(low, job(low, holed, elsewhere, below))
    # By hand: two full sheets, and one of 1000 x 600 with a disc of radius 100 cut from it.
    own = (600_000 - 31_415.927) * 6.35 * 7850e-9
    assert found == pytest.approx(2 * PLATE_KG + own)


def test_full_sheets_at_the_same_place_are_what_lies_on_it() -> None:
    thin = replace(SHEET, name="thin", thickness=replace(QUARTER, mm=2.0), rack_place="r1")
    low = remnant("R-1", 4)
    found, is_most = weight_above(low, job(low, stock=(SHEET, thin)))
    assert (found, is_most) == (pytest.approx(4 * PLATE_KG * 2.0 / 6.35), False)


def test_of_sizes_on_hand_the_heaviest_is_meant_and_called_the_most() -> None:
    low = remnant("R-1", 2)
    big = replace(SHEET, name="big", length=120 * INCH, width=60 * INCH, on_hand=3)
    # Source: theoretical weight of 1/4 in steel plate, 10.21 lb/ft2; 50 ft2 in a 60 x 120 in sheet.
    found, is_most = weight_above(low, job(low, stock=(SHEET, big)))
    assert is_most
    assert found / KG_PER_POUND == pytest.approx(2 * 50 * 10.21, rel=2e-3)
    known = job(low, remnant("R-2", 0), remnant("R-3", 1), stock=(SHEET, big))
    assert weight_above(low, known) == (pytest.approx(2 * 600_000 * 6.35 * 7850e-9), False)


def test_a_size_with_none_on_hand_lies_nowhere() -> None:
    low = remnant("R-1", 2)
    small = replace(SHEET, name="small", length=48 * INCH, on_hand=0)
    big = replace(SHEET, name="big", length=120 * INCH, width=60 * INCH, on_hand=0)
    assert weight_above(low, job(low, stock=(small, SHEET, big))) == (pytest.approx(2 * PLATE_KG), False)
    at_its_place = replace(big, rack_place="R1")
    assert weight_above(low, job(low, stock=(SHEET, at_its_place)))[0] == pytest.approx(2 * PLATE_KG)
    # With none on hand at all the heaviest is the safe guess.
    found, is_most = weight_above(low, job(low, stock=(small, big)))
    assert (found, is_most) == (pytest.approx(2 * PLATE_KG * 50 / 32), True)


def test_without_stock_they_are_as_large_as_the_remnant() -> None:
    low = remnant("R-1", 2)
    assert weight_above(low, job(low, stock=()))[0] == pytest.approx(2 * 600_000 * 6.35 * 7850e-9)


def test_moving_is_priced_and_added_to_what_a_remnant_costs() -> None:
    top, low = with_piles(job(remnant("R-1", 0), remnant("R-2", 1), price=0.02)).remnants
    assert (top.cost, top.weight_above) == (10.0, 0.0)
    assert low.weight_above == pytest.approx(600_000 * 6.35 * 7850e-9)
    assert low.cost == pytest.approx(10.0 + 0.02 * low.weight_above)
