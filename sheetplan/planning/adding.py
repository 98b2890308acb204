"""A plan with more orders beside those that it makes already: what they add, with little work.

Terms
-----
new
    Pieces that the plan is asked for beyond what it was asked for before.
way
    One way to make the new pieces in a gauge. No way moves a piece of the plan but those of the one sheet
    that `_on_an_opened_sheet` lays anew.

Choices
-------
A plan that was searched for long is not searched for again in a second: chance alone would then say what
an order adds. The plan as it stands is the base of every way, so that more orders never make it dearer by
luck, and gauges that they do not touch stand. New pieces never take those that other orders wait for; spares
give way to them before a sheet is taken.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from sheetplan.model.job import Job
from sheetplan.model.plan import Group, GroupPlan, Layout, Need, Plan
from sheetplan.model.problem import Problem
from sheetplan.planning.gauge_work import advance_gauge, begin_gauge, looks_for
from sheetplan.planning.group_plan import candidate, plan_of
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.order_book import (
    Before,
    merged,
    money_of,
    number_of,
    put_back,
    renumbered,
    set_aside,
    sheet_counts,
    short_problems,
)
from sheetplan.planning.progress import RunOptions
from sheetplan.planning.readying import make_kernels_ready
from sheetplan.planning.whatif.beds import Bed, beds_of, filler_of, held_by, pieces_asked, without_surplus
from sheetplan.planning.whatif.optional import evenly
from sheetplan.shapes import is_rectangle

Pieces = Mapping[str, int]

BEGINNING, ROUNDS = 4, 2
"""Part of the work that goes into a first plan, one in so many; and rounds of work after it."""

NO_METAL = "there is no metal left for it"
"""Why a piece is not made, where no search has said."""

Cheapest = Callable[[Sequence[GroupPlan]], GroupPlan]
"""The cheapest of the ways to plan a gauge; they all make what is asked, as far as it can be made."""


def with_more(plan: Plan, job: Job, options: RunOptions, cheapest: Cheapest) -> Plan:
    """The plan with what a job asks for beyond the plan's own; ``job`` is the plan's own with more orders."""
    groups, problems = make_groups(job)
    there = {one.group.label: one for one in plan.groups}
    outlines = [job.parts[need.part].outline for group in groups for need in group.needs]
    make_kernels_ready(options.report, shapes=not all(map(is_rectangle, outlines)))
    plans = [_gauge_with_more(there.get(group.label), group, job, options, cheapest) for group in groups]
    return _whole(plan, job, plans, problems, options)


def with_less(plan: Plan, job: Job) -> Plan:
    """The plan with what a job no longer asks for left out: its sheets cost as much or less."""
    groups, problems = make_groups(job)
    there = {one.group.label: one for one in plan.groups}
    plans = []
    for group in groups:
        one = there[group.label]
        out = pieces_asked(one.group) - pieces_asked(group)
        locked = tuple(layout for layout in one.layouts if layout.locked)
        beds = without_surplus(beds_of(layout for layout in one.layouts if not layout.locked), out)
        layouts = (*locked, *(_layout(bed) for bed in beds if bed.placements))
        plans.append(merged(_made(one, group, layouts)))
    return _whole(plan, job, plans, problems, RunOptions(0.0))


def _whole(
    plan: Plan, job: Job, plans: Sequence[GroupPlan], problems: Sequence[Problem], options: RunOptions
) -> Plan:
    known = tuple(layout for one in plan.groups for layout in one.layouts)
    highest = max((number_of(layout.tag) for layout in known), default=0)
    short = tuple(problem for one in plans for problem in short_problems(one, job))
    after = replace(plan, job=job, groups=tuple(plans), problems=(*problems, *short),
                    stopped_early=options.stop())  # fmt: skip
    return renumbered(after, Before("", {}, (), known, highest))


def _gauge_with_more(
    one: GroupPlan | None, group: Group, job: Job, options: RunOptions, cheapest: Cheapest
) -> GroupPlan:
    if one is not None and one.group.needs == group.needs:
        return one
    base = one or GroupPlan(group, (), (), {}, 0.0)
    new = pieces_asked(group) - (pieces_asked(one.group) if one else Counter[str]())
    return merged(cheapest(list(_ways(base, group, new, job, options))))


def _ways(
    base: GroupPlan, group: Group, new: Counter[str], job: Job, options: RunOptions
) -> Iterator[GroupPlan]:
    """Ways to make the new pieces of a gauge: in free room, then on new sheets; or, where those are needed,
    with the sheet that has most room laid anew."""
    locked = tuple(layout for layout in base.layouts if layout.locked)
    beds = beds_of(layout for layout in base.layouts if not layout.locked)
    spares = held_by(beds_of(base.layouts)) - pieces_asked(base.group)
    filler = filler_of(group, job.parts, job.settings)
    fuller, left = evenly(filler, beds, new, options.stop)
    inserted = (*locked, *map(_layout, fuller))
    lacking = left - spares
    yield _on_new_sheets(base, group, inserted, lacking, job, options)
    # Pieces that fit on no metal at all are no reason to open a sheet.
    if beds and any(part in filler.parts for part in lacking) and not options.stop():
        room = [filler.room_of(bed.metal) - filler.area_of(bed.held) for bed in beds]
        stays, taken_off = _opened(base, beds, room.index(max(room)))
        yield _on_new_sheets(base, group, stays, taken_off + new, job, options)


def _opened(base: GroupPlan, beds: Sequence[Bed], place: int) -> tuple[tuple[Layout, ...], Counter[str]]:
    """The layouts once one sheet is given back, and the pieces that were on it but for its spares."""
    opened = beds[place]
    others = [*beds[:place], replace(opened, count=opened.count - 1), *beds[place + 1 :]]
    locked = (layout for layout in base.layouts if layout.locked)
    rest = (*locked, *(_layout(bed) for bed in others if bed.count))
    missing = pieces_asked(base.group) - Counter(base.short) - held_by(beds_of(rest))
    on_it = Counter({part: min(count, missing[part]) for part, count in opened.held.items()})
    return rest, +on_it


def _on_new_sheets(
    base: GroupPlan, group: Group, layouts: tuple[Layout, ...], pieces: Pieces, job: Job, options: RunOptions
) -> GroupPlan:
    """The gauge with layouts as they are and some pieces on whatever other sheets there are."""
    wanted = {part: count for part, count in pieces.items() if count > 0}
    if not wanted:
        return _made(base, group, layouts)
    last = max(need.order for need in group.needs)
    needs = tuple(Need(last, part, "", count) for part, count in sorted(wanted.items()))
    rest = replace(set_aside(group, layouts), needs=needs)
    lean = replace(job, parts={name: replace(job.parts[name], spare=0) for name in wanted})
    found = put_back(_searched(rest, lean, options), group, layouts)
    why = {**base.why_short, **found.why_short}
    return _made(replace(found, why_short=why), group, found.layouts)


def _searched(group: Group, job: Job, options: RunOptions) -> GroupPlan:
    """A plan of a gauge by so much counted work; no choices are made of it and nothing is proven."""
    until = options.clock() + options.seconds

    def halt() -> bool:
        return options.stop() or options.clock() > until

    looks = looks_for(options.seconds)
    work = begin_gauge(group, job.parts, job.settings, options.seed, looks // BEGINNING, halt)
    work = replace(work, proven=0.0)
    for number in range(ROUNDS):
        if not halt():
            start, end = number / ROUNDS, (number + 1) / ROUNDS
            work = advance_gauge(work, start, end, looks // ROUNDS, halt)
    best = work.best
    return plan_of(group, work.problem, ()) if best is None else candidate(work, best).plan


def _made(base: GroupPlan, group: Group, layouts: tuple[Layout, ...]) -> GroupPlan:
    """The gauge as its layouts make it."""
    short = dict(pieces_asked(group, must=True) - held_by(beds_of(layouts)))
    return replace(
        base, group=group, layouts=layouts, sheets=sheet_counts(group, layouts), short=short,
        why_short={part: base.why_short.get(part, NO_METAL) for part in short}, cost=money_of(layouts),
        counted=None, bound=None, choices=(), picked="",
    )  # fmt: skip


def _layout(bed: Bed) -> Layout:
    return Layout("", bed.metal, bed.placements, bed.count)
