"""Month's end: what the scales and the rack say, beside what the recorded cuts said."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import fsum
from typing import Protocol, TypeVar

from sheetplan.model.job import SheetSize
from sheetplan.money.layout_figures import MetalSplit, total_split
from sheetplan.trade.units import SAME_LENGTH_MM

# What metal in the rack is worth when nobody has written it down.

def worth(length: float, width: float, stock: Iterable[SheetSize]) -> float:
    """What one sheet or remnant of a size (mm) is worth at the prices of its gauge's ``stock``.

    A size that is sold is worth its price; any other size is worth its weight at the mean price per
    weight of the sizes sold (one gauge: the same as per area). Without prices it is worth nothing.
    """
    priced = [sheet for sheet in stock if sheet.price > 0]
    for sheet in priced:
        if _same_size(sheet, length, width):
            return sheet.price
    if not priced:
        return 0.0
    per_area = fsum(sheet.price / (sheet.length * sheet.width) for sheet in priced) / len(priced)
    return per_area * length * width


def share_of_cheapest(area: float, stock: Iterable[SheetSize]) -> float:
    """What metal of an area (mm2) is worth at the least price per area of its gauge's ``stock``.

    A remnant that the tool puts back is worth its share of its sheet's price; of one whose sheet nobody
    knows it is taken to be the cheapest. Without prices it is worth nothing.
    """
    rates = [sheet.price / (sheet.length * sheet.width) for sheet in stock if sheet.price > 0]
    return min(rates, default=0.0) * area


def _same_size(sheet: SheetSize, length: float, width: float) -> bool:
    sides = zip(sorted((sheet.length, sheet.width)), sorted((length, width)), strict=True)
    return all(abs(one - other) < SAME_LENGTH_MM for one, other in sides)


# Month's end: what the scales and the rack say, beside what the recorded cuts said.
#
# Terms
# used up
#     Metal at the start, plus bought, less metal at the end: what the rack tells.
# recorded
#     The same by the recorded cuts: good parts, bad parts, skeleton and kerf.
# not recorded
#     Used up less recorded: metal that went without a cut on record, or a count that is wrong.
# weighed
#     Scrap by the tickets of the scrap dealer. The cuts say what it should be: skeleton and bad parts.
#
# Choices: A month is balanced on physical metal: the rack (start, bought, end) beside the cuts on
# record and the scrap dealer's scales. Differences get a name and the usual reason, never a correction.
# Delivery notes may say the statutory weight of a gauge, so metal bought is weighed by size, and what the
# notes say beyond that is named.

ALL_GAUGES = "all metal"
"""Label of the total."""

MIXED = ""
"""Gauge of a scrap ticket for a bin of several metals."""

WORTH_NAMING = 0.01
"""Differences below this share of the metal used up are weighing and rounding; common practice, no source."""

CUTS_MISSING = "Metal has left the rack that no recorded cut took: record the cuts, or count again."
METAL_MISSING = "The recorded cuts took more than the rack lost: a purchase or a count is missing."
MORE_SCRAP = "More scrap was weighed than the cuts left: older scrap, or cuts not recorded."
LESS_SCRAP = "Less scrap was weighed than the cuts left: it is in the yard, or a ticket is missing."
NOTES_DIFFER = (
    "Delivery notes and weight by size differ: notes often weigh gauge steel by its statutory weight, "
    "2.4 per cent above what it weighs, and sheets are rolled within a tolerance; or sheets are missing."
)


@dataclass(frozen=True, slots=True)
class Difference:
    """Something that does not agree: what, by how many kg (below 0 for too little), and the usual reason."""

    what: str
    weight: float
    said: str


@dataclass(frozen=True, slots=True)
class Held:
    """A sheet, a stack of sheets or a remnant in the rack at a month's start or end: kg and value."""

    gauge: str
    weight: float
    value: float


@dataclass(frozen=True, slots=True)
class Purchase:
    """Metal received: date as year-month-day, kg by size and density, and what it cost.

    ``noted`` is the weight that the delivery note says, kg; None without one.
    """

    date: str
    gauge: str
    weight: float
    cost: float
    noted: float | None = None


@dataclass(frozen=True, slots=True)
class ScrapTicket:
    """Scrap sold: kg by the dealer's scales and what was paid; `MIXED` for a bin of several gauges.

    ``metal`` is the material in the bin, empty where it held several.
    """

    date: str
    weight: float
    paid: float
    gauge: str = MIXED
    metal: str = ""
    number: str = ""


@dataclass(frozen=True, slots=True)
class Cut:
    """Sheets of one layout cut on one date: where the metal went, what it cost, what the rest is worth."""

    date: str
    gauge: str
    split: MetalSplit
    metal_cost: float
    kept_value: float


LEARNED_MONTHS, LEARNED_AT_MOST = 3, 12
"""So many balanced months say more than one bin that was emptied late; older ones are of other work."""


@dataclass(frozen=True, slots=True)
class Learned:
    """What the scales made of some months together, beside the cuts on record; kg.

    ``lost`` is metal that is in no good part, in no scrap bin and no longer in the rack: kerf, and what went
    otherwise. Factors say by how much the cuts on record would have to be multiplied; None where there is
    nothing to multiply.
    """

    gauge: str
    months: tuple[str, ...]
    used_up: float
    weighed: float
    scrap_by_cuts: float
    lost: float
    kerf_by_cuts: float

    @property
    def scrap_factor(self) -> float | None:
        """Scrap on the scales over skeleton and bad parts of the cuts on record."""
        return self.weighed / self.scrap_by_cuts if self.scrap_by_cuts > 0 else None

    @property
    def kerf_factor(self) -> float | None:
        """Metal lost over the kerf of the cuts on record; None where less than nothing was lost."""
        return self.lost / self.kerf_by_cuts if self.kerf_by_cuts > 0 and self.lost >= 0 else None


def learned(balances: Iterable[MonthBalance]) -> tuple[Learned, ...]:
    """What several months teach, by metal and in total: the last ones whose rack was counted at both ends,
    with cuts on record and scrap on the scales; nothing of fewer than three."""
    lines: dict[str, list[tuple[str, MonthLine]]] = {}
    for balance in sorted(balances, key=lambda one: one.month):
        for line in (*balance.lines, balance.total):
            if line.counted and line.weighed > 0 and line.split.used_up > 0:
                lines.setdefault(line.gauge, []).append((balance.month, line))
    whole = lines.pop(ALL_GAUGES, [])
    named = [*sorted(lines.items()), (ALL_GAUGES, whole)]
    return tuple(
        _learned(gauge, found[-LEARNED_AT_MOST:]) for gauge, found in named if len(found) >= LEARNED_MONTHS
    )


def _learned(gauge: str, found: Sequence[tuple[str, MonthLine]]) -> Learned:
    used_up = fsum(line.used_up for _, line in found)
    weighed = fsum(line.weighed for _, line in found)
    good = fsum(line.split.parts for _, line in found)
    return Learned(
        gauge, tuple(month for month, _ in found), used_up, weighed,
        fsum(line.split.solid_scrap for _, line in found), used_up - good - weighed,
        fsum(line.split.kerf for _, line in found),
    )  # fmt: skip


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
    """All that is known of a month (``2026-11``). Entries of other months are passed over.

    ``counted`` is False where the rack was not counted at both ends of the month.
    """

    month: str
    start: Sequence[Held]
    end: Sequence[Held]
    purchases: Sequence[Purchase]
    cuts: Sequence[Cut]
    tickets: Sequence[ScrapTicket]
    counted: bool = True


@dataclass(frozen=True, slots=True)
class MonthLine:
    """One gauge's month, or all of them. Weights in kg.

    ``good_cost`` and ``bad_cost`` share the metal used up by the recorded cuts by weight of good and
    bad parts, so that waste is carried by both. Where the rack was not ``counted``, the recorded cuts
    stand for it. ``noted_more`` is what delivery notes say beyond the weight by size, ``noted`` the
    weight by size of what came with a note.
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
    counted: bool = True
    noted: float = 0.0
    noted_more: float = 0.0

    @property
    def used_up(self) -> float:
        """Metal that left the rack, by the rack; by the recorded cuts where it was not counted."""
        return self.start + self.bought - self.end if self.counted else self.split.used_up

    @property
    def not_recorded(self) -> float:
        """Used up by the rack, less used up by the recorded cuts."""
        return self.used_up - self.split.used_up

    @property
    def scale_waste_share(self) -> float | None:
        """Weighed scrap over metal used up, as the scales tell waste; None where none of it is known."""
        return self.weighed / self.used_up if self.used_up > 0 and self.weighed > 0 else None

    @property
    def scale_difference(self) -> float:
        """Weighed scrap, less skeleton and bad parts of the recorded cuts."""
        return self.weighed - self.split.solid_scrap

    @property
    def cost_used_up(self) -> float:
        """Value at the start, plus bought, less value at the end; of the recorded cuts if not counted."""
        if not self.counted:
            return self.good_cost + self.bad_cost
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


def month_balance(book: MonthBook) -> MonthBalance:
    """Balance a month, gauge by gauge in the order of their names, and together."""
    gauges = {held.gauge for held in (*book.start, *book.end)}
    gauges |= {purchase.gauge for purchase in _of(book.month, book.purchases)}
    gauges |= {cut.gauge for cut in _of(book.month, book.cuts)}
    gauges |= {ticket.gauge for ticket in _of(book.month, book.tickets)}
    lines = tuple(_line(book, gauge) for gauge in sorted(gauges - {MIXED}))
    return MonthBalance(book.month, lines, _line(book, None))


def differences(line: MonthLine) -> tuple[Difference, ...]:
    """What does not agree, named, with what usually lies behind it; empty where all agrees."""
    found = []
    least = WORTH_NAMING * abs(line.used_up)
    if line.not_recorded > least:
        found.append(Difference("not recorded", line.not_recorded, CUTS_MISSING))
    elif line.not_recorded < -least:
        found.append(Difference("not recorded", line.not_recorded, METAL_MISSING))
    if line.scale_difference > least:
        found.append(Difference("scrap", line.scale_difference, MORE_SCRAP))
    elif line.scale_difference < -least:
        found.append(Difference("scrap", line.scale_difference, LESS_SCRAP))
    if abs(line.noted_more) > WORTH_NAMING * line.noted:
        found.append(Difference("delivery notes", line.noted_more, NOTES_DIFFER))
    return tuple(found)


def named_differences(balance: MonthBalance) -> tuple[tuple[MonthLine, Difference], ...]:
    """The differences of every line, and those of the total that no single line explains.

    Where scrap was weighed in a bin of several metals, what lacks of one metal may lie in it: only the
    total tells.
    """
    mixed = balance.total.weighed - fsum(line.weighed for line in balance.lines)
    unclear = LESS_SCRAP if mixed > WORTH_NAMING * balance.total.weighed else ""
    found = [
        (line, difference)
        for line in balance.lines for difference in differences(line) if difference.said != unclear
    ]  # fmt: skip
    known = [(difference.what, difference.weight) for _, difference in found]
    least = WORTH_NAMING * abs(balance.total.used_up)
    for difference in differences(balance.total):
        alike = [weight for what, weight in known if what == difference.what]
        if not any(abs(weight - difference.weight) <= least for weight in alike):
            found.append((balance.total, difference))
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
    noted = [(one.noted, one.weight) for one in purchases if one.noted is not None]
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
        counted=book.counted,
        noted=fsum(weight for _, weight in noted),
        noted_more=fsum(said - weight for said, weight in noted),
    )


def _bad_share(split: MetalSplit) -> float:
    """Bad parts over all parts cut."""
    cut = split.parts + split.bad
    return split.bad / cut if cut > 0 else 0.0


def _of(month: str, entries: Iterable[Dated]) -> list[Dated]:
    return [entry for entry in entries if entry.date.startswith(f"{month}-")]


# A month put together from what the book keeps: deliveries, scrap tickets, rack counts, recorded cuts.
#
# Terms
# month
#     Written ``2026-11``.
# counted
#     The rack was counted when the month before ended and when this one did; without both, metal used
#     up is what the recorded cuts say.
# metal
#     All gauges of one material together: scrap bins are sorted by metal, seldom by thickness.

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
