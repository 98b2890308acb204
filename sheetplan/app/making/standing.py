"""The plan of a checked job: what stands of the last one, or a search; then the check, always."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sheetplan.app.making.folders import plan_folders
from sheetplan.app.making.workers import Crew
from sheetplan.app.rack.belonging import recorded
from sheetplan.app.rack.folder import RackUnreadable, rack_of, read_steps
from sheetplan.model import (
    CuttingRule,
    Group,
    GroupPlan,
    Job,
    Layout,
    Plan,
    Problem,
    Remnant,
    SheetSize,
    Weight,
)
from sheetplan.model.plan import Need, pieces_on
from sheetplan.pages.wording import counted
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
from sheetplan.planning.progress import Progress, Report, RunOptions, Stop
from sheetplan.planning.whatif.fits import Fits, fits_of, fits_of_values, fits_values, with_room_of
from sheetplan.rack.kept_plan import EXACT_FILE, KeptPlan, NotThisPlan, PlannedLayout, kept_plan_of
from sheetplan.rack.step import on_order, times_cut
from sheetplan.shapes import is_rectangle
from sheetplan.workbook.columns import CHOICE_MARKS, LAYOUT_MARKS
from sheetplan.workbook.reading.pick_marks import Mark, PlannerMarks, Reach
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables

# What of the plan that a book shows a new one starts from: gauges that stand, layouts that are kept.

Values = Mapping[str, Any]


def kept_layouts(folder: Path, mark: str) -> KeptPlan | None:
    """The layouts of a plan as they were planned; None where its file is not there or cannot be used."""
    for place in plan_folders(folder, mark):
        try:
            return kept_plan_of((place / EXACT_FILE).read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError, NotThisPlan):
            continue
    return None


def uncut(kept: KeptPlan, job: Job, cut: Mapping[str, int]) -> tuple[Layout, ...]:
    """Layouts that can still be cut as their tickets say, on the job's own sheets, less what is cut of them.

    Parts, rule and sheet have to be those of the ticket: a drawing that would differ is none that is kept.
    """
    from sheetplan.checking import check_layout

    found = []
    for group in make_groups(job)[0]:
        for tag, planned in kept.layouts.items():
            left = planned.layout.repeats - cut.get(tag.upper(), 0)
            sheet = _sheet(planned, group)
            if planned.group.label != group.label or left < 1 or sheet is None:
                continue
            if not _same_rule(planned.group.rule, group.rule) or not _same_parts(planned, kept, job):
                continue
            layout = replace(planned.layout, sheet=sheet, repeats=left)
            if not check_layout(layout, group, job.parts, job.settings.units).faults:
                found.append(layout)
    return tuple(found)


def _sheet(planned: PlannedLayout, group: Group) -> SheetSize | Remnant | None:
    """The sheet of a layout as the job has it now; None where it is gone or another."""
    old = planned.layout.sheet
    if isinstance(old, Remnant):
        same_tag = (one for one in group.remnants if one.tag == old.tag)
        return next((one for one in same_tag if (one.edge, one.cuts) == (old.edge, old.cuts)), None)
    named = (one for one in group.stock if one.name == old.name)
    return next((one for one in named if (one.length, one.width) == (old.length, old.width)), None)


def _same_rule(old: CuttingRule, new: CuttingRule) -> bool:
    """Whether a sheet is cut in the same way; what it costs may have changed."""
    return (old.kerf, old.gap, old.margin) == (new.kerf, new.gap, new.margin)


def _same_parts(planned: PlannedLayout, kept: KeptPlan, job: Job) -> bool:
    names = {placement.part for placement in planned.layout.placements}
    return all(
        name in job.parts and (job.parts[name].outline, job.parts[name].mark)
        == (kept.parts[name].outline, kept.parts[name].mark)
        for name in names
    )  # fmt: skip


def gauge_digests(job: Job) -> dict[str, str]:
    """For each gauge, a digest of all that its plan depends on.

    Orders that are cut if they fit may span gauges, so a gauge that has some depends on all others that do.
    """
    groups = make_groups(job)[0]
    optional = repr([_optional(group, job) for group in groups])
    found = {}
    for group in groups:
        shared = optional if any(not need.must for need in group.needs) else ""
        found[group.label] = hashlib.sha256((repr(_held(group, job)) + shared).encode()).hexdigest()[:16]
    return found


def _held(group: Group, job: Job) -> tuple[object, ...]:
    settings = job.settings
    must: dict[str, int] = {}
    for need in group.needs:
        if need.must:
            must[need.part] = must.get(need.part, 0) + need.pieces
    names = sorted({need.part for need in group.needs})
    return (
        settings.units, settings.datum, settings.least_remnant_length, settings.least_remnant_width,
        settings.crop_remnants, settings.on_hand_share, settings.remnant_share,
        group.material, group.thickness, group.rule, sorted(must.items()),
        [replace(job.parts[name], description="") for name in names],
        tuple(replace(one, on_order=0, supplier="", rack_place="") for one in group.stock),
        tuple(replace(one, rack_place="") for one in group.remnants),
    )  # fmt: skip


def _optional(group: Group, job: Job) -> list[tuple[object, ...]]:
    """What a gauge makes for orders that are cut if they fit, and, of such gauges, all that it depends on."""
    asked = [_said(need, job) for need in group.needs if not need.must]
    return [*asked, _held(group, job)] if asked else []


def _said(need: Need, job: Job) -> tuple[object, ...]:
    return job.orders[need.order].name, need.kit, need.part, need.pieces


def cut_before(before: Before, book: Path, tables: BookTables) -> dict[str, int]:
    """How often each layout of the plan before was cut, by tag, in all plans that had it."""
    try:
        steps = read_steps(rack_of(book))
    except RackUnreadable:
        return {}
    known = {step.number: step for step in recorded(steps, tables, book)}
    found = {one.tag: times_cut(known, one.of_plan or before.mark, one.tag) for one in before.known}
    return {tag: times for tag, times in found.items() if times}


def still_on_order(book: Path, tables: BookTables) -> dict[str, tuple[tuple[str, int], ...]]:
    """What is on order by the steps that the book lists, and since when, by sheet name."""
    try:
        steps = read_steps(rack_of(book))
    except RackUnreadable:
        return {}
    return on_order(recorded(steps, tables, book))


def since_text(before: Before, plan: Plan) -> str:
    """What has changed since the plan before, in a sentence; empty where there was none."""
    if not before.mark:
        return ""
    layouts = [layout for one in plan.groups for layout in one.layouts]
    old = {layout.tag: layout for layout in before.known}
    tags = {layout.tag for layout in layouts}
    new = [layout.tag for layout in layouts if layout.tag not in old]
    gone = [tag for tag in old if tag not in tags]
    cut = [tag for tag in gone if tag in before.cut]
    dropped = [tag for tag in gone if tag not in before.cut]
    if not new and not gone and all(old[la.tag].repeats == la.repeats for la in layouts):
        return f"As plan {before.mark}: nothing was added or dropped."
    kept = len(layouts) - len(new)
    said = [f"{counted(kept, 'layout')} kept"]
    said += [f"{counted(len(new), 'layout')} new ({_tags(new)})"] if new else []
    said += [f"{counted(len(cut), 'layout')} cut ({_tags(cut)})"] if cut else []
    said += [f"{counted(len(dropped), 'layout')} dropped ({_tags(dropped)})"] if dropped else []
    now, then = (sum(layout.repeats for layout in known) for known in (layouts, before.known))
    money = f"; to pay {before.to_pay:,.2f} then, {sum(one.to_pay for one in plan.groups):,.2f} now"
    return f"Since plan {before.mark}: {', '.join(said)}; {counted(then, 'sheet')} then, {now} now{money}."


MOST_TAGS = 8
"""Layouts that are named; the others are counted."""


def _tags(tags: Sequence[str]) -> str:
    more = f" and {len(tags) - MOST_TAGS} more" if len(tags) > MOST_TAGS else ""
    return ", ".join(tags[:MOST_TAGS]) + more


# What of the last plan stays: gauges that nothing has changed for, choices picked, layouts locked or kept.
#
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
    from sheetplan.planning.continuing import of_group

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
            for fault in check_layout(layout, group, job.parts, job.settings.units).faults[:1]:
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


# The plan of a checked job: what stands of the last one, or a search; then the check, always.

SHARE_FOR_PLAN, SHARE_FOR_FITS = 0.85, 0.1
"""How the seconds asked for are shared out: the plan and what stands beside it, what else fits.

The rest goes to reading and writing, most of which comes on top.
"""


class CheckFailed(Exception):
    """The independent check found fault with a plan: a bug of ours, so nothing was written."""

    def __init__(self, faults: tuple[object, ...]) -> None:
        super().__init__(f"{len(faults)} faults, the first: {faults[0]}")
        self.faults = faults


@dataclass(frozen=True, slots=True)
class Answer:
    """A checked plan, and what else fits."""

    plan: Plan
    fits: Fits | None = None


def answered(
    job: Job,
    problems: tuple[Problem, ...],
    stands: Standing,
    stop: Stop,
    report: Report,
    crew: Crew,
) -> Answer:
    """Plan and check; the check stands between the search and all that a person sees.

    Raises `CheckFailed` where the plan does not stand up to the check.
    """
    if stands.plan is not None:
        report(Progress("", 1.0, "Using the plan as it is, with what was picked"))
        answer = Answer(_checked(stands.plan, report))
        if stands.fits is not None and not stands.picked:
            answer = replace(answer, fits=stands.fits)
        elif stands.fits is not None:
            seconds = job.settings.seconds * SHARE_FOR_FITS
            fits = with_room_of(answer.plan, stands.fits, seconds=seconds, stop=stop, report=report)
            answer = replace(answer, fits=fits)
    else:
        answer = _found(job, stands, stop, report, crew)
    known = set(problems)
    found = problems + tuple(p for p in answer.plan.problems if p not in known)
    return replace(answer, plan=replace(answer.plan, problems=found))


def _found(job: Job, stands: Standing, stop: Stop, report: Report, crew: Crew) -> Answer:
    """A search in several processes; where one of them dies (killed, or out of memory), in this one alone."""
    outlines = [part.outline for part in job.parts.values()]
    shapes = not all(is_rectangle(outline) for outline in outlines)
    try:
        executor = crew.searching(job.settings.seconds, report, shapes=shapes)
        return _searched_and_fitted(job, stands, stop, report, executor)
    except BrokenExecutor:
        report(Progress("", 0.0, f"{crew.lost()}; planning once more without helpers."))
        return _searched_and_fitted(job, stands, stop, report, None)


def _searched_and_fitted(
    job: Job, stands: Standing, stop: Stop, report: Report, executor: Executor | None
) -> Answer:
    answer = _searched(job, stands, stop, report, executor)
    _checked(answer.plan, report)
    seconds = job.settings.seconds * SHARE_FOR_FITS
    fits = fits_of(answer.plan, seconds=seconds, stop=stop, report=report, executor=executor)
    return replace(answer, fits=fits)


def _checked(plan: Plan, report: Report) -> Plan:
    """The plan, if the check finds nothing wrong with it."""
    from sheetplan.checking import check_plan

    report(Progress("", 1.0, "Checking every layout"))
    faults = check_plan(plan)
    if faults:
        raise CheckFailed(tuple(faults))
    return plan


def _searched(job: Job, stands: Standing, stop: Stop, report: Report, executor: Executor | None) -> Answer:
    """A new plan from the one before, round what is locked."""
    from sheetplan.planning.continuing import continued

    settings = job.settings
    options = RunOptions(settings.seconds * SHARE_FOR_PLAN, settings.seed, stop, report, executor)
    return Answer(continued(job, stands.before, options, locked=stands.locked))
