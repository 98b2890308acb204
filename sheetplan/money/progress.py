"""How far each order is: what is cut of it, what a plan makes of the rest, and what is then still missing.

Progress is told of the order as the book has it, whatever has been cut of it; a plan knows only what was
left of it when it was made, as kits and loose parts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from sheetplan.model import Job, Order, OrderProgress, OrderState, Plan
from sheetplan.money.allocation import Allocation, allocate, parts_of


@dataclass(frozen=True, slots=True)
class LineProgress:
    """One order line; counts are pieces by part.

    ``each`` is what one of the item takes, ``cut`` the good pieces, ``bad`` those that came out bad,
    ``planned`` what the plan makes for it, ``offered`` what comes from finished parts that no order holds.
    """

    order: Order
    each: Mapping[str, int]
    cut: Mapping[str, int]
    bad: Mapping[str, int]
    planned: Mapping[str, int]
    offered: Mapping[str, int]

    @property
    def pieces(self) -> int:
        """All pieces asked for."""
        return self.order.quantity * sum(self.each.values())

    @property
    def to_cut(self) -> int:
        """Pieces still to be cut; none of an order that is not open."""
        there = sum(self.cut.values()) + sum(self.offered.values())
        return self.pieces - there if self.order.state is OrderState.OPEN else 0

    @property
    def missing(self) -> tuple[tuple[str, int], ...]:
        """Parts, with pieces, that are neither cut nor planned of an open order."""
        if self.order.state is not OrderState.OPEN:
            return ()
        left = {
            part: self.order.quantity * each
            - (self.cut.get(part, 0) + self.planned.get(part, 0) + self.offered.get(part, 0))
            for part, each in self.each.items()
        }
        return tuple((part, count) for part, count in left.items() if count > 0)

    @property
    def whole_cut(self) -> int:
        """Whole items of which every part is cut."""
        return self._whole(self.cut)

    @property
    def whole(self) -> int:
        """Whole items when the plan is cut as well."""
        return self._whole(Counter(self.cut) + Counter(self.planned) + Counter(self.offered))

    def _whole(self, pieces: Mapping[str, int]) -> int:
        found = min((pieces.get(part, 0) // each for part, each in self.each.items() if each), default=0)
        return min(found, self.order.quantity)


def progress(plan: Plan, shared: Allocation | None = None) -> tuple[LineProgress, ...]:
    """The progress of every order line of the book, in its order."""
    job = plan.job
    planned = _planned(plan, shared or allocate(plan))
    asked = job.progress or tuple(OrderProgress(order) for order in job.orders)
    return tuple(
        LineProgress(
            one.order, parts_of(job, one.order.item), one.cut, one.bad,
            planned.pop((one.order.name, one.order.line, _of_kit(job, one.order)), {}), one.offered,
        )
        for one in asked
    )  # fmt: skip


Key = tuple[str, int, str]
"""Name and row of an order; where a book has no rows, the item as well."""


def _planned(plan: Plan, shared: Allocation) -> dict[Key, Counter[str]]:
    """Pieces that the plan makes, by the order that they are for."""
    job = plan.job
    found: dict[Key, Counter[str]] = {}
    for line in shared.lines:
        order, missing = job.orders[line.order], dict(line.missing)
        made = found.setdefault((order.name, order.line, _of_kit(job, order)), Counter())
        for part, each in parts_of(job, order.item).items():
            made[part] += order.quantity * each - missing.get(part, 0)
    return found


def _of_kit(job: Job, order: Order) -> str:
    return "" if order.line else order.item
