"""What of the plan that a book shows a new one starts from: gauges that stand, layouts that are kept."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from sheetplan.app.making.folders import PREFIX, RECORDS_KEPT, earlier_folders, output_folder, plan_folders
from sheetplan.app.rack import Refused
from sheetplan.app.rack.belonging import recorded
from sheetplan.app.rack.folder import RackUnreadable, rack_of, read_steps
from sheetplan.model import CuttingRule, Group, Job, Layout, Plan, Problem, Remnant, SheetSize
from sheetplan.model.plan import Need
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.order_book import Before
from sheetplan.rack.kept_plan import EXACT_FILE, KeptPlan, NotThisPlan, PlannedLayout, kept_plan_of
from sheetplan.rack.step import Step, on_order, times_cut
from sheetplan.trade.sentences import counted
from sheetplan.workbook.tables import BookTables


def kept_layouts(folder: Path, mark: str) -> KeptPlan | None:
    """The layouts of a plan as they were planned; None where its file is not there or cannot be used."""
    for place in plan_folders(folder, mark):
        try:
            return kept_plan_of((place / EXACT_FILE).read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError, NotThisPlan):
            continue
    return None


def kept_plan(book: Path, job: Job, mark: str | None, shown: str) -> KeptPlan:
    """The plan of a mark, or the one whose mark the book shows.

    Raises
    ------
    Refused
        There is none, or its file is gone or damaged.
    """
    mark = mark or shown
    if not mark:
        raise Refused("The book shows no plan.", "Make a plan first.", about="layout")
    folder = output_folder(book, job.settings.output_folder)
    if isinstance(folder, Problem):
        raise Refused(folder.what, folder.remedy)
    for place in plan_folders(folder, mark):
        path = place / EXACT_FILE
        if path.exists():
            try:
                return kept_plan_of(path.read_text(encoding="utf-8"))
            except (UnicodeDecodeError, NotThisPlan) as error:
                raise Refused(f"{path} cannot be used: {error}.", "Plan again.") from error
    if mark == shown:
        what = f"The drawings of plan {mark} are not in {folder}, and with them what was planned."
        raise Refused(what, "Put the folder back, or plan again.")
    raise Refused(
        f"What was planned as {mark} is not in {folder}; the last {RECORDS_KEPT} earlier plans are kept.",
        f"Check the name, or put the folder plan-{mark} back from a copy. If there is none, correct On hand, "
        "the orders' quantities and the remnants in the book by hand.", about="layout",
    )  # fmt: skip


def earlier_plans(book: Path, job: Job, mark: str) -> Iterator[KeptPlan]:
    """Other plans of a book than the one of a mark, the latest first, as far as they can be read."""
    folder = output_folder(book, job.settings.output_folder)
    for place in earlier_folders(folder, book.name) if isinstance(folder, Path) else ():
        if place.name != f"{PREFIX}{mark}":
            try:
                yield kept_plan_of((place / EXACT_FILE).read_text(encoding="utf-8"))
            except (OSError, UnicodeDecodeError, NotThisPlan):
                continue


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
            if not check_layout(layout, group, job.parts, job.settings.units):
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
    known = {step.number: step for step in _recorded(book, tables)}
    found = {one.tag: times_cut(known, one.of_plan or before.mark, one.tag) for one in before.known}
    return {tag: times for tag, times in found.items() if times}


def still_on_order(book: Path, tables: BookTables) -> dict[str, tuple[tuple[str, int], ...]]:
    """What is on order by the steps that the book lists, and since when, by sheet name."""
    return on_order(_recorded(book, tables))


def _recorded(book: Path, tables: BookTables) -> Sequence[Step]:
    """The steps that the book lists; none where the rack cannot be read."""
    try:
        return recorded(read_steps(rack_of(book)), tables, book)
    except RackUnreadable:
        return ()


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
