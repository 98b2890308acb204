"""In which order to cut the layouts of a plan: what can be cut now, and of that what is due first."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from sheetplan.model import GroupPlan, Layout, Plan, Remnant
from sheetplan.model.job import NO_DATE

# Terms
# due
#     Of a layout: the earliest date of an order that has to be made and still wants one of its parts, when
#     the layouts before it in the order have been cut.
# on hand
#     Sheets of a layout that lie in the rack; sheets of one size go to the layouts that are due first.
#
# The order is worked out after the plan, whose tags stay. It does not depend on the day; with days, tickets
# and pages come in that of `timetable`.


@dataclass(frozen=True, slots=True)
class Turn:
    """One layout in its turn: for which day, and how many of its sheets are on hand."""

    group_plan: GroupPlan
    layout: Layout
    due: str
    """Year, month and day; empty where no order with a date waits for it."""
    on_hand: int = 0

    @property
    def can_start(self) -> bool:
        """Whether one of its sheets at least is on hand."""
        return self.on_hand > 0


def cutting_order(plan: Plan) -> tuple[Turn, ...]:
    """All layouts: those that can be cut now, then those that wait for metal, either by date."""
    turns = [turn for group_plan in plan.groups for turn in _by_date(group_plan, _wanted(plan, group_plan))]
    turns.sort(key=lambda turn: turn.due or NO_DATE)
    left = {count.sheet.name: count.from_rack - count.on_order for gp in plan.groups for count in gp.sheets}
    handed = [_with_metal(turn, left) for turn in turns]
    return tuple(sorted(handed, key=lambda turn: not turn.can_start))


def in_order(plan: Plan, tags: Iterable[str]) -> tuple[Turn, ...]:
    """The layouts of a plan in a given order of their tags."""
    turns = {turn.layout.tag: turn for turn in cutting_order(plan)}
    return tuple(turns[tag] for tag in tags)


Wanted = Mapping[str, deque[tuple[str, int]]]
"""By part: dates in their order, with pieces wanted for each."""


def _wanted(plan: Plan, group_plan: GroupPlan) -> Wanted:
    """What orders that have to be made want of a gauge's parts, by date."""
    by_part: dict[str, Counter[str]] = {}
    for need in group_plan.group.needs:
        if need.must:
            date = plan.job.orders[need.order].due or NO_DATE
            by_part.setdefault(need.part, Counter())[date] += need.pieces
    return {part: deque(sorted(dates.items())) for part, dates in by_part.items()}


def _by_date(group_plan: GroupPlan, wanted: Wanted) -> list[Turn]:
    """A gauge's layouts, the most pressing next each time; what it makes no later one is needed for."""
    waiting = list(group_plan.layouts)
    turns = []
    while waiting:
        dates = [_earliest(layout, wanted) for layout in waiting]
        place = dates.index(min(dates))
        layout = waiting.pop(place)
        _deliver(layout, wanted)
        turns.append(Turn(group_plan, layout, "" if dates[place] == NO_DATE else dates[place]))
    return turns


def _earliest(layout: Layout, wanted: Wanted) -> str:
    parts = {placement.part for placement in layout.placements}
    return min((wanted[part][0][0] for part in parts if wanted.get(part)), default=NO_DATE)


def _deliver(layout: Layout, wanted: Wanted) -> None:
    """Take what a layout makes off what is wanted, the earliest date first."""
    for part, pieces in Counter(placement.part for placement in layout.placements).items():
        made, dates = pieces * layout.repeats, wanted.get(part)
        while made and dates:
            date, asked = dates.popleft()
            if asked > made:
                dates.appendleft((date, asked - made))
            made -= min(made, asked)


def _with_metal(turn: Turn, left: dict[str, int]) -> Turn:
    """Hand the layout its sheets as far as they are on hand; a remnant always is."""
    sheet = turn.layout.sheet
    if isinstance(sheet, Remnant):
        return replace(turn, on_hand=turn.layout.repeats)
    taken = min(turn.layout.repeats, left.get(sheet.name, 0))
    left[sheet.name] = left.get(sheet.name, 0) - taken
    return replace(turn, on_hand=taken)
