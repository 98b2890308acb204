"""A plan that goes on from the one before: what is unchanged stands, what still serves is kept.

Terms
-----
locked
    A layout that stays as it is: the planner locked it, or it is on the table already. Its pieces and its
    sheets are taken off a gauge before the rest is planned round them, and put back into its plan afterwards.
stands
    A gauge of which nothing has changed that a plan depends on: its plan is used as it is, without a search.
kept
    An uncut layout of the plan before, in a gauge that has changed, whose pieces are still wanted and whose
    sheet is still there. Its ticket may be at the table, so it stays unless a plan made anew counts clearly
    less; so no plan counts more than the one before and what the change asks for.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from sheetplan.drawings.findings import counted
from sheetplan.model.job import Job, Part, Remnant, SheetSize
from sheetplan.model.plan import Group, GroupPlan, Layout, Need, Plan
from sheetplan.packing.maxrects import Ints
from sheetplan.planning.box_problem import BoxProblem, Cut, make_problem, useful_left
from sheetplan.planning.choices import Aim, Candidate, worth_showing
from sheetplan.planning.group_plan import counted_of
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.order_book import (
    Before,
    LayoutKey,
    OneSize,
    Planned,
    key_of,
    money_of,
    plan_with_sizes,
    renumbered,
    sheet_counts,
    short_problems,
    time_for_optional,
)
from sheetplan.planning.progress import Progress, RunOptions, Stop
from sheetplan.planning.run import Run
from sheetplan.planning.whatif.optional import with_optional
from sheetplan.shapes import box
from sheetplan.shapes import place as placed_at

NM = 1e6
"""Nanometres in a millimetre."""

STALE_SHARE = 0.01
"""Share of a gauge's cost that a plan made anew has to save, to be worth tickets printed in vain."""

SAME_MONEY = 1e-6
"""Sums of floats differ by less for the same sheets."""

KEPT_SHARE, NOTHING_LEFT_SHARE = 0.3, 0.02
"""Share of the seconds for planning round what is kept; where that leaves nothing to plan."""

Found = tuple[GroupPlan, tuple[OneSize, ...]]
"""The plan of a gauge, and what was found with one size alone."""


def of_group(group: Group, locked: Iterable[Layout]) -> tuple[Layout, ...]:
    """The locked layouts that lie on a gauge's sheets and remnants."""
    return tuple(layout for layout in locked if layout.sheet in group.stock or layout.sheet in group.remnants)


def set_aside(group: Group, locked: Sequence[Layout]) -> Group:
    """The gauge without what locked layouts make and use."""
    made = Counter[str]()
    for layout in locked:
        for placement in layout.placements:
            made[placement.part] += layout.repeats
    used = {layout.sheet for layout in locked if isinstance(layout.sheet, Remnant)}
    return replace(
        group,
        needs=_still_needed(group.needs, made),
        stock=tuple(_without(sheet, locked) for sheet in group.stock),
        remnants=tuple(remnant for remnant in group.remnants if remnant not in used),
    )


def _still_needed(needs: Sequence[Need], made: Counter[str]) -> tuple[Need, ...]:
    """Needs less the pieces made, must orders served first."""
    left = {}
    for need in sorted(needs, key=lambda need: (not need.must, need.order)):
        served = min(need.pieces, made[need.part])
        made[need.part] -= served
        left[id(need)] = need.pieces - served
    return tuple(replace(need, pieces=left[id(need)]) for need in needs if left[id(need)])


def spares_left(
    parts: Mapping[str, Part], groups: Sequence[Group], locked: Sequence[Layout]
) -> dict[str, Part]:
    """The parts with the spare pieces that may still be made beside those of locked layouts."""
    over = Counter[str]()
    for layout in locked:
        for placement in layout.placements:
            over[placement.part] += layout.repeats
    for group in groups:
        for need in group.needs:
            over[need.part] -= need.pieces
    return {
        name: replace(part, spare=max(0, part.spare - over[name])) if over[name] > 0 else part
        for name, part in parts.items()
    }


def _without(sheet: SheetSize, locked: Sequence[Layout]) -> SheetSize:
    """The size less the sheets that locked layouts take, those on hand first."""
    used = sum(layout.repeats for layout in locked if layout.sheet == sheet)
    from_rack = min(used, sheet.on_hand)
    limit = None if sheet.buy_limit is None else max(0, sheet.buy_limit - (used - from_rack))
    return replace(sheet, on_hand=sheet.on_hand - from_rack, buy_limit=limit)


def put_back(plan: GroupPlan, group: Group, locked: Sequence[Layout]) -> GroupPlan:
    """The plan of what was left, with the locked layouts in front and the gauge's own sheets."""
    if not locked:
        return plan
    own = {sheet.name: sheet for sheet in group.stock}
    rest = tuple(
        replace(layout, sheet=own[layout.sheet.name]) if isinstance(layout.sheet, SheetSize) else layout
        for layout in plan.layouts
    )
    layouts = (*locked, *rest)
    fixed = money_of(locked)
    bound = None if plan.bound is None else plan.bound + fixed
    return replace(
        plan,
        group=group,
        layouts=layouts,
        sheets=sheet_counts(group, layouts),
        cost=money_of(layouts),
        counted=None if plan.counted is None else plan.counted + fixed,
        bound=bound,
        choices=tuple(replace(choice, plan=put_back(choice.plan, group, locked)) for choice in plan.choices),
    )


def continued(job: Job, before: Before, options: RunOptions, *, locked: Sequence[Layout] = ()) -> Planned:
    """The plan of an order book after another one; parameters as of `plan_with_sizes`."""
    if not before.mark and not before.uncut:
        return plan_with_sizes(job, options, locked=locked)
    groups, problems = make_groups(job)
    changed = [group for group in groups if group.label not in before.stands]
    held = {group.label: of_group(group, locked) for group in changed}
    kept = {group.label: that_serve(group, held[group.label], before.uncut, job.parts) for group in changed}

    def searched(fixed: Mapping[str, tuple[Layout, ...]], share: float) -> list[Found]:
        everything = [layout for some in fixed.values() for layout in some]
        rest = [set_aside(group, fixed[group.label]) for group in changed]
        lean = replace(job, parts=spares_left(job.parts, changed, everything)) if everything else job
        part = replace(options, seconds=options.seconds * share)
        found = Run(lean, rest, part).plans() if changed else []
        return [
            (put_back(one.plan, group, fixed[group.label]), one.sizes)
            for one, group in zip(found, changed, strict=True)
        ]

    fixed = {label: (*held[label], *layouts) for label, layouts in kept.items()}
    share = _share_round_kept(changed, fixed) if any(kept.values()) else 0.0
    round_kept: Sequence[Found | None] = searched(fixed, share) if share else [None] * len(changed)
    anew = searched(held, 1.0 - share)
    made: dict[str, GroupPlan] = dict(before.stands)
    sizes = list(before.sizes)
    for group, new, old in zip(changed, anew, round_kept, strict=True):
        worth = Worth(group, job)
        plan, of_size = new
        if old is not None and kept[group.label] and _stays(old[0], plan, worth, before.asks_for_more):
            plan = _with_proof(merged(old[0]), plan, worth)
        made[group.label] = plan
        sizes += [one for one in of_size if not held[group.label] and one.plan.measure >= plan.measure]
    options.report(Progress("", 1.0, f"{counted(len(groups), 'gauge')} planned."))
    plans = tuple(made[group.label] for group in groups)
    short = tuple(problem for plan in plans for problem in short_problems(plan, job))
    whole = Plan(job, plans, (*problems, *short), options.stop())
    kept_layouts = [layout for layouts in fixed.values() for layout in layouts]
    stop = time_for_optional(options)
    return Planned(_with_what_fits(whole, before, kept_layouts, locked, stop), tuple(sizes))


def _with_what_fits(
    plan: Plan, before: Before, kept: Sequence[Layout], locked: Sequence[Layout], stop: Stop
) -> Plan:
    """The plan with what else fits on its new layouts, and with its numbers; what stands or is kept stays."""
    steady = {key_of(layout) for one in before.stands.values() for layout in one.layouts}
    steady |= {key_of(layout) for layout in kept}
    marked = {key_of(layout) for layout in locked}
    filled = _filled(plan, steady, stop)
    groups = tuple(_unlocked(before.stands.get(one.group.label, one), marked) for one in filled.groups)
    return renumbered(replace(filled, groups=groups), before)


def _share_round_kept(groups: Sequence[Group], fixed: Mapping[str, tuple[Layout, ...]]) -> float:
    left = any(set_aside(group, fixed[group.label]).needs for group in groups)
    return KEPT_SHARE if left else NOTHING_LEFT_SHARE


def that_serve(
    group: Group, held: Sequence[Layout], uncut: Sequence[Layout], parts: Mapping[str, Part]
) -> tuple[Layout, ...]:
    """The layouts of a gauge whose pieces are still wanted and whose sheets are there, as often as both hold.

    ``held`` are locked beside them and come first.
    """
    asked: Counter[str] = Counter()
    for need in group.needs:
        asked[need.part] += need.pieces
    wanted = Counter({name: pieces + parts[name].spare for name, pieces in asked.items()})
    sheets = {sheet: _there(sheet) for sheet in group.stock} | dict.fromkeys(group.remnants, 1)
    for layout in held:
        _use(layout, layout.repeats, wanted, sheets)
    known = {key_of(layout) for layout in held}
    found = []
    for layout in uncut:
        if layout.sheet not in sheets or key_of(layout) in known:
            continue
        each = Counter(placement.part for placement in layout.placements)
        times = min(wanted[part] // pieces for part, pieces in each.items())
        times = min(times, layout.repeats, sheets[layout.sheet])
        if times > 0:
            _use(layout, times, wanted, sheets)
            found.append(replace(layout, repeats=times))
    return tuple(found)


def _there(sheet: SheetSize) -> int:
    if sheet.buy_limit is None:
        return 10**9
    return sheet.on_hand + sheet.buy_limit // sheet.multiple * sheet.multiple


def _use(
    layout: Layout, times: int, wanted: Counter[str], sheets: dict[SheetSize | Remnant, int]
) -> None:
    for placement in layout.placements:
        wanted[placement.part] -= times
    if layout.sheet in sheets:
        sheets[layout.sheet] -= times


class Worth:
    """What plans of a gauge count, whatever search they come from, so that they can be compared."""

    def __init__(self, group: Group, job: Job) -> None:
        self.group, self.job = group, job
        self.problem: BoxProblem = make_problem(group, job.parts, job.settings)

    def of(self, layouts: Sequence[Layout]) -> float:
        """What the sheets count, less what goes back of each; those on hand are used first."""
        problem, total = self.problem, 0.0
        left = {place: choice.limit for place, choice in enumerate(problem.choices)}
        for layout in layouts:
            places = [place for place, one in enumerate(problem.choices) if one.sheet == layout.sheet]
            times = layout.repeats
            for place in places:
                taken = times if place == places[-1] else min(times, left[place])
                left[place] -= taken
                times -= taken
                total += taken * counted_of(problem, self._cut(place, layout)) if taken else 0.0
        return total

    def metal_and_left(self, layouts: Sequence[Layout]) -> tuple[float, float]:
        """Area of the sheets, and the largest rectangle that any of them leaves, mm2."""
        metal, left = 0.0, 0.0
        for layout in layouts:
            place = next(i for i, one in enumerate(self.problem.choices) if one.sheet == layout.sheet)
            metal += self.problem.choices[place].metal * layout.repeats / NM**2
            left = max(left, useful_left(self.problem, self._cut(place, layout)) / NM**2)
        return metal, left

    def _cut(self, place: int, layout: Layout) -> Cut:
        return Cut(place, np.empty((0, 4), np.int64), 1, layout.placements, self._around(layout))

    def _around(self, layout: Layout) -> Ints:
        """Boxes of the pieces with the gap beyond them, nm."""
        gap = self.group.rule.gap
        boxes = [box(placed_at(self.job.parts[p.part].outline, p).outer) for p in layout.placements]
        rows = [(one.left, one.bottom, one.length + gap, one.width + gap) for one in boxes]
        return np.array([[round(side * NM) for side in row] for row in rows], np.int64)


def _stays(kept: GroupPlan, anew: GroupPlan, worth: Worth, asks_for_more: bool) -> bool:
    """Whether the plan round what is kept is the one to go on with.

    Metal that was bought for it is used: a plan made anew never takes its place to pay more.
    """
    missing, missing_anew = sum(kept.short.values()), sum(anew.short.values())
    if missing != missing_anew:
        return missing < missing_anew
    if anew.to_pay > kept.to_pay + SAME_MONEY and not asks_for_more:
        return True
    allowed = 0.0 if asks_for_more else STALE_SHARE
    return worth.of(kept.layouts) <= worth.of(anew.layouts) * (1.0 + allowed) + SAME_MONEY


def _with_proof(kept: GroupPlan, anew: GroupPlan, worth: Worth) -> GroupPlan:
    """The kept plan with what the search for a new one has proven of all plans, and its choices."""
    def measured(plan: GroupPlan) -> Candidate:
        sheets = sum(layout.repeats for layout in plan.layouts)
        return Candidate(plan, sheets, *worth.metal_and_left(plan.layouts))

    plan = replace(kept, counted=worth.of(kept.layouts), bound=anew.bound, note=anew.note, choices=())
    others = [(Aim(choice.name), measured(choice.plan)) for choice in anew.choices if not kept.short]
    return replace(plan, choices=worth_showing(measured(plan), others))


def merged(plan: GroupPlan) -> GroupPlan:
    """The plan with equal layouts as one."""
    found: dict[LayoutKey, Layout] = {}
    for layout in plan.layouts:
        key = key_of(layout)
        if key in found:
            layout = replace(found[key], repeats=found[key].repeats + layout.repeats)
        found[key] = layout
    return replace(plan, layouts=tuple(found.values()))


def _filled(plan: Plan, steady: set[LayoutKey], stop: Stop) -> Plan:
    """The plan with what else fits, on layouts that are new; those that stay are as good as locked."""
    groups = tuple(
        replace(one, layouts=tuple(_steadied(layout, steady) for layout in one.layouts))
        for one in plan.groups
    )
    return with_optional(replace(plan, groups=groups), stop=stop)


def _steadied(layout: Layout, steady: set[LayoutKey]) -> Layout:
    return replace(layout, locked=layout.locked or key_of(layout) in steady)


def _unlocked(plan: GroupPlan, marked: set[LayoutKey]) -> GroupPlan:
    layouts = tuple(replace(layout, locked=key_of(layout) in marked) for layout in plan.layouts)
    return replace(plan, layouts=layouts)
