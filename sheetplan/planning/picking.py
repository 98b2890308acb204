"""The plans of a gauge that the planner can pick from, and a plan with some of them picked.

Terms
-----
alternative
    One way to plan a gauge: the plan in use or one of the choices beside it. Tags ``C1``, ``C2`` ...
    run through the whole plan and stay the same whichever alternative is in use.
left out
    What one alternative does not make that another does: pieces that are cut if they fit, and spares.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from sheetplan.model.job import Order
from sheetplan.model.plan import Choice, GroupPlan, Plan
from sheetplan.planning.order_book import numbered

LEAST_COST = "least cost"

LEAST_NOW = "least to pay"

ORDER = (LEAST_COST, LEAST_NOW, "fewest sheets", "least waste", "largest remnant", "fewest layouts")
"""Names of alternatives in the order in which they are shown: those of `choices.Aim`."""


def left_out(main: GroupPlan, other: GroupPlan, orders: Sequence[Order] = ()) -> str:
    """As ``10 GU-1 of J-103 and 4 spare ST-1 not made``; empty where ``other`` makes all that ``main`` does.

    The ``orders`` of the job are named where they are given.
    """
    asked: Counter[str] = Counter()
    if_it_fits: dict[str, list[str]] = {}
    for need in main.group.needs:
        asked[need.part] += need.pieces
        name = orders[need.order].name if orders else ""
        if not need.must and name and name not in if_it_fits.setdefault(need.part, []):
            if_it_fits[need.part].append(name)
    mine, theirs = _made(main), _made(other)
    ordered, spare = [], []
    for part in sorted(mine):
        over = max(mine[part] - asked[part], 0) - max(theirs[part] - asked[part], 0)
        fewer = min(mine[part], asked[part]) - min(theirs[part], asked[part])
        if fewer > 0:
            names = if_it_fits.get(part, [])
            ordered.append(f"{fewer} {part} of {_listed(names)}" if names else f"{fewer} {part}")
        if over > 0:
            spare.append(f"{over} spare {part}")
    said = _listed([*ordered, *spare])
    return f"{said} not made" if said else ""


def _made(plan: GroupPlan) -> Counter[str]:
    made: Counter[str] = Counter()
    for layout in plan.layouts:
        for placement in layout.placements:
            made[placement.part] += layout.repeats
    return made


def _listed(names: list[str]) -> str:
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way to plan a gauge; ``plan`` has no choices of its own."""

    tag: str
    gauge: str
    name: str
    plan: GroupPlan
    in_use: bool


class NoSuchChoice(Exception):
    """A tag that the plan does not have."""


class PickedTwice(Exception):
    """Two alternatives of one gauge."""


def name_of(group_plan: GroupPlan) -> str:
    """What the plan in use is best at: the least cost, or the bill where another one costs less."""
    names = {choice.name for choice in group_plan.choices}
    return group_plan.picked or (LEAST_NOW if LEAST_COST in names else LEAST_COST)


def alternatives(plan: Plan) -> tuple[tuple[Alternative, ...], ...]:
    """The alternatives of every gauge of a plan."""
    number = 0
    found = []
    for group_plan in plan.groups:
        ways = []
        for choice in _ways(group_plan):
            number += 1
            in_use = choice.name == name_of(group_plan)
            ways.append(
                Alternative(f"C{number}", group_plan.group.label, choice.name, choice.plan, in_use)
            )
        found.append(tuple(ways))
    return tuple(found)


def with_picked(plan: Plan, tags: Collection[str]) -> Plan:
    """The plan with the alternatives of these tags in use, nothing searched and nothing else changed.

    Raises
    ------
    NoSuchChoice
        The plan has no alternative of a tag.
    PickedTwice
        Two tags are of one gauge.
    """
    of_gauges = alternatives(plan)
    unknown = set(tags) - {way.tag for ways in of_gauges for way in ways}
    if unknown:
        raise NoSuchChoice(min(unknown))
    groups = []
    for group_plan, ways in zip(plan.groups, of_gauges, strict=True):
        picked = [way for way in ways if way.tag in tags]
        if len(picked) > 1:
            raise PickedTwice(f"{picked[0].tag} and {picked[1].tag}")
        groups.append(_in_use(group_plan, picked[0]) if picked else group_plan)
    return replace(plan, groups=numbered(groups))


def _ways(group_plan: GroupPlan) -> list[Choice]:
    own = Choice(name_of(group_plan), "", replace(group_plan, choices=(), picked=""))
    rank = {name: number for number, name in enumerate(ORDER)}
    return sorted((own, *group_plan.choices), key=lambda way: rank.get(way.name, len(rank)))


def _in_use(group_plan: GroupPlan, picked: Alternative) -> GroupPlan:
    """A gauge's plan with an alternative in use and the others beside it, its bound kept."""
    if picked.in_use:
        return replace(group_plan, picked=picked.name)
    others = tuple(way for way in _ways(group_plan) if way.name != picked.name)
    return replace(
        picked.plan, bound=group_plan.bound, note=group_plan.note, choices=others, picked=picked.name
    )
