"""Finished parts: good pieces that no order holds, where they come from, and who could use them.

Terms
-----
free
    Spares, pieces of cancelled orders, and what was cut for an order beyond what it now asks for.
unsettled
    Pieces cut for an order that the book no longer has. It may have been shipped and its row deleted, or
    the pieces may lie there: that is asked, by a count of the part or a row with a state.
offer
    Free pieces that an open order still wants. A plan does not make them again, and they are the order's
    once that is recorded.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from sheetplan.model.job import FinishedPart, Job, OrderState
from sheetplan.rack.crediting import (
    Credit,
    credit,
    held_by_none,
    open_orders,
    progress_of,
    shared,
)
from sheetplan.rack.step import Step

SPARE = "spare"
"""Where pieces come from that no order ever asked for."""


@dataclass(frozen=True, slots=True)
class Source:
    """Free pieces of one part of one order line; without a name, spares. ``said`` is that in words."""

    order: str
    item: str
    part: str
    pieces: int
    said: str


def credits_of(steps: Iterable[Step]) -> list[Credit]:
    """What steps were credited for, each with the day on which it was cut."""
    return [replace(c, date=c.date or step.date) for step in steps for c in step.credits]


def sources(job: Job, steps: Sequence[Step]) -> tuple[Source, ...]:
    """All free pieces; those of an order before the spares of the same part."""
    done = credits_of(steps)
    good: Counter[str] = Counter()
    for step in steps:
        good.update(step.pieces)
    for one in done:
        good[one.part] -= one.pieces
    found = [*_of_orders(job, done), *(Source("", "", p, n, SPARE) for p, n in good.items() if n > 0)]
    return tuple(sorted(found, key=lambda one: (one.part, one.order == "", one.order)))


def _of_orders(job: Job, done: Sequence[Credit]) -> list[Source]:
    """What was cut for orders that are cancelled or now ask for fewer."""
    shares = shared(job, done)
    free = Counter(shares.over)
    cancelled: set[tuple[str, str]] = set()
    for order, held in zip(job.orders, shares.held, strict=True):
        if order.state is OrderState.CANCELLED:
            cancelled.add((order.name, order.item))
            free.update({(order.name, order.item, part): count for part, count in held.items()})
    names = {(order.name, order.item): order.name for order in job.orders}
    owners = {(order.earlier_name, order.item): order.name for order in job.orders if order.earlier_name}
    found = []
    for (named, item, part), pieces in free.items():
        name = names.get((named, item)) or owners.get((named, item))
        if name is not None and pieces > 0:
            why = "cancelled" if (name, item) in cancelled else "more than it asks for"
            found.append(Source(name, item, part, pieces, f"{name} ({item}), {why}"))
    return found


def offers(job: Job, steps: Sequence[Step]) -> tuple[Credit, ...]:
    """Free pieces shared among the open orders that want them: must orders first, then by date."""
    free: Counter[str] = Counter()
    for one in sources(job, steps):
        free[one.part] += one.pieces
    return credit(job, credits_of(steps), free)


def finished_parts(job: Job, steps: Sequence[Step]) -> tuple[FinishedPart, ...]:
    """Every part of which pieces are free or unsettled."""
    free: dict[str, dict[str, int]] = {}
    for one in sources(job, steps):
        free.setdefault(one.part, {})[one.said] = one.pieces
    given: dict[str, Counter[str]] = {}
    for offer in offers(job, steps):
        given.setdefault(offer.part, Counter())[offer.order] += offer.pieces
    gone: dict[str, Counter[str]] = {}
    for (name, _), pieces in held_by_none(job, credits_of(steps)).items():
        for part, count in pieces.items():
            gone.setdefault(part, Counter())[name] += count
    return tuple(
        FinishedPart(part, free.get(part, {}), dict(given.get(part, {})), dict(gone.get(part, {})))
        for part in sorted({*free, *gone})
    )


def with_steps(job: Job, steps: Sequence[Step]) -> Job:
    """The job of a book with all that its steps say of orders: what is cut, offered, and still to be made."""
    done = credits_of(steps)
    bad = [one for step in steps for one in step.bad_for]
    given = offers(job, steps)
    return replace(
        job,
        orders=open_orders(job, [*done, *given]),
        progress=progress_of(job, done, bad, given),
        finished=finished_parts(job, steps),
    )


def drawn(found: Sequence[Source], part: str, pieces: int) -> dict[tuple[str, str], int]:
    """Pieces taken from what is free of a part, by order and item; those of no order under empty names."""
    taken: dict[tuple[str, str], int] = {}
    for one in found:
        count = min(pieces, one.pieces) if one.part == part else 0
        if count:
            taken[one.order, one.item] = count
            pieces -= count
    return taken


def unsettled(job: Job, steps: Sequence[Step], part: str) -> Mapping[tuple[str, str], int]:
    """Pieces of a part that were cut for orders which the book no longer has, by their name and item."""
    gone = held_by_none(job, credits_of(steps))
    return {key: pieces[part] for key, pieces in gone.items() if part in pieces}
