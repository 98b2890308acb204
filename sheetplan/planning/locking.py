"""Layouts that stay as they are: the planner locked them, or they are on the table already.

Their pieces and sheets are taken off a gauge before the rest is planned round them, and put back
into its plan afterwards.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from sheetplan.model.job import Part, Remnant, SheetSize
from sheetplan.model.plan import Group, GroupPlan, Layout, Need
from sheetplan.planning.publishing import money_of, sheet_counts


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
