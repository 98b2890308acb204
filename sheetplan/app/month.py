"""A month's end: what the scales and the rack tell, beside what the cuts on record said.

A tag that was counted weighs what its record had left when the month ended: steps of later months, which
keep what they replaced, are taken back for it (`records_then`).
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sheetplan.app.making.folders import output_folder
from sheetplan.app.rack.belonging import apart, apart_problem, recorded
from sheetplan.app.rack.folder import (
    Held,
    RackUnreadable,
    known_name,
    known_of,
    rack_of,
    read_records,
    read_steps,
)
from sheetplan.model import Problem, Settings, Weight
from sheetplan.money.layout_figures import MetalSplit, total_split
from sheetplan.money.month import (
    Cut,
    Learned,
    MonthBalance,
    MonthLine,
    MonthRows,
    by_metal,
    learned,
    month_balance,
    month_before,
    month_book,
    months_known,
)
from sheetplan.planning.progress import Progress, Report
from sheetplan.rack.record import Record
from sheetplan.rack.step import Kind, Step
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import CUT_LOG, RACK_COUNT
from sheetplan.workbook.hosts.closed import ClosedBook
from sheetplan.workbook.package.saving import as_private_as
from sheetplan.workbook.port import Host
from sheetplan.workbook.reading.book import seen_in
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.tables import BookTables

if TYPE_CHECKING:
    from sheetplan.pages.values import ResultPage
    from sheetplan.pages.wording import Decimals

_YEAR_FIRST = re.compile(r"(?P<year>[0-9]{4})[-./](?P<month>[0-9]{1,2})(?:[-./][0-9]{1,2})?")
_MONTH_FIRST = re.compile(r"(?P<month>[0-9]{1,2})[-./ ](?P<year>[0-9]{4})")
_DAY_FIRST = re.compile(r"[0-9]{1,2}\.(?P<month>[0-9]{1,2})\.(?P<year>[0-9]{4})")


@dataclass(frozen=True, slots=True)
class MonthOutcome:
    """What a run gave: the month by metal and by gauge, problems, and the book written.

    ``metals`` and ``gauges`` are None where settings or materials cannot be read.
    """

    metals: MonthBalance | None
    gauges: MonthBalance | None
    units: Units
    problems: tuple[Problem, ...]
    book: Path
    shown: Path | None = None
    """The month as a page for the browser."""
    taught: tuple[Learned, ...] = ()
    """What the months so far teach together, by metal and in total."""


def month_named(text: str) -> str | None:
    """The month that a text names, as ``2026-11``; None where it names none.

    A day names its month, as programs make the first day of what is typed as a month.

    >>> month_named("11.2026"), month_named("2026-11-01"), month_named("1.11.2026"), month_named("2026-13")
    ('2026-11', '2026-11', '2026-11', None)
    """
    for form in (_YEAR_FIRST, _MONTH_FIRST, _DAY_FIRST):
        found = form.fullmatch(text.strip())
        if found:
            month = int(found["month"])
            return f"{found['year']}-{month:02d}" if 1 <= month <= 12 else None
    return None


def month_of(book: Path, month: str, *, report: Report) -> MonthOutcome:
    """Balance a month of a closed book and write the page Month into it."""
    return month_on(ClosedBook(book, report), month)


def month_on(host: Host, month: str) -> MonthOutcome:
    """Balance a month (``2026-11``) and write the page Month into the book.

    Raises ``BookError`` where the book cannot be read or written.
    """
    with as_private_as(host.path):
        return _month_on(host, month)


def _month_on(host: Host, month: str) -> MonthOutcome:
    from sheetplan.app.check import check_tables, with_sign
    from sheetplan.pages.book.month import month_page
    from sheetplan.pages.book.problems import problems_page
    from sheetplan.pages.wording import Decimals, decimals_of
    from sheetplan.workbook.reading.job import read_month

    host.progress(Progress("", 0.0, f"Reading {host.path.name}"))
    tables = host.read()
    rack = MonthRack(host.path, tables)
    settings, read, problems = read_month(tables, rack.records)
    checked = check_tables(tables, host.path)
    every = _all_problems(problems, (*checked.problems, *rack.apart))
    problems += rack.apart
    if settings is None or read is None or rack.apart:
        written = host.write((problems_page(every, seen_in(tables)),), Units.INCH)
        return MonthOutcome(None, None, Units.INCH, problems, written)
    cuts = (*read.rows.earlier, *rack.cuts)
    problems += rack.problems + _twice(read.rows.earlier, rack.cuts)
    every = _all_problems(problems, every)
    metals, gauges = balances(month, read.rows, cuts)
    months = [known for known in months_known(read.rows, cuts) if known <= month]
    history = [month_balance(month_book(known, read.rows, cuts)) for known in months]
    by_month = [balances(known, read.rows, cuts)[0] for known in months]
    page = month_page(
        metals, gauges, history, settings.units, currency=settings.currency, metals_by_month=by_month
    )
    host.progress(Progress("", 1.0, f"Writing {host.path.name}"))
    comma = with_sign(settings, tables).decimal_comma is True
    decimals = decimals_of(checked.job) if checked.job else Decimals(comma)
    written = host.write(decimals.pages((page, problems_page(every, seen_in(tables)))), settings.units)
    shown = _shown(host.path, settings, month, page, decimals)
    taught = learned(by_month)
    return MonthOutcome(metals, gauges, settings.units, problems, written, shown, taught)


def _shown(book: Path, settings: Settings, month: str, page: ResultPage, decimals: Decimals) -> Path | None:
    """The month's page for the browser among the book's layouts; None where the book asks for none."""
    from sheetplan.pages.floor import month_html

    folder = output_folder(book, settings.output_folder)
    if not settings.page_for_tablets or isinstance(folder, Problem):
        return None
    html = month_html(page.title, (page,), settings.units, settings.currency, decimals)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"month-{month}.html"
    beside = path.with_suffix(".part")
    beside.write_bytes(html)
    beside.replace(path)
    return path


def yields_before(book: Path, tables: BookTables, today: datetime.date) -> Mapping[str, float]:
    """The yield of each gauge in the month before today's, by the cuts on record; 0 to 1."""
    from sheetplan.workbook.reading.job import read_month

    _, read, _ = read_month(tables)
    cuts = (*(read.rows.earlier if read else ()), *MonthRack(book, tables).cuts)
    month = month_before(today.strftime("%Y-%m"))
    splits: dict[str, list[MetalSplit]] = {}
    for cut in cuts:
        if cut.date[:7] == month:
            splits.setdefault(cut.gauge, []).append(cut.split)
    sums = {gauge: total_split(found) for gauge, found in splits.items()}
    return {gauge: split.yield_share for gauge, split in sums.items() if split.used_up > 0}


def balances(month: str, rows: MonthRows, cuts: Sequence[Cut]) -> tuple[MonthBalance, MonthBalance]:
    """The month by metal and by gauge."""
    book = month_book(month, rows, cuts)
    return month_balance(by_metal(book, rows.metal_of)), month_balance(book)


def _twice(earlier: Sequence[Cut], recorded: Sequence[Cut]) -> tuple[Problem, ...]:
    """Notes on months that stand in Earlier cuts and in the cut log for the same gauges."""
    both = {(cut.date[:7], cut.gauge) for cut in earlier} & {(cut.date[:7], cut.gauge) for cut in recorded}
    gauges: dict[str, list[str]] = {}
    for month, gauge in sorted(both):
        gauges.setdefault(month, []).append(gauge)
    return tuple(
        Problem(
            "Earlier cuts", None, None,
            f"{', '.join(named)} of {month} stand here and in the cut log; both count.",
            "Keep here only what the cut log does not hold.", Weight.NOTE,
        )
        for month, named in gauges.items()
    )  # fmt: skip


def month_json(outcome: MonthOutcome) -> dict[str, Any]:
    """The month as plain values in the book's units: what ``--json`` writes."""
    if outcome.metals is None or outcome.gauges is None:
        return {"month": None}
    units = outcome.units
    return {
        "month": outcome.metals.month,
        "units": {"length": units.value, "weight": units.weight},
        "counted": outcome.metals.total.counted,
        "metals": [_line(line, units) for line in outcome.metals.lines],
        "gauges": [_line(line, units) for line in outcome.gauges.lines],
        "total": _line(outcome.metals.total, units),
        "learned": [_learned(one, units) for one in outcome.taught],
    }


def _learned(one: Learned, units: Units) -> Mapping[str, Any]:
    weights = {
        "used_up": one.used_up, "scrap_weighed": one.weighed, "scrap_by_cuts": one.scrap_by_cuts,
        "lost": one.lost, "kerf_by_cuts": one.kerf_by_cuts,
    }  # fmt: skip
    return {
        "name": one.gauge, "months": list(one.months),
        **{name: kg / units.weight_kg for name, kg in weights.items()},
        "scrap_factor": one.scrap_factor, "kerf_factor": one.kerf_factor,
    }  # fmt: skip


def _line(line: MonthLine, units: Units) -> Mapping[str, Any]:
    weights = {
        "start": line.start, "bought": line.bought, "end": line.end, "used_up": line.used_up,
        "used_up_by_cuts": line.split.used_up, "not_recorded": line.not_recorded,
        "good_parts": line.split.parts, "bad_parts": line.split.bad, "skeleton": line.split.skeleton,
        "kerf": line.split.kerf, "scrap_weighed": line.weighed, "scrap_difference": line.scale_difference,
    }  # fmt: skip
    return {
        "name": line.gauge,
        **{name: kg / units.weight_kg for name, kg in weights.items()},
        "waste_by_scales": line.scale_waste_share,
        "waste_by_cuts": line.split.waste_share if line.split.used_up > 0 else None,
        "start_value": line.start_value, "paid": line.bought_cost, "end_value": line.end_value,
        "cost_used_up": line.cost_used_up, "cost_not_recorded": line.cost_not_recorded,
        "scrap_paid": line.scrap_paid, "net_cost": line.net_cost,
    }  # fmt: skip


def _all_problems(months: Sequence[Problem], books: Sequence[Problem]) -> tuple[Problem, ...]:
    """Every problem of the book once, so that no row's message is lost by looking at a month."""
    return tuple(dict.fromkeys((*books, *months)))


class MonthRack:
    """The steps of a book in the rack beside it; ``problems`` are notes on what of it cannot be read.

    ``apart`` says where book and rack do not tell one history: then no month can be balanced. Records are
    read when the first is asked for.
    """

    def __init__(self, book: Path, tables: BookTables) -> None:
        self._book, self._rack = book.name, rack_of(book)
        self._held: Mapping[str, Held] | None = None
        self._steps: Mapping[int, Step] = {}
        self._then: dict[str, Mapping[str, Record]] = {}
        self.problems: tuple[Problem, ...] = ()
        self.apart: tuple[Problem, ...] = ()
        try:
            steps = read_steps(self._rack)
            differ = apart(steps, tables, book)
            self.apart = (apart_problem(differ, book, steps),) if differ is not None else ()
            self._steps = {step.number: step for step in recorded(steps, tables, book)}
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
            self.problems += tuple(_damaged(held, self._book) for held in self._held.values() if held.damaged)
        return {tag: record for tag, held in self._held.items() if (record := held.now or held.known)}

    def _note(self, page: str, trouble: RackUnreadable, until: str) -> None:
        remedy = f"Put the file back from a copy; {until}"
        self.problems += (Problem(page, None, None, str(trouble), remedy, Weight.NOTE),)


def _damaged(held: Held, book: str) -> Problem:
    """A finding on a sheet whose record cannot be read, with what is taken in its place."""
    instead = "its drawing says" if held.now is not None else "its row says"
    return Problem(
        RACK_COUNT.name, None, None,
        f"The record of {held.tag} in the folder rack is damaged; the sheet counts as what {instead}.",
        f"Run: sheetplan rack {book} --repair", Weight.NOTE,
    )  # fmt: skip


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
    split = MetalSplit(found.taken, found.parts, found.kerf, found.kept, found.bad, found.along)
    return Cut(step.date, step.gauge, split, found.metal_cost, found.kept_value)
