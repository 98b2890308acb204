"""Of plans of one cost the one that leaves more: stray parts are moved, and no remnant is used up for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetplan.model import GroupPlan, Job, Order, Remnant
from sheetplan.planning import RunOptions, never, plan_job
from sheetplan.planning.box_problem import BoxProblem, Cut, make_problem
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.search.polish import spare_free_remnants, tidied
from sheetplan.planning.search.state import Score, Search
from tests.planning.books import job, made, part, remnant, rule, sheet


def planned(book: Job) -> GroupPlan:
    return plan_job(book, RunOptions(0.3, clock=lambda: 0.0)).groups[0]


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


def problem(plates: int) -> BoxProblem:
    """Plates of 300 x 900: three to a sheet of 1000 x 1000, one to the remnant, which is supply 0."""
    book = job([part("Plate", 300, 900)], [Order("A", "Plate", plates)],
               [sheet("S", 1000, 1000, price=10.0)], [remnant("R-1", 350, 950)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    (group,) = make_groups(book)[0]
    return make_problem(group, book.parts, book.settings)


def with_remnant(plates: int) -> Search:
    """A search whose best plan has one plate on the remnant and the others on a sheet."""
    search = Search(problem(plates), seed=1)
    side = [(0, n * 300_000_000, 0, 0) for n in range(plates - 1)]
    cuts = (Cut(0, np.array([(0, 0, 0, 0)], np.int64)), Cut(1, np.array(side, np.int64)))
    search.offer(search.take_in(cuts))
    assert (search.score.missing, search.score.cost, search.score.sheets) == (0.0, 10.0, 2)
    return search


def test_a_free_remnant_that_saves_nothing_is_left() -> None:
    search = with_remnant(3)
    spare_free_remnants(search, 10_000, never)
    assert [cut.supply for cut in search.cuts()] == [1]
    assert (search.score.missing, search.score.cost) == (0.0, 10.0)


def test_a_free_remnant_that_saves_a_sheet_is_kept() -> None:
    search = with_remnant(4)
    spare_free_remnants(search, 10_000, never)
    assert sorted(cut.supply for cut in search.cuts()) == [0, 1]
    assert search.score.cost == 10.0


def test_of_plans_of_one_cost_the_one_of_fewer_sheets_is_better() -> None:
    assert Score(0.0, 10.0, layouts=2, sheets=2).beats(Score(0.0, 10.0, layouts=1, sheets=3))
    assert Score(0.0, 10.0, layouts=1, sheets=2).beats(Score(0.0, 10.0, layouts=2, sheets=2))
    assert Score(0.0, 9.0, layouts=3, sheets=3).beats(Score(0.0, 10.0, layouts=1, sheets=1))
