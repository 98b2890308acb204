"""Layouts are numbered L1, L2 ... through a whole plan, and on from there through all plans of a book."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import count

from sheetplan.model.job import Remnant
from sheetplan.model.plan import GroupPlan, Layout, Placement, Plan
from sheetplan.planning.one_size import OneSize


@dataclass(frozen=True, slots=True)
class Before:
    """What of the plan before a new one starts from.

    ``mark`` is its mark, ``stands`` are gauges that have not changed, by label, and ``sizes`` what was found
    for them with one size alone. ``uncut`` are the layouts of the other gauges that are still good, on the
    job's own sheets; ``known`` are all of its layouts, ``highest`` is the highest number given so far, and
    ``to_pay`` what was to be paid.
    Without a mark there was no such plan; ``uncut`` is what a search found that an edit of the book ended.
    ``asks_for_more``: more time or another seed was asked for, so that whatever counts less is taken.
    """

    mark: str = ""
    stands: Mapping[str, GroupPlan] = field(default_factory=dict)
    sizes: tuple[OneSize, ...] = ()
    uncut: tuple[Layout, ...] = ()
    known: tuple[Layout, ...] = ()
    highest: int = 0
    to_pay: float = 0.0
    asks_for_more: bool = False


LayoutKey = tuple[str, frozenset[Placement]]


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
                layouts.append(replace(layout, tag=old.tag, of_plan=old.of_plan or mark))
        groups.append(replace(one, layouts=tuple(layouts)))
    return replace(plan, groups=tuple(groups))


def number_of(tag: str) -> int:
    """The number of a layout's tag; 0 where it has none."""
    return int(tag[1:]) if tag[1:].isdecimal() else 0
