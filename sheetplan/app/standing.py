"""What of the last plan stays: choices that the planner picked, layouts that are locked.

A plan's folder holds the plan with its choices (`CHOICES_FILE`) and a digest of the pages that it
was made from. As long as those say the same, a picked choice is used without a search, and a lock
changes nothing. Where they have changed, the choices no longer answer the question, and a new plan is
made round what is locked.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sheetplan.app.locked_layouts import locked_layouts
from sheetplan.model import Job, Layout, Plan, Problem, Weight
from sheetplan.planning.fits import Fits
from sheetplan.planning.fits_values import fits_of_values, fits_values
from sheetplan.planning.one_size import OneSize
from sheetplan.planning.picking import alternatives, with_picked
from sheetplan.planning.plan_values import NotThisJob, plan_of_values, plan_values
from sheetplan.workbook.columns import CHOICE_MARKS, LAYOUT_MARKS
from sheetplan.workbook.pick_marks import Mark, PlannerMarks
from sheetplan.workbook.schema import InputPage

CHOICES_FILE = "choices.json"
"""The plan and its choices among the plan's files, exact."""

FORMAT = 1


@dataclass(frozen=True, slots=True)
class Standing:
    """``plan`` and ``sizes`` are used as they are; where ``plan`` is None one is made round ``locked``.

    ``fits`` are the answers of the plan that was picked from, as far as there was time for them.
    """

    plan: Plan | None = None
    sizes: tuple[OneSize, ...] = ()
    fits: Fits | None = None
    locked: tuple[Layout, ...] = ()
    problems: tuple[Problem, ...] = ()


def choices_text(plan: Plan, sizes: Sequence[OneSize], fits: Fits | None) -> str:
    """The text of `CHOICES_FILE`."""
    settings = plan.job.settings
    values = {
        "format": FORMAT,
        "made_from": digests(plan.job),
        "seed": settings.seed,
        "seconds": settings.seconds,
        "stopped_early": plan.stopped_early,
        **plan_values(plan, sizes),
        "fits": fits_values(fits) if fits else None,
    }
    return json.dumps(values, ensure_ascii=False, allow_nan=False) + "\n"


def digests(job: Job) -> dict[str, str]:
    """For each page, a digest of all on it that a plan depends on.

    What is only shown beside a plan, such as a description or a rack place, is no part of it.
    """
    settings = job.settings
    pages: dict[str, object] = {
        "Settings": (
            settings.units, settings.datum, settings.least_remnant_length, settings.least_remnant_width,
            settings.crop_remnants, settings.on_hand_share, settings.remnant_share,
        ),
        "Materials": sorted(job.materials.items()),
        "Cutting": job.rules,
        "Parts": sorted((name, replace(part, description="")) for name, part in job.parts.items()),
        "Kits": sorted((name, sorted(kit.parts.items())) for name, kit in job.kits.items()),
        "Orders": [replace(order, line=0) for order in job.orders],
        "Stock": tuple(replace(one, on_order=0, supplier="", rack_place="") for one in job.stock),
        "Remnants": tuple(replace(one, rack_place="") for one in job.remnants),
    }  # fmt: skip
    return {page: hashlib.sha256(repr(held).encode()).hexdigest()[:16] for page, held in pages.items()}


def standing(job: Job, marks: PlannerMarks, folder: Path) -> Standing:
    """What stays of the plan that the marks are of; problems that stop say why a mark cannot be kept."""
    if not marks:
        return Standing()
    kept = _kept(folder, marks.plan)
    if kept is None:
        return Standing(problems=(_no_record(marks, folder),))
    try:
        changed = [page for page, digest in digests(job).items() if kept["made_from"].get(page) != digest]
        if changed:
            return _round_locked(kept, job, marks, _changed_notes(marks, changed))
        if not marks.picks and _asks_for_more(kept, job):
            return _round_locked(kept, job, marks, ())
        plan, sizes = plan_of_values(kept, job)
        fits = fits_of_values(kept["fits"], job) if kept["fits"] else None
    except (NotThisJob, KeyError, TypeError, AttributeError):
        return Standing(problems=(_no_record(marks, folder),))
    plan = replace(plan, stopped_early=bool(kept["stopped_early"]))
    return replace(_as_picked(plan, marks), sizes=sizes, fits=fits)


def _kept(folder: Path, mark: str) -> Mapping[str, Any] | None:
    """The record of a plan, or None where there is none that can be used."""
    if not mark.isalpha():
        return None
    for place in (folder, folder / "earlier"):
        path = place / f"plan-{mark}" / CHOICES_FILE
        try:
            values = json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            continue
        if isinstance(values, dict) and values.get("format") == FORMAT:
            return values
    return None


def _asks_for_more(kept: Mapping[str, Any], job: Job) -> bool:
    """Whether another seed, more time or a search cut short is a reason to plan the rest anew."""
    settings = job.settings
    return bool(
        kept["stopped_early"] or (kept["seed"], kept["seconds"]) != (settings.seed, settings.seconds)
    )


def _round_locked(
    kept: Mapping[str, Any], job: Job, marks: PlannerMarks, notes: tuple[Problem, ...]
) -> Standing:
    locked, problems = locked_layouts(kept, job, marks.locks)
    return Standing(locked=locked, problems=(*notes, *problems))


def _as_picked(plan: Plan, marks: PlannerMarks) -> Standing:
    """The plan with picks in use and locks on its layouts."""
    picks, problems = _usable_picks(plan, marks.picks)
    held = {mark.tag: mark for mark in marks.locks}
    known = {layout.tag: layout for group_plan in plan.groups for layout in group_plan.layouts}
    problems += [
        mark_problem(LAYOUT_MARKS, mark, f"The plan has no layout {tag} to lock.", "Lock one of its layouts.")
        for tag, mark in held.items() if tag not in known
    ]  # fmt: skip
    if problems:
        return Standing(problems=tuple(problems))
    wanted = {(known[tag].sheet, known[tag].placements): mark for tag, mark in held.items()}
    picked = with_picked(plan, [mark.tag for mark in picks])
    groups = []
    for group_plan in picked.groups:
        layouts = tuple(
            replace(layout, locked=wanted.pop((layout.sheet, layout.placements), None) is not None)
            for layout in group_plan.layouts
        )
        groups.append(replace(group_plan, layouts=layouts))
    lost = [_lost_lock(mark) for mark in wanted.values()]
    if lost:
        return Standing(problems=tuple(lost))
    return Standing(replace(picked, groups=tuple(groups)))


def _usable_picks(plan: Plan, picks: Sequence[Mark]) -> tuple[list[Mark], list[Problem]]:
    """One pick a gauge: what is told on the command line goes before a mark in the book."""
    ways = {way.tag: way for of_gauge in alternatives(plan) for way in of_gauge}
    problems = []
    of_gauge: dict[str, Mark] = {}
    for mark in sorted(picks, key=lambda mark: mark.row is not None):
        way = ways.get(mark.tag)
        if way is None:
            what = f"The plan has no choice {mark.tag}."
            problems.append(mark_problem(CHOICE_MARKS, mark, what, "Pick one from the page Choices."))
            continue
        first = of_gauge.setdefault(way.gauge, mark)
        told_and_marked = first.row is None and mark.row is not None
        if first is not mark and not told_and_marked:
            what = f"{first.tag} and {mark.tag} are both picked for {way.gauge}."
            problems.append(mark_problem(CHOICE_MARKS, mark, what, "Leave one mark."))
    return list(of_gauge.values()), problems


def mark_problem(
    page: InputPage, mark: Mark, what: str, remedy: str, weight: Weight = Weight.STOPS
) -> Problem:
    """A finding about a mark, at its cell where it stands in the book."""
    return Problem(page.name, mark.row, mark.cell, what, remedy, weight)


def _lost_lock(mark: Mark) -> Problem:
    return mark_problem(
        LAYOUT_MARKS, mark,
        f"{mark.tag} is locked, and the choice picked for its gauge does not have it.",
        "Clear the lock or the pick.",
    )  # fmt: skip


def _changed_notes(marks: PlannerMarks, changed: Sequence[str]) -> tuple[Problem, ...]:
    """Why picks are dropped: said once, at the first of them."""
    if not marks.picks:
        return ()
    tags = ", ".join(mark.tag for mark in marks.picks)
    pages = " and ".join(filter(None, (", ".join(changed[:-1]), changed[-1])))
    have = "has" if len(changed) == 1 else "have"
    return (mark_problem(
        CHOICE_MARKS, marks.picks[0],
        f"{pages} {have} changed since plan {marks.plan}, so its choice {tags} no longer answers what is "
        "asked: everything but what is locked was planned anew.",
        "Look at the page Choices and pick again.", Weight.NOTE,
    ),)  # fmt: skip


def _no_record(marks: PlannerMarks, folder: Path) -> Problem:
    page = CHOICE_MARKS if marks.picks else LAYOUT_MARKS
    mark = (*marks.picks, *marks.locks)[0]
    if not marks.plan:
        what = f"{mark.tag} is marked, and the book shows no plan that it could be of."
        return mark_problem(page, mark, what, "Make a plan first, without a mark.")
    what = f"{mark.tag} is marked, and what plan {marks.plan} was is not to be found in {folder.name}."
    return mark_problem(page, mark, what, "Put the plan's folder back, or clear the marks and plan anew.")


