"""The end of a gauge's search: boxes become layouts, with counts, money, what is short, and choices."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetplan.model.plan import Group, GroupPlan
from sheetplan.packing.kernel import Ints
from sheetplan.planning.aims import OTHERS, Aim, search_for
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.choices import Candidate, chosen, measured, worth_showing
from sheetplan.planning.fewer_layouts import fewer_layouts
from sheetplan.planning.filling import fill_up, with_boxes
from sheetplan.planning.gauge_work import GaugeWork, Halt, TimesUp
from sheetplan.planning.limits import limits_of, remnant_note, shape_note
from sheetplan.planning.proof import closer_proof, is_proven, proven_bound
from sheetplan.planning.publishing import layouts_of, money_of, sheet_counts, shortfall, why_short
from sheetplan.planning.rectpack_floor import merged
from sheetplan.planning.search import Search
from sheetplan.planning.settling import settle
from sheetplan.planning.shape_filling import ShapeFiller
from sheetplan.planning.solution import made
from sheetplan.planning.sparing import spare_free_remnants
from sheetplan.planning.tidying import tidied
from sheetplan.planning.trimming import trim

LAYOUTS_SHARE = 0.5
"""Share of the finishing work that goes into fewer layouts; the choices have the rest."""

PROOF_SHARE = 0.2
"""Work beside it, as a share, on a closer proof of what the plan could cost at least."""

SPARING_SHARE = 0.1
"""Work beside it, as a share, on doing without remnants that cost nothing where the plan has any."""


def finish(work: GaugeWork, looks: int, halt: Halt) -> GroupPlan:
    """The plan of a gauge as everybody else sees it, with as few layouts as can be found and its choices."""
    search = work.best
    if search is None:
        return plan_of(work.group, work.problem, ())
    spare_free_remnants(search, int(looks * SPARING_SHARE), halt)
    fewer_layouts(search, int(looks * LAYOUTS_SHARE), halt)
    searches = alternatives(search, int(looks * (1.0 - LAYOUTS_SHARE)), halt)
    cheapest = candidate(work, search)
    candidates = [(aim, candidate(work, other)) for aim, other in searches]
    main, others = chosen(cheapest, candidates)
    areas = work.filler.areas if work.filler and search is work.shaped else search.areas
    bound = proven_bound(work, search)
    if not is_proven(search, bound):
        bound = max(bound, closer_proof(search, int(looks * PROOF_SHARE), halt))
    return replace(
        main.plan,
        bound=_money_bound(search, bound),
        above_bound=_above_bound(search, bound, cheapest, main),
        limited_by=limits_of(search, bound, areas),
        note=" ".join(filter(None, (shape_note(work), remnant_note(work.problem, main.plan)))),
        choices=worth_showing(main, others),
    )


def finish_elsewhere(work: GaugeWork, looks: int, limit: TimesUp) -> GroupPlan:
    """`finish` with a time limit instead of a halt, for other processes."""
    return finish(work, looks, limit.started())


def alternatives(search: Search, looks: int, halt: Halt) -> list[tuple[Aim, Search]]:
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
        found.append((aim, search_for(search, aim, looks // len(OTHERS), halt)))
        if aim is Aim.LAYOUTS:
            search.offer(search.adopt(found[-1][1], found[-1][1].picks))
    return found


def candidate(work: GaugeWork, search: Search) -> Candidate:
    """The best plan of a search, settled, filled and measured."""
    problem = search.problem
    settled = merged(settle(problem, cut, search.seed) for cut in trim(problem, search.cuts()))
    tidy = tidied(problem, settled, search.seed)
    cuts = with_extras(problem, tidy, work.filler)
    return measured(plan_of(work.group, problem, cuts), problem, cuts)


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


def _money_bound(search: Search, bound: float) -> float | None:
    """The proven least cost in money; None where there are no prices or pieces are left out."""
    priced = any(choice.is_priced for choice in search.problem.choices)
    if not priced or search.score.missing > 0.0 or bound <= 0.0:
        return None
    return bound


def _above_bound(search: Search, bound: float, cheapest: Candidate, main: Candidate) -> float | None:
    """By what share the plan shown is above the least possible cost."""
    if bound <= 0.0 or search.score.missing > 0.0:
        return None
    dearer = main.plan.cost / cheapest.plan.cost if cheapest.plan.cost else 1.0
    return search.score.cost / bound * dearer - 1.0


def with_extras(problem: BoxProblem, cuts: tuple[Cut, ...], shapes: ShapeFiller | None) -> tuple[Cut, ...]:
    """Fill what is left with orders that are cut if they fit, then with spares."""

    def fill(cut: Cut, available: Ints) -> Cut:
        if cut.is_shaped:
            return shapes.add(cut, problem.choices[cut.supply].blank, available) if shapes else cut
        return with_boxes(problem, cut, available)

    over = made(problem, cuts) - problem.wanted
    cuts = fill_up(cuts, np.clip(problem.extra - over, 0, problem.extra), fill, may_split=True)
    asked = problem.wanted + problem.extra
    spare = np.maximum(asked + problem.spare - made(problem, cuts), 0)
    return fill_up(cuts, np.minimum(spare, problem.spare), fill, may_split=False)
