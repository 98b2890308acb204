"""Plan a whole order book, all gauges in one run.

Layouts are numbered L1, L2 ... through a whole plan, and on from there through all plans of a book.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import count

from sheetplan.model.job import Job, Part, Remnant, SheetSize
from sheetplan.model.plan import Group, GroupPlan, Layout, Need, Placement, Plan, SheetCount, pieces_on
from sheetplan.model.problem import Problem, Weight
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.progress import Progress, RunOptions
from sheetplan.trade.sentences import counted

LayoutKey = tuple[str, frozenset[Placement]]

@dataclass(frozen=True, slots=True)
class Before:
    """What of the plan before a new one starts from.

    ``mark`` is its mark, ``stands`` are gauges that have not changed, by label. ``uncut`` are the layouts of
    the other gauges that are still good, on the job's own sheets; ``known`` are all of its layouts,
    ``cut`` are the tags of those that are cut in full, ``highest`` is the highest number given so far, and
    ``to_pay`` what was to be paid.
    Without a mark there was no such plan; ``uncut`` is what a search found that an edit of the book ended.
    ``asks_for_more``: more time or another seed was asked for, so that whatever counts less is taken.
    """

    mark: str = ""
    stands: Mapping[str, GroupPlan] = field(default_factory=dict)
    uncut: tuple[Layout, ...] = ()
    known: tuple[Layout, ...] = ()
    highest: int = 0
    to_pay: float = 0.0
    asks_for_more: bool = False
    cut: frozenset[str] = frozenset()


def key_of(layout: Layout) -> LayoutKey:
    """What makes two layouts the same for whoever cuts them: the sheet and what lies on it where."""
    sheet = layout.sheet
    return sheet.tag if isinstance(sheet, Remnant) else sheet.name, frozenset(layout.placements)


def numbered(plans: Iterable[GroupPlan]) -> tuple[GroupPlan, ...]:
    """The same plans with layouts numbered on from gauge to gauge; each choice numbers its own from L1."""
    numbers = count(1)
    return tuple(
        replace(plan, layouts=tuple(replace(layout, tag=f"L{next(numbers)}") for layout in plan.layouts))
        for plan in plans
    )


def renumbered(plan: Plan, before: Before) -> Plan:
    """Layouts that the plan before had keep their numbers; others get numbers that were never given.

    Where the layouts are all the same, it is the same plan and says nothing of another one.
    """
    known = {key_of(layout): layout for layout in before.known}
    layouts_now = [layout for one in plan.groups for layout in one.layouts]
    same = {key_of(one): one.repeats for one in layouts_now} == {k: one.repeats for k, one in known.items()}
    number, mark = before.highest, "" if same and not before.uncut and not before.stands else before.mark
    groups = []
    for one in plan.groups:
        layouts = []
        for layout in one.layouts:
            old = known.pop(key_of(layout), None)
            if old is None:
                number += 1
                layouts.append(replace(layout, tag=f"L{number}", of_plan=""))
            else:
                # In their old order too: the drawing under this code is the same to the byte.
                layouts.append(
                    replace(layout, placements=old.placements, tag=old.tag, of_plan=old.of_plan or mark)
                )
        groups.append(replace(one, layouts=tuple(layouts)))
    return replace(plan, groups=tuple(groups))


def number_of(tag: str) -> int:
    """The number of a layout's tag; 0 where it has none."""
    return int(tag[1:]) if tag[1:].isdecimal() else 0


def sheet_counts(group: Group, layouts: Sequence[Layout]) -> tuple[SheetCount, ...]:
    """Sheets by size: from the rack first, the rest bought in whole order multiples."""
    counts = []
    for sheet in group.stock:
        used = sum(layout.repeats for layout in layouts if layout.sheet == sheet)
        if used:
            counts.append(_count(sheet, used))
    return tuple(counts)


def _count(sheet: SheetSize, used: int) -> SheetCount:
    from_rack = min(used, sheet.on_hand)
    multiples = -(-(used - from_rack) // sheet.multiple)
    return SheetCount(sheet, used, from_rack, multiples * sheet.multiple)


def money_of(layouts: Sequence[Layout]) -> float:
    """What the sheets of layouts cost: price of sheets, value of remnants and moving what lies on them."""
    return sum(
        layout.repeats * (layout.sheet.price if isinstance(layout.sheet, SheetSize) else layout.sheet.cost)
        for layout in layouts
    )


def plan_job(job: Job, options: RunOptions, *, locked: Sequence[Layout] = ()) -> Plan:
    """The plan of an order book.

    Parameters
    ----------
    job
        The checked book.
    options
        For how long, from which seed, who works and who hears of it.
    locked
        Layouts that stay as they are, in front of their gauge's; the rest is planned round them.

    Returns
    -------
    Plan
        Layouts numbered L1, L2 ... through the whole plan. A plan that was stopped covers every
        gauge all the same, some of them less well.
    """
    from sheetplan.planning.whatif.optional import with_optional  # compiled kernels, as behind `searched`

    groups, problems = make_groups(job)
    plans = searched(groups, {group.label: of_group(group, locked) for group in groups}, job, options)
    options.report(Progress("", 1.0, f"{counted(len(groups), 'gauge')} planned."))
    short = tuple(problem for plan in plans for problem in short_problems(plan, job))
    plan = Plan(job, numbered(plans), (*problems, *short), options.stop())
    return with_optional(plan, options)


# Layouts that stay as they are: set aside before a search, put back after it.


def searched(
    groups: Sequence[Group], fixed: Mapping[str, tuple[Layout, ...]], job: Job, options: RunOptions
) -> list[GroupPlan]:
    """Plans of gauges, each round the layouts that are fixed in it, by its label."""
    # Compiled kernels stand behind it, too heavy for a mere look at the book.
    from sheetplan.planning.run import Run

    everything = [layout for group in groups for layout in fixed[group.label]]
    rest = [set_aside(group, fixed[group.label]) for group in groups]
    lean = replace(job, parts=spares_left(job.parts, groups, everything)) if everything else job
    found = Run(lean, rest, options).plans() if groups else []
    return [put_back(one, group, fixed[group.label]) for one, group in zip(found, groups, strict=True)]


def of_group(group: Group, locked: Iterable[Layout]) -> tuple[Layout, ...]:
    """The locked layouts that lie on a gauge's sheets and remnants."""
    return tuple(layout for layout in locked if layout.sheet in group.stock or layout.sheet in group.remnants)


def set_aside(group: Group, locked: Sequence[Layout]) -> Group:
    """The gauge without what locked layouts make and use."""
    made = pieces_on(locked)
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
    over = pieces_on(locked)
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


def merged(plan: GroupPlan) -> GroupPlan:
    """The plan with equal layouts as one: a sheet more of a locked or kept one bears its number."""
    found: dict[LayoutKey, Layout] = {}
    for layout in plan.layouts:
        key = key_of(layout)
        if key in found:
            layout = replace(found[key], repeats=found[key].repeats + layout.repeats)
        found[key] = layout
    return replace(plan, layouts=tuple(found.values()))


def short_problems(plan: GroupPlan, job: Job) -> tuple[Problem, ...]:
    """What must be made and is not, on the row of the last order that asks for it."""
    return tuple(_short_problem(plan, part, pieces, job) for part, pieces in plan.short.items())


def _short_problem(plan: GroupPlan, part: str, pieces: int, job: Job) -> Problem:
    group = plan.group
    orders = [job.orders[need.order] for need in group.needs if need.part == part and need.must]
    return Problem(
        page="Orders", row=orders[-1].line or None, cell=None,
        what=f"{pieces} of {part} ({group.label}) {'is' if pieces == 1 else 'are'} not made: "
        f"{plan.why_short[part]}.",
        remedy=f"Change the part or its turns, add sheets of {group.label} to Stock, or order fewer.",
        weight=Weight.NOTE,
    )  # fmt: skip
