"""The rack for a month's end: its recorded cuts, and its records as they stood when a month ended."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from sheetplan.app.rack_folder import (
    Held,
    RackUnreadable,
    known_name,
    known_of,
    rack_of,
    read_records,
    read_steps,
)
from sheetplan.model import Problem, Weight
from sheetplan.money.metal_split import MetalSplit
from sheetplan.money.month import Cut
from sheetplan.rack.record import Record
from sheetplan.rack.step import Kind, Step
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import CUT_LOG, RACK_COUNT
from sheetplan.workbook.reading_grid import normal


class MonthRack:
    """The folder rack beside a book; ``problems`` are notes on what of it cannot be read.

    Records are read when the first is asked for.
    """

    def __init__(self, book: Path) -> None:
        self._rack = rack_of(book)
        self._held: Mapping[str, Held] | None = None
        self._steps: Mapping[int, Step] = {}
        self._then: dict[str, Mapping[str, Record]] = {}
        self.problems: tuple[Problem, ...] = ()
        try:
            self._steps = read_steps(self._rack)
        except RackUnreadable as trouble:
            self._note(CUT_LOG.name, trouble, "until then no recorded cut counts.")

    @property
    def cuts(self) -> tuple[Cut, ...]:
        """The recorded cuts, by step."""
        steps = sorted(self._steps.items())
        return tuple(_cut(step) for _, step in steps if step.kind is Kind.CUT or step.bad)

    def records(self, units: Units, month: str) -> Mapping[str, Record]:
        """Records by tag as compared, as they stood at the end of a month, later cuts not yet made."""
        if month not in self._then:
            then = records_then(self._now(units), self._steps, month)
            self._then[month] = {normal(tag): record for tag, record in then.items()}
        return self._then[month]

    def _now(self, units: Units) -> Mapping[str, Record]:
        if self._held is None:
            try:
                self._held = read_records(self._rack, units)
            except RackUnreadable as trouble:
                self._held = {}
                self._note(RACK_COUNT.name, trouble, "until then remnants weigh what their rows say.")
        return {tag: record for tag, held in self._held.items() if (record := held.now or held.known)}

    def _note(self, page: str, trouble: RackUnreadable, until: str) -> None:
        remedy = f"Put the file back from a copy; {until}"
        self.problems += (Problem(page, None, None, str(trouble), remedy, Weight.NOTE),)


def records_then(now: Mapping[str, Record], steps: Mapping[int, Step], month: str) -> dict[str, Record]:
    """Records by tag with the steps of later months than ``month`` (``2026-11``) taken back, the last first.

    A step keeps what it replaced. A sheet that had no record before it loses the cuts of the step; one
    that came only with it stays, since nobody can have counted it.
    """
    then = dict(now)
    tags = {known_name(tag): tag for tag in now}
    for number, step in sorted(steps.items(), reverse=True):
        touched = [(tags[place], text) for place, text in step.former.items() if place in tags]
        for tag, text in touched if step.date[:7] > month else ():
            if text is not None:
                then[tag], _ = known_of(text.encode("latin-1").decode("utf-8"))
            else:
                cuts = tuple(cut for cut in then[tag].cuts if cut.step != number)
                then[tag] = replace(then[tag], cuts=cuts)
    return then


def _cut(step: Step) -> Cut:
    found = step.weights
    split = MetalSplit(found.taken, found.parts, found.kerf, found.kept, found.bad)
    return Cut(step.date, step.gauge, split, found.metal_cost, found.kept_value)
