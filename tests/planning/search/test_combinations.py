"""Combinations of sheets: listed against plain enumeration, and packed through a plan."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from sheetplan.checking import check_plan
from sheetplan.model import Order, Outline, Remnant, Settings
from sheetplan.model.outline import Loop
from sheetplan.planning import RunOptions, plan_job
from sheetplan.planning.box_problem import BoxProblem, Cut, make_problem, useful_left
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.search.combinations import FULLEST, Reach, Target, combinations, targets
from tests.planning.books import INCH, PLAIN, job, part, remnant, sheet

STOCK = [
    sheet("4x8", 96 * INCH, 48 * INCH, price=100.0, on_hand=1),
    sheet("4x10", 120 * INCH, 48 * INCH, price=123.0),
    sheet("5x10", 120 * INCH, 60 * INCH, price=150.0, buy_limit=1),
]


def problem(settings: Settings, *rack: Remnant) -> BoxProblem:
    plates = [part("Plate", 23 * INCH, 14 * INCH)]
    book = job(plates, [Order("A", "Plate", 40)], STOCK, list(rack), settings=settings)
    (group,) = make_groups(book)[0]
    return make_problem(group, book.parts, book.settings)


@pytest.mark.parametrize("below", [250.0, 330.0, 420.0])
def test_all_combinations_that_count_less_are_listed(below: float) -> None:
    """Plain enumeration of all multisets, sheets on hand before bought ones of their size."""
    known = problem(PLAIN, remnant("R-1", 40 * INCH, 40 * INCH, value=20.0))
    known = replace(known, kept_rates=np.zeros(len(known.choices)))
    areas, costs, limits = known.supplies.areas, known.supplies.costs, known.supplies.limits
    needed = 2.5 * float(areas.max())
    expected = set()
    for n in range(1, 7):
        for sheets in itertools.combinations_with_replacement(range(len(costs)), n):
            count = Counter(sheets)
            if any(k > limits[s] for s, k in count.items()):
                continue
            rack_first = all(
                count[o] == limits[o]
                for s in count if not known.choices[s].on_hand
                for o, other in enumerate(known.choices)
                if other.on_hand and other.sheet is known.choices[s].sheet
            )  # fmt: skip
            cost, area = sum(costs[s] for s in sheets), sum(areas[s] for s in sheets)
            if rack_first and cost < below and area >= needed:
                expected.add(sheets)
    assert set(combinations(known, limits, needed, below)) == expected


def test_a_strip_is_kept_free_only_where_what_goes_back_counts() -> None:
    needed = 1.4 * float(problem(PLAIN).supplies.areas.max())
    for settings, has_strips in ((PLAIN, False), (Settings(), True)):
        known = problem(settings)
        found = targets(known, known.supplies.limits, needed, 400.0, (0.75, 0.03))
        assert found
        assert all(target.fill <= FULLEST for target in found)
        assert any(free > 0.0 for target in found for _, free in target.sheets) is has_strips


def triangle(side: float) -> Outline:
    return Outline(Loop(((0.0, 0.0, 0.0), (side, 0.0, 0.0), (0.0, side, 0.0))))


def test_gussets_go_on_the_cheaper_sheets_as_bins() -> None:
    """Twenty-two right-angled gussets fill 86 per cent of a sheet that their boxes could not share."""
    gusset = replace(part("Gusset", 1.0, 1.0), outline=triangle(270.0))
    stock = [sheet("Small", 1010.0, 1010.0, price=10.0), sheet("Large", 2000.0, 1010.0, price=19.0)]
    book = job([gusset], [Order("A", "Gusset", 22)], stock, settings=PLAIN)
    plan = plan_job(book, RunOptions(3.0, clock=lambda: 0.0))
    (group,) = plan.groups
    assert check_plan(plan) == ()
    assert group.cost == 10.0
    assert group.note.startswith("Packing by outline instead of by box saved")


def test_what_is_useful_of_a_sheet_of_boxes_is_the_largest_free_rectangle() -> None:
    """One plate in the corner of a sheet: the strip beside it across the width, or above along the length."""
    known = problem(PLAIN)
    s = next(s for s, choice in enumerate(known.choices) if choice.sheet is STOCK[0])
    blank = known.supplies.blanks[known.supplies.first[s]]
    length, width = int(known.types.lengths[0]), int(known.types.widths[0])
    cut = Cut(s, np.array([(0, int(blank[0]), int(blank[1]), 0)], np.int64))
    beside = float(blank[2] - length) * float(blank[3])
    above = float(blank[2]) * float(blank[3] - width)
    assert useful_left(known, cut) == max(beside, above)


def test_a_target_promises_by_how_full_attempts_get() -> None:
    """One that asks for as much as attempts give has even odds; each in vain tells on it, and on others."""
    reach = Reach()
    for filled in (0.86, 0.88, 0.9) * 20:
        reach.note(filled)
    mean, spread = reach.expected(0.86)
    assert mean == pytest.approx(0.88, abs=0.001)
    # The standard deviation of the three shares is 0.0163.
    assert spread == pytest.approx(0.0163, abs=0.001)
    even, easy, hard = (Target(((0, 0.0),), 90.0, fill) for fill in (mean, mean - 0.05, mean + 0.05))
    assert even.promise(100.0, (mean, spread)) == pytest.approx(10.0 / 2.0)
    assert easy.promise(100.0, (mean, spread)) > 9.9
    assert hard.promise(100.0, (mean, spread)) < 0.1
    tried = replace(even, tries=3, left=0.04)
    assert tried.promise(100.0, (mean, spread)) < even.promise(100.0, (mean, spread)) / 2.0
