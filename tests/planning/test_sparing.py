"""Remnants that cost nothing stay in the rack where a plan does as well without them."""

import numpy as np

from sheetplan.model import Order
from sheetplan.planning import never
from sheetplan.planning.box_problem import BoxProblem, Cut, make_problem
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.search import Score, Search
from sheetplan.planning.sparing import spare_free_remnants
from tests.planning.books import job, part, remnant, rule, sheet


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
