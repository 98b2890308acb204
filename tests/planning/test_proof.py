"""Bounds on boxes are bounds on the parts only where the parts are boxes."""

from dataclasses import replace

from sheetplan.model import CuttingRule, Job, Material, Order, Outline, Part, Settings, SheetSize, rectangle
from sheetplan.planning import plan_job
from sheetplan.planning.gauge_work import begin_gauge
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.limits import limits_of
from sheetplan.planning.progress import never, quiet
from sheetplan.planning.proof import boxes_are_all
from sheetplan.planning.run import _is_finished, said
from sheetplan.shapes import circle_loop
from sheetplan.trade.thickness import Thickness

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


def test_no_plan_of_discs_is_called_the_cheapest_because_their_boxes_are() -> None:
    """Nine boxes of 100 fill a sheet of 300 and ten need two; ten discs of 100 have room by area in one."""
    job = Job(
        Settings(),
        {"Steel": Material("Steel", "", 7850.0)},
        (CuttingRule("Steel", PLATE, 0.0, 0.0, 0.0),),
        {"Disc": part("Disc", disc(50.0))},
        {},
        (Order("A", "Disc", 10),),
        (SheetSize("Square", "Steel", PLATE, 300.0, 300.0, price=10.0),),
    )
    (group,) = plan_job(job, seconds=1.0, seed=1, stop=never, report=quiet).groups
    assert group.cost == 20.0
    assert group.bound == 10.0
    assert "Nothing" not in group.limited_by


def test_a_bound_that_says_little_is_not_shown_and_one_below_by_float_dust_is_met() -> None:
    book = Job(
        Settings(), {"Steel": Material("Steel", "carbon steel", 7850.0)},
        (CuttingRule("Steel", PLATE, 1.0, 0.0, 0.0),), {"Tab": part("Tab", rectangle(60.0, 40.0))}, {},
        (Order("A", "Tab", 3),), (SheetSize("S", "Steel", PLATE, 500.0, 500.0, price=10.0),),
    )  # fmt: skip
    (group,) = make_groups(book)[0]
    work = begin_gauge(group, book.parts, book.settings, 1, 1_000, never)
    assert work.search is not None
    for bound, tail in (
        (0.3, "1 sheet in 1 layout."),
        (8.0, "1 sheet in 1 layout."),
        (9.0, "1 sheet in 1 layout, at most 11.2 % above the cheapest possible."),
        (9.9999, "1 sheet in 1 layout, at most 0.1 % above the cheapest possible."),
        (10.0 * (1.0 - 1e-7), "1 sheet in 1 layout, cheapest possible."),
    ):
        work.search.bound = bound
        assert said(work).endswith(tail)
        assert _is_finished(work) is ("cheapest" in tail and "above" not in tail)
    areas = work.search.areas
    assert limits_of(work.search, 0.3, areas) == "What the least cost is could not be proven."
    assert limits_of(work.search, 9.0, areas).startswith("Less than the cheapest sheet")
