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
from sheetplan.planning.plan_search import plan_search
from sheetplan.planning.rounding import rounding
from sheetplan.planning.search import PLAIN, Favour, Search

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


def search_for(search: Search, aim: Aim, looks: int, halt: Halt) -> Search:
    """A search of its own for an aim, started from the layouts that another search knows."""
    other = steered(search.problem, aim, search.score.cost)
    found = Search(other.problem, search.seed + 1, other.favour)
    found.duals = search.duals
    numbers = [found.add(column) for column in search.columns]
    found.offer({numbers[number]: repeats for number, repeats in search.picks.items()})
    if aim is not Aim.LAYOUTS:
        plan_search(found, looks // 4)
        column_generation(found, looks // 4, halt)
        rounding(found, looks // 4, halt)
    fewer_layouts(found, looks // 4 if aim is not Aim.LAYOUTS else looks, halt)
    return found
