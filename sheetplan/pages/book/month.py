"""The page `Month`: what the scales and the rack tell of a month, beside what the recorded cuts said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sheetplan.money.month import (
    ALL_GAUGES,
    Difference,
    Learned,
    MonthBalance,
    MonthLine,
    learned,
    month_before,
    named_differences,
    trend,
)  # fmt: skip
from sheetplan.pages.values import MONTH_PAGE, Cell, Chart, ChartKind, Column, Kind, ResultPage, ResultTable
from sheetplan.pages.wording import per_cent, weight_text
from sheetplan.trade.units import Units

TREND_MONTHS = 12
"""Months that the trend shows; a year is as long as prices and work are comparable."""

_WEIGHTS = (
    Column("At start", Kind.WEIGHT, 10.9),
    Column("Bought", Kind.WEIGHT, 10.5),
    Column("At end", Kind.WEIGHT, 12.1),
    Column("Used up", Kind.WEIGHT, 12.1),
    Column("By the cuts", Kind.WEIGHT, 15.4),
    Column("Not recorded", Kind.WEIGHT, 11.9),
    Column("Good parts", Kind.WEIGHT, 13.3),
    Column("Bad parts", Kind.WEIGHT, 12),
    Column("Skeleton", Kind.WEIGHT, 11.3),
    Column("Kerf", Kind.WEIGHT, 10.5),
)
_SCALES = (
    Column("Billed over actual", Kind.WEIGHT, 10.5),
    Column("Scrap weighed", Kind.WEIGHT, 10.9),
    Column("Unexplained scrap", Kind.WEIGHT, 11.7),
)
METALS = (
    Column("Metal", width=20, wrap=True),
    *_WEIGHTS,
    *_SCALES,
    Column("Waste by the scales", Kind.SHARE, 9.4),
    Column("Waste by the cuts", Kind.SHARE, 9),
)
GAUGES = (
    Column("Gauge", width=20, wrap=True),
    *_WEIGHTS,
    Column("Yield", Kind.SHARE, 10.5),
    Column("Waste by the cuts", Kind.SHARE, 10.9),
)
MONEY = (
    Column("Gauge", width=20, wrap=True),
    Column("At start", Kind.MONEY, 10.9),
    Column("Paid", Kind.MONEY, 10.5),
    Column("At end", Kind.MONEY, 12.1),
    Column("Used up", Kind.MONEY, 12.1),
    Column("In good parts", Kind.MONEY, 15.4),
    Column("In bad parts", Kind.MONEY, 11.9),
    Column("Not recorded", Kind.MONEY, 13.3),
    Column("Scrap paid", Kind.MONEY, 12),
    Column("Net cost", Kind.MONEY, 11.3),
)
TREND = (
    Column("Month", width=20, wrap=True),
    Column("Used up", Kind.WEIGHT, 10.9),
    Column("Yield", Kind.SHARE, 10.5),
    Column("Waste by the cuts", Kind.SHARE, 12.1),
    Column("Waste by the scales", Kind.SHARE, 12.1),
    Column("Scrap weighed", Kind.WEIGHT, 15.4),
    Column("Scrap paid", Kind.MONEY, 11.9),
    Column("Net cost", Kind.MONEY, 13.3),
)
LEARNED = (
    Column("Metal", width=20, wrap=True),
    Column("Months", Kind.COUNT, 10.9),
    Column("Used up", Kind.WEIGHT, 10.5),
    Column("Scrap weighed", Kind.WEIGHT, 12.1),
    Column("Scrap by the cuts", Kind.WEIGHT, 12.1),
    Column("Scrap factor", Kind.NUMBER, 15.4),
    Column("Lost", Kind.WEIGHT, 11.9),
    Column("Kerf", Kind.WEIGHT, 13.3),
    Column("Kerf factor", Kind.NUMBER, 12),
)
LEARNED_SAID = "Learned from the scales: months together that were counted at both ends"
NOT_APPLIED = (
    "Factors are offered, never applied: what the scales say over what the cuts on record say. Lost is used "
    "up less good parts and scrap weighed. A kerf factor of 1.2 says that the kerf in Cutting may be a fifth "
    "too narrow, or that metal went unrecorded. Minutes at the table are not measured, so there is none."
)

TITLE = "Month's end"
NO_MONTH = (
    "No month yet. Fill in Purchases, Scrap log and Rack count, record the cuts, then run:  "
    "sheetplan month BOOK.xlsx 2026-11"
)
SAID = (
    "Used up: metal at the start and bought, less metal at the end. By the cuts: the same by the cuts on "
    "record. Not recorded: the first less the second.",
    "In money, Not recorded also holds what was paid above or below the prices that the cuts were worked "
    "out with.",
    "Waste by the scales: scrap weighed over metal used up. Waste by the cuts: skeleton, bad parts and kerf "
    "over metal used up by the cuts on record. Kerf is burnt or blown away, so the scales never see it.",
    "A sheet that goes back to the rack uncropped takes its skeleton along. By the cuts that is waste "
    "once, when it is cut; it is in no scrap bin, and not in Used up, until the sheet is used up.",
    "Unexplained scrap: scrap weighed, less skeleton and bad parts of the cuts on record. Tickets that name "
    "no metal, or in the lists by gauge no thickness, count in the total alone.",
    "Weights are by size, thickness and density, and metal bought counts so too. Billed over actual: what "
    "the delivery notes say beyond that (they may give the published weight of a gauge).",
)
NOT_COUNTED = (
    "The rack was not counted at both ends of {month}, so the cuts on record stand for metal used up. Fill "
    "in Rack count for the end of {before} and of {month}."
)
NO_CUTS = "No cuts of {month} are on record: what the plans said is empty."


def month_page(
    metals: MonthBalance,
    gauges: MonthBalance,
    earlier: Sequence[MonthBalance],
    units: Units,
    *,
    currency: str = "",
    metals_by_month: Sequence[MonthBalance] = (),
) -> ResultPage:
    """The page of one month.

    Parameters
    ----------
    metals, gauges : MonthBalance
        The month, balanced by metal and by gauge.
    earlier : sequence of MonthBalance
        All months known by gauge, this one among them, for the trend.
    units : Units
        What the book is written in.
    currency : str
        Said beside the amounts.
    metals_by_month : sequence of MonthBalance
        All months known by metal, for what they teach together.
    """
    taught = learned(metals_by_month)
    shown = sorted(earlier, key=lambda balance: balance.month)[-TREND_MONTHS:]
    tables = (
        ResultTable("MonthMetals", METALS, tuple(_metal_row(line) for line in metals.lines),
                    "By metal: what the scales tell beside the cuts on record", _metal_row(metals.total)),
        ResultTable("MonthGauges", GAUGES, tuple(_gauge_row(line) for line in gauges.lines), "By gauge",
                    _gauge_row(gauges.total)),
        ResultTable("MonthMoney", MONEY, tuple(_money_row(line) for line in gauges.lines),
                    f"The same in {currency or 'money'}", _money_row(gauges.total)),
        ResultTable("MonthTrend", TREND, tuple(_trend_row(balance) for balance in shown),
                    "All metal by month", chart=_trend_chart()),
        _yields(shown),
        *([_learned_table(taught)] if taught else []),
    )  # fmt: skip
    lines = (*_lines(metals, units), *(learned_text(one, units) for one in taught[-1:]))
    notes = (*SAID, NOT_APPLIED) if taught else SAID
    return ResultPage(MONTH_PAGE, f"{TITLE}: {metals.month}", lines, tables, notes=notes)


def _learned_table(taught: Sequence[Learned]) -> ResultTable:
    rows = tuple(
        (_said_name(one.gauge), len(one.months), one.used_up, one.weighed, one.scrap_by_cuts,
         one.scrap_factor, one.lost, one.kerf_by_cuts, one.kerf_factor)
        for one in taught
    )  # fmt: skip
    return ResultTable("MonthLearned", LEARNED, rows, LEARNED_SAID)


def learned_text(one: Learned, units: Units) -> str:
    """What several months teach, in a sentence: the scales beside the cuts, and the factors."""
    factors = [
        f"{what} by {factor:.2f}"
        for what, factor in (("scrap", one.scrap_factor), ("kerf", one.kerf_factor)) if factor is not None
    ]  # fmt: skip
    return (
        f"{_said_name(one.gauge)}, {len(one.months)} months together: {weight_text(one.weighed, units)} of "
        f"scrap on the scales, {weight_text(one.scrap_by_cuts, units)} by the cuts on record; "
        f"{weight_text(max(one.lost, 0.0), units)} lost, {weight_text(one.kerf_by_cuts, units)} of kerf by "
        f"the cuts. The scales would multiply {' and '.join(factors) or 'nothing'}; nothing is applied."
    )


def bare_month_page() -> ResultPage:
    """The page before the first month's end."""
    return ResultPage(MONTH_PAGE, TITLE, (NO_MONTH,))


def _lines(metals: MonthBalance, units: Units) -> Iterator[str]:
    """The month in a sentence or two, then what is missing."""
    total = metals.total
    said = f"{weight_text(total.used_up, units)} of metal used up"
    if total.scale_waste_share is not None:
        said += (
            f"; {weight_text(total.weighed, units)} went out as scrap by the scales, "
            f"{per_cent(total.scale_waste_share)}"
        )
    elif not total.weighed:
        said += "; no scrap was weighed"
    if total.split.used_up > 0:
        said += f"; the cuts on record say {per_cent(total.split.waste_share)} waste"
        kerf = total.split.kerf / total.split.used_up
        said += f", the kerf's {per_cent(kerf)} included" if kerf > 0 else ""
    yield f"{said}."
    if not total.counted:
        yield NOT_COUNTED.format(month=metals.month, before=month_before(metals.month))
    if not total.split.taken > 0:
        yield NO_CUTS.format(month=metals.month)
    for line, found in named_differences(metals):
        yield difference_text(line, found, units)


def difference_text(line: MonthLine, found: Difference, units: Units) -> str:
    """What does not agree, of which metal, and what usually lies behind it."""
    more = "more" if found.weight > 0 else "less"
    return f"{name_of(line)}, {found.what}: {weight_text(abs(found.weight), units)} {more}. {found.said}"


def _weights(line: MonthLine) -> tuple[Cell, ...]:
    split = line.split
    return (
        line.start if line.counted else None,
        line.bought,
        line.end if line.counted else None,
        line.used_up,
        split.used_up,
        line.not_recorded if line.counted else None,
        split.parts,
        split.bad,
        split.skeleton,
        split.kerf,
    )


def _metal_row(line: MonthLine) -> tuple[Cell, ...]:
    return (
        name_of(line), *_weights(line), line.noted_more or None, line.weighed, line.scale_difference,
        line.scale_waste_share, line.split.waste_share if line.split.used_up > 0 else None,
    )  # fmt: skip


def _gauge_row(line: MonthLine) -> tuple[Cell, ...]:
    known = line.split.used_up > 0
    return (
        name_of(line), *_weights(line), line.split.yield_share if known else None,
        line.split.waste_share if known else None,
    )  # fmt: skip


def _money_row(line: MonthLine) -> tuple[Cell, ...]:
    return (
        name_of(line),
        line.start_value if line.counted else None,
        line.bought_cost,
        line.end_value if line.counted else None,
        line.cost_used_up,
        line.good_cost,
        line.bad_cost,
        line.cost_not_recorded if line.counted else None,
        line.scrap_paid,
        line.net_cost,
    )


def _trend_row(balance: MonthBalance) -> tuple[Cell, ...]:
    total = balance.total
    known = total.split.used_up > 0
    return (
        balance.month,
        total.used_up,
        total.split.yield_share if known else None,
        total.split.waste_share if known else None,
        total.scale_waste_share,
        total.weighed,
        total.scrap_paid,
        total.net_cost,
    )


def _trend_chart() -> Chart:
    return Chart(
        "Yield and waste by month, all metal", ChartKind.COLUMNS, "Month",
        ("Yield", "Waste by the cuts", "Waste by the scales"), "Share of the metal used up",
    )  # fmt: skip


def _yields(balances: Sequence[MonthBalance]) -> ResultTable:
    """Yield of each gauge, a column for each month."""
    months = [balance.month for balance in balances]
    found: dict[str, dict[str, float]] = {}
    for row in trend(balances):
        if row.gauge != ALL_GAUGES and row.yield_share > 0:
            found.setdefault(row.gauge, {})[row.month] = row.yield_share
    rows = tuple(
        (gauge, *(shares.get(month) for month in months)) for gauge, shares in sorted(found.items())
    )
    columns = (Column("Gauge", width=20, wrap=True), *(Column(month, Kind.SHARE, 10) for month in months))
    title = "Yield by gauge and month"
    chart = Chart(title, ChartKind.COLUMNS, "Gauge", tuple(months), "Share of the metal used up")
    return ResultTable("MonthYields", columns, rows, title, chart=chart if months else None)


def name_of(line: MonthLine) -> str:
    """The gauge or metal of a line, or that it is the total."""
    return _said_name(line.gauge)


def _said_name(gauge: str) -> str:
    return "Total" if gauge == ALL_GAUGES else gauge
