"""What lies on a layout: how many of which part, and for which kit or order they are cut."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, deque
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from itertools import accumulate
from math import ceil

from sheetplan.model import Job, Layout, Plan
from sheetplan.model.job import NO_DATE
from sheetplan.money.cutting_order import cutting_order, in_order
from sheetplan.money.order_shares import allocate, pieces_by_line

# What lies on a layout, said as a list: how many of which part.

LINE_LETTERS = 18
"""Letters of a line in the column of parts, with a little to spare."""

MOST_LINES = 28
"""Lines that the tallest row of a spreadsheet shows; what is beyond would be cut off."""


def parts_on(layout: Layout) -> Counter[str]:
    """Pieces of each part on one sheet of a layout."""
    return Counter(placement.part for placement in layout.placements)


def parts_text(layout: Layout, keys: Mapping[str, str] | None = None) -> str:
    """One line for each part, ``12 x CB-101``; parts that the picture shows by a key come with it.

    A keyed line ends in the key, as ``12 x CB-101 = 3``. Of more parts than the tallest row of a page shows,
    those that are left over are counted.
    """
    keyed = keys or {}
    counts = sorted(
        parts_on(layout).items(), key=lambda item: (item[0] in keyed, _rank(item[0], keyed), item[0])
    )
    lines = [f"{pieces} x {part}" + (f" = {keyed[part]}" if part in keyed else "") for part, pieces in counts]
    ends = list(accumulate(ceil(len(line) / LINE_LETTERS) for line in lines))
    if not lines or ends[-1] <= MOST_LINES:
        return "\n".join(lines)
    room = bisect_right(ends, MOST_LINES - 2)
    return "\n".join([*lines[:room], f"and {len(lines) - room} more parts, which the ticket lists"])


def _rank(part: str, keyed: Mapping[str, str]) -> int:
    return int(keyed.get(part, "0"))


# What the pieces on each layout are cut for in this plan: a kit, a single order, or spare.
#
# Layouts are taken in the order of cutting, and what comes first goes to the order line whose turn it
# is; so spare pieces are those that are cut last.

SPARE = "spare"
"""What pieces are called that no order asks for."""


@dataclass(frozen=True, slots=True)
class Use:
    """Pieces of a part for one purpose; ``kit`` is empty for a single order and for spare pieces.

    ``orders`` are the order lines behind it, as indices into ``Job.orders``.
    """

    kit: str
    name: str
    pieces: int
    orders: tuple[int, ...] = ()


Uses = Mapping[tuple[str, str], tuple[Use, ...]]
"""By layout and part, for all repeats together."""


Shares = Mapping[tuple[str, str], Mapping[int | None, int]]
"""By layout and part, pieces by the order line that they are for (an index into ``Job.orders``), or None."""


def uses_of(plan: Plan, tags: Iterable[str] | None = None) -> Uses:
    """What every piece of a plan is cut for, layouts taken in the order of their tags as given."""
    return {key: _uses(plan.job, some) for key, some in shares_of(plan, tags).items()}


def shares_of(plan: Plan, tags: Iterable[str] | None = None) -> Shares:
    """Which order line every piece of a plan goes to; see `uses_of`."""
    waiting = {part: deque(lines) for part, lines in pieces_by_line(plan.job, allocate(plan)).items()}
    turns = cutting_order(plan) if tags is None else in_order(plan, tags)
    return {
        (turn.layout.tag, part): _taken(waiting.get(part, deque()), pieces * turn.layout.repeats)
        for turn in turns for part, pieces in parts_on(turn.layout).items()
    }  # fmt: skip


def _taken(lines: deque[tuple[int, int]], pieces: int) -> dict[int | None, int]:
    """Take pieces off the order lines in their turn."""
    shares: dict[int | None, int] = {}
    while pieces:
        index, asked = lines.popleft() if lines else (None, pieces)
        taken = min(asked, pieces)
        if index is not None and asked > taken:
            lines.appendleft((index, asked - taken))
        shares[index] = shares.get(index, 0) + taken
        pieces -= taken
    return shares


def _uses(job: Job, shares: Mapping[int | None, int]) -> tuple[Use, ...]:
    """One use for each kit or order."""
    pieces: dict[tuple[str, str], int] = {}
    behind: dict[tuple[str, str], list[int]] = {}
    for index, count in shares.items():
        name = _purpose(job, index)
        pieces[name] = pieces.get(name, 0) + count
        behind.setdefault(name, []).extend([index] if index is not None else [])
    return tuple(Use(*name, count, tuple(behind[name])) for name, count in pieces.items())


def orders_on(job: Job, uses: Uses, tag: str) -> tuple[tuple[str, str], ...]:
    """Name and date of the orders that a layout is cut for, the first due first, so that a rush is seen."""
    on_it = [use for (layout, _), some in uses.items() if layout == tag for use in some]
    found = {index for use in on_it for index in use.orders}
    lines = sorted(found, key=lambda index: (job.orders[index].due or NO_DATE, index))
    return tuple(dict.fromkeys((job.orders[index].name, job.orders[index].due) for index in lines))


def _purpose(job: Job, index: int | None) -> tuple[str, str]:
    if index is None:
        return "", SPARE
    order = job.orders[index]
    return (order.item, order.item) if order.item in job.kits else ("", f"order {order.name}")


def uses_text(uses: tuple[Use, ...], lettered: Callable[[str], str] = str) -> str:
    """As ``A bollard kit`` where all pieces are for one purpose, else ``24 x A bollard kit, 4 x spare``.

    ``lettered`` puts a kit's letter before its name.
    """
    named = [(lettered(use.kit) if use.kit else use.name, use.pieces) for use in uses]
    if len(named) == 1:
        return named[0][0]
    return ", ".join(f"{pieces:,} x {name}" for name, pieces in named)


def kits_by_part(uses: Uses) -> dict[str, frozenset[str]]:
    """The kits that each part of a plan is cut for; none for single orders and spare pieces alone."""
    kits: dict[str, frozenset[str]] = {}
    for (_, part), shares in uses.items():
        kits[part] = kits.get(part, frozenset()) | {use.kit for use in shares if use.kit}
    return kits
