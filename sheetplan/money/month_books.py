"""A month put together from what the book keeps: deliveries, scrap tickets, rack counts, recorded cuts.

Terms
-----
month
    Written ``2026-11``.
counted
    The rack was counted when the month before ended and when this one did; without both, metal used
    up is what the recorded cuts say.
metal
    All gauges of one material together: scrap bins are sorted by metal, seldom by thickness.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from sheetplan.money.month import MIXED, Cut, Held, MonthBook, Purchase, ScrapTicket

MONTHS_A_YEAR = 12

Gauged = TypeVar("Gauged", Held, Purchase, Cut)


@dataclass(frozen=True, slots=True)
class MonthRows:
    """The pages that only the month's end reads.

    ``counts`` holds what lay in the rack at the end of each month that was counted, ``earlier`` cuts
    that were written down by month, ``metal_of`` the material of every gauge named in the rows.
    """

    purchases: Sequence[Purchase] = ()
    tickets: Sequence[ScrapTicket] = ()
    counts: Mapping[str, Sequence[Held]] = field(default_factory=dict)
    earlier: Sequence[Cut] = ()
    metal_of: Mapping[str, str] = field(default_factory=dict)


def month_before(month: str) -> str:
    """The month before.

    >>> month_before("2026-11"), month_before("2026-01")
    ('2026-10', '2025-12')
    """
    year, number = (int(text) for text in month.split("-"))
    year, number = (year, number - 1) if number > 1 else (year - 1, MONTHS_A_YEAR)
    return f"{year:04d}-{number:02d}"


def months_known(rows: MonthRows, cuts: Iterable[Cut]) -> tuple[str, ...]:
    """Every month in which metal came, was cut or was sold as scrap, the earliest first."""
    dates = [purchase.date for purchase in rows.purchases]
    dates += [ticket.date for ticket in rows.tickets]
    dates += [cut.date for cut in cuts]
    return tuple(sorted({date[:7] for date in dates}))


def month_book(month: str, rows: MonthRows, cuts: Sequence[Cut]) -> MonthBook:
    """All that is known of a month; the count at the end of the month before is its start."""
    start, end = rows.counts.get(month_before(month)), rows.counts.get(month)
    return MonthBook(
        month, start or (), end or (), rows.purchases, cuts, rows.tickets,
        counted=start is not None and end is not None,
    )  # fmt: skip


def by_metal(book: MonthBook, metal_of: Mapping[str, str]) -> MonthBook:
    """The same month with the gauges of each metal taken together."""
    def whole(entries: Sequence[Gauged]) -> list[Gauged]:
        return [replace(entry, gauge=metal_of.get(entry.gauge, entry.gauge)) for entry in entries]

    return replace(
        book, start=whole(book.start), end=whole(book.end), purchases=whole(book.purchases),
        cuts=whole(book.cuts),
        tickets=[replace(ticket, gauge=ticket.metal or MIXED) for ticket in book.tickets],
    )  # fmt: skip
