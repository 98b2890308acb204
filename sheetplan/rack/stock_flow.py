"""Full sheets between the supplier and the rack: what is on order, and what was cut before it came.

Terms
-----
ahead
    Sheets of a size that were cut before the book knew of them: the page Stock had fewer on hand. They
    belong to a delivery that is still to be taken in, and are then not put on hand a second time.
typed up
    On hand was raised by hand since the last step: the planner's count is the truth, so nothing is ahead.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sheetplan.rack.step import Kind, Step


@dataclass(frozen=True, slots=True)
class Ahead:
    """Sheets of one size that are ahead; ``step`` is the last one that took a sheet too many.

    ``left`` is On hand as the last step left it; ``typed_up`` whether it has been raised since, in which
    case the sheets no longer count as ahead.
    """

    sheets: int
    step: int
    left: int
    typed_up: bool = False

    @property
    def open(self) -> int:
        """Sheets of the next delivery that are cut already."""
        return 0 if self.typed_up else self.sheets


def ahead_of(steps: Iterable[Step], on_hand: Mapping[str, int]) -> dict[str, Ahead]:
    """Sizes of which sheets are ahead, by name.

    Parameters
    ----------
    steps : iterable of Step
        All that the book lists.
    on_hand : mapping
        What the page Stock says now, by the sheet's name.
    """
    found: dict[str, Ahead] = {}
    by_number = sorted(steps, key=lambda one: one.number)
    closings = [place for place, step in enumerate(by_number) if step.closed]
    # A month that was closed says how its sheets stood; what was before it is in that already.
    for step in by_number[closings[-1] :] if closings else by_number:
        for one in step.closed.ahead if step.closed else ():
            found[one.sheet] = Ahead(one.sheets, one.step, one.left)
        if step.kind is Kind.CUT and step.sheet and step.found is not None:
            before = _carried(found.get(step.sheet), step.found)
            more = step.times - step.from_stock
            last = step.number if more else found[step.sheet].step if before else 0
            found[step.sheet] = Ahead(before + more, last, step.found - step.from_stock)
        for line in step.lines if step.kind is Kind.RECEIVED else ():
            before = _carried(found.get(line.sheet), line.found)
            last = found[line.sheet].step if before else 0
            found[line.sheet] = Ahead(before - line.covered, last, line.found + line.put_on_hand)
    return {
        name: Ahead(one.sheets, one.step, one.left, on_hand.get(name, 0) > one.left)
        for name, one in found.items() if one.sheets > 0
    }  # fmt: skip


def _carried(last: Ahead | None, found: int) -> int:
    """What is still ahead at a step that finds so many on hand."""
    return last.sheets if last is not None and found <= last.left else 0
