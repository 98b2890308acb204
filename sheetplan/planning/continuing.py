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
    less.
in hand
    The plan before on the sheets that it took, without the pieces that nobody asks for any more, and with
    what is new planned beside it: no plan is dearer.

Choices
-------
Of a gauge that has changed up to three plans are made: round the layouts that are kept, round what is in
hand, and from nothing. The first is taken unless the last counts 1 per cent less (`STALE_SHARE`) and asks for
no more to be paid: a ticket that is printed is worth something. The second is taken where that is dearer. A
kept layout bears the mark of the plan that it was first made in (`Layout.of_plan`) on ticket, code and
drawing and in the steps.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sheetplan.model.job import Job, Part, Remnant, SheetSize
from sheetplan.model.plan import Group, GroupPlan, Layout, Plan
from sheetplan.packing.maxrects import Ints
from sheetplan.planning.box_problem import BoxProblem, Cut, counted_of, make_problem, useful_left
from sheetplan.planning.choices import Aim, Candidate, worth_showing
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.order_book import (
    Before,
    LayoutKey,
    key_of,
    merged,
    of_group,
    plan_job,
    renumbered,
    searched,
    set_aside,
    short_problems,
)
from sheetplan.planning.progress import Progress, RunOptions
from sheetplan.planning.whatif.optional import with_optional
from sheetplan.shapes import box
from sheetplan.shapes import place as placed_at
from sheetplan.trade.sentences import counted

NM = 1e6
"""Nanometres in a millimetre."""

STALE_SHARE = 0.01
"""Share of a gauge's cost that a plan made anew has to save, to be worth tickets printed in vain."""

SAME_MONEY = 1e-6
"""Sums of floats differ by less for the same sheets."""

KEPT_SHARE, NOTHING_LEFT_SHARE = 0.3, 0.02
"""Share of the seconds for planning round what is kept; where that leaves nothing to plan."""


def continued(job: Job, before: Before, options: RunOptions, *, locked: Sequence[Layout] = ()) -> Plan:
    """The plan of an order book after another one; parameters as of `plan_job`."""
    if not before.mark and not before.uncut:
        return plan_job(job, options, locked=locked)
    groups, problems = make_groups(job)
    changed = [group for group in groups if group.label not in before.stands]
    held = {group.label: of_group(group, locked) for group in changed}
    kept = {group.label: that_serve(group, held[group.label], before.uncut, job.parts) for group in changed}
    fixed = {label: (*held[label], *layouts) for label, layouts in kept.items()}
    cleared = {group.label: that_serve_in_part(group, fixed[group.label], before.uncut) for group in changed}
    in_hand = {label: (*fixed[label], *layouts) for label, layouts in cleared.items()}
    round_kept = _planned_round([group for group in changed if kept[group.label]], fixed, job, options)
    round_hand = _planned_round([group for group in changed if cleared[group.label]], in_hand, job, options)
    anew = searched(changed, held, job, _share(options, 1.0 - round_kept.share - round_hand.share))
    made: dict[str, GroupPlan] = dict(before.stands)
    for group, plan in zip(changed, anew, strict=True):
        label, worth = group.label, Worth(group, job)
        kept_plan, hand_plan = round_kept.plans.get(label), round_hand.plans.get(label)
        if kept_plan is not None and _stays(kept_plan, plan, worth, asks_for_more=before.asks_for_more):
            plan = _with_proof(kept_plan, plan, worth)
        if hand_plan is not None and _is_dearer(plan, hand_plan, worth):
            plan = _with_proof(hand_plan, plan, worth)
        made[label] = merged(plan)
    options.report(Progress("", 1.0, f"{counted(len(groups), 'gauge')} planned."))
    plans = tuple(made[group.label] for group in groups)
    short = tuple(problem for plan in plans for problem in short_problems(plan, job))
    whole = Plan(job, plans, (*problems, *short), options.stop())
    kept_layouts = [layout for layouts in fixed.values() for layout in layouts]
    return _with_what_fits(whole, before, kept_layouts, locked, options)


@dataclass(frozen=True, slots=True)
class _Round:
    """Plans of gauges round layouts that stay, by label, and the share of the seconds that went to them."""

    plans: Mapping[str, GroupPlan]
    share: float


def _planned_round(
    groups: Sequence[Group], fixed: Mapping[str, tuple[Layout, ...]], job: Job, options: RunOptions
) -> _Round:
    if not groups:
        return _Round({}, 0.0)
    left = any(set_aside(group, fixed[group.label]).needs for group in groups)
    share = KEPT_SHARE if left else NOTHING_LEFT_SHARE
    found = searched(groups, fixed, job, _share(options, share))
    return _Round({group.label: plan for group, plan in zip(groups, found, strict=True)}, share)


def _share(options: RunOptions, share: float) -> RunOptions:
    return replace(options, seconds=options.seconds * share)


def _with_what_fits(
    plan: Plan, before: Before, kept: Sequence[Layout], locked: Sequence[Layout], options: RunOptions
) -> Plan:
    """The plan with what else fits on its new layouts, and with its numbers; what stands or is kept stays."""
    steady = {key_of(layout) for one in before.stands.values() for layout in one.layouts}
    steady |= {key_of(layout) for layout in kept}
    marked = {key_of(layout) for layout in locked}
    filled = _filled(plan, steady, options)
    groups = tuple(_unlocked(before.stands.get(one.group.label, one), marked) for one in filled.groups)
    return renumbered(replace(filled, groups=groups), before)


def that_serve(
    group: Group, held: Sequence[Layout], uncut: Sequence[Layout], parts: Mapping[str, Part]
) -> tuple[Layout, ...]:
    """The layouts of a gauge whose pieces are still wanted and whose sheets are there, as often as both hold.

    ``held`` are locked beside them and come first. A sheet of spare pieces alone is not wanted.
    """
    asked, sheets = _asked(group), _sheets(group)
    spare = Counter({name: parts[name].spare for name in asked})
    for layout in held:
        _use(layout, layout.repeats, asked, sheets)
    known = {key_of(layout) for layout in held}
    found = []
    for layout in uncut:
        if layout.sheet not in sheets or key_of(layout) in known:
            continue
        each, times = Counter(placement.part for placement in layout.placements), 0
        while times < layout.repeats and sheets[layout.sheet] > 0:
            serves = any(asked[part] > 0 for part in each)
            if not serves or any(asked[part] + spare[part] < count for part, count in each.items()):
                break
            _use(layout, 1, asked, sheets)
            times += 1
        if times > 0:
            found.append(replace(layout, repeats=times))
    return tuple(found)


def that_serve_in_part(
    group: Group, fixed: Sequence[Layout], uncut: Sequence[Layout]
) -> tuple[Layout, ...]:
    """The other sheets of the plan before, without the pieces that nobody asks for any more.

    ``fixed`` are the layouts that stay as they are; the plan that is left costs no more than it did.
    """
    asked, sheets = _asked(group), _sheets(group)
    for layout in fixed:
        _use(layout, layout.repeats, asked, sheets)
    stays = Counter({key_of(layout): layout.repeats for layout in fixed})
    found = []
    for layout in uncut:
        for _ in range(layout.repeats - stays[key_of(layout)] if layout.sheet in sheets else 0):
            cleared = _cleared(layout, asked)
            if cleared.placements and sheets[layout.sheet] > 0:
                _use(cleared, 1, asked, sheets)
                found.append(cleared)
    return tuple(found)


def _cleared(layout: Layout, asked: Mapping[str, int]) -> Layout:
    """One sheet of a layout with no more pieces of each part than are asked for."""
    left, placements = Counter(asked), []
    for placement in layout.placements:
        if left[placement.part] > 0:
            left[placement.part] -= 1
            placements.append(placement)
    return replace(layout, placements=tuple(placements), repeats=1)


def _asked(group: Group) -> Counter[str]:
    """Pieces of each part that orders ask for."""
    asked: Counter[str] = Counter()
    for need in group.needs:
        asked[need.part] += need.pieces
    return asked


def _sheets(group: Group) -> dict[SheetSize | Remnant, int]:
    """How many there are of each sheet and remnant."""
    return {sheet: _there(sheet) for sheet in group.stock} | dict.fromkeys(group.remnants, 1)


def _there(sheet: SheetSize) -> int:
    if sheet.buy_limit is None:
        return 10**9
    return sheet.on_hand + sheet.buy_limit // sheet.multiple * sheet.multiple


def _use(
    layout: Layout, times: int, asked: Counter[str], sheets: dict[SheetSize | Remnant, int]
) -> None:
    for placement in layout.placements:
        asked[placement.part] -= times
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


def _stays(kept: GroupPlan, anew: GroupPlan, worth: Worth, *, asks_for_more: bool) -> bool:
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


def _is_dearer(plan: GroupPlan, hand: GroupPlan, worth: Worth) -> bool:
    """Whether a plan costs more than the one in hand with what the change asks for: more to pay, or as much
    and its sheets count more. One that makes more of what must be made is not compared."""
    missing, missing_hand = sum(plan.short.values()), sum(hand.short.values())
    if missing != missing_hand:
        return missing > missing_hand
    if abs(plan.to_pay - hand.to_pay) > SAME_MONEY:
        return plan.to_pay > hand.to_pay
    return worth.of(plan.layouts) > worth.of(hand.layouts) + SAME_MONEY


def _with_proof(kept: GroupPlan, anew: GroupPlan, worth: Worth) -> GroupPlan:
    """The kept plan with what the search for a new one has proven of all plans, and its choices."""
    def measured(plan: GroupPlan) -> Candidate:
        sheets = sum(layout.repeats for layout in plan.layouts)
        return Candidate(plan, sheets, *worth.metal_and_left(plan.layouts))

    plan = replace(kept, counted=worth.of(kept.layouts), bound=anew.bound, note=anew.note, choices=())
    others = [(Aim(choice.name), measured(choice.plan)) for choice in anew.choices if not kept.short]
    return replace(plan, choices=worth_showing(measured(plan), others))


def _filled(plan: Plan, steady: set[LayoutKey], options: RunOptions) -> Plan:
    """The plan with what else fits, on layouts that are new; those that stay are as good as locked."""
    groups = tuple(
        replace(one, layouts=tuple(_steadied(layout, steady) for layout in one.layouts))
        for one in plan.groups
    )
    return with_optional(replace(plan, groups=groups), options)


def _steadied(layout: Layout, steady: set[LayoutKey]) -> Layout:
    return replace(layout, locked=layout.locked or key_of(layout) in steady)


def _unlocked(plan: GroupPlan, marked: set[LayoutKey]) -> GroupPlan:
    layouts = tuple(replace(layout, locked=key_of(layout) in marked) for layout in plan.layouts)
    return replace(plan, layouts=layouts)
