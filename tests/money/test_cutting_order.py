"""What can be cut now comes first, and of that what is due first."""

from dataclasses import replace

import pytest

from sheetplan.model import Layout, Order, Placement, Plan, SheetCount
from sheetplan.money.cutting_order import cutting_order
from tests.money.bookmaking import SHEET, plan_of

EARLY, LATE = "2026-12-01", "2026-12-20"


def layout(tag: str, repeats: int = 1, **pieces: int) -> Layout:
    places = tuple(Placement(part, 0.0, 0.0) for part, count in pieces.items() for _ in range(count))
    return Layout(tag, replace(SHEET, on_hand=0), places, repeats)


def book(*layouts: Layout, on_hand: int = 0, **due: str) -> Plan:
    """Ten of each part asked for, due as said; ``on_hand`` sheets in the rack."""
    sheet = replace(SHEET, on_hand=on_hand)
    orders = [Order(part, part, 10, due=date) for part, date in due.items()]
    return plan_of([replace(one, sheet=sheet) for one in layouts], orders=orders, stock=[sheet])


def turns(plan: Plan) -> list[tuple[str, str]]:
    return [(turn.layout.tag, turn.due) for turn in cutting_order(plan)]


def test_what_is_due_first_is_cut_first() -> None:
    plan = book(layout("L1", 2, bar=5), layout("L2", disc=10), bar=LATE, disc=EARLY)
    assert turns(plan) == [("L2", EARLY), ("L1", LATE)]


def test_what_is_made_already_presses_no_later_layout() -> None:
    # L1 makes all the bars that are due early, so the one bar on L2 makes no hurry.
    plan = book(
        layout("L1", bar=10), layout("L2", bar=1, washer=5), layout("L3", disc=5),
        bar=EARLY, disc=LATE, washer="",
    )  # fmt: skip
    assert turns(plan) == [("L1", EARLY), ("L3", LATE), ("L2", "")]


def test_every_sheet_of_a_layout_counts_in_what_is_made_already() -> None:
    # Two sheets of L1 make all ten bars; one sheet of it makes half, and L2 stays pressing.
    plan = book(layout("L1", 2, bar=5), layout("L2", bar=1), layout("L3", disc=5), bar=EARLY, disc=LATE)
    assert turns(plan) == [("L1", EARLY), ("L3", LATE), ("L2", "")]
    plan = book(layout("L1", 1, bar=5), layout("L2", bar=1), layout("L3", disc=5), bar=EARLY, disc=LATE)
    assert turns(plan) == [("L1", EARLY), ("L2", EARLY), ("L3", LATE)]


def test_the_order_of_the_plan_decides_between_equals() -> None:
    plan = book(layout("L1", bar=5), layout("L2", bar=5), layout("L3", disc=5), bar=EARLY, disc=EARLY)
    assert [tag for tag, _ in turns(plan)] == ["L1", "L2", "L3"]


@pytest.mark.parametrize(
    ("on_hand", "expected"),
    [
        (0, [("L2", 0), ("L1", 0)]),
        (1, [("L2", 1), ("L1", 0)]),
        (2, [("L2", 2), ("L1", 0)]),
        (3, [("L2", 2), ("L1", 1)]),
    ],
)
def test_sheets_on_hand_go_to_what_is_due_first(on_hand: int, expected: list[tuple[str, int]]) -> None:
    # L2 is due first and takes two sheets, L1 takes one.
    plan = book(layout("L1", bar=10), layout("L2", 2, disc=5), on_hand=on_hand, bar=LATE, disc=EARLY)
    assert [(turn.layout.tag, turn.on_hand) for turn in cutting_order(plan)] == expected


def test_what_can_be_cut_now_comes_before_what_waits_for_metal() -> None:
    plan = book(layout("L1", bar=10), layout("L2", disc=10), on_hand=0, bar=LATE, disc=EARLY)
    other = replace(SHEET, name="other", on_hand=1)
    group = plan.groups[0]
    layouts = (replace(group.layouts[0], sheet=other), group.layouts[1])
    sheets = (SheetCount(other, 1, 1, 0), SheetCount(group.layouts[1].sheet, 1, 0, 1))
    plan = replace(plan, groups=(replace(group, layouts=layouts, sheets=sheets),))
    assert turns(plan) == [("L1", LATE), ("L2", EARLY)]


def test_an_order_that_is_made_if_it_fits_presses_nothing() -> None:
    plan = book(layout("L1", bar=10), layout("L2", disc=10), bar=EARLY, disc=LATE)
    needs = tuple(replace(need, must=need.part != "bar") for need in plan.groups[0].group.needs)
    group = replace(plan.groups[0].group, needs=needs)
    plan = replace(plan, groups=(replace(plan.groups[0], group=group),))
    assert turns(plan) == [("L2", LATE), ("L1", "")]
