"""Which order line gets the pieces that a plan makes.

Terms
-----
line
    One order of the book: so many of a kit or of a loose part.
whole
    A kit counts only when every part of it is there, across all gauges.
turn of the lines
    Must orders before those that are cut if they fit, then by due date (none comes last), then
    as they stand in the book.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from sheetplan.model import Job, Order, Plan

NO_DATE = "9999"
"""Sorts behind every date written as year, month, day."""


@dataclass(frozen=True, slots=True)
class LineResult:
    """What one order line gets.

    ``made`` counts whole kits (or pieces of a loose part); ``missing`` lists the parts, with
    pieces, that are still wanted to make the line whole.
    """

    order: int
    """Index into ``Job.orders``."""
    asked: int
    made: int
    missing: tuple[tuple[str, int], ...] = ()

    @property
    def short(self) -> int:
        """How many of the line are not made."""
        return self.asked - self.made


@dataclass(frozen=True, slots=True)
class Allocation:
    """Every line's result in the order of the book, and pieces that no line asked for, by part."""

    lines: tuple[LineResult, ...]
    spare: Mapping[str, int]


def pieces_made(plan: Plan) -> Counter[str]:
    """Pieces of each part that the layouts make when each is cut as often as it says."""
    made: Counter[str] = Counter()
    for group_plan in plan.groups:
        for layout in group_plan.layouts:
            for placement in layout.placements:
                made[placement.part] += layout.repeats
    return made


def allocate(plan: Plan) -> Allocation:
    """Share the pieces of a plan among its order lines, whole kits first.

    Every line in its turn takes as many whole kits as the pieces left allow; only then do the
    pieces that remain go towards the kits that stay incomplete, in the same turn. So a kit that
    waits for a part of another gauge never keeps a later line's pieces for nothing.
    """
    return share(plan.job, pieces_made(plan))


def share(job: Job, made: Mapping[str, int]) -> Allocation:
    """As `allocate`, from a count of pieces by part."""
    left = Counter(dict(made))
    turn = sorted(range(len(job.orders)), key=lambda index: _turn(job.orders[index], index))
    whole = {index: _take_whole(job, job.orders[index], left) for index in turn}
    missing = {index: _take_towards(job, job.orders[index], whole[index], left) for index in turn}
    lines = tuple(
        LineResult(index, order.quantity, whole[index], missing[index])
        for index, order in enumerate(job.orders)
    )
    return Allocation(lines, {part: pieces for part, pieces in left.items() if pieces > 0})


def pieces_by_line(job: Job, shared: Allocation) -> dict[str, list[tuple[int, int]]]:
    """For each part the order lines that get pieces of it, with how many, in the turn of the lines."""
    found: dict[str, list[tuple[int, int]]] = {}
    for index in sorted(range(len(job.orders)), key=lambda index: _turn(job.orders[index], index)):
        order, missing = job.orders[index], dict(shared.lines[index].missing)
        for part, each in parts_of(job, order.item).items():
            pieces = order.quantity * each - missing.get(part, 0)
            if pieces:
                found.setdefault(part, []).append((index, pieces))
    return found


def parts_of(job: Job, item: str) -> Mapping[str, int]:
    """How many of each part one of an item takes; a loose part is a kit of itself."""
    return job.kits[item].parts if item in job.kits else {item: 1}


def _turn(order: Order, index: int) -> tuple[bool, str, int]:
    return not order.must, order.due or NO_DATE, index


def _take_whole(job: Job, order: Order, left: Counter[str]) -> int:
    each = parts_of(job, order.item)
    wholes = min((left[part] // pieces for part, pieces in each.items() if pieces), default=0)
    wholes = min(wholes, order.quantity)
    for part, pieces in each.items():
        left[part] -= wholes * pieces
    return wholes


def _take_towards(job: Job, order: Order, whole: int, left: Counter[str]) -> tuple[tuple[str, int], ...]:
    missing = []
    for part, pieces in parts_of(job, order.item).items():
        wanted = (order.quantity - whole) * pieces
        taken = min(wanted, left[part])
        left[part] -= taken
        if wanted > taken:
            missing.append((part, wanted - taken))
    return tuple(missing)
