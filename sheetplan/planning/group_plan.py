"""The end of a gauge's search: boxes become layouts, with counts, money, what is short, and choices."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sheetplan.model.job import SheetSize
from sheetplan.model.plan import Group, GroupPlan
from sheetplan.planning.aims import OTHERS, Aim, search_for, search_with
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.choices import Candidate, chosen, measured, worth_showing
from sheetplan.planning.fewer_layouts import fewer_layouts
from sheetplan.planning.gauge_work import GaugeWork, Halt, TimesUp
from sheetplan.planning.limits import remnant_note, shape_note
from sheetplan.planning.one_size import OneSize
from sheetplan.planning.proof import closer_proof, is_proven
from sheetplan.planning.publishing import layouts_of, money_of, sheet_counts, shortfall, why_short
from sheetplan.planning.rectpack_floor import merged
from sheetplan.planning.search import Search, reduced
from sheetplan.planning.settling import settle
from sheetplan.planning.sparing import spare_free_remnants
from sheetplan.planning.tidying import tidied
from sheetplan.planning.trimming import trim
from sheetplan.planning.useful_left import useful_left

SIZES_SHARE, AIMS_SHARE, LAYOUTS_SHARE = 0.4, 0.4, 0.2
"""Shares of the finishing work: buying one size alone, what else a plan can aim at, fewer layouts."""

PROOF_SHARE = 0.2
"""Work beside it, as a share, on a closer proof of what the plan could cost at least."""

SPARING_SHARE = 0.1
"""Work beside it, as a share, on doing without remnants that cost nothing where the plan has any."""


@dataclass(frozen=True, slots=True)
class Finished:
    """A gauge's plan with its choices, and what was found with one size bought alone."""

    plan: GroupPlan
    sizes: tuple[OneSize, ...] = ()


def finish(work: GaugeWork, looks: int, halt: Halt) -> Finished:
    """The plan of a gauge as everybody else sees it, and what stands beside it.

    Whatever is found on the way and counts less than the plan is the plan.
    """
    search = work.best
    if search is None:
        return Finished(plan_of(work.group, work.problem, ()))
    spare_free_remnants(search, int(looks * SPARING_SHARE), halt)
    ones = searches_of_sizes(work, search, int(looks * SIZES_SHARE), halt)
    for _, one in ones:
        search.offer(search.adopt(one, one.picks))
    others = alternatives(work, search, int(looks * AIMS_SHARE), halt)
    fewer_layouts(search, int(looks * LAYOUTS_SHARE), halt)
    of_sizes = [(sheet, candidate(work, one)) for sheet, one in ones]
    candidates = [(Aim.COST, candidate(work, search))]
    candidates += [(aim, candidate(work, other)) for aim, other in others]
    candidates += [(Aim.MONEY_NOW, one) for _, one in of_sizes]
    main, others_shown = chosen(candidates)
    bound = work.with_proof().bound
    if not is_proven(search, bound) and not halt():
        bound = max(bound, closer_proof(search, int(looks * PROOF_SHARE), halt))
    plan = replace(
        main.plan,
        bound=bound if bound > 0.0 and search.score.missing == 0.0 else None,
        note=" ".join(filter(None, (shape_note(work), remnant_note(work.problem, main.plan)))),
        choices=worth_showing(main, others_shown),
    )
    sizes = [one for one in of_sizes if _is_one_size(plan, *one)]
    return Finished(plan, tuple(_one_size(work.group, plan, *one) for one in sizes))


def _is_one_size(plan: GroupPlan, sheet: SheetSize, one: Candidate) -> bool:
    """Whether a plan buys a size alone where the gauge's own plan buys something else, and makes as much."""
    bought, own = ([count.sheet for count in of.sheets if count.to_buy] for of in (one.plan, plan))
    return bought == [sheet] != own and bool(own) and one.plan.short == plan.short


def _one_size(group: Group, plan: GroupPlan, sheet: SheetSize, one: Candidate) -> OneSize:
    """What was found with one size: searched from the plan's own layouts, but for less time than the plan."""
    return OneSize(group.label, sheet, replace(one.plan, bound=plan.bound), searched=False)


def finish_elsewhere(work: GaugeWork, looks: int, limit: TimesUp) -> Finished:
    """`finish` with a time limit instead of a halt, for other processes."""
    return finish(work, looks, limit.started())


def searches_of_sizes(
    work: GaugeWork, search: Search, looks: int, halt: Halt
) -> list[tuple[SheetSize, Search]]:
    """A search for each size that is for sale, no other being bought, from the layouts known already.

    Sheets and remnants on hand may still be used, whatever their size. Sizes with which something that
    must be made cannot be made are left out.
    """
    problem = search.problem
    bought = {id(choice.sheet): choice.sheet for choice in problem.choices if not choice.on_hand}
    if len(bought) < 2 or search.score.missing > 0.0:
        return []
    found = []
    for sheet in bought.values():
        if halt() or not isinstance(sheet, SheetSize):
            break
        only = np.array([choice.on_hand or choice.sheet is sheet for choice in problem.choices], np.bool_)
        limits = np.where(only, problem.supplies.limits, 0)
        one = search_with(
            search, reduced(problem, problem.wanted, limits), looks // len(bought), halt, work.filler
        )
        if one.score.missing == 0.0:
            found.append((sheet, one))
    return found


def alternatives(work: GaugeWork, search: Search, looks: int, halt: Halt) -> list[tuple[Aim, Search]]:
    """A search for every other aim; none where pieces are left out, since no choice is free then.

    What the aim at few layouts finds is offered to the search itself: on its way through dearer
    plans it often comes back with one that costs the same.
    """
    if search.score.missing > 0.0:
        return []
    found: list[tuple[Aim, Search]] = []
    for aim in OTHERS:
        if halt():
            break
        found.append((aim, search_for(search, aim, looks // len(OTHERS), halt, work.filler)))
        if aim is Aim.LAYOUTS:
            search.offer(search.adopt(found[-1][1], found[-1][1].picks))
    return found


def candidate(work: GaugeWork, search: Search) -> Candidate:
    """The best plan of a search, settled and measured by the gauge's own costs."""
    problem = work.problem
    settled = merged(settle(problem, cut, search.seed) for cut in trim(problem, search.cuts()))
    cuts = tidied(problem, settled, search.seed)
    counted = sum(cut.repeats * counted_of(problem, cut) for cut in cuts)
    return measured(replace(plan_of(work.group, problem, cuts), counted=counted), problem, cuts)


def counted_of(problem: BoxProblem, cut: Cut) -> float:
    """What one sheet of a cut counts, what goes back to the rack taken off."""
    cost, rate = float(problem.supplies.costs[cut.supply]), float(problem.kept_rates[cut.supply])
    return cost - rate * useful_left(problem, cut) if rate else cost


def plan_of(group: Group, problem: BoxProblem, cuts: tuple[Cut, ...]) -> GroupPlan:
    """Cuts as a plan."""
    layouts = layouts_of(problem, cuts)
    short = shortfall(group, layouts)
    return GroupPlan(
        group=group,
        layouts=layouts,
        sheets=sheet_counts(group, layouts),
        short=short,
        cost=money_of(layouts),
        why_short=why_short(short, problem),
    )
