"""The room that is left on the sheets of a plan: what lies there, what may give way, what comes first.

Pieces that no order asks for (spares) give way to orders. Locked layouts stay as they are, so their sheets
have no room. Pieces that an order asks for and the plan does not make come before any more of another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from sheetplan.model.plan import Group, GroupPlan
from sheetplan.planning.beds import Bed, beds_of, held_by, without_surplus


@dataclass(frozen=True, slots=True)
class Room:
    """Sheets with what stays on them, and the pieces that are asked for and lie on none."""

    beds: tuple[Bed, ...]
    missing: Counter[str]

    def owed(self, parts: Iterable[str]) -> dict[str, int]:
        """Missing pieces of some parts."""
        return {name: self.missing[name] for name in parts if self.missing[name]}


def room_of(plan: GroupPlan) -> Room:
    """The sheets of a gauge's plan as more orders would find them."""
    made = held_by(beds_of(plan.layouts))
    asked = pieces_asked(plan.group)
    free = beds_of(layout for layout in plan.layouts if not layout.locked)
    missing = Counter({name: n - made[name] for name, n in asked.items() if n > made[name]})
    return Room(tuple(without_surplus(free, made - asked)), missing)


def pieces_asked(group: Group, *, must: bool | None = None) -> Counter[str]:
    """Pieces that orders ask for: all, or those that must be made, or those that are cut if they fit."""
    asked: Counter[str] = Counter()
    for need in group.needs:
        if must is None or need.must is must:
            asked[need.part] += need.pieces
    return asked
