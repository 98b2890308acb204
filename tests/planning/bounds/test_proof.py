"""Bounds on boxes are bounds on the parts only where the parts are boxes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sheetplan.model import CuttingRule, Job, Material, Order, Outline, Part, SheetSize, rectangle
from sheetplan.planning import RunOptions, plan_job
from sheetplan.planning.bounds.proof import boxes_are_all, quick_proof
from sheetplan.planning.bounds.relaxation import quick_bound
from sheetplan.planning.box_problem import make_problem, supplies_of
from sheetplan.planning.gauge_work import begin_gauge
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.progress import never
from sheetplan.planning.search.boxes import begin
from sheetplan.planning.solution import missing_penalty
from sheetplan.shapes import circle_loop
from sheetplan.trade.thickness import Thickness
from tests.planning.books import PLAIN

PLATE = Thickness(3.0, "3 mm")


def part(name: str, outline: Outline) -> Part:
    return Part(name, "Steel", PLATE, outline)


def holed(length: float, width: float, radius: float) -> Outline:
    return replace(rectangle(length, width), holes=(circle_loop(length / 2, width / 2, radius),))


def disc(radius: float) -> Outline:
    return Outline(circle_loop(radius, radius, radius))


def test_plates_with_bolt_holes_are_boxes_and_frames_are_not() -> None:
    small = part("Tab", rectangle(60.0, 40.0))
    assert boxes_are_all([small, part("Plate", holed(300.0, 200.0, 10.0))])
    assert not boxes_are_all([small, part("Frame", holed(300.0, 200.0, 60.0))])


def test_discs_and_plates_at_odd_turns_are_not_boxes() -> None:
    assert not boxes_are_all([part("Disc", disc(50.0))])
    assert not boxes_are_all([replace(part("Tab", rectangle(60.0, 40.0)), turns=(0.0, 15.0))])


def discs(count: int, length: float, width: float) -> Job:
    """Discs of 100 mm, no gap and no margin, on sheets that cost 10."""
    return Job(
        PLAIN,
        {"Steel": Material("Steel", "", 7850.0)},
        (CuttingRule("Steel", PLATE, 0.0, 0.0, 0.0),),
        {"Disc": part("Disc", disc(50.0))},
        {},
        (Order("A", "Disc", count),),
        (SheetSize("Sheet", "Steel", PLATE, length, width, price=10.0),),
    )


def test_no_plan_of_discs_is_called_the_cheapest_because_their_boxes_are() -> None:
    """Boxes of 100 lie twenty to a sheet of 1,000 x 274; three staggered rows hold 29 discs of 100."""
    (group,) = make_groups(discs(29, 1000.0, 274.0))[0]
    problem = make_problem(group, discs(29, 1000.0, 274.0).parts, PLAIN)
    assert quick_bound(problem, missing_penalty(problem))[0] == pytest.approx(20.0)
    assert quick_proof(problem) == pytest.approx(10.0)


def test_discs_are_known_to_need_a_sheet_more_than_their_area_does() -> None:
    """Ten circles fit a square no smaller than 6.7474 of their radii (Graham and others, from memory)."""
    (group,) = plan_job(discs(10, 300.0, 300.0), RunOptions(1.0)).groups
    assert group.cost == 20.0
    assert group.bound == pytest.approx(20.0)


def test_plates_corner_to_corner_are_not_held_to_the_gap_along_both_sides() -> None:
    """Two squares of 46 at opposite corners of 100 are 8 apart both ways and 11.3 in all: a gap of 10."""
    book = Job(
        PLAIN, {"Steel": Material("Steel", "", 7850.0)},
        (CuttingRule("Steel", PLATE, 1.0, 10.0, 0.0),), {"Tab": part("Tab", rectangle(46.0, 46.0))}, {},
        (Order("A", "Tab", 2),), (SheetSize("S", "Steel", PLATE, 100.0, 100.0, price=10.0),),
    )  # fmt: skip
    (group,) = plan_job(book, RunOptions(0.5)).groups
    assert group.bound is not None
    assert group.bound <= 10.0


def test_a_bound_that_says_little_is_not_shown_and_one_below_by_float_dust_is_met() -> None:
    book = Job(
        PLAIN, {"Steel": Material("Steel", "carbon steel", 7850.0)},
        (CuttingRule("Steel", PLATE, 1.0, 0.0, 0.0),), {"Tab": part("Tab", rectangle(60.0, 40.0))}, {},
        (Order("A", "Tab", 3),), (SheetSize("S", "Steel", PLATE, 500.0, 500.0, price=10.0),),
    )  # fmt: skip
    (group,) = make_groups(book)[0]
    work = begin_gauge(group, book.parts, book.settings, 1, 1_000, never)
    assert work.search is not None
    for bound, tail in (
        (0.3, "1 sheet in 1 layout."),
        (8.0, "1 sheet in 1 layout."),
        (9.0, "1 sheet in 1 layout, at most 11.2% above the cheapest possible."),
        (9.9999, "1 sheet in 1 layout, at most 0.1% above the cheapest possible."),
        (10.0 * (1.0 - 1e-7), "1 sheet in 1 layout, cheapest possible."),
    ):
        work.search.bound = bound
        known = replace(work, proven=bound)
        assert known.line.endswith(tail)
        assert known.is_finished is ("cheapest" in tail and "above" not in tail)


def test_sheets_on_hand_and_those_to_buy_are_bounded_together() -> None:
    """Sheets on hand are a supply of their own, which counts less than the same to buy."""
    book = discs(8, 200.0, 200.0)
    (group,) = make_groups(book)[0]
    problem = make_problem(group, book.parts, PLAIN)
    (choice,) = problem.choices
    choices = (replace(choice, limit=1, on_hand=True), replace(choice, limit=5, on_hand=False))
    supplies = supplies_of(choices, PLAIN)._replace(costs=np.array([8.0, 10.0]))
    split = replace(problem, choices=choices, supplies=supplies, kept_rates=np.zeros(2))
    assert begin(split, 1, 100_000, never).score.cost == pytest.approx(18.0)
    assert quick_proof(split) == pytest.approx(18.0)
