"""What one sheet of a layout leaves: room, crop cut, weight and worth, as plan and log say it."""

import math
from dataclasses import replace
from itertools import combinations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.model import Layout, Loop, Outline, Placement, Remnant, Settings, rectangle
from sheetplan.money.layout_figures import crop_work, layout_figures
from sheetplan.rack.cut import Cutting, LeftOver, left_over, shares
from sheetplan.shapes import Box, perimeter, place, to_polygon
from sheetplan.trade.units import weight_kg
from tests.money.bookmaking import INCH, PARTS, QUARTER, RULE, SHEET, circle, grid, parts, plan_of

LEAST = Settings(least_remnant_length=300.0, least_remnant_width=300.0)
AS_IT_IS = replace(LEAST, crop_remnants=False)
SHEET_AREA = 96 * INCH * 48 * INCH


def leaves(placements: list[Placement], sheet=SHEET, least: Settings = LEAST, book=PARTS) -> LeftOver:
    layout = Layout("L1", sheet, tuple(placements))
    return left_over(layout, plan_of([layout]).groups[0].group, book, least)


def left(placements: list[Placement], sheet=SHEET, least: Settings = LEAST, book=PARTS) -> Box | None:
    return leaves(placements, sheet, least, book).room


def test_the_far_end_of_a_sheet() -> None:
    found = left(grid("plate", 3, 5, (310, 210)))
    assert found == Box(pytest.approx(10 + 3 * 310 - 10 + 10), 0.0, 96 * INCH, 48 * INCH)


def test_the_upper_side_when_it_is_the_larger() -> None:
    found = left(grid("plate", 7, 1, (310, 210)))
    assert found == Box(0.0, pytest.approx(10 + 200 + 10), 96 * INCH, 48 * INCH)


def test_the_largest_remnant_may_be_a_drop_out() -> None:
    small, large = Box(0.0, 0.0, 400.0, 300.0), Box(50.0, 50.0, 700.0, 650.0)
    assert LeftOver().largest is None
    assert LeftOver(room=small).largest == small
    assert LeftOver(room=small, drop_outs=(large,)).largest == large
    assert LeftOver(drop_outs=(small, large)).largest == large
    found = leaves(grid("plate", 3, 5, (310, 210)))
    assert found.largest == found.room


def test_too_small_is_not_kept() -> None:
    assert left(grid("plate", 7, 5, (310, 210))) is None
    narrow = Settings(least_remnant_length=500.0, least_remnant_width=100.0)
    assert left(grid("plate", 7, 5, (310, 210)), least=narrow) is not None


def test_an_empty_sheet_is_left_whole() -> None:
    assert left([]) == Box(0.0, 0.0, 96 * INCH, 48 * INCH)


def test_old_cuts_of_a_remnant_are_kept_clear() -> None:
    edge = rectangle(1000.0, 600.0).outer
    remnant = Remnant("R-1", "mild steel", QUARTER, edge, cuts=(circle(900.0, 300.0, 50.0),))
    found = left([Placement("washer", 10.0, 10.0)], remnant)
    assert found == Box(100.0, 0.0, 840.0, 600.0)


def test_a_remnant_with_an_odd_edge_promises_what_lies_on_its_metal() -> None:
    edge = Loop(((0, 0, 0), (1000, 0, 0), (800, 600, 0), (0, 600, 0)))
    found = left([], Remnant("R-2", "mild steel", QUARTER, edge))
    assert found is not None
    assert (found.left, found.bottom) == (0.0, 0.0)
    # The slanted side runs from (1000, 0) to (800, 600).
    assert found.right <= 1000.0 - found.top / 3.0 + 0.02
    assert found.length * found.width >= 800.0 * 600.0 - 1.0


def test_what_a_triangular_remnant_is_worth() -> None:
    """Its room stands for its value: 500 x 300 by calculus, half its metal; cut into, a share of that."""
    edge = Loop(((0, 0, 0), (1000, 0, 0), (0, 600, 0)))
    remnant = Remnant("R-5", "mild steel", QUARTER, edge)
    least = replace(LEAST, least_remnant_length=200.0, least_remnant_width=200.0)
    untouched = leaves([], remnant, least)
    assert untouched.room is not None
    assert untouched.room.length * untouched.room.width == pytest.approx(150_000.0, rel=1e-3)
    assert untouched.share == pytest.approx(1.0)
    # A washer in the right angle and its gap take the first 100 of either leg. Beside it a triangle of
    # 900 x 540 is left: 450 x 270; above it one of 833 x 500, which holds less.
    cut_into = leaves([Placement("washer", 10.0, 10.0)], remnant, least)
    assert cut_into.room == pytest.approx((100.0, 0.0, 550.0, 270.0), abs=0.5)
    assert cut_into.share == pytest.approx(450.0 * 270.0 / 150_000.0, rel=1e-3)
    assert len(cut_into.crop) == 2


def test_long_parts_hide_short_ones() -> None:
    bars = [Placement("bar", 10.0, y) for y in (10.0, 600.0, 1100.0)]
    found = left([*bars, Placement("washer", 100.0, 100.0)])
    assert found == Box(pytest.approx(620.0), 0.0, 96 * INCH, 48 * INCH)


def test_gaps_count_when_strips_are_compared() -> None:
    """Between two parts a strip loses the gap twice, at the sheet's end once: the end one is wider."""
    sheet = Remnant("R-4", "mild steel", QUARTER, rectangle(1205.0, 100.0).outer)
    least = Settings(least_remnant_length=90.0, least_remnant_width=90.0)
    book = parts(cell=rectangle(100.0, 100.0))
    found = left([Placement("cell", 500.0, 0.0), Placement("cell", 1105.0, 0.0)], sheet, least, book)
    assert found == Box(0.0, 0.0, 490.0, 100.0)


CELL = 100
LATTICE = parts(cell=rectangle(CELL, CELL))


@settings(max_examples=40, deadline=None)
@given(st.sets(st.tuples(st.integers(0, 9), st.integers(0, 5)), max_size=5))
def test_against_every_rectangle_of_a_lattice(cells: set[tuple[int, int]]) -> None:
    """The largest rectangle has its sides on the sheet's edges or a gap off a part."""
    edge = rectangle(10 * CELL, 6 * CELL).outer
    sheet = Remnant("R-3", "mild steel", QUARTER, edge)
    least = Settings(least_remnant_length=90.0, least_remnant_width=90.0)
    found = left([Placement("cell", i * CELL, j * CELL) for i, j in sorted(cells)], sheet, least, LATTICE)
    grown = [
        Box(i * CELL - RULE.gap, j * CELL - RULE.gap, (i + 1) * CELL + RULE.gap, (j + 1) * CELL + RULE.gap)
        for i, j in cells
    ]
    xs = sides([side for b in grown for side in (b.left, b.right)], 10 * CELL)
    ys = sides([side for b in grown for side in (b.bottom, b.top)], 6 * CELL)
    clear = [
        Box(x, y, x2, y2)
        for x, x2 in combinations(xs, 2)
        for y, y2 in combinations(ys, 2)
        if not any(b.left < x2 and x < b.right and b.bottom < y2 and y < b.top for b in grown)
    ]
    largest = max((b.length * b.width for b in clear), default=0.0)
    useful = [b for b in clear if b.length * b.width == largest and min(b.length, b.width) >= 90.0]
    assert (found is not None) == bool(useful)
    if found is not None:
        assert found.length * found.width == pytest.approx(largest)
        assert not any(
            b.left < found.right and found.left < b.right and b.bottom < found.top and found.bottom < b.top
            for b in grown
        )


def sides(of_parts: list[float], whole: float) -> list[float]:
    return sorted({0.0, whole, *(side for side in of_parts if 0.0 < side < whole)})


FAR_END = grid("plate", 3, 5, (310, 210))
"""Three plates of 300 along the length: the room begins at 10 + 3 x 310 - 10 + 10 = 940."""


def test_a_crop_cut_runs_straight_across_half_a_kerf_off_the_room() -> None:
    found = leaves(FAR_END)
    # The kerf is 2 mm: the middle of the cut lies 1 mm before the room, so that it comes out at its size.
    assert [line.vertices for line in found.crop] == [((939.0, 48 * INCH, 0.0), (939.0, 0.0, 0.0))]
    assert found.cropped
    assert found.metal == pytest.approx((96 * INCH - 940) * 48 * INCH)
    assert found.share == pytest.approx((96 * INCH - 940) / (96 * INCH))


def test_a_room_in_a_corner_takes_two_sides_in_one_cut() -> None:
    # One plate in the lower left and one below: the largest room is the upper strip or the right end.
    sheet = Remnant("R-1", "mild steel", QUARTER, rectangle(1000.0, 1000.0).outer, value=80.0)
    cells = parts(bar=rectangle(390.0, 990.0), beam=rectangle(980.0, 390.0))
    found = leaves([Placement("bar", 0.0, 5.0), Placement("beam", 0.0, 0.0)], sheet, LEAST, cells)
    assert found.room == Box(400.0, 400.0, 1000.0, 1000.0)
    [line] = found.crop
    assert [vertex[:2] for vertex in line.vertices] == [(399.0, 1000.0), (399.0, 399.0), (1000.0, 399.0)]
    assert found.share == pytest.approx(0.36)


def test_the_crop_cut_is_in_length_pierces_hours_and_money() -> None:
    layout = Layout("L1", SHEET, tuple(FAR_END))
    group = plan_of([layout]).groups[0].group
    cropped = layout_figures(layout, group, PARTS, LEAST)
    whole = layout_figures(layout, group, PARTS, AS_IT_IS)
    assert cropped.cut_length - whole.cut_length == pytest.approx(48 * INCH)
    assert cropped.pierces == whole.pierces + 1
    crop = crop_work(cropped.left, RULE)
    assert cropped.cutting_cost - whole.cutting_cost == pytest.approx(crop.cost(RULE))
    assert cropped.split.kerf - whole.split.kerf == pytest.approx(48 * INCH * 2 * 6.35 * 7850e-9)


def test_kept_as_it_is_a_sheet_weighs_all_its_metal_and_is_worth_its_room() -> None:
    found, cropped = leaves(FAR_END, least=AS_IT_IS), leaves(FAR_END)
    assert (found.crop, found.cropped, found.room) == ((), False, cropped.room)
    # Fifteen plates of 300 x 200 are gone, and a kerf of 2 mm round each.
    assert found.metal == pytest.approx(SHEET_AREA - 15 * (300 * 200 + 1000 * 2))
    assert found.share == cropped.share


@pytest.mark.parametrize("how", [LEAST, AS_IT_IS])
def test_metal_of_a_large_hole_goes_back_as_a_remnant_of_its_own(how: Settings) -> None:
    rings = parts(ring=Outline(circle(600, 600, 590), (circle(600, 600, 500),)))
    found = leaves([Placement("ring", 0.0, 0.0)], SHEET, how, rings)
    [drop] = found.drop_outs
    # A square in a circle of radius 498 (kerf off) has sides of 704; the grid may lose a little of it.
    assert 650.0 < min(drop.length, drop.width) <= max(drop.length, drop.width)
    assert drop.length * drop.width <= 2 * 498.0**2
    own = found.metal - math.pi * 498.0**2
    assert own == pytest.approx(leaves([Placement("ring", 0.0, 0.0)], SHEET, how, parts(
        ring=Outline(circle(600, 600, 590)))).metal)  # fmt: skip
    assert found.share <= 1.0


def test_worth_is_never_more_than_the_whole() -> None:
    assert shares(100.0, [Box(0, 0, 8, 10), Box(0, 0, 8, 10)]) == (0.8, pytest.approx(0.2))
    assert shares(0.0, [Box(0, 0, 8, 10)]) == (0.0,)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 20), st.integers(0, 9), st.booleans()), min_size=1, max_size=8),
    st.booleans(),
)
def test_the_crop_cut_parts_the_room_and_keeps_off_the_parts(
    spots: list[tuple[int, int, bool]], odd: bool
) -> None:
    """What shapely says once all is cut: the room is one piece by itself, the parts are whole."""
    placements = [Placement("washer" if round else "disc", x * 110.0, y * 110.0) for x, y, round in spots]
    slanted = Loop(((0, 0, 0), (2438, 0, 0), (2100, 1219, 0), (0, 1219, 0)))
    edge = slanted if odd else rectangle(2438, 1219).outer
    sheet = Remnant("R-1", "mild steel", QUARTER, edge)
    found = leaves(placements, sheet)
    if found.room is None:
        return
    kerf = shapely.union_all([shapely.LineString([v[:2] for v in c.vertices]) for c in found.crop]).buffer(
        RULE.kerf / 2.0, cap_style="square", join_style="mitre"
    )
    for placement in placements:
        outer = to_polygon(place(PARTS[placement.part].outline, placement).outer, 0.01)
        assert kerf.distance(outer) >= RULE.gap - RULE.kerf - 0.01
    room = shapely.box(*found.room)
    metal = to_polygon(edge, 0.01)
    rest = metal.difference(kerf)
    pieces = [piece for piece in shapely.get_parts(rest) if piece.intersection(room).area > 1.0]
    assert len(pieces) == 1
    # It comes out at its size; where an odd edge is left to it, a sliver of that may hang on.
    assert pieces[0].symmetric_difference(room).area <= (1e-3 if not odd else 0.02) * room.area + 1.0
    assert sum(map(perimeter, found.crop)) <= 2 * (found.room.length + found.room.width) + 8 * RULE.kerf


def test_equal_holes_leave_equal_pieces_wherever_they_lie() -> None:
    """A ring on four spots of two sheets, looked at once; a part in the hole of one of them leaves less."""
    ring = Outline(circle(300.0, 300.0, 300.0), (circle(300.0, 300.0, 280.0),))
    book = parts(ring=ring, plate=rectangle(300.0, 300.0))
    spots = [(7.0 + 610.0 * column, 11.0 + 603.0 * row) for column in range(2) for row in range(2)]
    turned = Placement("ring", spots[3][0] + 600.0, spots[3][1], 90.0)
    rings = (*(Placement("ring", x, y) for x, y in spots[:3]), turned)
    layouts = [Layout("L1", SHEET, rings), Layout("L2", SHEET, (*rings, Placement("plate", 157.0, 161.0)))]
    group = plan_of(layouts, book=book).groups[0].group
    cutting = Cutting(group.rule, book, LEAST)
    apart = [left_over(layout, group, book, LEAST) for layout in layouts]
    together = [left_over(layout, group, book, LEAST, cutting) for layout in layouts]
    assert together == apart
    assert len(together[0].drop_outs) == 4
    assert len(set(together[0].drop_outs[:3])) == 1
    assert together[0].drop_outs[3] == pytest.approx(together[0].drop_outs[0], abs=0.01)
    assert len(together[1].drop_outs) == 3


def test_a_sheet_that_goes_back_uncropped_has_the_yield_of_the_same_sheet_cropped() -> None:
    layout = Layout("L1", SHEET, tuple(grid("plate", 3, 4, (310, 210))))
    group = plan_of([layout]).groups[0].group
    whole = layout_figures(layout, group, PARTS, AS_IT_IS).split
    cropped = layout_figures(layout, group, PARTS, LEAST).split
    assert whole.kept > cropped.kept, "its skeleton goes along"
    assert whole.useful == pytest.approx(cropped.useful, rel=1e-3)
    # The crop cut alone lies between them.
    assert whole.yield_share == pytest.approx(cropped.yield_share, abs=0.01)
    assert whole.yield_share + whole.waste_share == pytest.approx(1.0)


def test_a_skeleton_that_went_along_is_waste_once() -> None:
    layout = Layout("L1", SHEET, tuple(grid("plate", 3, 4, (310, 210))))
    group = plan_of([layout]).groups[0].group
    first = layout_figures(layout, group, PARTS, AS_IT_IS).split
    cuts = [place(PARTS["plate"].outline, one).outer for one in layout.placements]
    edge = rectangle(96 * INCH, 48 * INCH).outer
    old = Remnant("R-1", SHEET.material, SHEET.thickness, edge, tuple(cuts))
    rest = Layout("L2", old, (Placement("plate", 1500.0, 10.0, 0.0),))
    last = layout_figures(rest, group, PARTS, AS_IT_IS)
    room = last.left.room
    assert room is not None
    useful = weight_kg(room.length * room.width, group.thickness.mm, group.material.density)
    everything = first.waste + last.split.waste + useful + first.parts + last.split.parts
    assert everything == pytest.approx(first.taken, rel=1e-2)
