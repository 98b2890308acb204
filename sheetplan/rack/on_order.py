"""What is on order by the recorded steps: on which day it was ordered, less what has come since."""

from __future__ import annotations

from collections.abc import Iterable

from sheetplan.rack.step import Kind, Step


def on_order(steps: Iterable[Step]) -> dict[str, tuple[tuple[str, int], ...]]:
    """By sheet name, the days of ordering with what is still to come; what was ordered first comes first.

    Orders of a month that is closed, and those typed into Stock by hand, are in no step.
    """
    waiting: dict[str, list[tuple[str, int]]] = {}
    for step in sorted(steps, key=lambda one: one.number):
        for line in step.lines:
            if step.kind is Kind.ORDERED:
                lots = [*waiting.get(line.sheet, []), (step.date, line.count)]
                waiting[line.sheet] = sorted(lots, key=lambda lot: lot[0])
            elif step.kind is Kind.RECEIVED:
                waiting[line.sheet] = _less(waiting.get(line.sheet, []), line.off_order)
    return {sheet: tuple(lots) for sheet, lots in waiting.items() if lots}


def _less(lots: list[tuple[str, int]], came: int) -> list[tuple[str, int]]:
    left = []
    for day, count in lots:
        taken = min(came, count)
        came -= taken
        if count > taken:
            left.append((day, count - taken))
    return left
