"""What another plan of a gauge can aim at, and how a search is steered there.

The plan itself aims at the least cost, metal on hand counted at its price. Every other aim is a
search of its own that starts from the layouts already known, with other steering costs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from sheetplan.model.job import Remnant
from sheetplan.packing.kernel_sequence import Floats
from sheetplan.planning.box_problem import BoxProblem, Supply, supplies_of
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
    MONEY_NOW = "least money now"
    SHEETS = "fewest sheets"
    WASTE = "least waste"
    REMNANT = "largest remnant"
    LAYOUTS = "fewest layouts"


OTHERS = tuple(aim for aim in Aim if aim is not Aim.COST)
"""The aims of alternatives."""


@dataclass(frozen=True, slots=True)
class Steered:
    """A problem with the steering costs of an aim, and what its search weighs besides.

    ``origin[s]`` is the supply of the first problem that supply ``s`` of this one came from.
    """

    problem: BoxProblem
    origin: tuple[int, ...]
    favour: Favour = PLAIN


def steered(problem: BoxProblem, aim: Aim, cost: float) -> Steered:
    """The problem as an aim sees it; ``cost`` is the steering cost of the plan at hand."""
    same = tuple(range(len(problem.choices)))
    costs = problem.supplies.costs
    prices = costs / max(float(costs.max()), 1e-300)
    if aim is Aim.MONEY_NOW:
        return _on_hand_apart(problem)
    if aim is Aim.SHEETS:
        return Steered(_with_costs(problem, 1.0 + PRICE_SHARE * prices), same)
    if aim is Aim.WASTE:
        metal = np.array([choice.metal for choice in problem.choices], np.float64)
        return Steered(_with_costs(problem, metal / metal.max() + PRICE_SHARE * prices), same)
    if aim is Aim.REMNANT:
        return Steered(problem, same, Favour(credit=RACK_REMAINS))
    return Steered(problem, same, Favour(charge=LAYOUT_SHARE * cost))


def _with_costs(problem: BoxProblem, costs: Floats) -> BoxProblem:
    return replace(problem, supplies=problem.supplies._replace(costs=costs))


def _on_hand_apart(problem: BoxProblem) -> Steered:
    """Sheets on hand and sheets for sale as supplies of their own, those on hand almost free."""
    choices: list[Supply] = []
    origin, shares = [], []
    for s, choice in enumerate(problem.choices):
        on_hand = 1 if isinstance(choice.sheet, Remnant) else min(choice.sheet.on_hand, choice.limit)
        for limit, share in ((on_hand, OWNED_SHARE), (choice.limit - on_hand, 1.0)):
            if limit > 0:
                choices.append(replace(choice, limit=limit))
                origin.append(s)
                shares.append(share)
    places = np.array(origin, np.int64)
    supplies = supplies_of(choices)._replace(costs=problem.supplies.costs[places] * np.array(shares))
    rates = problem.kept_rates[places]
    return Steered(
        replace(problem, choices=tuple(choices), supplies=supplies, kept_rates=rates), tuple(origin)
    )


def _same_picks(search: Search, numbers: Sequence[Mapping[int, int]], problem: BoxProblem) -> dict[int, int]:
    """The plan at hand on the supplies of an aim, those on hand first.

    ``numbers`` has for each column the supplies that it can lie on and what the aim's search calls it there.
    """
    left = problem.supplies.limits.copy()
    picks: dict[int, int] = {}
    for number, repeats in search.picks.items():
        for s, there in numbers[number].items():
            times = min(repeats, int(left[s]))
            if times:
                picks[there] = picks.get(there, 0) + times
                left[s] -= times
                repeats -= times
    return picks


def search_for(search: Search, aim: Aim, looks: int, halt: Halt) -> Search:
    """A search of its own for an aim, started from the layouts that another search knows."""
    other = steered(search.problem, aim, search.score.cost)
    found = Search(other.problem, search.seed + 1, other.favour)
    found.duals = search.duals
    numbers = [
        {
            s: found.add(replace(column, supply=s))
            for s, origin in enumerate(other.origin)
            if origin == column.supply
        }
        for column in search.columns
    ]
    found.offer(_same_picks(search, numbers, other.problem))
    if aim is not Aim.LAYOUTS:
        plan_search(found, looks // 4)
        column_generation(found, looks // 4, halt)
        rounding(found, looks // 4, halt)
    fewer_layouts(found, looks // 4 if aim is not Aim.LAYOUTS else looks, halt)
    return found
