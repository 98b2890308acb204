"""Orders that are cut if they fit, and spares: laid on the metal that a plan takes anyway.

A line that can be made whole comes first, then whole kits and loose pieces of the other lines, at last
spares. A kit counts once all its parts have found room, in every gauge that it spans: the odd pieces of a
kit that stays incomplete are worth nothing to whoever ordered it and are not cut. No sheet is opened, no
piece is moved, and locked layouts stay as they are.

Several lines that fight for the same room are a packing problem of their own; they are served in the
order of the book, and once more with the smallest first, and the better of both is taken. Lines span gauges
and are served one after another; spares and choices are each gauge's own, side by side in other processes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from sheetplan.model.job import Job
from sheetplan.model.plan import Choice, Group, GroupPlan, Layout, Plan
from sheetplan.planning.gauge_work import FILLING, TimesUp
from sheetplan.planning.order_book import numbered, sheet_counts
from sheetplan.planning.progress import RunOptions, Stop, handed, never
from sheetplan.planning.whatif.beds import (
    BESIDE,
    Bed,
    GaugeFiller,
    beds_of,
    filler_of,
    held_by,
    pieces_asked,
    without_surplus,
)
from sheetplan.planning.whatif.capacity import parts_of

AFTER_A_STOP, LEAST_SECONDS = 1.0, 2.0
"""Lines have so long to find room after a stop, where somebody waits, and at least in any other run.

What they need is little as a rule; the clock ends what would take too long.
"""

Pieces = Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Ground:
    """The sheets of a gauge that may take more: what lies on them, and pieces that no line has taken yet."""

    group: Group
    job: Job
    beds: tuple[Bed, ...]
    loose: Counter[str]

    @property
    def filler(self) -> GaugeFiller:
        """What packs the gauge; it stays in the process that made it."""
        return filler_of(self.group, self.job.parts, self.job.settings)


Grounds = Mapping[str, Ground]
"""The gauges of a plan by label."""


@dataclass(frozen=True, slots=True)
class Served:
    """What lines got: sheets with more on them, and sets by line (index into the job's orders)."""

    grounds: Grounds
    sets: Mapping[int, int]


def with_optional(plan: Plan, options: RunOptions) -> Plan:
    """The plan with what else fits; what it makes beyond must orders is arranged anew.

    Parameters
    ----------
    plan
        Layouts that make the must orders, and perhaps more. Its choices are filled in the same way, each
        as if the other gauges stayed as they are.
    options
        Of the run that made the plan: a share of its seconds goes here, and who planned does this as well.
        After a stop nobody else is there to ask. What has found room in time is kept.
    """
    stopped = options.stop()
    seconds = AFTER_A_STOP if stopped else max(LEAST_SECONDS, FILLING * options.seconds)
    until = options.clock() + seconds
    if stopped or options.executor is None:
        return _filled(plan, lambda: options.clock() > until)
    return _filled_elsewhere(plan, options.executor, TimesUp.after(seconds))


def _filled(plan: Plan, stop: Stop) -> Plan:
    served = _best(plan, stop)
    return replace(plan, groups=numbered(_filled_gauge(*one, stop) for one in _by_gauge(plan, served)))


def _filled_elsewhere(plan: Plan, executor: Executor, limit: TimesUp) -> Plan:
    served = executor.submit(best_elsewhere, plan, limit).result()
    asked = [
        handed(executor, one[0].group.label, filled_elsewhere, *one, limit)
        for one in _by_gauge(plan, served)
    ]
    return replace(plan, groups=numbered(one.result() for one in asked))


Gauge = tuple[GroupPlan, Ground, Mapping[int, int]]
"""A gauge's plan, its sheets with what lines got of them, and the sets of each line."""


def _by_gauge(plan: Plan, served: Served) -> list[Gauge]:
    return [(one, served.grounds[one.group.label], served.sets) for one in plan.groups]


def _filled_gauge(one: GroupPlan, ground: Ground, sets: Mapping[int, int], stop: Stop) -> GroupPlan:
    """A gauge with what lines got of it and with spares; its choices likewise."""
    filled = _published(one, _with_spares(ground, stop))
    choices = tuple(_filled_choice(choice, ground.job, sets, stop) for choice in one.choices)
    return replace(filled, choices=choices)


def best_elsewhere(plan: Plan, limit: TimesUp) -> Served:
    """What lines get, within a time that another process can hear."""
    return _best(plan, limit.started())


def filled_elsewhere(one: GroupPlan, ground: Ground, sets: Mapping[int, int], limit: TimesUp) -> GroupPlan:
    """A gauge filled, within such a time."""
    return _filled_gauge(one, ground, sets, limit.started())


def _best(plan: Plan, stop: Stop) -> Served:
    """The best of a few ways to serve the lines: most whole lines, then most metal of whole items."""
    lines = [index for index, order in enumerate(plan.job.orders) if not order.must and order.quantity]
    tidy = {one.group.label: ground_of(one, plan.job, keep_surplus=False) for one in plan.groups}
    full = {one.group.label: ground_of(one, plan.job, keep_surplus=True) for one in plan.groups}
    small_first = sorted(lines, key=lambda index: _area_of_line(plan, tidy, index))
    best: Served | None = None
    # Where somebody waits there is no time to lay anew what is left out.
    for grounds in (full,) if stop() or tidy == full else (tidy, full):
        for order in dict.fromkeys((tuple(lines), tuple(small_first))):
            served = _served(plan, grounds, order, stop)
            if best is None or _worth(plan, served) > _worth(plan, best):
                best = served
    assert best is not None
    return best


def ground_of(plan: GroupPlan, job: Job, *, keep_surplus: bool) -> Ground:
    """A gauge's open sheets; pieces beyond must orders stay where they lie only if they are to be kept.

    Where they cannot be left out without a further layout, they stay in any case.
    """
    must = pieces_asked(plan.group, must=True)
    made = held_by(beds_of(plan.layouts))
    beds = beds_of(layout for layout in plan.layouts if not layout.locked)
    if not keep_surplus:
        beds = without_surplus(beds, made - must, may_split=False)
    locked = held_by(beds_of(layout for layout in plan.layouts if layout.locked))
    return Ground(plan.group, job, tuple(beds), held_by(beds) + locked - must)


def _served(plan: Plan, grounds: Grounds, lines: Sequence[int], stop: Stop) -> Served:
    """Lines that can be made whole, in turn; then as much of each other line as finds room."""
    served = Served(grounds, {})
    for index in lines:
        whole = _with_line(plan.job, served, index, plan.job.orders[index].quantity, stop)
        served = whole or served
    for index in lines:
        if index not in served.sets:
            served = _as_many(plan.job, served, index, plan.job.orders[index].quantity - 1, stop)
    return served


def _as_many(job: Job, served: Served, index: int, most: int, stop: Stop) -> Served:
    """The greatest number of sets of a line that found room, up to so many; at least those that lie there."""
    if job.orders[index].item not in job.kits:
        return _laid(job, served, index, most, stop)[0]
    low = min(most, _there(job, served.grounds, index))
    best = (_with_line(job, served, index, low, stop) if low else None) or served
    high = most + 1
    while high - low > 1 and not stop():
        middle = (low + high) // 2
        found = _with_line(job, served, index, middle, stop)
        low, high, best = (middle, high, found) if found else (low, middle, best)
    return best


def _there(job: Job, grounds: Grounds, index: int) -> int:
    """Sets of a line among the pieces that no line has taken yet."""
    return min(
        ground.loose[name] // count
        for ground in grounds.values()
        for name, count in parts_of(ground.group, job, job.orders[index].item).items()
    )


def _with_line(job: Job, served: Served, index: int, sets: int, stop: Stop) -> Served | None:
    """The sheets with so many sets of a line in all its gauges; None where one gauge has no room."""
    after, left = _laid(job, served, index, sets, stop)
    return None if left else after


def _laid(job: Job, served: Served, index: int, sets: int, stop: Stop) -> tuple[Served, int]:
    """The sheets with pieces of so many sets of a line, and how many pieces found no room.

    A gauge without room for all of its pieces ends it: the other gauges are then not looked at.
    """
    grounds = dict(served.grounds)
    for label, ground in served.grounds.items():
        one = parts_of(ground.group, job, job.orders[index].item)
        wanted = Counter({name: count * sets for name, count in one.items()})
        if any(name not in ground.filler.parts for name in one):
            return served, wanted.total()
        beds, left = evenly(ground.filler, ground.beds, wanted - ground.loose, stop)
        loose = Counter({name: n - wanted[name] for name, n in ground.loose.items() if n > wanted[name]})
        grounds[label] = replace(ground, beds=tuple(beds), loose=loose)
        if left:
            return Served(grounds, {**served.sets, index: sets - left.total()}), left.total()
    return Served(grounds, {**served.sets, index: sets}), 0


def _worth(plan: Plan, served: Served) -> tuple[int, float]:
    """Whole lines, and the metal of the items made."""
    orders = plan.job.orders
    whole = sum(sets == orders[index].quantity for index, sets in served.sets.items())
    metal = sum(_area_of_line(plan, served.grounds, index, sets) for index, sets in served.sets.items())
    return whole, metal


def _area_of_line(plan: Plan, grounds: Grounds, index: int, sets: int | None = None) -> float:
    """Metal that so many sets of a line take, all of it where nothing else is said."""
    order = plan.job.orders[index]
    number = order.quantity if sets is None else sets
    area = 0.0
    for ground in grounds.values():
        one = parts_of(ground.group, plan.job, order.item)
        area += ground.filler.area_of({name: n for name, n in one.items() if name in ground.filler.parts})
    return area * number


def _with_spares(ground: Ground, stop: Stop) -> list[Bed]:
    """The sheets with spares, on all sheets of a layout or none, so that no further layout comes of it."""
    room = {
        name: part.spare - ground.loose[name]
        for name, part in ground.filler.parts.items() if part.spare > ground.loose[name]
    }  # fmt: skip
    parts = ground.filler.parts
    over = Counter({name: n - parts[name].spare for name, n in ground.loose.items() if name in parts})
    beds = without_surplus(ground.beds, over, may_split=False)
    return evenly(ground.filler, beds, room, stop, may_split=False)[0]


def evenly(
    filler: GaugeFiller, beds: Sequence[Bed], wanted: Pieces, stop: Stop = never, *, may_split: bool = True
) -> tuple[list[Bed], Counter[str]]:
    """Beds with more pieces, nothing moved, and what found no room; the fullest sheets first.

    So the sheets that leave most stay as they are. A bed takes as many pieces as there are for all its
    sheets; what remains may go on one sheet of it, which makes a bed of its own (``may_split``).
    """
    left = Counter({name: count for name, count in wanted.items() if count > 0})
    after: dict[int, list[Bed]] = {}
    free = [filler.room_of(bed.metal) - filler.area_of(bed.held) for bed in beds]
    for place in sorted(range(len(beds)), key=lambda place: free[place]):
        bed = beds[place]
        if left and not stop():
            bed = _more_on(filler, bed, {name: n // bed.count for name, n in left.items()}, left)
        after[place] = [bed]
        if left and bed.count > 1 and may_split and not stop():
            one = _more_on(filler, replace(bed, count=1), left, left)
            if len(one.placements) > len(bed.placements):
                after[place] = [replace(bed, count=bed.count - 1), one]
    return [bed for place in range(len(beds)) for bed in after[place]], +left


def _more_on(filler: GaugeFiller, bed: Bed, wanted: Pieces, left: Counter[str]) -> Bed:
    """A bed with more pieces, which are taken off those that are left."""
    more = filler.added(bed, wanted, BESIDE, anywhere=True)
    for placement in more:
        left[placement.part] -= bed.count
    return replace(bed, placements=(*bed.placements, *more))


def _filled_choice(choice: Choice, job: Job, sets: Mapping[int, int], stop: Stop) -> Choice:
    """A choice with as much of what the plan's lines got as finds room in it."""
    one = choice.plan
    label = one.group.label
    served = Served({label: ground_of(one, job, keep_surplus=False)}, {})
    for index, number in sets.items():
        if parts_of(one.group, job, job.orders[index].item):
            whole = _with_line(job, served, index, number, stop)
            served = whole or _as_many(job, served, index, number - 1, stop)
    beds = _with_spares(served.grounds[label], stop)
    return replace(choice, plan=_published(one, beds))


def _published(plan: GroupPlan, beds: Sequence[Bed]) -> GroupPlan:
    """The plan of a gauge with other pieces on the same sheets; equal ones are one layout."""
    merged: dict[tuple[object, ...], int] = {}
    for bed in beds:
        key = bed.metal, bed.placements
        merged[key] = merged.get(key, 0) + bed.count
    number = iter(range(1, len(merged) + 1))
    open_ = tuple(
        Layout(f"L{next(number)}", bed.metal, bed.placements, merged.pop((bed.metal, bed.placements)))
        for bed in beds if (bed.metal, bed.placements) in merged
    )  # fmt: skip
    layouts = (*(layout for layout in plan.layouts if layout.locked), *open_)
    return replace(plan, layouts=layouts, sheets=sheet_counts(plan.group, layouts))
