from functools import cache

import numpy as np

from sheetplan.checking import check_plan
from sheetplan.model import (
    CuttingRule,
    Job,
    Loop,
    Material,
    Order,
    Outline,
    Part,
    Plan,
    SheetSize,
    rectangle,
)  # fmt: skip
from sheetplan.planning import RunOptions, plan_job
from sheetplan.planning.search.combinations import Target, Targets
from sheetplan.planning.search.shapes import REVIVED_LOOKS, ShapeState
from sheetplan.trade.thickness import Thickness
from tests.planning.books import PLAIN, made

PLATE = Thickness(6.0, "6 mm")


def corner(side: float) -> Outline:
    return Outline(Loop(((0.0, 0.0, 0.0), (side, 0.0, 0.0), (0.0, side, 0.0))))


def ring(outer: float, inner: float) -> Outline:
    def circle(radius: float) -> Loop:
        return Loop(((outer - radius, outer, 1.0), (outer + radius, outer, 1.0)))

    return Outline(circle(outer), (circle(inner),))


def book(outlines: dict[str, Outline], counts: dict[str, int], spare: int = 0, on_hand: int = 0) -> Job:
    parts = {name: Part(name, "Steel", PLATE, outline, spare=spare) for name, outline in outlines.items()}
    orders = tuple(Order(name, name, n) for name, n in counts.items())
    stock = (SheetSize("S", "Steel", PLATE, 2000.0, 1000.0, price=100.0, on_hand=on_hand),)
    rule = CuttingRule("Steel", PLATE, 2.0, 6.0, 10.0)
    return Job(PLAIN, {"Steel": Material("Steel", "", 7850.0)}, (rule,), parts, {}, orders, stock)


@cache
def corners() -> Plan:
    job = book({"Corner": corner(480.0), "Tab": rectangle(60.0, 40.0)}, {"Corner": 40, "Tab": 10})
    return plan_job(job, RunOptions(2.0, clock=lambda: 0.0))


def test_corners_lie_in_pairs_where_boxes_would_take_twice_the_metal() -> None:
    """Eight boxes of 480 fill a sheet; two corners share a box but for the gap."""
    (group,) = corners().groups
    assert made(group) == {"Corner": 40, "Tab": 10}
    assert sum(layout.repeats for layout in group.layouts) <= 4
    boxes = 40 // 8 + 1  # the tabs find no room beside eight boxes
    saved = boxes - sum(layout.repeats for layout in group.layouts)
    assert group.note == f"Packing by outline instead of by box saved {saved} sheets, {saved}00.00."


def test_true_shape_plans_stand_up_to_the_check() -> None:
    assert check_plan(corners()) == ()


def test_the_bound_of_true_shapes_is_not_that_of_boxes() -> None:
    (group,) = corners().groups
    assert group.bound is not None
    assert group.bound <= group.measure


def test_small_parts_lie_in_the_holes_of_rings() -> None:
    """Six rings of 480 leave a strip for three plates of 260; the others need a hole or a second sheet."""
    outlines = {"Ring": ring(240.0, 200.0), "Plate": rectangle(260.0, 260.0)}
    job = book(outlines, {"Ring": 6, "Plate": 6})
    plan = plan_job(job, RunOptions(1.0, clock=lambda: 0.0))
    (group,) = plan.groups
    assert sum(layout.repeats for layout in group.layouts) == 1
    assert check_plan(plan) == ()


def test_plain_rectangles_never_pay_for_true_shapes() -> None:
    job = book({"Plate": rectangle(300.0, 200.0)}, {"Plate": 30})
    plan = plan_job(job, RunOptions(0.5, clock=lambda: 0.0))
    assert plan.groups[0].note == ""


def test_spares_fill_sheets_of_true_shapes_and_hold_their_number() -> None:
    job = book({"Corner": corner(480.0), "Tab": rectangle(60.0, 40.0)}, {"Corner": 16, "Tab": 1}, spare=3)
    plan = plan_job(job, RunOptions(0.5, clock=lambda: 0.0))
    count = made(plan.groups[0])
    assert 16 <= count["Corner"] <= 19
    assert 1 < count["Tab"] <= 4
    assert check_plan(plan) == ()


def test_spares_fill_sheets_of_true_shapes_when_metal_on_hand_counts_for_itself() -> None:
    """A choice by the bill alone numbers sheets on hand and sheets to buy apart."""
    outlines = {"Corner": corner(480.0), "Tab": rectangle(60.0, 40.0)}
    job = book(outlines, {"Corner": 30, "Tab": 1}, spare=300, on_hand=1)
    plan = plan_job(job, RunOptions(0.5, clock=lambda: 0.0))
    assert plan.groups[0].note.startswith("Packing by outline instead of by box saved ")
    assert made(plan.groups[0])["Tab"] > 1
    assert check_plan(plan) == ()


def test_combinations_that_lost_all_promise_are_tried_again_after_work_in_vain() -> None:
    """Attempts at one combination differ: of five seeds two found the plan before, now all do."""
    tried = Target(((0, 0.0),), 100.0, 0.9, tries=7, left=0.01)
    state = ShapeState(targets=Targets(np.array([1]), {tried.sheets: tried}), hopeless=True)
    state.idle_looks = state.revive_at
    promised = tried.promise(110.0, (0.9, 0.02))
    state.revive()
    assert not state.hopeless
    assert tried.promise(110.0, (0.9, 0.02)) > promised
    assert state.revive_at == 2 * state.idle_looks
    assert state.has_rested, "it is still true that all was tried once"
    state.is_better()
    assert not state.has_rested
    assert state.revive_at == REVIVED_LOOKS
