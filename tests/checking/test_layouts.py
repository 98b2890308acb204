"""Exact at the gap, and a hair less is a fault: for lines, arcs, holes, old cuts and odd edges."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.checking import FaultKind, check_layout
from sheetplan.model import (
    CuttingRule,
    Grain,
    Group,
    Layout,
    Loop,
    Material,
    Outline,
    Part,
    Placement,
    Remnant,
    SheetSize,
    rectangle,
)
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import SAME_LENGTH_MM, Units
from tests.checking.clearances import least_gap, least_margin
from tests.checking.good_plans import disc, unit
from tests.checking.planting import HAIR_MM
from tests.drawings.samples import circle, rounded

STEEL = Material("mild steel", "carbon steel", 7850.0)
SIX = Thickness(6.0, "6 mm")
GAP, MARGIN = 6.35, 12.7
RULE = CuttingRule(STEEL.name, SIX, 1.5, GAP, MARGIN)
SHEET = SheetSize("48 x 96", STEEL.name, SIX, 2438.4, 1219.2)
FREE = tuple(float(d) for d in range(360))


def part(name: str, outline: Outline, **more) -> Part:
    return Part(name, STEEL.name, SIX, outline, **{"turns": FREE, **more})


def kinds(
    parts: list[Part],
    placements: list[Placement],
    sheet: SheetSize | Remnant = SHEET,
    rule: CuttingRule = RULE,
) -> list[FaultKind]:
    group = Group("mild steel 6 mm", STEEL, SIX, rule, (), (), ())
    layout = Layout("L1", sheet, tuple(placements))
    faults = check_layout(layout, group, {one.name: one for one in parts}, Units.MM)
    return [fault.kind for fault in faults]


@given(
    st.floats(5.0, 190.0), st.floats(5.0, 190.0), st.floats(0.0, 360.0),  # so that both lie on the sheet
    st.sampled_from([0.0, HAIR_MM, -HAIR_MM, 5.0]),
)  # fmt: skip
@settings(max_examples=200, deadline=None)
def test_two_discs(r1: float, r2: float, degrees: float, more: float) -> None:
    parts = [part("A", disc(r1)), part("B", disc(r2))]
    dx, dy = unit(degrees)
    away = r1 + r2 + GAP + more
    at_a = Placement("A", 1000.0 - r1, 600.0 - r1, 17.0)
    # The disc's frame has its corner at (0, 0), so a turn about it moves the centre.
    cos, sin = unit(17.0)
    at_a = replace(at_a, x=1000.0 - r1 * (cos - sin), y=600.0 - r1 * (sin + cos))
    at_b = Placement("B", 1000.0 + away * dx - r2, 600.0 + away * dy - r2)
    assert kinds(parts, [at_a, at_b]) == ([FaultKind.GAP] if more < 0 else [])
    least = least_gap(Layout("L1", SHEET, (at_a, at_b)), {one.name: one for one in parts}, GAP + 1.0)
    assert least is None if more > 1.0 else least == pytest.approx(GAP + more, abs=1e-9)


@given(st.floats(20.0, 150.0), st.sampled_from([0.0, -HAIR_MM]), st.floats(0.0, 359.0).map(round))
@settings(max_examples=60, deadline=None)
def test_disc_in_a_ring(inner: float, more: float, degrees: int) -> None:
    hole = inner + GAP + more
    ring = Outline(circle(200.0, 200.0, 200.0), (circle(200.0, 200.0, hole),))
    cos, sin = unit(degrees)
    at_ring = Placement("R", 600.0 - 200.0 * (cos - sin), 600.0 - 200.0 * (sin + cos), float(degrees))
    placements = [at_ring, Placement("D", 600.0 - inner, 600.0 - inner)]
    got = kinds([part("R", ring), part("D", disc(inner))], placements)
    assert got == ([FaultKind.GAP] if more else [])


@given(st.integers(0, 359), st.sampled_from([0.0, -HAIR_MM]))
@settings(max_examples=60, deadline=None)
def test_bars_side_by_side_at_any_turn(degrees: int, more: float) -> None:
    bar = part("B", Outline(rounded(300.0, 40.0, 20.0)))
    cos, sin = unit(degrees)
    step = 40.0 + GAP + more
    at = [Placement("B", 1200.0 - sin * step * i, 600.0 + cos * step * i, float(degrees)) for i in range(3)]
    assert kinds([bar], at) == ([FaultKind.GAP] * 2 if more else [])


@pytest.mark.parametrize("x0", [-900.0, 0.0, 1800.0])
@pytest.mark.parametrize("y0", [-700.0, 0.0, 1400.0])
@pytest.mark.parametrize(("along", "up"), [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)])
def test_it_matters_to_no_distance_where_a_part_was_drawn(
    x0: float, y0: float, along: float, up: float
) -> None:
    """A bar drawn away from its origin, and one at its own, side by side about (1200, 600)."""
    bar = rectangle(100.0, 50.0)
    moved = Loop(tuple((x + x0, y + y0, bulge) for x, y, bulge in bar.outer.vertices))
    parts = [part("far", Outline(moved)), part("bar", bar)]
    for more, want in ((0.0, []), (-HAIR_MM, [FaultKind.GAP])):
        x = 1200.0 + along * (100.0 + GAP + more)
        y = 600.0 + up * (50.0 + GAP + more)
        placements = [Placement("far", 1200.0 - x0, 600.0 - y0), Placement("bar", x, y)]
        assert kinds(parts, placements) == want
        assert kinds(parts, placements[::-1]) == want


def test_a_part_in_the_metal_of_another_is_an_overlap() -> None:
    plate, slug = part("P", rectangle(1000.0, 1000.0)), part("S", disc(20.0))
    placements = [Placement("P", 100.0, 100.0), Placement("S", 600.0, 600.0)]
    assert kinds([plate, slug], placements) == [FaultKind.OVERLAP]
    assert kinds([plate, slug], placements[::-1]) == [FaultKind.OVERLAP]


def test_a_part_in_a_hole_is_none_and_in_the_web_between_holes_is() -> None:
    plate = part(
        "P",
        Outline(rectangle(1000.0, 1000.0).outer, (circle(250.0, 500.0, 200.0), circle(750.0, 500.0, 200.0))),
    )
    slug = part("S", disc(20.0))
    assert kinds([plate, slug], [Placement("P", 100.0, 100.0), Placement("S", 330.0, 580.0)]) == []
    assert kinds([plate, slug], [Placement("P", 100.0, 100.0), Placement("S", 580.0, 580.0)]) == [
        FaultKind.OVERLAP
    ]


def test_exactly_doubled_parts_overlap() -> None:
    placements = [Placement("S", 600.0, 600.0)] * 2
    assert kinds([part("S", disc(20.0))], placements) == [FaultKind.OVERLAP]


@pytest.mark.parametrize(("step", "want"), [(100.0, []), (100.0 - HAIR_MM, [FaultKind.OVERLAP])])
def test_without_a_gap_a_seam_is_allowed_and_an_overlap_is_not(step: float, want: list) -> None:
    rule = replace(RULE, gap=0.0)
    bar = part("B", rectangle(100.0, 50.0))
    placements = [Placement("B", 100.0, 100.0), Placement("B", 100.0 + step, 100.0)]
    assert kinds([bar], placements, rule=rule) == want


@pytest.mark.parametrize(("share", "want"), [(1.5, []), (2.5, [FaultKind.OVERLAP])])
def test_a_seam_may_be_as_thick_as_lengths_are_the_same_on_either_side(share: float, want: list) -> None:
    bar = part("B", rectangle(100.0, 50.0))
    for x, y in ((100.0 - share * SAME_LENGTH_MM, 0.0), (0.0, 50.0 - share * SAME_LENGTH_MM)):
        placements = [Placement("B", 100.0, 100.0), Placement("B", 100.0 + x, 100.0 + y)]
        assert kinds([bar], placements, rule=replace(RULE, gap=0.0)) == want


@pytest.mark.parametrize("more", [0.0, HAIR_MM])
@pytest.mark.parametrize("side", ["left", "bottom", "right", "top"])
def test_the_margin_on_every_side(side: str, more: float) -> None:
    far_x, far_y = SHEET.length - MARGIN - 100.0, SHEET.width - MARGIN - 50.0
    x, y = {
        "left": (MARGIN - more, 300.0), "right": (far_x + more, 300.0),
        "bottom": (300.0, MARGIN - more), "top": (300.0, far_y + more),
    }[side]  # fmt: skip
    bar, at = part("B", rectangle(100.0, 50.0)), Placement("B", x, y)
    assert kinds([bar], [at]) == ([FaultKind.MARGIN] if more else [])
    assert least_margin(Layout("L1", SHEET, (at,)), {"B": bar}) == pytest.approx(MARGIN - more, abs=1e-9)


def test_within_the_tolerance_is_the_same() -> None:
    bar = part("B", rectangle(100.0, 50.0))
    for less, want in ((0.9 * SAME_LENGTH_MM, []), (1.1 * SAME_LENGTH_MM, [FaultKind.GAP])):
        placements = [Placement("B", 100.0, 100.0), Placement("B", 200.0 + GAP - less, 100.0)]
        assert kinds([bar], placements) == want


L_EDGE = Loop((
    (0.0, 0.0, 0.0), (1000.0, 0.0, 0.0), (1000.0, 400.0, 0.0), (500.0, 400.0, -math.tan(math.pi / 8)),
    (400.0, 500.0, 0.0), (400.0, 1000.0, 0.0), (0.0, 1000.0, 0.0),
))  # fmt: skip
"""An L with a rounded inner corner of radius 100 about (500, 500)."""


def odd(cuts: tuple[Loop, ...] = ()) -> Remnant:
    return Remnant("R-1", STEEL.name, SIX, L_EDGE, cuts)


@pytest.mark.parametrize(
    ("x", "y", "want"),
    [
        (MARGIN, MARGIN, []),
        (400.0 - MARGIN - 50.0, 900.0, []),
        (400.0 - MARGIN - 50.0 + HAIR_MM, 900.0, [FaultKind.MARGIN]),
        (600.0, 600.0, [FaultKind.OUTSIDE]),
        (380.0, 800.0, [FaultKind.OUTSIDE]),
        (-100.0, 20.0, [FaultKind.OUTSIDE]),
    ],
)
def test_an_odd_remnant(x: float, y: float, want: list) -> None:
    assert kinds([part("B", rectangle(50.0, 50.0))], [Placement("B", x, y)], odd()) == want


@pytest.mark.parametrize(("more", "want"), [(1e-6, []), (-HAIR_MM, [FaultKind.MARGIN])])
def test_the_rounded_corner_of_an_odd_remnant(more: float, want: list) -> None:
    # The square's upper right corner points at the arc, which bulges into the sheet towards the
    # square: nearest along the diagonal from (500, 500), at 100 from it.
    reach = 500.0 - (100.0 + MARGIN + more) / math.sqrt(2.0)
    got = kinds([part("B", rectangle(50.0, 50.0))], [Placement("B", reach - 50.0, reach - 50.0)], odd())
    assert got == want


def test_a_margin_of_nothing_may_touch_an_odd_edge() -> None:
    rule = replace(RULE, margin=0.0)
    bar = part("B", rectangle(50.0, 50.0))
    assert kinds([bar], [Placement("B", 350.0, 900.0)], odd(), rule) == []
    assert kinds([bar], [Placement("B", 350.0 + HAIR_MM, 900.0)], odd(), rule) == [FaultKind.OUTSIDE]


@pytest.mark.parametrize(
    ("x", "want"),
    [(230.0 + GAP, []), (230.0 + GAP - HAIR_MM, [FaultKind.OLD_CUT]), (175.0, [FaultKind.OLD_CUT])],
)
def test_old_cuts_are_kept_clear(x: float, want: list) -> None:
    cut = circle(200.0, 200.0, 30.0)
    bar = part("B", rectangle(50.0, 50.0))
    assert kinds([bar], [Placement("B", x, 175.0)], odd((cut,))) == want


def test_an_old_cut_may_lie_in_a_parts_hole_but_not_in_its_metal() -> None:
    cut = circle(200.0, 200.0, 10.0)
    ring = part("R", Outline(circle(150.0, 150.0, 150.0), (circle(150.0, 150.0, 80.0),)))
    assert kinds([ring], [Placement("R", 50.0, 50.0)], odd((cut,))) == []
    in_the_metal = odd((circle(130.0, 240.0, 10.0),))
    assert kinds([ring], [Placement("R", 90.0, 90.0)], in_the_metal) == [FaultKind.OLD_CUT]


def test_old_cuts_may_touch_each_other() -> None:
    cuts = (circle(200.0, 200.0, 30.0), circle(210.0, 200.0, 30.0))
    assert kinds([part("B", rectangle(50.0, 50.0))], [Placement("B", 300.0, 300.0)], odd(cuts)) == []


def test_turns_and_grain() -> None:
    bar = part("B", rectangle(100.0, 50.0), turns=(0.0, 90.0), grain=Grain.LENGTH)
    assert kinds([bar], [Placement("B", 100.0, 100.0, 0.0)]) == []
    assert kinds([bar], [Placement("B", 100.0, 100.0, 90.0)]) == [FaultKind.TURN]
    assert kinds([bar], [Placement("B", 300.0, 300.0, 180.0)]) == [FaultKind.TURN]
    assert kinds([bar], [Placement("B", 300.0, 300.0, 360.0)]) == []


def test_mirroring_needs_leave() -> None:
    bar = part("B", rectangle(100.0, 50.0))
    assert kinds([bar], [Placement("B", 300.0, 300.0, 0.0, True)]) == [FaultKind.MIRROR]
    assert kinds([replace(bar, may_mirror=True)], [Placement("B", 300.0, 300.0, 0.0, True)]) == []


def test_an_empty_layout_and_a_part_from_nowhere() -> None:
    assert kinds([], []) == [FaultKind.EMPTY]
    assert kinds([], [Placement("B", 0.0, 0.0)]) == [FaultKind.UNKNOWN]
    assert kinds([part("B", disc(5.0))], [Placement("B", math.inf, 0.0)]) == [FaultKind.PLACE]
    assert kinds([part("B", disc(5.0))], [Placement("B", 100.0, math.nan)]) == [FaultKind.PLACE]


def test_wrong_gauge_of_part_and_sheet() -> None:
    thin = replace(part("B", disc(50.0)), thickness=Thickness(5.0, "5 mm"))
    assert kinds([thin], [Placement("B", 100.0, 100.0)]) == [FaultKind.GAUGE]
    other = replace(SHEET, material="aluminium")
    assert kinds([part("B", disc(50.0))], [Placement("B", 100.0, 100.0)], other) == [FaultKind.GAUGE]
