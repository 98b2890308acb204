"""What the check of a layout says, word for word and with its figures, for a planner to find the place by."""

import math
from dataclasses import replace

import pytest

from sheetplan.checking import FaultKind, check_layout
from sheetplan.model import Grain, Group, Layout, Part, Placement, Remnant, SheetSize, rectangle
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from tests.checking.test_layouts import RULE, SHEET, SIX, STEEL, odd, part
from tests.drawings.samples import circle

BAR = part("bar", rectangle(100.0, 50.0), turns=(0.0,))
GAUGE = "mild steel 6 mm"


def said(
    placements: list[Placement], parts: tuple[Part, ...] = (BAR,), sheet: SheetSize | Remnant = SHEET,
    units: Units = Units.MM,
) -> list[tuple[FaultKind, str]]:  # fmt: skip
    group = Group(GAUGE, STEEL, SIX, RULE, (), (), ())
    layout = Layout("L7", sheet, tuple(placements))
    faults = check_layout(layout, group, {one.name: one for one in parts}, units)
    assert {fault.place for fault in faults} <= {"L7"}
    return [(fault.kind, fault.what) for fault in faults]


def test_a_margin_that_is_too_small_is_told_in_the_units_of_the_book() -> None:
    at = [Placement("bar", 10.0, 254.0)]
    assert said(at) == [(
        FaultKind.MARGIN,
        "bar at (10.0000 mm, 254.0000 mm) is 10.0000 mm from the sheet's edge; the margin is 12.7000 mm",
    )]  # fmt: skip
    assert said(at, units=Units.INCH) == [(
        FaultKind.MARGIN,
        "bar at (0.3937 in, 10.0000 in) is 0.3937 in from the sheet's edge; the margin is 0.5000 in",
    )]  # fmt: skip


def test_a_part_that_sticks_out_is_told_by_how_much_where_that_is_known() -> None:
    assert said([Placement("bar", -4.0, 254.0)]) == [
        (FaultKind.OUTSIDE, "bar at (-4.0000 mm, 254.0000 mm) lies outside the sheet by 4.0000 mm"),
    ]
    assert said([Placement("bar", 600.0, 600.0)], sheet=odd()) == [
        (FaultKind.OUTSIDE, "bar at (600.0000 mm, 600.0000 mm) lies outside the sheet"),
    ]
    assert said([Placement("bar", 0.0, 254.0)])[0][0] is FaultKind.MARGIN, "at the edge it is on the sheet"


def test_a_gap_that_is_too_small_and_parts_that_overlap() -> None:
    pair = [Placement("bar", 100.0, 100.0), Placement("bar", 205.0, 100.0)]
    assert said(pair) == [(
        FaultKind.GAP,
        "bar at (100.0000 mm, 100.0000 mm) is 5.0000 mm from bar at (205.0000 mm, 100.0000 mm)"
        "; the gap is 6.3500 mm",
    )]  # fmt: skip
    assert said([pair[0], replace(pair[1], x=190.0)]) == [(
        FaultKind.OVERLAP, "bar at (100.0000 mm, 100.0000 mm) overlaps bar at (190.0000 mm, 100.0000 mm)"
    )]  # fmt: skip


def test_old_cuts_are_told_by_their_number() -> None:
    """The bar ends at 170, the second cut begins there and the third 5 mm further on."""
    cuts = (circle(900.0, 200.0, 10.0), circle(190.0, 125.0, 30.0))
    at = [Placement("bar", 70.0, 100.0)]
    assert said(at, sheet=odd(cuts)) == [
        (FaultKind.OLD_CUT, "bar at (70.0000 mm, 100.0000 mm) overlaps old cut 2"),
    ]
    assert said(at, sheet=odd((cuts[0], circle(195.0, 125.0, 20.0)))) == [(
        FaultKind.OLD_CUT,
        "bar at (70.0000 mm, 100.0000 mm) is 5.0000 mm from old cut 2; the gap is 6.3500 mm",
    )]  # fmt: skip


@pytest.mark.parametrize(
    ("turns", "grain", "turn", "allowed"),
    [
        ((0.0,), Grain.NONE, 90.0, "allowed: 0"),
        ((0.0, 90.0, 180.0, 270.0), Grain.LENGTH, 90.0, "allowed with grain along its length: 0, 180"),
        ((0.0, 90.0, 180.0, 270.0), Grain.WIDTH, 0.0, "allowed with grain along its width: 90, 270"),
        ((90.0,), Grain.LENGTH, 0.5, "allowed with grain along its length: none"),
    ],
)
def test_a_turn_is_told_beside_those_that_are_allowed(
    turns: tuple[float, ...], grain: Grain, turn: float, allowed: str
) -> None:
    bar = replace(BAR, turns=turns, grain=grain)
    what = f"bar at (300.0000 mm, 300.0000 mm) is turned by {turn:g}; {allowed}"
    assert said([Placement("bar", 300.0, 300.0, turn)], (bar,)) == [(FaultKind.TURN, what)]


def test_a_mirrored_part() -> None:
    assert said([Placement("bar", 300.0, 300.0, 0.0, True)]) == [
        (FaultKind.MIRROR, "bar at (300.0000 mm, 300.0000 mm) is mirrored and may not be"),
    ]


def test_an_unknown_part_and_a_part_without_a_place_hide_no_other_fault() -> None:
    lost = [Placement("nobody", 0.0, 0.0), Placement("bar", math.nan, 0.0),
            Placement("bar", 300.0, 300.0, math.inf), Placement("bar", 0.0, 0.0, 90.0)]  # fmt: skip
    assert said(lost) == [
        (FaultKind.UNKNOWN, "nobody is not a part of the job"),
        (FaultKind.PLACE, "bar has no place: nan, 0.0, turned by 0.0"),
        (FaultKind.PLACE, "bar has no place: 300.0, 300.0, turned by inf"),
        (FaultKind.TURN, "bar at (0.0000 mm, 0.0000 mm) is turned by 90; allowed: 0"),
    ]


def test_a_gauge_that_is_another_one() -> None:
    five = Thickness(5.0, "5 mm")
    thin = replace(BAR, thickness=five)
    at = [Placement("bar", 100.0, 100.0), Placement("bar", 300.0, 100.0)]
    assert said(at, (thin,)) == [(FaultKind.GAUGE, f"bar is mild steel 5 mm and lies on {GAUGE}")]
    brass = replace(BAR, material="brass")
    assert said(at, (brass,)) == [(FaultKind.GAUGE, f"bar is brass 6 mm and lies on {GAUGE}")]
    sheet = (FaultKind.GAUGE, f"the sheet is for mild steel 5 mm and the gauge is {GAUGE}")
    assert said(at, sheet=replace(SHEET, thickness=five)) == [sheet]
    empty = (FaultKind.EMPTY, "nothing is placed on it")
    assert said([], sheet=replace(SHEET, thickness=five)) == [empty, sheet]


@pytest.mark.parametrize("change", [{"material": "brass"}, {"thickness": Thickness(5.0, "5 mm")}])
def test_a_cutting_rule_of_another_gauge(change: dict[str, object]) -> None:
    rule = replace(RULE, **change)
    group = Group(GAUGE, STEEL, SIX, rule, (), (), ())
    layout = Layout("L7", SHEET, (Placement("bar", 100.0, 100.0),))
    faults = check_layout(layout, group, {"bar": BAR}, Units.MM)
    other = f"{rule.material} {rule.thickness.text}"
    assert [str(fault) for fault in faults] == [
        f"L7: the cutting rule is for {other} and the gauge is {GAUGE}"
    ]
