"""What of the last plan stays: gauges that nothing changed for, choices picked, layouts locked or kept."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sheetplan.app.making.earlier import gauge_digests, kept_layouts, uncut
from sheetplan.app.making.folders import plan_folders
from sheetplan.model import Group, GroupPlan, Job, Layout, Plan, Problem, SheetSize, Weight
from sheetplan.model.plan import pieces_on
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.order_book import Before, number_of, renumbered, sheet_counts
from sheetplan.planning.picking import alternatives, with_picked
from sheetplan.planning.plan_values import (
    NotThisJob,
    gauge_of_values,
    layouts_of_values,
    plan_of_values,
    plan_values,
)
from sheetplan.planning.whatif.fits import Fits, fits_of_values, fits_values
from sheetplan.rack.kept_plan import KeptPlan
from sheetplan.workbook.columns import CHOICE_MARKS, LAYOUT_MARKS
from sheetplan.workbook.reading.pick_marks import Mark, PlannerMarks, Reach
from sheetplan.workbook.schema import InputPage

# A plan's folder holds the plan with its choices (`CHOICES_FILE`) and a digest of the pages and of each
# gauge that it was made from. As long as those say the same, the plan stands, a picked choice is used
# without a search, and a lock changes nothing. Where they have changed, the gauges that have not stand all
# the same; of the others the choices no longer answer the question, and a new plan is made round what is
# locked, from the layouts that still serve.

CHOICES_FILE = "choices.json"
"""The plan and its choices among the plan's files, exact."""

FORMAT = 1

NOTHING_BEFORE = Before()
"""A plan that starts from nothing."""


@dataclass(frozen=True, slots=True)
class Standing:
    """``plan`` is used as it is; where it is None one is made round ``locked``.

    ``fits`` are the answers of the plan that was picked from, as far as there was time for them. ``before``
    is what a new plan starts from.
    """

    plan: Plan | None = None
    fits: Fits | None = None
    locked: tuple[Layout, ...] = ()
    problems: tuple[Problem, ...] = ()
    before: Before = NOTHING_BEFORE
    picked: bool = False
    """Whether a choice was picked, so that ``fits`` has to be looked at again."""


def choices_text(plan: Plan, fits: Fits | None, highest: int = 0) -> str:
    """The text of `CHOICES_FILE`; ``highest`` is the highest number that a layout was ever given."""
    settings = plan.job.settings
    values = {
        "format": FORMAT,
        "made_from": digests(plan.job),
        "gauges_from": gauge_digests(plan.job),
        "highest": highest,
        "to_pay": sum(one.to_pay for one in plan.groups),
        "seed": settings.seed,
        "seconds": settings.seconds,
        "stopped_early": plan.stopped_early,
        **plan_values(plan),
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


def standing(job: Job, marks: PlannerMarks, folder: Path, shown: str = "") -> Standing:
    """What stays of the plan that the book shows; problems that stop say why a mark cannot be kept.

    ``shown`` is that plan's mark, where the pages that bear marks do not say it.
    """
    mark = marks.plan or shown
    kept = _kept(folder, mark)
    if kept is None:
        return Standing(problems=(_no_record(marks, folder),)) if marks else Standing()
    try:
        marks = _spread(marks, kept)
        changed = [page for page, digest in digests(job).items() if kept["made_from"].get(page) != digest]
        if changed or (not marks.picks and _asks_for_more(kept, job)):
            return _going_on(kept, job, replace(marks, plan=mark), folder, changed)
        plan = plan_of_values(kept, job)
        fits = fits_of_values(kept["fits"], job) if kept["fits"] else None
    except (NotThisJob, KeyError, TypeError, AttributeError):
        return Standing(problems=(_no_record(marks, folder),)) if marks else Standing()
    plan = replace(plan, stopped_early=bool(kept["stopped_early"]))
    known = tuple(layout for one in plan.groups for layout in one.layouts)
    before = Before(
        mark, known=known, highest=_highest(kept, plan.groups), to_pay=float(kept.get("to_pay", 0.0))
    )
    stands = _as_picked(plan, marks, before)
    return replace(stands, fits=fits, before=before, picked=bool(marks.picks))


def shown_plan(job: Job, folder: Path, mark: str) -> tuple[Plan, Fits | None] | None:
    """The plan that the book shows and what else fits there, where nothing has changed that it depends on;
    else None.

    Unlike `standing` it asks for no more seconds and for no other seed than the plan was made with.
    """
    kept = _kept(folder, mark)
    if kept is None or any(kept["made_from"].get(page) != digest for page, digest in digests(job).items()):
        return None
    try:
        fits = fits_of_values(kept["fits"], job) if kept["fits"] else None
        return plan_of_values(kept, job), fits
    except (NotThisJob, KeyError, TypeError, AttributeError):
        return None


def _highest(kept: Mapping[str, Any], groups: Sequence[GroupPlan]) -> int:
    """The highest number that a layout was given up to a plan."""
    numbers = [number_of(layout.tag) for one in groups for layout in one.layouts]
    return max([int(kept.get("highest", 0)), *numbers])


def _spread(marks: PlannerMarks, kept: Mapping[str, Any]) -> PlannerMarks:
    """The marks with a lock of a whole gauge or plan put on each of its layouts."""
    locks: dict[str, Mark] = {}
    for mark in marks.locks:
        tags = [mark.tag]
        if mark.reach is not Reach.LAYOUT:
            tags = [
                layout["tag"] for gauge in kept["gauges"]
                if mark.reach is Reach.PLAN or mark.tag in [one["tag"] for one in gauge["layouts"]]
                for layout in gauge["layouts"]
            ]  # fmt: skip
        for tag in tags:
            cut = marks.cut.get(tag.upper(), 0)
            locks.setdefault(tag, replace(mark, tag=tag, cut=cut, reach=Reach.LAYOUT))
    return replace(marks, locks=tuple(locks.values()))


def _going_on(
    kept: Mapping[str, Any], job: Job, marks: PlannerMarks, folder: Path, changed: Sequence[str]
) -> Standing:
    """A new plan from the one before: gauges without a change stand, with what is picked of them."""
    more = _asks_for_more(kept, job)
    now, then = gauge_digests(job), kept.get("gauges_from", {})
    same = [label for label, digest in now.items() if then.get(label) == digest and not more]
    held, lost, problems = _picks_of(kept, job, marks.picks, same)
    exact = kept_layouts(folder, marks.plan)
    locked, wrong = locked_layouts(kept, job, marks.locks)
    before = Before(
        marks.plan, held,
        uncut(exact, job, marks.cut) if exact else (),
        tuple(one.layout for one in exact.layouts.values()) if exact else (),
        max(int(kept.get("highest", 0)), *(number_of(tag) for tag in (exact.layouts if exact else ())), 0),
        float(kept.get("to_pay", 0.0)), more and not changed, _cut_in_full(exact, marks),
    )  # fmt: skip
    notes = _changed_notes(replace(marks, picks=lost), changed) if changed else ()
    return Standing(locked=locked, problems=(*notes, *problems, *wrong), before=before)


def _cut_in_full(exact: KeptPlan | None, marks: PlannerMarks) -> frozenset[str]:
    layouts = exact.layouts.items() if exact else ()
    return frozenset(tag for tag, one in layouts if marks.cut.get(tag.upper(), 0) >= one.layout.repeats)


def _picks_of(
    kept: Mapping[str, Any], job: Job, picks: Sequence[Mark], labels: Sequence[str]
) -> tuple[dict[str, GroupPlan], tuple[Mark, ...], tuple[Problem, ...]]:
    """The gauges that stand, with what is picked of them; picks of others; and what is wrong with picks."""
    held: dict[str, GroupPlan] = {}
    first, tags_there = 0, set[str]()
    problems: list[Problem] = []
    for gauge in kept["gauges"]:
        tags = {f"C{first + number}": number for number in range(1, 2 + len(gauge["choices"]))}
        first += len(tags)
        label = gauge["gauge"]
        if label not in labels:
            continue
        tags_there |= tags.keys()
        alone = Plan(job, (gauge_of_values(kept, label, job),))
        here = [replace(mark, tag=f"C{tags[mark.tag]}") for mark in picks if mark.tag in tags]
        used, wrong = _usable_picks(alone, here)
        problems += wrong
        held[label] = with_picked(alone, [mark.tag for mark in used]).groups[0] if used else alone.groups[0]
    return held, tuple(mark for mark in picks if mark.tag not in tags_there), tuple(problems)


def _kept(folder: Path, mark: str) -> Mapping[str, Any] | None:
    """The record of a plan, or None where there is none that can be used."""
    if not mark.isalpha():
        return None
    for place in plan_folders(folder, mark):
        try:
            values = json.loads((place / CHOICES_FILE).read_text(encoding="utf-8"))
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


def _as_picked(plan: Plan, marks: PlannerMarks, before: Before) -> Standing:
    """The plan with picks in use and locks on its layouts."""
    picks, problems = _usable_picks(plan, marks.picks)
    held = {mark.tag: mark for mark in marks.locks}
    known = {layout.tag: layout for group_plan in plan.groups for layout in group_plan.layouts}
    problems += [
        mark_problem(LAYOUT_MARKS, mark, no_layout(tag, known), "Lock one of those.")
        for tag, mark in held.items() if tag not in known
    ]  # fmt: skip
    if problems:
        return Standing(problems=tuple(problems))
    wanted = {(known[tag].sheet, known[tag].placements): mark for tag, mark in held.items()}
    picked = renumbered(with_picked(plan, [mark.tag for mark in picks]), before) if picks else plan
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


def no_layout(tag: str, known: Collection[str]) -> str:
    """That a plan does not have a layout, and which it has: ``L1 to L27`` where they are numbered through.

    >>> no_layout("L77", ["L1", "L2", "L3", "L5"])
    'The plan has no layout L77 to lock: it has L1 to L3 and L5.'
    """
    return f"The plan has no layout {tag} to lock: it has {tags_said(known)}."


def tags_said(tags: Collection[str]) -> str:
    """Tags such as L3 or C12 in their order, those that follow one another as a range."""
    runs: list[list[int]] = []
    letter = next(iter(tags), "L")[:1]
    for number in sorted(int(tag[1:]) for tag in tags if tag[1:].isdigit()):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    said = [f"{letter}{run[0]}" + (f" to {letter}{run[-1]}" if len(run) > 1 else "") for run in runs]
    return " and ".join(part for part in (", ".join(said[:-1]), *said[-1:]) if part) or "none"


def _usable_picks(plan: Plan, picks: Sequence[Mark]) -> tuple[list[Mark], list[Problem]]:
    """One pick a gauge: what is told on the command line goes before a mark in the book."""
    ways = {way.tag: way for of_gauge in alternatives(plan) for way in of_gauge}
    problems = []
    of_gauge: dict[str, Mark] = {}
    for mark in sorted(picks, key=lambda mark: mark.row is not None):
        way = ways.get(mark.tag)
        if way is None:
            what = f"The plan has no choice {mark.tag}: it has {tags_said(ways)}."
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
        "asked of that gauge: all of it but what is locked was planned anew.",
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


REMEDY = "Clear its lock, or put back what was changed."


def locked_layouts(
    kept: Mapping[str, Any], job: Job, locks: Sequence[Mark]
) -> tuple[tuple[Layout, ...], tuple[Problem, ...]]:
    """The locked layouts over the job as it now is, less what is cut of them, and what stands against it.

    Every problem stops: a lock that is dropped in silence is found out at the machine.
    """
    from sheetplan.checking import check_layout
    from sheetplan.planning.order_book import of_group

    planned = {one["tag"]: int(one["repeats"]) for gauge in kept["gauges"] for one in gauge["layouts"]}
    # Of what is cut in full nothing is left to keep, whatever became of its sheet.
    locks = [mark for mark in locks if mark.cut < planned.get(mark.tag, mark.cut + 1)]
    found = layouts_of_values(kept, job, [mark.tag for mark in locks])
    problems = [_lost(mark, planned) for mark in locks if mark.tag not in found]
    left = {mark.tag: found[mark.tag].repeats - mark.cut for mark in locks if mark.tag in found}
    locked = tuple(
        replace(layout, repeats=left[tag], locked=True) for tag, layout in found.items() if left[tag] > 0
    )
    by_tag = {mark.tag: mark for mark in locks}
    for group in make_groups(job)[0]:
        held = of_group(group, locked)
        for layout in held:
            for fault in check_layout(layout, group, job.parts, job.settings.units)[:1]:
                what = f"{layout.tag} is locked and no longer good: {fault.what}."
                problems.append(_problem(by_tag[layout.tag], what))
        problems += [_problem(by_tag[held[0].tag], what) for what in _too_much(group, held, job)]
    return locked, tuple(problems)


def _lost(mark: Mark, planned: Collection[str]) -> Problem:
    """Why a locked layout is not to be had."""
    if mark.tag in planned:
        return _problem(mark, f"{mark.tag} is locked, and the book no longer has its gauge or its sheet.")
    return mark_problem(LAYOUT_MARKS, mark, no_layout(mark.tag, planned), "Lock one of those.")


def _too_much(group: Group, held: Sequence[Layout], job: Job) -> list[str]:
    """Where locked layouts make more than is asked for or take more sheets than there are."""
    said = []
    asked = Counter[str]()
    for need in group.needs:
        asked[need.part] += need.pieces
    for part, pieces in sorted(pieces_on(held).items()):
        more = pieces - asked[part] - (job.parts[part].spare if part in job.parts else 0)
        if more > 0:
            said.append(
                f"The locked layouts of {group.label} make {more} more of {part} than the orders now ask for."
            )
    for count in sheet_counts(group, held):
        sheet: SheetSize = count.sheet
        if sheet.buy_limit is not None and count.to_buy > sheet.buy_limit:
            there = sheet.on_hand + sheet.buy_limit
            taken = f"{count.used} sheets {sheet.name}; there are {there}"
            said.append(f"The locked layouts of {group.label} take {taken}.")
    return said


def _problem(mark: Mark, what: str) -> Problem:
    return Problem(LAYOUT_MARKS.name, mark.row, mark.cell, what, REMEDY, Weight.STOPS)
