"""What another plan of a gauge can aim at, and how a search is steered there.

The plan itself aims at the least cost, metal on hand counted at its price. Every other aim is a
search of its own that starts from the layouts already known, with other steering costs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from sheetplan.packing.kernel_sequence import Floats
from sheetplan.planning.box_problem import BoxProblem
from sheetplan.planning.column_generation import column_generation
from sheetplan.planning.fewer_layouts import fewer_layouts
from sheetplan.planning.first_plan import first_plan
from sheetplan.planning.plan_search import plan_search
from sheetplan.planning.rounding import rounding
from sheetplan.planning.search import PLAIN, Favour, Search
from sheetplan.planning.shape_filling import ShapeFiller
from sheetplan.planning.shape_search import ShapeState, first_shapes, shape_search

Halt = Callable[[], bool]

OWNED_SHARE = 1e-3
"""What metal that is on hand counts of its price when only the bill matters: a little, to use less of it."""

PRICE_SHARE = 1e-3
"""How much the price counts beside sheets or area, so that of equal plans the cheaper is found."""

LAYOUT_SHARE = 0.02
"""A layout's charge as a share of the plan's cost when few layouts matter most."""

RACK_REMAINS = 1.0
"""Credit for what stays useful when the largest remnant matters most: all that it cost."""


class Aim(StrEnum):
    """What a plan is best at, as the planner reads it."""

    COST = "least cost"
    MONEY_NOW = "least to pay"
    SHEETS = "fewest sheets"
    WASTE = "least waste"
    REMNANT = "largest remnant"
    LAYOUTS = "fewest layouts"


OTHERS = tuple(aim for aim in Aim if aim is not Aim.COST)
"""The aims of alternatives."""


@dataclass(frozen=True, slots=True)
class Steered:
    """A problem with the steering costs of an aim, and what its search weighs besides."""

    problem: BoxProblem
    favour: Favour = PLAIN


def steered(problem: BoxProblem, aim: Aim, cost: float) -> Steered:
    """The problem as an aim sees it; ``cost`` is the steering cost of the plan at hand."""
    costs = problem.supplies.costs
    prices = costs / max(float(costs.max()), 1e-300)
    if aim is Aim.MONEY_NOW:
        owned = np.array([choice.on_hand for choice in problem.choices], np.bool_)
        return Steered(_with_costs(problem, np.where(owned, OWNED_SHARE * costs, costs)))
    if aim is Aim.SHEETS:
        return Steered(_with_costs(problem, 1.0 + PRICE_SHARE * prices))
    if aim is Aim.WASTE:
        metal = np.array([choice.metal for choice in problem.choices], np.float64)
        return Steered(_with_costs(problem, metal / metal.max() + PRICE_SHARE * prices))
    if aim is Aim.REMNANT:
        metal = np.array([choice.metal for choice in problem.choices], np.float64)
        return Steered(replace(problem, kept_rates=RACK_REMAINS * costs / metal))
    return Steered(problem, Favour(charge=LAYOUT_SHARE * cost))


def _with_costs(problem: BoxProblem, costs: Floats) -> BoxProblem:
    """The problem with other steering costs, by which nothing that goes back counts."""
    supplies = problem.supplies._replace(costs=costs)
    return replace(problem, supplies=supplies, kept_rates=np.zeros(len(costs)))


def search_for(search: Search, aim: Aim, looks: int, halt: Halt, filler: ShapeFiller | None) -> Search:
    """A search of its own for an aim, started from the layouts that another search knows."""
    other = steered(search.problem, aim, search.score.cost)
    found = search_with(
        search, other.problem, looks if aim is not Aim.LAYOUTS else 0, halt, filler, other.favour
    )
    fewer_layouts(found, looks // 4 if aim is not Aim.LAYOUTS else looks, halt)
    return found


def search_with(
    search: Search,
    problem: BoxProblem,
    looks: int,
    halt: Halt,
    filler: ShapeFiller | None,
    favour: Favour = PLAIN,
) -> Search:
    """A search on the same gauge with other costs or limits, from the layouts that another one knows."""
    found = Search(problem, search.seed + 1, favour)
    found.duals = search.duals
    numbers = [found.add(column) for column in search.columns]
    used = np.zeros(len(problem.choices), np.int64)
    for number, repeats in search.picks.items():
        used[search.columns[number].supply] += repeats
    if (used <= problem.supplies.limits).all():
        found.offer({numbers[number]: repeats for number, repeats in search.picks.items()})
    else:
        found.offer(found.take_in(first_plan(problem).cuts))
    if looks <= 0 or halt():
        return found
    if filler is None:
        plan_search(found, looks // 3)
        column_generation(found, looks // 3, halt)
        rounding(found, looks // 3, halt)
        return found
    # What is known already, combined anew, then true shapes as in the gauge's own search.
    column_generation(found, 1, halt)
    rounding(found, looks // 8, halt)
    before = filler.looks
    if not (used <= problem.supplies.limits).all():
        first_shapes(found, filler, halt)
    shape_search(found, filler, ShapeState(), looks * 7 // 8 - (filler.looks - before), halt, beyond=0)
    return found
