"""What keeps a plan from being cheaper, and what true shapes gained, in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sheetplan.drawings.findings import counted
from sheetplan.model.job import Remnant
from sheetplan.model.plan import GroupPlan
from sheetplan.packing.kernel_sequence import Floats
from sheetplan.planning.box_problem import BoxProblem, Supply
from sheetplan.planning.gauge_work import GaugeWork
from sheetplan.planning.proof import is_proven, is_weak
from sheetplan.planning.search import Search

UNPROVEN = "What the least cost is could not be proven."

MOST_NAMED = 4
"""Remnants named in one sentence at most."""


def limits_of(search: Search, bound: float, areas: Floats) -> str:
    """One sentence on what stands between a plan and a cheaper one.

    ``bound`` is what every plan costs at least, ``areas`` what a piece takes (nm2).
    """
    if search.score.missing > 0.0:
        return "The sheets on hand and for sale are used up."
    if is_proven(search, bound):
        return "Nothing: no plan of these parts on these sheets is cheaper."
    if is_weak(search.score.cost, bound):
        return UNPROVEN
    used_up = _used_up(search)
    if used_up:
        return f"{used_up} would be cheaper for its size, and every sheet of it is used."
    costs = search.problem.supplies.costs
    if search.score.cost - bound < float(costs.min()):
        return "Less than the cheapest sheet lies between this plan and what is proven to be needed."
    return f"The parts fill {_fill(search, areas):.1%} of the usable metal; the rest is lost round them."


def _used_up(search: Search) -> str:
    """The sheet size of the least price per area, if all of it is taken, on hand and to buy alike."""
    supplies = search.problem.supplies
    used = np.zeros(len(supplies.costs), np.int64)
    for number, repeats in search.picks.items():
        used[search.columns[number].supply] += repeats
    best = int(np.argmin(supplies.costs / supplies.areas))
    choices = search.problem.choices
    sheet = choices[best].sheet
    left = any(choice.sheet == sheet and used[s] < supplies.limits[s] for s, choice in enumerate(choices))
    if isinstance(sheet, Remnant) or left:
        return ""
    return sheet.name


def _fill(search: Search, areas: Floats) -> float:
    supplies = search.problem.supplies
    metal = sum(float(supplies.areas[search.columns[n].supply]) * r for n, r in search.picks.items())
    return float((search.problem.wanted * areas).sum()) / metal


def shape_note(work: GaugeWork) -> str:
    """What true shapes gained against boxes; empty where boxes hold the parts as tightly."""
    boxes, shaped = work.search, work.shaped
    if work.untried:
        return "True shapes may pay here, but the time ran out before they were tried: give more seconds."
    if boxes is None or shaped is None:
        return ""
    if shaped.score.missing < boxes.score.missing:
        return "True shape makes pieces for which bounding boxes find no metal."
    saved = boxes.score.cost - shaped.score.cost
    if work.best is not shaped or saved <= 0.0:
        return "True shapes were tried; they are no cheaper than plain boxes here."
    priced = any(choice.price for choice in boxes.problem.choices)
    worth = f"{saved:,.2f}" if priced else f"{saved / boxes.score.cost:.1%} of the metal"
    sheets = sum(boxes.picks.values()) - sum(shaped.picks.values())
    if sheets > 0:
        return f"True shape saved {counted(sheets, 'sheet')}, {worth}, against bounding boxes."
    other = "cheaper" if priced else "smaller"
    which = f"as many sheets, but {other} ones" if sheets == 0 else f"more sheets, but {other} ones"
    return f"True shape saved {worth} against bounding boxes: {which}."


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
