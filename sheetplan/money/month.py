"""Month's end: what the scales and the rack say, beside what the recorded cuts said.

Terms
-----
used up
    Metal at the start, plus bought, less metal at the end: what the rack tells.
recorded
    The same by the recorded cuts: good parts, bad parts, skeleton and kerf.
not recorded
    Used up less recorded: metal that went without a cut on record, or a count that is wrong.
weighed
    Scrap by the tickets of the scrap dealer. The cuts say what it should be: skeleton and bad parts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import fsum
from typing import Protocol, TypeVar

from sheetplan.money.layout_figures import LayoutFigures
from sheetplan.money.metal_split import MetalSplit, total_split

ALL_GAUGES = "all metal"
"""Label of the total."""

MIXED = ""
"""Gauge of a scrap ticket for a bin of several metals."""

WORTH_NAMING = 0.005
"""Differences below this share of the metal used up are weighing and rounding; common practice."""


@dataclass(frozen=True, slots=True)
class Held:
    """A sheet, a stack of sheets or a remnant in the rack at a month's start or end: kg and value."""

    gauge: str
    weight: float
    value: float


@dataclass(frozen=True, slots=True)
class Purchase:
    """Metal received: date as year-month-day, kg, and what it cost."""

    date: str
    gauge: str
    weight: float
    cost: float


@dataclass(frozen=True, slots=True)
class ScrapTicket:
    """Scrap sold: kg by the dealer's scales and what was paid; `MIXED` for a mixed bin."""

    date: str
    weight: float
    paid: float
    gauge: str = MIXED


@dataclass(frozen=True, slots=True)
class Cut:
    """Sheets of one layout cut on one date: where the metal went, what it cost, what the rest is worth."""

    date: str
    gauge: str
    split: MetalSplit
    metal_cost: float
    kept_value: float


class _Gauged(Protocol):
    @property
    def gauge(self) -> str: ...


class _Dated(Protocol):
    @property
    def date(self) -> str: ...


Entry = TypeVar("Entry", bound=_Gauged)
Dated = TypeVar("Dated", bound=_Dated)


@dataclass(frozen=True, slots=True)
class MonthBook:
    """All that is known of a month (``2026-11``). Entries of other months are passed over."""

    month: str
    start: Sequence[Held]
    end: Sequence[Held]
    purchases: Sequence[Purchase]
    cuts: Sequence[Cut]
    tickets: Sequence[ScrapTicket]


@dataclass(frozen=True, slots=True)
class MonthLine:
    """One gauge's month, or all of them. Weights in kg.

    ``good_cost`` and ``bad_cost`` share the metal used up by the recorded cuts by weight of good and
    bad parts, so that waste is carried by both.
    """

    gauge: str
    start: float
    bought: float
    end: float
    split: MetalSplit
    weighed: float
    start_value: float
    bought_cost: float
    end_value: float
    good_cost: float
    bad_cost: float
    scrap_paid: float

    @property
    def used_up(self) -> float:
        """Metal that left the rack, by the rack."""
        return self.start + self.bought - self.end

    @property
    def not_recorded(self) -> float:
        """Used up by the rack, less used up by the recorded cuts."""
        return self.used_up - self.split.used_up

    @property
    def scale_waste_share(self) -> float | None:
        """Weighed scrap over metal used up: waste as the scales tell it; None where nothing was used."""
        return self.weighed / self.used_up if self.used_up > 0 else None

    @property
    def scale_difference(self) -> float:
        """Weighed scrap, less skeleton and bad parts of the recorded cuts."""
        return self.weighed - self.split.solid_scrap

    @property
    def cost_used_up(self) -> float:
        """Value at the start, plus bought, less value at the end."""
        return self.start_value + self.bought_cost - self.end_value

    @property
    def cost_not_recorded(self) -> float:
        """Cost used up by the rack, less cost of the recorded cuts."""
        return self.cost_used_up - self.good_cost - self.bad_cost

    @property
    def net_cost(self) -> float:
        """Cost used up, less what the scrap dealer paid."""
        return self.cost_used_up - self.scrap_paid


@dataclass(frozen=True, slots=True)
class MonthBalance:
    """A month by gauge and in total; tickets of mixed bins count in the total alone."""

    month: str
    lines: tuple[MonthLine, ...]
    total: MonthLine


@dataclass(frozen=True, slots=True)
class TrendRow:
    """One gauge's shares in one month: by the recorded cuts, and waste by the scales (or None)."""

    month: str
    gauge: str
    yield_share: float
    waste_share: float
    scale_waste_share: float | None


def cut_of(figures: LayoutFigures, gauge: str, date: str, repeats: int, bad_weight: float = 0.0) -> Cut:
    """What the log keeps of a layout cut so many times, of which so many kg of parts came out bad."""
    return Cut(
        date, gauge, figures.split.times(repeats).rejecting(bad_weight),
        figures.metal_cost * repeats, figures.kept_value * repeats,
    )  # fmt: skip


def month_balance(book: MonthBook) -> MonthBalance:
    """Balance a month, gauge by gauge in the order of their names, and together."""
    gauges = {held.gauge for held in (*book.start, *book.end)}
    gauges |= {purchase.gauge for purchase in _of(book.month, book.purchases)}
    gauges |= {cut.gauge for cut in _of(book.month, book.cuts)}
    gauges |= {ticket.gauge for ticket in _of(book.month, book.tickets)}
    lines = tuple(_line(book, gauge) for gauge in sorted(gauges - {MIXED}))
    return MonthBalance(book.month, lines, _line(book, None))


def differences(line: MonthLine) -> tuple[str, ...]:
    """What does not agree, named, with what usually lies behind it; empty where all agrees."""
    found = []
    least = WORTH_NAMING * abs(line.used_up)
    if line.not_recorded > least:
        found.append("Metal has left the rack that no recorded cut took: record the cuts, or count again.")
    elif line.not_recorded < -least:
        found.append("The recorded cuts took more than the rack lost: a purchase or a count is missing.")
    if line.scale_difference > least:
        found.append("More scrap was weighed than the cuts left: older scrap, or cuts not recorded.")
    elif line.scale_difference < -least:
        found.append("Less scrap was weighed than the cuts left: it is in the yard, or a ticket is missing.")
    return tuple(found)


def trend(balances: Iterable[MonthBalance]) -> tuple[TrendRow, ...]:
    """Yield and waste by month, each gauge and the total, months in the order of their names."""
    return tuple(
        _trend_row(balance.month, line)
        for balance in sorted(balances, key=lambda balance: balance.month)
        for line in (*balance.lines, balance.total)
    )


def _trend_row(month: str, line: MonthLine) -> TrendRow:
    return TrendRow(month, line.gauge, line.split.yield_share, line.split.waste_share, line.scale_waste_share)


def _line(book: MonthBook, gauge: str | None) -> MonthLine:
    """One gauge, or all where ``gauge`` is None."""
    def here(entries: Iterable[Entry]) -> list[Entry]:
        return [entry for entry in entries if gauge is None or entry.gauge == gauge]

    start, end = here(book.start), here(book.end)
    purchases = here(_of(book.month, book.purchases))
    cuts = here(_of(book.month, book.cuts))
    tickets = here(_of(book.month, book.tickets))
    bad = [(cut.metal_cost - cut.kept_value) * _bad_share(cut.split) for cut in cuts]
    all_cuts = fsum(cut.metal_cost for cut in cuts) - fsum(cut.kept_value for cut in cuts)
    return MonthLine(
        gauge=ALL_GAUGES if gauge is None else gauge,
        start=fsum(held.weight for held in start),
        bought=fsum(purchase.weight for purchase in purchases),
        end=fsum(held.weight for held in end),
        split=total_split(cut.split for cut in cuts),
        weighed=fsum(ticket.weight for ticket in tickets),
        start_value=fsum(held.value for held in start),
        bought_cost=fsum(purchase.cost for purchase in purchases),
        end_value=fsum(held.value for held in end),
        good_cost=all_cuts - fsum(bad),
        bad_cost=fsum(bad),
        scrap_paid=fsum(ticket.paid for ticket in tickets),
    )


def _bad_share(split: MetalSplit) -> float:
    """Bad parts over all parts cut."""
    cut = split.parts + split.bad
    return split.bad / cut if cut > 0 else 0.0


def _of(month: str, entries: Iterable[Dated]) -> list[Dated]:
    return [entry for entry in entries if entry.date.startswith(f"{month}-")]
