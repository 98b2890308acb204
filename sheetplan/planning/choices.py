"""Plans to pick from: beside the chosen one, up to three that are better at something and differ enough.

The plan itself aims at the least cost, metal on hand counted at its price. Every other aim is a
search of its own that starts from the layouts already known, with other steering costs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from sheetplan.model.job import Remnant
from sheetplan.model.plan import Choice, GroupPlan
from sheetplan.packing.maxrects import Floats
from sheetplan.planning.box_problem import BoxProblem, Cut, useful_left
from sheetplan.planning.progress import Stop
from sheetplan.planning.search.column_generation import column_generation
from sheetplan.planning.search.first_plan import first_plan
from sheetplan.planning.search.polish import fewer_layouts
from sheetplan.planning.search.rounding import rounding
from sheetplan.planning.search.shape_filling import ShapeFiller
from sheetplan.planning.search.shapes import ShapeState, first_shapes, shape_search
from sheetplan.planning.search.state import PLAIN, Favour, Search, plan_search

OWNED_SHARE = 1e-3
"""What metal that is on hand counts of its price when only the bill matters: a little, to use less of it."""

PRICE_SHARE = 1e-3
"""How much the price counts beside sheets or area, so that of equal plans the cheaper is found."""

LAYOUT_SHARE = 0.02
"""A layout's charge as a share of the plan's cost when few layouts matter most."""

RACK_REMAINS = 1.0
"""Credit for what stays useful when the largest remnant matters most: all that it cost."""

MOST_CHOICES = 3
"""Alternatives beside the plan itself."""

DEAREST = 1.15
"""An alternative that costs more than this many times the plan is no choice, unless less is to be paid."""


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


def search_for(search: Search, aim: Aim, looks: int, halt: Stop, filler: ShapeFiller | None) -> Search:
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
    halt: Stop,
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


MATTERS = {
    Aim.COST: 0.001,
    Aim.MONEY_NOW: 0.01,
    Aim.SHEETS: 0.01,
    Aim.WASTE: 0.005,
    Aim.REMNANT: 0.2,
    Aim.LAYOUTS: 0.05,
}
"""How much better, as a share, an alternative has to be at its aim."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A plan with what it is measured by beside its own money: sheets, metal and strip left (mm2)."""

    plan: GroupPlan
    sheets: int
    metal: float
    left: float

    def at(self, aim: Aim) -> float:
        """The measure of an aim; less is better."""
        return {
            Aim.COST: self.plan.measure,
            Aim.MONEY_NOW: self.plan.to_pay,
            Aim.SHEETS: float(self.sheets),
            Aim.WASTE: self.metal,
            Aim.REMNANT: -self.left,
            Aim.LAYOUTS: float(len(self.plan.layouts)),
        }[aim]


def measured(plan: GroupPlan, problem: BoxProblem, cuts: Sequence[Cut]) -> Candidate:
    """A plan with its measures."""
    edges = [problem.choices[cut.supply] for cut in cuts]
    return Candidate(
        plan=plan,
        sheets=sum(cut.repeats for cut in cuts),
        metal=sum(choice.metal * cut.repeats for choice, cut in zip(edges, cuts, strict=True)) / 1e12,
        left=max((useful_left(problem, cut) for cut in cuts), default=0.0) / 1e12,
    )


def chosen(candidates: Sequence[tuple[Aim, Candidate]]) -> tuple[Candidate, list[tuple[Aim, Candidate]]]:
    """The plan to show, which counts least of those that make most, and the best for each other aim."""
    main = min(
        (one for _, one in candidates), key=lambda one: (sum(one.plan.short.values()), one.plan.measure)
    )
    best: dict[Aim, Candidate] = {}
    for aim, one in candidates:
        if aim is not Aim.COST and (aim not in best or one.at(aim) < best[aim].at(aim)):
            best[aim] = one
    return main, list(best.items())


def _shorter(other: Candidate, main: Candidate) -> bool:
    return sum(other.plan.short.values()) > sum(main.plan.short.values())


def worth_showing(main: Candidate, others: Sequence[tuple[Aim, Candidate]]) -> tuple[Choice, ...]:
    """The alternatives that matter, each kind of plan once, the greatest gains kept."""
    gains = [(gain(main, aim, other), aim, other) for aim, other in others]
    seen = {_key(main)}
    kept = []
    for won, aim, other in sorted(gains, key=lambda item: -item[0]):
        dear = other.plan.cost > main.plan.cost * DEAREST and aim is not Aim.MONEY_NOW
        if won < MATTERS[aim] or dear or _shorter(other, main) or _key(other) in seen:
            continue
        seen.add(_key(other))
        kept.append((aim, other))
    order = list(Aim)
    kept = sorted(kept[:MOST_CHOICES], key=lambda item: order.index(item[0]))
    return tuple(Choice(aim.value, sentence(main, aim, other), other.plan) for aim, other in kept)


def _key(candidate: Candidate) -> tuple[object, ...]:
    """Plans with the same sheets and as many layouts are one choice."""
    counts = tuple((count.sheet.name, count.used) for count in candidate.plan.sheets)
    remnants = tuple(x.sheet.tag for x in candidate.plan.layouts if isinstance(x.sheet, Remnant))
    return counts, remnants, len(candidate.plan.layouts), round(candidate.left)


def gain(main: Candidate, aim: Aim, other: Candidate) -> float:
    """How much better at an aim, as a share of the better of the two where less is better."""
    mine, theirs = main.at(aim), other.at(aim)
    scale = max(abs(mine), abs(theirs))
    return (mine - theirs) / scale if scale > 0.0 else 0.0


def sentence(main: Candidate, aim: Aim, other: Candidate) -> str:
    """What an alternative gains and costs, in words."""
    said = [
        _money(other.plan.to_pay - main.plan.to_pay, "to pay"),
        _money(other.plan.cost - main.plan.cost, "in metal taken"),
        _number(other.sheets - main.sheets, "sheet"),
        _number(len(other.plan.layouts) - len(main.plan.layouts), "layout"),
    ]
    if aim is Aim.REMNANT or aim is Aim.WASTE:
        said.append(_share(main, other))
    return "Against the plan: " + (", ".join(part for part in said if part) or "no difference in money") + "."


def _money(difference: float, what: str) -> str:
    if round(abs(difference), 2) == 0.0:
        return ""
    return f"{abs(difference):,.2f} {'more' if difference > 0 else 'less'} {what}"


def _number(difference: int, what: str) -> str:
    if not difference:
        return ""
    many = "s" if abs(difference) > 1 else ""
    return f"{abs(difference)} {what}{many} {'more' if difference > 0 else 'fewer'}"


def _share(main: Candidate, other: Candidate) -> str:
    if other.left > main.left > 0.0:
        return f"the largest remnant {other.left / main.left:.1f} times as large"
    if other.left > main.left:
        return "a remnant worth keeping where there was none"
    return ""
