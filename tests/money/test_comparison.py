import random
from dataclasses import replace

import pytest
import rectpack
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.model import Grain, Layout, Plan, Settings, SheetSize, rectangle
from sheetplan.model.plan import CHEAPEST, Choice
from sheetplan.money.comparison import (
    METAL_COST,
    MOST_PIECES,
    PlainBoxes,
    choice_figures,
    compare,
    every_layout,
    sheets_of_boxes,
)
from sheetplan.money.figures import plan_figures
from tests.money.bookmaking import INCH, PARTS, QUARTER, RULE, SHEET, grid, parts, plan_of


def compared(plan):
    return compare(plan.groups[0], plan.job, plan_figures(plan).total.sheet_weight)


def test_plain_boxes_by_hand() -> None:
    layouts = [Layout("L1", SHEET, (*grid("plate", 6, 5, (310, 210)), *grid("washer", 1, 1, (0, 0))))]
    found = compared(plan_of(layouts))
    # 30 plates at 7 x 5 a sheet and one washer: one sheet, as the plan takes.
    assert found.boxes == PlainBoxes(1, pytest.approx(2438.4 * 1219.2 * 6.35 * 7850e-9), 320.0)
    assert found.cost_saved == pytest.approx(0.0)
    assert found.weight_saved == pytest.approx(0.0)
    room = (2438.4 - 10) * (1219.2 - 10)
    assert found.box_floor == pytest.approx(320.0 * (30 * 310 * 210 + 90 * 90) / room)


def test_the_cheapest_size_is_taken_for_each_part() -> None:
    small = SheetSize("3x4", "mild steel", QUARTER, 48 * INCH, 36 * INCH, price=100.0)
    layout = Layout("L1", SHEET, tuple(grid("plate", 2, 2, (310, 210))))
    found = compared(plan_of([layout], stock=(SHEET, small)))
    assert (found.boxes.sheets, found.boxes.cost) == (1, 100.0)


def test_a_size_on_which_not_every_part_fits_is_not_compared() -> None:
    """The bar of 600 mm is too long for 20 x 20 in, so that all go on the dear sheet."""
    small = SheetSize("20x20", "mild steel", QUARTER, 20 * INCH, 20 * INCH, price=1.0)
    layout = Layout("L1", SHEET, (*grid("plate", 1, 1, (0, 0)), *grid("bar", 1, 1, (0, 0))))
    found = compared(plan_of([layout], stock=(SHEET, small)))
    assert (found.boxes.sheets, found.boxes.cost, found.boxes.left_out) == (1, 320.0, ())


def test_grain_is_kept_by_plain_boxes() -> None:
    long_way = PARTS["bar"]
    along = replace(long_way, grain=Grain.LENGTH)
    across = replace(long_way, grain=Grain.WIDTH)
    for part, expected in ((along, 3 * 20), (across, 40 * 1)):
        book = {**PARTS, "bar": part}
        layouts = [Layout("L1", SHEET, tuple(grid("bar", 1, 1, (0, 0))), expected + 1)]
        assert compared(plan_of(layouts, book=book)).boxes.sheets == 2


def test_what_fits_no_sheet_makes_no_saving() -> None:
    book = {**PARTS, **parts(mast=rectangle(5000.0, 100.0))}
    found = compared(plan_of([Layout("L1", SHEET, tuple(grid("mast", 1, 1, (0, 0))))], book=book))
    assert found.boxes.left_out == ("mast",)
    assert found.cost_saved is None
    assert found.weight_saved is None


def test_without_prices_area_decides_and_there_is_no_floor() -> None:
    free = replace(SHEET, price=0.0)
    huge = replace(SHEET, name="huge", length=9000.0, width=3000.0, price=0.0)
    layout = Layout("L1", free, tuple(grid("plate", 2, 2, (310, 210))))
    found = compared(plan_of([layout], stock=(huge, free)))
    assert found.box_floor is None
    assert found.boxes.weight == pytest.approx(2438.4 * 1219.2 * 6.35 * 7850e-9)


@given(st.integers(1, 12), st.integers(1, 12), st.floats(20, 300), st.floats(20, 300))
def test_a_sheet_made_for_a_grid_holds_just_that_grid(nx: int, ny: int, length: float, width: float) -> None:
    def side(count: int, part: float) -> float:
        return count * part + (count - 1) * RULE.gap + 2 * RULE.margin

    sheet = SheetSize("made", "mild steel", QUARTER, side(nx, length), side(ny, width))
    boxes = {"part": ((length, width),)}
    assert sheets_of_boxes(sheet, {"part": nx * ny}, boxes, RULE) == 1
    assert sheets_of_boxes(sheet, {"part": nx * ny + 1}, boxes, RULE) == 2


def test_the_plain_packer_is_rectpack_itself() -> None:
    """rectpack with the same method on the same boxes, asked here by its own words."""
    chance = random.Random(5)
    sizes = {f"p{i}": (chance.uniform(100, 700), chance.uniform(100, 500)) for i in range(40)}
    ours = sheets_of_boxes(
        SHEET, dict.fromkeys(sizes, 2), {name: (one, one[::-1]) for name, one in sizes.items()}, RULE
    )
    packer = rectpack.newPacker(pack_algo=rectpack.MaxRectsBssf, sort_algo=rectpack.SORT_AREA, rotation=True)
    for length, width in sizes.values():
        for _ in range(2):
            packer.add_rect(round((length + 10) * 1e6), round((width + 10) * 1e6))
    packer.add_bin(round((SHEET.length - 10) * 1e6), round((SHEET.width - 10) * 1e6), count=80)
    packer.pack()
    assert len(packer.rect_list()) == 80
    area = sum(2 * (length + 10) * (width + 10) for length, width in sizes.values())
    assert ours == len(packer)
    assert ours >= area / ((SHEET.length - 10) * (SHEET.width - 10))


def test_a_box_that_may_be_turned_is_turned_and_one_with_a_grain_is_not() -> None:
    """Two pieces of 200 x 200 and 200 x 100 fill 300 x 200 where the second one stands upright."""
    bare = replace(RULE, gap=0.0, margin=0.0)
    sheet = SheetSize("made", "mild steel", QUARTER, 300.0, 200.0)
    square, free, kept = ((200.0, 200.0),), ((200.0, 100.0), (100.0, 200.0)), ((200.0, 100.0),)
    pieces = {"square": 1, "strip": 1}
    assert sheets_of_boxes(sheet, pieces, {"square": square, "strip": free}, bare) == 1
    assert sheets_of_boxes(sheet, pieces, {"square": square, "strip": kept}, bare) == 2


def test_too_many_pieces_are_not_compared() -> None:
    layout = Layout("L1", SHEET, tuple(grid("washer", 10, 10, (90, 90))), MOST_PIECES // 100 + 1)
    found = compared(plan_of([layout]))
    assert found.boxes is None
    assert found.cost_saved is None
    assert found.box_floor is not None


LEAST = Settings(least_remnant_length=300.0, least_remnant_width=300.0)
LOOSE = Layout("L1", SHEET, tuple(grid("plate", 3, 5, (310, 210))), 2)
DENSE = Layout("L2", SHEET, tuple(grid("plate", 6, 5, (310, 210))))


def two_ways() -> Plan:
    """Thirty plates on two sheets, of which one is bought, or closely on the one in the rack."""
    dense = plan_of([DENSE], settings=LEAST).groups[0]
    plan = plan_of([LOOSE], settings=LEAST)
    return replace(plan, groups=(replace(plan.groups[0], choices=(Choice("fewest sheets", "", dense),)),))


def test_what_a_way_is_best_at_is_said_of_it_alone() -> None:
    """Closely, 1870 of 2438 mm are used up; else twice 940 mm, which leaves the larger remnants."""
    ((loose, dense),) = choice_figures(two_ways())
    assert loose.best_at == ("largest remnant",)
    assert dense.best_at == (
        METAL_COST, "least to pay", "fewest sheets", "least metal taken", "least waste",
    )  # fmt: skip
    assert [(one.sheets, one.layouts) for one in (loose, dense)] == [(2, 1), (1, 1)]
    assert [one.kept.length for one in (loose, dense)] == pytest.approx([2438.4 - 940, 2438.4 - 1870])
    assert dense.kept_area == pytest.approx((2438.4 - 1870) * 1219.2)


def test_of_the_remnants_of_one_way_the_largest_is_told() -> None:
    plan = plan_of([replace(DENSE, tag="L1"), replace(LOOSE, tag="L2")], settings=LEAST)
    ((found,),) = choice_figures(plan)
    assert found.kept.length == pytest.approx(2438.4 - 940)
    assert (found.sheets, found.layouts, found.best_at) == (3, 2, ())
    ((nothing,),) = choice_figures(plan_of([LOOSE], settings=Settings(least_remnant_length=9999.0)))
    assert (nothing.kept, nothing.kept_area) == (None, 0.0)


def test_the_least_metal_cost_is_the_cheapest_possible_where_that_is_proven() -> None:
    plan = two_ways()
    (choice,) = plan.groups[0].choices
    proven = replace(choice, plan=replace(choice.plan, bound=320.0))
    plan = replace(plan, groups=(replace(plan.groups[0], choices=(proven,)),))
    ((loose, dense),) = choice_figures(plan)
    assert dense.best_at[:2] == (CHEAPEST, "least to pay")
    assert loose.best_at == ("largest remnant",)


def test_every_layout_of_a_plan_and_its_choices_stands_once() -> None:
    plan = two_ways()
    again = replace(plan.groups[0].choices[0].plan, layouts=(replace(LOOSE, tag="L9"), DENSE))
    more = replace(plan.groups[0], choices=(*plan.groups[0].choices, Choice("least waste", "", again)))
    ((group, layouts),) = every_layout(replace(plan, groups=(more,)))
    assert group == plan.groups[0].group
    assert [layout.placements for layout in layouts] == [LOOSE.placements, DENSE.placements]
