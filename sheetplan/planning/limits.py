"""What keeps a plan from being cheaper, and what true shapes gained, in words."""

from __future__ import annotations

from collections.abc import Sequence

from sheetplan.model.job import Remnant
from sheetplan.model.plan import GroupPlan
from sheetplan.planning.box_problem import BoxProblem, Supply
from sheetplan.planning.gauge_work import GaugeWork
from sheetplan.planning.search import Search
from sheetplan.planning.shape_words import ShapeOutcome
from sheetplan.planning.shape_words import shape_note as say

MOST_NAMED = 4
"""Remnants named in one sentence at most."""


def shape_note(work: GaugeWork) -> str:
    """What true shapes gained against boxes; empty where boxes hold the parts as tightly."""
    boxes, shaped = work.search, work.shaped
    if work.untried:
        return say(ShapeOutcome(tried=False))
    if boxes is None or shaped is None:
        return ""
    has_prices = any(choice.is_priced for choice in boxes.problem.choices)
    saved = _metal_of(boxes, has_prices) - _metal_of(shaped, has_prices) if work.best is shaped else 0.0
    return say(
        ShapeOutcome(
            saved=saved if has_prices else saved / max(_metal_of(boxes, has_prices), 1e-300),
            sheets=sum(boxes.picks.values()) - sum(shaped.picks.values()),
            at_rest=shaped.done or work.is_at_rest,
            has_prices=has_prices,
            makes_more=shaped.score.missing < boxes.score.missing,
        )
    )


def _metal_of(search: Search, has_prices: bool) -> float:
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
