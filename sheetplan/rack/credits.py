"""Pieces that were cut, and the order lines that they are for.

Pieces are credited to an order by its name and item, so that rows may be moved or sorted. What is
left of an order is planned as whole kits and, where a kit was only partly cut, as loose parts. Good pieces
that no order holds are finished parts.

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

Choices
-------
Finished parts are a difference, not a list: good pieces of all steps less what orders hold. A count, a move
and scrap are steps of pieces and credits, less than none where something goes; so taking back, the page and
the plan have one sum. Offers are shared as cuts are (`credit`) and taken off the orders before planning.
Pieces of orders whose row is gone are offered to nobody: rows of orders that were shipped are deleted too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from sheetplan.model.job import NO_DATE, FinishedPart, Job, Kit, Order, OrderProgress, OrderState
from sheetplan.rack.step import Asked, Credit, Step


def pieces_of(order: Order, kits: Mapping[str, Kit]) -> dict[str, int]:
    """Pieces of each part that an order asks for."""
    kit = kits.get(order.item)
    each = kit.parts if kit else {order.item: 1}
    return {part: count * order.quantity for part, count in each.items()}


Key = tuple[str, str, str]
"""Name and item of an order, and a part."""


@dataclass(frozen=True, slots=True)
class Shares:
    """How pieces that were cut are shared among the orders of a job, in its order.

    ``held`` are pieces by part that each order has, ``wanted`` those that are not cut yet. ``over`` is
    what was cut for orders beyond what they ask for by now, by name, item and part.
    """

    held: tuple[dict[str, int], ...]
    wanted: tuple[dict[str, int], ...]
    over: Mapping[Key, int]


def shared(job: Job, done: Iterable[Credit]) -> Shares:
    """Give each order of the job what was cut for it.

    Where two rows have the same name and item, the first is served first. What was cut before the day of
    an order that has the name of an earlier one is for the earlier one alone, under the name that this
    has now. An order that was renamed takes of its own name first; what it does not need under its
    earlier one stays there, if another order has that name now.
    """
    before, now = _before_and_since(job, done)
    begins = _begins(job)
    rows = {(order.name, order.item) for order in job.orders}
    held: dict[int, dict[str, int]] = {}
    for index, order in sorted(enumerate(job.orders), key=lambda one: not one[1].earlier_name):
        once = order.earlier_name if order.earlier_name != order.name else ""
        mine = before if _is_old(order, begins) else now
        theirs = before if (once, order.item) in begins else now
        namesake = theirs is now and (once, order.item) in rows
        held[index] = {}
        for part, pieces in pieces_of(order, job.kits).items():
            own, old = (order.name, order.item, part), (once, order.item, part)
            there = mine[own] + theirs[old]
            taken = held[index][part] = max(0, min(pieces, there))
            stays = max(0, mine[own] - taken) if namesake else there - taken
            mine[own], theirs[old] = stays, there - taken - stays
    has = tuple(held[index] for index in range(len(job.orders)))
    wanted = tuple(
        {part: pieces - had[part] for part, pieces in pieces_of(order, job.kits).items()}
        for order, had in zip(job.orders, has, strict=True)
    )
    old_rows = {(order.name, order.item) for order in job.orders if _is_old(order, begins)}
    over = now + Counter({key: count for key, count in before.items() if key[:2] in old_rows})
    return Shares(has, wanted, over)


def still_wanted(job: Job, done: Iterable[Credit]) -> tuple[dict[str, int], ...]:
    """For each order of the job the pieces of each part that are not cut yet."""
    return shared(job, done).wanted


def may_get(job: Job, order: Order) -> bool:
    """Whether pieces are made for an order: it is open, and its name has not come again since."""
    return order.state is OrderState.OPEN and not _is_old(order, _begins(job))


def _is_old(order: Order, begins: Mapping[tuple[str, str], str]) -> bool:
    """Whether another row says that a new order of this name has begun."""
    return not order.since and (order.name, order.item) in begins


def _begins(job: Job) -> dict[tuple[str, str], str]:
    """The first day of each order that has the name of an earlier one."""
    return {(order.name, order.item): order.since for order in job.orders if order.since}


def _before_and_since(job: Job, done: Iterable[Credit]) -> tuple[Counter[Key], Counter[Key]]:
    """Pieces by order, item and part: of earlier orders of a name that has come again, and of the others."""
    begins = _begins(job)
    before: Counter[Key] = Counter()
    since: Counter[Key] = Counter()
    for one in done:
        is_before = one.date and one.date < begins.get((one.order, one.item), "")
        (before if is_before else since)[one.order, one.item, one.part] += one.pieces
    return before, since


def names_of(order: Order) -> tuple[str, ...]:
    """The names under which pieces may have been cut for an order."""
    return (order.name, order.earlier_name) if order.earlier_name else (order.name,)


def _by_order(done: Iterable[Credit]) -> Counter[Key]:
    left: Counter[Key] = Counter()
    for one in done:
        left[one.order, one.item, one.part] += one.pieces
    return left


def held_by_none(job: Job, done: Iterable[Credit]) -> dict[tuple[str, str], dict[str, int]]:
    """Good pieces by part that were cut for orders which the job no longer has, by their name and item."""
    known = {(name, order.item) for order in job.orders for name in names_of(order)}
    found: dict[tuple[str, str], dict[str, int]] = {}
    for (name, item, part), pieces in _by_order(done).items():
        if (name, item) not in known and pieces > 0:
            found.setdefault((name, item), {})[part] = pieces
    return found


def progress_of(
    job: Job, done: Iterable[Credit], bad: Iterable[Credit], offers: Iterable[Credit] = ()
) -> tuple[OrderProgress, ...]:
    """All orders of the job with what was cut for them, and what of ``offers`` is for them."""
    spoiled, offered = _by_order(bad), _by_order(offers)
    rows = {(order.name, order.item) for order in job.orders}
    found = []
    for order, wanted in zip(job.orders, still_wanted(job, done), strict=True):
        asked = pieces_of(order, job.kits)
        cut = {part: count - wanted[part] for part, count in asked.items() if count > wanted[part]}
        lost = Counter[str]()
        for name in names_of(order):
            if name == order.name or (name, order.item) not in rows:
                lost.update({part: spoiled.pop((name, order.item, part), 0) for part in asked})
        given = {
            part: min(offered[order.name, order.item, part], wanted[part])
            for part in asked if may_get(job, order)
        }  # fmt: skip
        offered.subtract({(order.name, order.item, part): count for part, count in given.items()})
        found.append(OrderProgress(
            order, cut, {part: count for part, count in lost.items() if count},
            {part: count for part, count in given.items() if count > 0},
        ))  # fmt: skip
    return tuple(found)


def credit(
    job: Job, done: Iterable[Credit], made: Mapping[str, int], date: str = ""
) -> tuple[Credit, ...]:
    """Share pieces among what is still wanted: must orders first, then by due date, then by row.

    Pieces that no order asks for are spare and are not credited. ``date`` is the day on which they were
    cut, if an order may have begun later.
    """
    left = Counter(made)
    sums: Counter[tuple[str, str, str]] = Counter()
    lines = list(zip(job.orders, still_wanted(job, done), strict=True))
    for order, wanted in sorted(lines, key=lambda line: (not line[0].must, line[0].due or NO_DATE)):
        if not may_get(job, order) or (date and date < order.since):
            continue
        for part, count in wanted.items():
            pieces = min(count, left[part])
            if pieces > 0:
                left[part] -= pieces
                sums[order.name, order.item, part] += pieces
    return tuple(Credit(*key, pieces) for key, pieces in sums.items())


def asked_lines(job: Job, credits: Iterable[Credit]) -> tuple[Asked, ...]:
    """The order lines that pieces went to, as the book has them."""
    keys = {(one.order, one.item) for one in credits if one.pieces > 0}
    return tuple(
        Asked(order.name, order.item, order.quantity, order.line)
        for order in job.orders if (order.name, order.item) in keys
    )  # fmt: skip


def open_orders(job: Job, done: Iterable[Credit]) -> tuple[Order, ...]:
    """What is still to be made of each order, in the order of the book.

    An order of 12 kits of which 5 are cut, and one more in part, becomes 6 kits and the loose parts
    that the seventh still wants, all under the order's own name and row.
    """
    found: list[Order] = []
    for order, wanted in zip(job.orders, still_wanted(job, done), strict=True):
        if not may_get(job, order):
            continue
        kit = job.kits.get(order.item)
        found += _rest(order, kit.parts if kit else {order.item: 1}, wanted)
    return tuple(found)


def _rest(order: Order, each: Mapping[str, int], wanted: Mapping[str, int]) -> list[Order]:
    whole = min((wanted[part] // count for part, count in each.items() if count), default=0)
    rest = [replace(order, quantity=whole)] if whole else []
    for part, count in each.items():
        loose = wanted[part] - whole * count
        if loose:
            rest.append(replace(order, item=part, quantity=loose))
    return rest


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
