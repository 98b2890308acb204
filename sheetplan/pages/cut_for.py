"""What the pieces on each layout are cut for in this plan: a kit, a single order, or spare.

Layouts are taken in the order of cutting, and what comes first goes to the order line whose turn it
is; so spare pieces are those that are cut last.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sheetplan.model import Job, Plan
from sheetplan.money.allocation import NO_DATE, allocate, pieces_by_line
from sheetplan.money.cutting_order import cutting_order
from sheetplan.pages.parts_on import parts_on

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


def uses_of(plan: Plan) -> Uses:
    """What every piece of a plan is cut for."""
    waiting = {part: deque(lines) for part, lines in pieces_by_line(plan.job, allocate(plan)).items()}
    found: dict[tuple[str, str], tuple[Use, ...]] = {}
    for turn in cutting_order(plan):
        for part, pieces in parts_on(turn.layout).items():
            lines = waiting.get(part, deque())
            found[turn.layout.tag, part] = _taken(plan.job, lines, pieces * turn.layout.repeats)
    return found


def _taken(job: Job, lines: deque[tuple[int, int]], pieces: int) -> tuple[Use, ...]:
    """Take pieces off the order lines in their turn, one use for each kit or order."""
    shares: dict[tuple[str, str], int] = {}
    behind: dict[tuple[str, str], dict[int, None]] = {}
    while pieces:
        index, asked = lines.popleft() if lines else (None, pieces)
        taken = min(asked, pieces)
        if index is not None and asked > taken:
            lines.appendleft((index, asked - taken))
        name = _purpose(job, index)
        shares[name] = shares.get(name, 0) + taken
        behind.setdefault(name, {}).update({index: None} if index is not None else {})
        pieces -= taken
    return tuple(Use(*name, count, tuple(behind[name])) for name, count in shares.items())


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
