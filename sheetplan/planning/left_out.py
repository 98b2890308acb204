"""What one plan of a gauge leaves out that another makes: pieces that are cut if they fit, and spares."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from sheetplan.model.job import Order
from sheetplan.model.plan import GroupPlan


def left_out(main: GroupPlan, other: GroupPlan, orders: Sequence[Order] = ()) -> str:
    """As ``10 GU-1 of J-103 and 4 spare ST-1 not made``; empty where ``other`` makes all that ``main`` does.

    The ``orders`` of the job are named where they are given.
    """
    asked: Counter[str] = Counter()
    if_it_fits: dict[str, list[str]] = {}
    for need in main.group.needs:
        asked[need.part] += need.pieces
        name = orders[need.order].name if orders else ""
        if not need.must and name and name not in if_it_fits.setdefault(need.part, []):
            if_it_fits[need.part].append(name)
    mine, theirs = _made(main), _made(other)
    ordered, spare = [], []
    for part in sorted(mine):
        over = max(mine[part] - asked[part], 0) - max(theirs[part] - asked[part], 0)
        fewer = min(mine[part], asked[part]) - min(theirs[part], asked[part])
        if fewer > 0:
            names = if_it_fits.get(part, [])
            ordered.append(f"{fewer} {part} of {_listed(names)}" if names else f"{fewer} {part}")
        if over > 0:
            spare.append(f"{over} spare {part}")
    said = _listed([*ordered, *spare])
    return f"{said} not made" if said else ""


def _made(plan: GroupPlan) -> Counter[str]:
    made: Counter[str] = Counter()
    for layout in plan.layouts:
        for placement in layout.placements:
            made[placement.part] += layout.repeats
    return made


def _listed(names: list[str]) -> str:
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)
