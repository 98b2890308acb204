"""The end of a gauge's search: boxes become layouts, with counts, money, what is short, and choices.

Words say what keeps the plan from being cheaper and what true shapes gained; nothing is said of them that the
search has not shown.

Choices
-------
Sizes bought alone are searched from the layouts that are known already, each with a part of the finishing
work (`SIZES_SHARE`). What they find is offered to the gauge's own search, so that no plan is dearer than
one size as it was found. They have less work than the plan had, and nothing is proven of them; so what the
plan saves against one size is told nowhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from sheetplan.model.job import Remnant, SheetSize
from sheetplan.model.plan import Group, GroupPlan
from sheetplan.planning.bounds.proof import closer_proof, is_proven
from sheetplan.planning.box_problem import BoxProblem, Cut, Supply, counted_of
from sheetplan.planning.choices import (
    OTHERS,
    Aim,
    Candidate,
    chosen,
    measured,
    search_for,
    search_with,
    worth_showing,
)
from sheetplan.planning.gauge_work import GaugeWork, Sealed, TimesUp, opened, sealed
from sheetplan.planning.order_book import money_of, sheet_counts
from sheetplan.planning.progress import Stop
from sheetplan.planning.search.first_plan import merged
from sheetplan.planning.search.polish import fewer_layouts, settle, spare_free_remnants, tidied
from sheetplan.planning.search.state import Search, reduced
from sheetplan.planning.solution import layouts_of, shortfall, trim, why_short
from sheetplan.trade.sentences import counted

ROUND_SECONDS = (10, 20, 30, 60, 90, 120, 180, 240, 300, 450, 600, 900, 1200, 1800, 2700, 3600)
"""What a rough estimate of seconds is rounded up to; beyond, to whole hours."""

MOST_NAMED = 4
"""Remnants named in one sentence at most."""

SIZES_SHARE, AIMS_SHARE, LAYOUTS_SHARE = 0.4, 0.4, 0.2
"""Shares of the finishing work: buying one size alone, what else a plan can aim at, fewer layouts."""

SPARING_SHARE = 0.1
"""Work beside it, as a share, on doing without remnants that cost nothing where the plan has any."""


@dataclass(frozen=True, slots=True)
class ShapeOutcome:
    """A gauge's best plan of true shapes against its best plan of bounding boxes.

    ``saved`` is what the boxes cost more, in money; where the book has no prices (``has_prices`` False) the
    share of their metal. 0 or less: nothing. ``sheets`` are the full sheets saved and ``remnants`` those that
    stay in the rack, below 0 where it takes more of them. ``at_rest`` says that the search of true shapes has
    nothing left to try or nothing left to gain;
    ``seconds`` is a rough least of the seconds for the whole run in which it would come to rest, None where
    nobody knows. ``tried`` is False where the time ran out before the first try; ``makes_more``
    says that true shapes make pieces for which bounding boxes find no metal.
    """

    saved: float = 0.0
    sheets: int = 0
    at_rest: bool = False
    seconds: float | None = None
    tried: bool = True
    has_prices: bool = True
    makes_more: bool = False
    remnants: int = 0


def shape_note(outcome: ShapeOutcome) -> str:
    """One sentence on what true shapes gained, or on what is not known of them yet.

    >>> shape_note(ShapeOutcome(at_rest=True))
    'Packing by outline was tried; it is no cheaper than by box here.'
    >>> shape_note(ShapeOutcome(saved=12.5, sheets=1, remnants=-2))
    'Packing by outline instead of by box saved 1 sheet, 12.50, with 2 remnants more.'
    """
    if not outcome.tried:
        return f"Packing by outline may pay here, but time ran out before it was tried: {_more(outcome)}."
    if outcome.makes_more:
        return "Packing by outline makes pieces for which packing by box finds no metal."
    if outcome.saved > 0.0:
        return _gained(outcome)
    if outcome.at_rest:
        return "Packing by outline was tried; it is no cheaper than by box here."
    return (
        "Packing by outline is no cheaper than by box so far, but time ran out before it was tried to "
        f"the end: {_more(outcome)}."
    )


def round_seconds(seconds: float) -> int:
    """A rough estimate rounded up, so that it does not pass for a measured one.

    >>> round_seconds(34.2), round_seconds(60.0), round_seconds(5000.0)
    (60, 60, 7200)
    """
    hour = ROUND_SECONDS[-1]
    whole_hours = -int(-seconds // hour) * hour
    return next((step for step in ROUND_SECONDS if seconds <= step), whole_hours)


def _gained(outcome: ShapeOutcome) -> str:
    saved, counts = outcome.saved, {"sheet": outcome.sheets, "remnant": outcome.remnants}
    worth = f"{saved:,.2f}" if outcome.has_prices else f"{saved:.1%} of the metal"
    fewer = " and ".join(counted(count, what) for what, count in counts.items() if count > 0)
    more = " and ".join(f"{counted(-count, what)} more" for what, count in counts.items() if count < 0)
    if fewer:
        said = f"Packing by outline instead of by box saved {fewer}, {worth}"
        return f"{said}, with {more}." if more else f"{said}."
    other = "cheaper" if outcome.has_prices else "smaller"
    which = f"{more or 'as many sheets'}, but {other} ones"
    return f"Packing by outline instead of by box saved {worth}: {which}."


def _more(outcome: ShapeOutcome) -> str:
    if outcome.seconds is None:
        return "give more seconds"
    return f"that takes about {round_seconds(outcome.seconds):,} seconds or more"


def gain_of_shapes(work: GaugeWork) -> str:
    """What true shapes gained against boxes; empty where boxes hold the parts as tightly."""
    boxes, shaped = work.search, work.shaped
    if work.untried:
        return shape_note(ShapeOutcome(tried=False))
    if boxes is None or shaped is None:
        return ""
    has_prices = any(choice.is_priced for choice in boxes.problem.choices)
    worth = partial(_metal_of, has_prices=has_prices)
    saved = worth(boxes) - worth(shaped) if work.best is shaped else 0.0
    return shape_note(
        ShapeOutcome(
            saved=saved if has_prices else saved / max(worth(boxes), 1e-300),
            sheets=_taken(boxes, SheetSize) - _taken(shaped, SheetSize),
            remnants=_taken(boxes, Remnant) - _taken(shaped, Remnant),
            at_rest=shaped.done or work.is_at_rest,
            seconds=work.seconds_to_rest,
            has_prices=has_prices,
            makes_more=shaped.score.missing < boxes.score.missing,
        )
    )


def _taken(search: Search, kind: type[SheetSize] | type[Remnant]) -> int:
    """How many sheets of a kind a search's plan takes."""
    choices = search.problem.choices
    return sum(
        repeats for number, repeats in search.picks.items()
        if isinstance(choices[search.columns[number].supply].sheet, kind)
    )  # fmt: skip


def _metal_of(search: Search, *, has_prices: bool) -> float:
    """What the sheets of a search's plan are worth: their prices and values, or their area without any."""
    choices = search.problem.choices
    taken = [(choices[search.columns[number].supply], repeats) for number, repeats in search.picks.items()]
    return sum(repeats * (choice.worth if has_prices else choice.metal) for choice, repeats in taken)


def remnant_note(problem: BoxProblem, plan: GroupPlan) -> str:
    """Why remnants that hold some of the parts are not used; empty where there is none."""
    used = {layout.sheet.tag for layout in plan.layouts if isinstance(layout.sheet, Remnant)}
    idle = [remnant for choice in problem.choices for remnant in _idle(choice, used, problem)]
    free = [remnant.tag for remnant in idle if remnant.value == 0.0]
    valued = [remnant.tag for remnant in idle if remnant.value > 0.0]
    said = []
    if free:
        said.append(f"{_named(free)} would hold parts, but using {_it(free)} saves no sheet.")
    if valued:
        said.append(f"{_named(valued)} would hold parts, but no plan found with {_it(valued)} is cheaper.")
    return " ".join(said)


def _idle(choice: Supply, used: set[str], problem: BoxProblem) -> tuple[Remnant, ...]:
    """A supply's remnant, if it is not used and would hold a piece that must be made."""
    remnant = choice.sheet
    if not isinstance(remnant, Remnant) or remnant.tag in used:
        return ()
    lengths, widths, turnable = (column[problem.wanted > 0] for column in problem.types)
    upright = (lengths[:, None] <= choice.free[:, 2]) & (widths[:, None] <= choice.free[:, 3])
    across = (widths[:, None] <= choice.free[:, 2]) & (lengths[:, None] <= choice.free[:, 3])
    return (remnant,) if (upright | (across & turnable[:, None])).any() else ()


def _named(names: Sequence[str]) -> str:
    """Remnants by name, the first few of many."""
    if len(names) > MOST_NAMED:
        return f"Remnants {', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more"
    return f"Remnant{'s' if len(names) > 1 else ''} {', '.join(names)}"


def _it(names: Sequence[str]) -> str:
    return "it" if len(names) == 1 else "them"


def finish(work: GaugeWork, looks: int, halt: Stop) -> GroupPlan:
    """The plan of a gauge as everybody else sees it, with its choices.

    Whatever is found on the way and counts less than the plan is the plan.
    """
    search = work.best
    if search is None:
        return plan_of(work.group, work.problem, ())
    spare_free_remnants(search, int(looks * SPARING_SHARE), halt)
    ones = searches_of_sizes(work, search, int(looks * SIZES_SHARE), halt)
    for one in ones:
        search.offer(search.adopt(one, one.picks))
    others = alternatives(work, search, int(looks * AIMS_SHARE), halt)
    fewer_layouts(search, int(looks * LAYOUTS_SHARE), halt)
    candidates = [(Aim.COST, candidate(work, search))]
    candidates += [(aim, candidate(work, other)) for aim, other in others]
    candidates += [(Aim.MONEY_NOW, candidate(work, one)) for one in ones]
    main, others_shown = chosen(candidates)
    # Whoever stopped the run waits for this: a gauge that was hardly begun keeps the bound that it has.
    bound = (work if halt() else work.with_proof()).bound
    return replace(
        main.plan,
        bound=bound if bound > 0.0 and search.score.missing == 0.0 else None,
        note=" ".join(filter(None, (gain_of_shapes(work), remnant_note(work.problem, main.plan)))),
        choices=worth_showing(main, others_shown),
    )


def with_proof(plan: GroupPlan, work: GaugeWork, looks: int, halt: Stop) -> GroupPlan:
    """The plan with the closest bound on what it could cost at least that so much work proves."""
    search = work.best
    known = plan.bound or 0.0
    if search is None or search.score.missing > 0.0 or is_proven(search, known) or halt():
        return plan
    return replace(plan, bound=max(known, closer_proof(search, looks, halt)) or None)


def finish_elsewhere(work: GaugeWork | Sealed, looks: int, limit: TimesUp) -> tuple[GroupPlan, Sealed]:
    """`finish` with a time limit instead of a halt, for other processes; the gauge as it is then."""
    gauge = opened(work)
    return finish(gauge, looks, limit.started()), sealed(gauge)


def proven_elsewhere(plan: GroupPlan, work: GaugeWork | Sealed, looks: int, limit: TimesUp) -> GroupPlan:
    """`with_proof` with a time limit instead of a halt, for other processes."""
    return with_proof(plan, opened(work), looks, limit.started())


def searches_of_sizes(work: GaugeWork, search: Search, looks: int, halt: Stop) -> list[Search]:
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
            found.append(one)
    return found


def alternatives(work: GaugeWork, search: Search, looks: int, halt: Stop) -> list[tuple[Aim, Search]]:
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
