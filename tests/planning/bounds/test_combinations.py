"""Combinations of sheets: what is called impossible is, and the walk ends at the cheapest that stays."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from sheetplan.model import Job, Order
from sheetplan.model.outline import Loop
from sheetplan.planning.bounds.combinations import (
    Combinations,
    cheapest_possible,
    in_order_of_cost,
)
from sheetplan.planning.bounds.conflicts import with_conflicts
from sheetplan.planning.bounds.model import shapes_model
from sheetplan.planning.box_problem import ON_HAND_DISCOUNT, BoxProblem, make_problem
from sheetplan.planning.grouping import make_groups
from tests.planning.books import job, part, remnant, rule, sheet


def impossible(problem: BoxProblem, counts: Sequence[int]) -> bool:
    """Whether so many sheets of each supply are shown not to hold the pieces."""
    learned = Combinations(with_conflicts(shapes_model(problem)))
    return learned.least_cost(np.asarray(counts, np.int64)) == np.inf


def squares(count: int, side: float = 60.0) -> Job:
    """Squares on sheets of 100 mm that hold one and sheets of 130 mm that hold four."""
    stock = [sheet("S", 100.0, 100.0, price=10.0), sheet("L", 130.0, 130.0, price=15.0)]
    return job([part("P", side, side)], [Order("A", "P", count)], stock, cutting=rule(0.0, 0.0))


def problem_of(book: Job) -> BoxProblem:
    (group,) = make_groups(book)[0]
    return make_problem(group, book.parts, book.settings)


@pytest.mark.parametrize("count", [1, 4, 5, 6, 9])
def test_the_cheapest_combination_that_stays_is_the_cheapest_there_is(count: int) -> None:
    """So many small sheets and large ones hold one and four pieces each; all of it can be counted."""
    problem = problem_of(squares(count))
    ways = itertools.product(range(10), range(4))
    least = min(10.0 * small + 15.0 * large for small, large in ways if small + 4 * large >= count)
    assert cheapest_possible(problem, 1000.0, 10**9)[0] == pytest.approx(least)
    for counts in itertools.product(range(4), range(3)):
        assert impossible(problem, counts) is (counts[0] + 4 * counts[1] < count)


def test_combinations_come_in_order_of_cost_and_each_once() -> None:
    learned = Combinations(shapes_model(problem_of(squares(9))))
    whole = [(cost, tuple(counts)) for cost, counts in in_order_of_cost(learned, 80.0) if counts is not None]
    assert [cost for cost, _ in whole] == sorted(cost for cost, _ in whole)
    assert len({counts for _, counts in whole}) == len(whole)
    for small, large in itertools.product(range(9), range(6)):
        cost = 10.0 * small + 15.0 * large
        roomy = 1e4 * small + 1.69e4 * large >= 9 * 3600.0
        if cost < 80.0 and roomy and not learned.lacks_metal(np.array([small, large])):
            assert (small, large) in {counts for _, counts in whole}


def test_plates_that_miss_a_pinwheel_by_a_hair_lie_two_to_a_sheet() -> None:
    """Four of 51.5 x 48.5 turn round the middle of a square of 100.

    A long and a short side of 51.5 x 48.52 are 0.02 mm longer than it: not even three fit, and two do.
    """
    stock = [sheet("S", 100.0, 100.0, price=10.0)]
    for width, pieces, fits in ((48.5, 4, True), (48.52, 3, False), (48.52, 2, True)):
        book = job([part("P", 51.5, width)], [Order("A", "P", pieces)], stock, cutting=rule(0.0, 0.0))
        assert impossible(problem_of(book), [1]) is not fits
        assert not impossible(problem_of(book), [2])


def test_a_sheet_to_buy_waits_for_an_equal_one_on_hand() -> None:
    """Equal metal at two prices, as sheets on hand and to buy are: the cheaper is used up first."""
    rack = sheet("Rack", 100.0, 100.0, price=8.5, on_hand=2, buy_limit=0)
    stock = [rack, sheet("Shop", 100.0, 100.0, price=10.0)]
    book = job([part("P", 60.0, 60.0)], [Order("A", "P", 4)], stock, cutting=rule(0.0, 0.0))
    learned = Combinations(shapes_model(problem_of(book)))
    assert len(learned.known.metals) == 1
    whole = [tuple(counts) for _, counts in in_order_of_cost(learned, 60.0) if counts is not None]
    assert all(on_hand == 2 for on_hand, bought in whole if bought)
    least = cheapest_possible(learned.problem, 60.0, 10**9, learned=learned)[0]
    assert least == pytest.approx(20.0 + 17.0 * (1.0 - ON_HAND_DISCOUNT))


def test_a_triangular_remnant_is_no_smaller_than_it_is() -> None:
    """A plate lies in a corner of a triangle where the lattice of free rectangles may leave less room."""


    triangle = Loop(((0.0, 0.0, 0.0), (300.0, 0.0, 0.0), (0.0, 300.0, 0.0)))
    rest = replace(remnant("R", 300.0, 300.0, value=1.0), edge=triangle)
    stock = [sheet("S", 400.0, 400.0, price=10.0)]
    plate = part("P", 149.9, 149.9)
    book = job([plate], [Order("A", "P", 1)], stock, [rest], cutting=rule(0.0, 0.0))
    problem = problem_of(book)
    known = shapes_model(problem)
    assert known.metals[0].area >= 149.9**2 * 1e12
    assert not impossible(problem, [1, 0])


def test_the_walk_stops_when_its_work_is_spent_and_says_what_holds() -> None:
    problem = problem_of(squares(9))
    bound, spent = cheapest_possible(problem, 1000.0, 0)
    assert 0.0 < bound <= 45.0
    assert spent < 10**8
    assert cheapest_possible(problem, 1000.0, 10**9, halt=lambda: True)[0] <= 45.0
