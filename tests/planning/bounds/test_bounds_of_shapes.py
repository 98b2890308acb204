"""Bounds against feasible plans of an independent method (see `raster`): never above, and often met."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
import shapely

from sheetplan.model import CuttingRule, Grain, Job, Material, Order, Outline, Part, SheetSize
from sheetplan.model.outline import Loop
from sheetplan.planning.bounds.combinations import Combinations, cheapest_possible
from sheetplan.planning.bounds.conflicts import with_conflicts
from sheetplan.planning.bounds.model import boxes_model, shapes_model
from sheetplan.planning.bounds.patterns import pattern_bound
from sheetplan.planning.bounds.proof import closer_proof, quick_proof
from sheetplan.planning.bounds.relaxation import Relaxation, area_bound, quick_bound, whole_sheets
from sheetplan.planning.box_problem import BoxProblem, make_problem
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.progress import never
from sheetplan.planning.search.boxes import begin
from sheetplan.planning.solution import missing_penalty
from sheetplan.shapes import box, circle_loop
from sheetplan.trade.thickness import Thickness
from tests.planning.books import PLAIN
from tests.planning.raster import STEP, Lot, Rules, Shape, Supply, least_cost

BOOKS = 30
MET_AT_LEAST = 20
DUST = 1e-6

PLATE = Thickness(3.0, "3 mm")
QUARTERS = (0.0, 90.0, 180.0, 270.0)
LEAST_LEFT = (200.0, 100.0)


def polygon(*points: tuple[float, float]) -> tuple[Outline, shapely.Polygon]:
    return Outline(Loop(tuple((x, y, 0.0) for x, y in points))), shapely.Polygon(points)


def angle(length: float, width: float, arm: float) -> tuple[Outline, shapely.Polygon]:
    """An L with arms of one width."""
    return polygon((0, 0), (length, 0), (length, arm), (arm, arm), (arm, width), (0, width))


def gusset(length: float, width: float) -> tuple[Outline, shapely.Polygon]:
    return polygon((0, 0), (length, 0), (0, width))


def ring(radius: float, hole: float) -> tuple[Outline, shapely.Polygon]:
    """A ring; a disc where the hole is 0. The polygon contains it."""
    outer = circle_loop(radius, radius, radius)
    around = shapely.Point(radius, radius).buffer(radius / math.cos(math.pi / 128), quad_segs=32)
    if not hole:
        return Outline(outer), around
    inside = shapely.Point(radius, radius).buffer(hole, quad_segs=32)
    return Outline(outer, (circle_loop(radius, radius, hole),)), around.difference(inside)


def plate(length: float, width: float) -> tuple[Outline, shapely.Polygon]:
    return polygon((0, 0), (length, 0), (length, width), (0, width))


KINDS = ("angle", "disc", "ring", "gusset", "plate")


def drawn(chance: random.Random, gap: float, kinds: tuple[str, ...]) -> tuple[Outline, shapely.Polygon]:
    """A shape of 100 to 400 mm; straight sides, grown by the gap, are whole cells of the raster."""
    kind = chance.choice(kinds)
    length, width = chance.randint(6, 20) * STEP - gap, chance.randint(5, 15) * STEP - gap
    if kind == "angle":
        return angle(length, width, chance.randint(2, 4) * STEP - gap)
    if kind == "gusset":
        return gusset(length, width)
    if kind == "plate":
        return plate(length, width)
    radius = chance.randint(6, 18) * 10.0
    return ring(radius, radius * chance.choice((0.3, 0.6, 0.8)) if kind == "ring" else 0.0)


def book(seed: int, kinds: tuple[str, ...] = KINDS) -> tuple[Job, list[Shape], Rules]:
    """Two to six pieces of a few types on one to three sheet sizes, some of them limited."""
    chance = random.Random(seed)
    pieces = chance.randint(2, 6)
    types = chance.randint(1, min(4, pieces))
    counts = [1] * types
    for _ in range(pieces - types):
        counts[chance.randrange(types)] += 1
    gap, margin = chance.choice(((0.0, 0.0), (10.0, 5.0), (20.0, 10.0)))
    parts, shapes = {}, []
    for i, count in enumerate(counts):
        outline, metal = drawn(chance, gap, kinds)
        grain = chance.choice((Grain.NONE, Grain.NONE, Grain.LENGTH))
        parts[f"P{i}"] = Part(f"P{i}", "Steel", PLATE, outline, turns=QUARTERS, grain=grain)
        turns = (0.0, 180.0) if grain is Grain.LENGTH else QUARTERS
        shapes.append(Shape(metal, count, turns))
    stock = [
        SheetSize("A", "Steel", PLATE, 600.0, 400.0, price=float(chance.randint(80, 110))),
        SheetSize("B", "Steel", PLATE, 500.0, 500.0, price=float(chance.randint(85, 120))),
        SheetSize("C", "Steel", PLATE, 800.0, 420.0, price=float(chance.randint(110, 160))),
    ]
    if chance.random() < 0.4:
        stock[1] = replace(stock[1], on_hand=1, buy_limit=0)
    orders = tuple(Order(f"O{i}", f"P{i}", n) for i, n in enumerate(counts))
    short, long = LEAST_LEFT
    settings = replace(PLAIN, least_remnant_length=short, least_remnant_width=long)
    job = Job(
        settings, {"Steel": Material("Steel", "", 7850.0)}, (CuttingRule("Steel", PLATE, 1.0, gap, margin),),
        parts, {}, orders, tuple(stock[: chance.randint(1, 3)]),
    )  # fmt: skip
    return job, shapes, Rules(gap, margin, LEAST_LEFT)


def problem_of(job: Job) -> BoxProblem:
    (group,) = make_groups(job)[0]
    return make_problem(group, job.parts, job.settings)


def supplies(problem: BoxProblem) -> list[Supply]:
    """What the independent method needs to know of the metal; rates for a square millimetre."""
    found = []
    for s, choice in enumerate(problem.choices):
        around = box(choice.blank.edge)
        cost, limit = float(problem.supplies.costs[s]), int(min(6, problem.supplies.limits[s]))
        found.append(Supply(around.length, around.width, cost, limit, float(problem.kept_rates[s]) * 1e12))
    return found


def bounds(problem: BoxProblem, cost: float) -> dict[str, float]:
    """Every bound on all layouts that there is."""
    known = with_conflicts(shapes_model(problem))
    relaxation = Relaxation(problem, missing_penalty(problem), known)
    relaxation.tighten_fully()
    search = begin(problem, 1, 100_000, never)
    return {
        "area": area_bound(problem, known.areas),
        "quick": quick_proof(problem),
        "whole sheets": whole_sheets(relaxation, math.inf, 20_000_000),
        "contents": pattern_bound(search, 20_000_000, never, known=known),
        "combinations": cheapest_possible(problem, 10.0 * cost, 40_000_000)[0],
        "closer": closer_proof(search, 40_000_000),
    }


def with_rates(problem: BoxProblem, share: float) -> BoxProblem:
    """The same gauge where what goes back is paid at a share of the price of its metal."""
    metal = np.array([choice.metal for choice in problem.choices])
    return replace(problem, kept_rates=share * problem.supplies.costs / metal)


def above(problem: BoxProblem, cost: float, counts: Lot) -> dict[str, float | str]:
    """The bounds that lie above the cost of a plan, and whether its sheets are called impossible."""
    wrong: dict[str, float | str] = {
        name: bound for name, bound in bounds(problem, cost).items() if bound > cost * (1.0 + DUST)
    }
    if Combinations(with_conflicts(shapes_model(problem))).least_cost(np.array(counts)) == np.inf:
        wrong["impossible"] = str(counts)
    return wrong


@pytest.mark.slow
def test_no_bound_lies_above_a_plan_of_true_shapes() -> None:
    """Where bound and plan meet both are exact; that is so in most books."""
    wrong, met = {}, 0
    for seed in range(BOOKS):
        job, shapes, rules = book(seed)
        problem = problem_of(job)
        if problem.unfit:
            continue
        cost, counts = least_cost(shapes, supplies(problem), rules)
        if math.isinf(cost):
            continue
        found = above(problem, cost, counts)
        if found:
            wrong[seed] = (cost, found)
        met += cheapest_possible(problem, cost, 40_000_000)[0] >= cost * (1.0 - DUST)
    assert wrong == {}
    assert met >= MET_AT_LEAST, f"{met} of {BOOKS} exact"


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.3, 0.6, 0.85])
def test_no_bound_lies_above_a_plan_that_is_paid_for_what_goes_back(share: float) -> None:
    wrong = {}
    for seed in range(100, 100 + BOOKS // 4):
        job, shapes, rules = book(seed)
        problem = with_rates(problem_of(job), share)
        if problem.unfit:
            continue
        cost, counts = least_cost(shapes, supplies(problem), rules)
        if math.isfinite(cost) and (found := above(problem, cost, counts)):
            wrong[seed] = (cost, found)
    assert wrong == {}


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.0, 0.6])
def test_no_bound_on_boxes_lies_above_a_plan_of_plates(share: float) -> None:
    """Plates on the raster keep the gap along both sides, as the boxes of the box search do."""
    wrong = {}
    for seed in range(200, 200 + BOOKS // 2):
        job, shapes, rules = book(seed, ("plate",))
        problem = with_rates(problem_of(job), share)
        cost, _ = least_cost(shapes, supplies(problem), rules)
        if problem.unfit or math.isinf(cost):
            continue
        penalty = missing_penalty(problem)
        relaxation = Relaxation(problem, penalty)
        relaxation.leave_nothing_out()
        learned = Combinations(boxes_model(problem))
        found = {
            "quick": quick_bound(problem, penalty)[0],
            "whole sheets": whole_sheets(relaxation, math.inf, 20_000_000),
            "contents": pattern_bound(begin(problem, 1, 100_000, never), 20_000_000, never),
            "combinations": cheapest_possible(problem, 10.0 * cost, 40_000_000, learned=learned)[0],
            **bounds(problem, cost),
        }
        above_it = {name: bound for name, bound in found.items() if bound > cost * (1.0 + DUST)}
        if above_it:
            wrong[seed] = (cost, above_it)
    assert wrong == {}


def test_with_nothing_paid_for_what_goes_back_bounds_are_as_they_are() -> None:
    problem = problem_of(book(3)[0])
    penalty = missing_penalty(problem)
    paid = with_rates(problem, 0.6)
    unpaid = replace(paid, kept_rates=0.0 * paid.kept_rates)
    assert quick_bound(unpaid, penalty)[0] == quick_bound(problem, penalty)[0]
    assert 0.0 < quick_bound(paid, penalty)[0] < quick_bound(problem, penalty)[0]
