"""Of plans of one cost the one that leaves more: stray parts are moved, and no remnant is used up for it."""

from dataclasses import replace

import numpy as np

from sheetplan.model import GroupPlan, Job, Order, Remnant
from sheetplan.planning import never, plan_job, quiet
from sheetplan.planning.box_problem import Cut, make_problem
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.tidying import tidied
from tests.planning.books import job, made, part, remnant, rule, sheet


def planned(book: Job) -> GroupPlan:
    return plan_job(book, seconds=0.3, seed=1, stop=never, report=quiet, clock=lambda: 0.0).groups[0]


def test_a_stray_part_goes_where_it_spoils_no_drop() -> None:
    """Four plates leave a strip of 40 mm on the first sheet, which takes the tab from beside two plates."""
    parts = [part("Plate", 480, 400), part("Tab", 35, 35)]
    book = job(parts, [Order("A", "Plate", 6), Order("B", "Tab", 1)],
               [sheet("S", 1000, 1000, price=10.0)], cutting=rule(0.0, 0.0))  # fmt: skip
    (group,) = make_groups(book)[0]
    problem = make_problem(group, book.parts, book.settings)
    names = [one.part.name for one in problem.boxes]
    plate, tab = names.index("Plate"), names.index("Tab")
    first = Cut(0, boxes((plate, 0, 0), (plate, 480, 0), (plate, 0, 400), (plate, 480, 400)))
    second = Cut(0, boxes((plate, 0, 0), (plate, 480, 0), (tab, 0, 800)))
    after = tidied(problem, (first, second), seed=1)
    assert sorted(cut.counts(2)[plate] for cut in after) == [2, 4]
    assert [cut.counts(2)[tab] for cut in after if cut.counts(2)[plate] == 4] == [1]
    # With no other sheet to go to, the tab stays.
    assert tidied(problem, (second,), seed=1) == (second,)


def boxes(*rows: tuple[int, int, int]) -> np.ndarray:
    """Boxes of a cut, all upright, in millimetres."""
    return np.array([(t, x * 1_000_000, y * 1_000_000, 0) for t, x, y in rows], np.int64)


def test_a_remnant_that_costs_nothing_is_not_used_where_it_saves_no_sheet() -> None:
    """Three plates fit one sheet; one of them would fit the remnant, for the price of one more layout."""
    book = job([part("Plate", 300, 900)], [Order("A", "Plate", 3)],
               [sheet("S", 1000, 1000, price=10.0)], [remnant("R-1", 350, 950)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    plan = planned(book)
    assert made(plan) == {"Plate": 3}
    assert plan.cost == 10.0
    assert not any(isinstance(layout.sheet, Remnant) for layout in plan.layouts)
    assert "R-1 would hold parts, but using it saves no sheet" in plan.note


def test_a_remnant_that_costs_nothing_is_used_where_it_saves_a_sheet() -> None:
    book = job([part("Plate", 300, 900)], [Order("A", "Plate", 4)],
               [sheet("S", 1000, 1000, price=10.0)], [remnant("R-1", 350, 950)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    plan = planned(book)
    assert (made(plan), plan.cost) == ({"Plate": 4}, 10.0)
    assert any(isinstance(layout.sheet, Remnant) for layout in plan.layouts)


def test_a_remnant_that_is_not_used_is_named_with_the_reason() -> None:
    """A remnant dearer than the sheet it would spare, and one that would spare nothing."""
    book = job([part("Plate", 300, 900)], [Order("A", "Plate", 3)],
               [sheet("S", 1000, 1000, price=10.0)],
               [replace(remnant("R-1", 350, 950), value=50.0), remnant("R-2", 100, 100)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    plan = planned(book)
    assert plan.cost == 10.0
    assert "R-1" in plan.note
    assert "cheaper" in plan.note
    assert "R-2" not in plan.note  # nothing fits on it


def test_without_prices_the_smaller_sheet_is_taken() -> None:
    book = job([part("Plate", 300, 900)], [Order("A", "Plate", 1)],
               [sheet("Large", 2000, 1000), sheet("Small", 1000, 1000)], cutting=rule(0.0, 0.0))  # fmt: skip
    assert [layout.sheet.name for layout in planned(book).layouts] == ["Small"]


def test_sheets_on_hand_go_before_bought_ones_of_the_same_price() -> None:
    book = job([part("Plate", 300, 900)], [Order("A", "Plate", 3)],
               [sheet("Bought", 1000, 1000, price=10.0), sheet("Owned", 1000, 1000, on_hand=1, price=10.0)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    (count,) = planned(book).sheets
    assert (count.sheet.name, count.to_buy) == ("Owned", 0)
