"""A month's end: what the scales and the rack tell, beside what the cuts on record said."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sheetplan.app.month_rack import MonthRack
from sheetplan.model import Problem, Weight
from sheetplan.money.month import Cut, MonthBalance, MonthLine, month_balance
from sheetplan.money.month_books import MonthRows, by_metal, month_before, month_book, months_known
from sheetplan.planning.progress import Progress, Report
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.closed import ClosedBook
from sheetplan.workbook.port import Host
from sheetplan.workbook.reading_book import seen_in

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
    from sheetplan.app.check import check_tables, with_sign
    from sheetplan.pages.decimals import Decimals, decimals_of
    from sheetplan.pages.month_page import month_page
    from sheetplan.pages.problems_page import problems_page
    from sheetplan.workbook.reading import read_month

    host.progress(Progress("", 0.0, f"Reading {host.path.name}"))
    tables = host.read()
    rack = MonthRack(host.path)
    settings, read, problems = read_month(tables, rack.records)
    checked = check_tables(tables, host.path)
    every = _all_problems(problems, checked.problems)
    if settings is None or read is None:
        written = host.write((problems_page(every, seen_in(tables)),), Units.INCH)
        return MonthOutcome(None, None, Units.INCH, problems, written)
    cuts = (*read.rows.earlier, *rack.cuts)
    problems += rack.problems + _twice(read.rows.earlier, rack.cuts)
    every = _all_problems(problems, every)
    metals, gauges = balances(month, read.rows, cuts)
    months = [known for known in months_known(read.rows, cuts) if known <= month]
    history = [month_balance(month_book(known, read.rows, cuts)) for known in months]
    page = month_page(
        metals, gauges, history, settings.units, before=month_before(month), currency=settings.currency
    )
    host.progress(Progress("", 1.0, f"Writing {host.path.name}"))
    comma = with_sign(settings, tables).decimal_comma is True
    decimals = decimals_of(checked.job) if checked.job else Decimals(comma)
    written = host.write(decimals.pages((page, problems_page(every, seen_in(tables)))), settings.units)
    return MonthOutcome(metals, gauges, settings.units, problems, written)


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
    }


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
